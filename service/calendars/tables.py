"""The table of calendar feeds."""

from datetime import datetime
from enum import StrEnum
from uuid import UUID, uuid4

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from service.database.rows import Row, words


class FeedShows(StrEnum):
    """What a feed shows: one member's bookings, those of a piece of equipment, or all of a kitchen."""

    MEMBER = "member"
    EQUIPMENT = "equipment"
    KITCHEN = "kitchen"


class CalendarFeed(Row, table=True):
    """An address at which calendar programs read; the secret in it is shown once and kept as a hash."""

    __tablename__ = "calendar_feed"
    __table_args__ = (CheckConstraint("(shows = 'equipment') = (equipment_id IS NOT NULL)", name="equipment_is_named"),)

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    member_id: UUID = Field(foreign_key="member.id", index=True)  # who made it, and whose rights it has
    shows: FeedShows = Field(sa_type=words(FeedShows, "shows"))
    equipment_id: UUID | None = Field(default=None, foreign_key="equipment.id")
    secret_sha256: str = Field(max_length=64, unique=True)
    made_at: datetime
    revoked_at: datetime | None = None
