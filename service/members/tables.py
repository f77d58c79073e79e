"""The tables of kitchens, their members, tokens, sign-offs, and what members were told."""

from datetime import date, datetime
from enum import StrEnum
from uuid import UUID, uuid4

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from service.core.roles import Role, Scope
from service.database.rows import Row, words


class Skill(StrEnum):
    """What somebody has been trained in, where the kitchen asks for training."""

    PRESSURE_CANNING = "pressure-canning"


class Kitchen(Row, table=True):
    """One kitchen; everything else belongs to one."""

    __tablename__ = "kitchen"
    __table_args__ = (
        CheckConstraint("altitude_ft BETWEEN -1500 AND 15000", name="altitude_is_on_land"),
        CheckConstraint("best_by_months BETWEEN 12 AND 18", name="best_by_is_12_to_18_months"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    name: str = Field(max_length=200)
    altitude_ft: int
    time_zone: str = Field(max_length=64)
    best_by_months: int = 12
    version: int = 1


class Member(Row, table=True):
    """Somebody who cooks, trains or decides in one kitchen."""

    __tablename__ = "member"
    __table_args__ = (Index("ix_member_kitchen_id_name_id", "kitchen_id", "name", "id"),)

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    name: str = Field(max_length=200)
    role: Role = Field(sa_type=words(Role))
    left_at: datetime | None = None


class Token(Row, table=True):
    """The hash of a secret somebody carries; the secret itself is shown once and kept nowhere."""

    __tablename__ = "token"

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    member_id: UUID = Field(foreign_key="member.id", index=True)
    secret_sha256: str = Field(max_length=64)
    made_at: datetime
    expires_at: datetime | None = None
    revoked_at: datetime | None = None
    used_at: datetime | None = None
    scope: Scope = Field(
        default=Scope.EVERYTHING, sa_type=words(Scope), sa_column_kwargs={"server_default": "everything"}
    )


class SignOff(Row, table=True):
    """A trainer's word that a member may do something alone, until a day."""

    __tablename__ = "sign_off"
    __table_args__ = (UniqueConstraint("member_id", "skill"),)

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    member_id: UUID = Field(foreign_key="member.id")
    skill: Skill = Field(sa_type=words(Skill))
    expires_on: date
    given_by: UUID = Field(foreign_key="member.id")
    given_at: datetime


class Notice(Row, table=True):
    """What a member was told because somebody else changed their plans or jars; written with the change itself."""

    __tablename__ = "notice"
    __table_args__ = (
        CheckConstraint(
            "(CASE WHEN booking_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN lot_code IS NULL THEN 0 ELSE 1 END)"
            " + (CASE WHEN waiting_id IS NULL THEN 0 ELSE 1 END) = 1",
            name="notices_have_one_subject",
        ),
        Index("ix_notice_member_id_told_at_id", "member_id", "told_at", "id"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    member_id: UUID = Field(foreign_key="member.id")
    booking_id: UUID | None = Field(default=None, foreign_key="booking.id")
    lot_code: str | None = Field(default=None, max_length=20)
    waiting_id: UUID | None = Field(default=None, foreign_key="waiting.id")
    message: str = Field(max_length=1500)
    told_at: datetime
