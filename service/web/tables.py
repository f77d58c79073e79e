"""The table of POSTs that were answered, so that a repeat gets the same answer."""

from datetime import datetime
from uuid import UUID

from sqlmodel import Field

from service.database.rows import Row


class AnsweredPost(Row, table=True):
    """The answer one member got for one key, written with the work it answers."""

    __tablename__ = "answered_post"

    member_id: UUID = Field(foreign_key="member.id", primary_key=True)
    key: str = Field(max_length=255, primary_key=True)
    request_sha256: str = Field(max_length=64)
    status: int
    headers: str
    body: str
    answered_at: datetime
