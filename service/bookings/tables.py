"""The tables of bookings and what each claims."""

from datetime import datetime
from uuid import UUID, uuid4

from sqlalchemy import JSON, CheckConstraint, ForeignKeyConstraint, Index
from sqlmodel import Field

from service.core.scheduling.bookings import Status, Step
from service.database.rows import Row, words


class Booking(Row, table=True):
    """Equipment a member has for a time, for one purpose or one revision of a recipe."""

    __tablename__ = "booking"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="starts_before_it_ends"),
        CheckConstraint("(recipe_id IS NULL) = (revision IS NULL)", name="recipes_come_with_a_revision"),
        ForeignKeyConstraint(["recipe_id", "revision"], ["revision.recipe_id", "revision.number"]),
        # the end is read beside the start, so that what is over needn't be fetched
        Index("ix_booking_kitchen_id_starts_at_id_ends_at", "kitchen_id", "starts_at", "id", "ends_at"),
        Index("ix_booking_member_id_starts_at_id_ends_at", "member_id", "starts_at", "id", "ends_at"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    member_id: UUID = Field(foreign_key="member.id")
    status: Status = Field(default=Status.CONFIRMED, sa_type=words(Status))
    purpose: str = Field(max_length=500)
    recipe_id: UUID | None = None
    revision: int | None = None
    jars: dict[str, int] = Field(default_factory=dict, sa_type=JSON)
    starts_at: datetime
    ends_at: datetime
    hands: list[list[int]] = Field(
        default_factory=list, sa_type=JSON
    )  # from and to: minutes that take the member's own
    booked_by: UUID = Field(foreign_key="member.id")
    booked_at: datetime
    beyond_limits_because: str | None = Field(default=None, max_length=500)


class Claim(Row, table=True):
    """One piece of equipment a booking has for one step; occupancy holds its minutes."""

    __tablename__ = "claim"
    __table_args__ = (CheckConstraint("starts_at < ends_at", name="starts_before_it_ends"),)

    booking_id: UUID = Field(foreign_key="booking.id", primary_key=True)
    place: int = Field(primary_key=True)  # in the order the batch needs them
    step: Step = Field(sa_type=words(Step))
    equipment_id: UUID = Field(foreign_key="equipment.id", index=True)
    unit_fixed: bool
    starts_at: datetime
    ends_at: datetime
    attended: bool
