"""The table of the audit trail."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, Index
from sqlmodel import Field

from service.database.rows import Row


class AuditEntry(Row, table=True):
    """One act in one kitchen. Written once: the database refuses to change or delete it.

    It names ids only, so a kitchen's trail says nothing about anybody without the rest of the database.
    """

    __tablename__ = "audit_entry"
    __table_args__ = (
        CheckConstraint("number >= 1", name="entries_are_counted"),
        Index("ix_audit_entry_kitchen_id_member_id_number", "kitchen_id", "member_id", "number"),
    )

    kitchen_id: UUID = Field(foreign_key="kitchen.id", primary_key=True)
    number: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    at: datetime
    member_id: UUID | None = Field(default=None, foreign_key="member.id")  # None: a command on the host
    act: str = Field(max_length=100)  # the operation, as the contract calls it
    about: str = Field(max_length=500)  # the path of what was made, or of what it was done to
    request_id: str | None = Field(default=None, max_length=64)
    sha256: str = Field(max_length=64)  # of this entry and the one before: see `chain`
