"""The tables of those who wait, and of what is held for them."""

from datetime import datetime
from uuid import UUID, uuid4

from sqlalchemy import JSON, CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.waiting import State
from service.database.rows import Row, words


class Waiting(Row, table=True):
    """A member who waits for a piece of equipment of some kind, and what is offered to them until when."""

    __tablename__ = "waiting"
    __table_args__ = (
        CheckConstraint("not_before < not_after", name="starts_before_it_ends"),
        CheckConstraint("state <> 'offered' OR offered_until IS NOT NULL", name="offers_end"),
        UniqueConstraint("kitchen_id", "number"),
        Index("ix_waiting_kitchen_id_state", "kitchen_id", "state"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    number: int  # in the order of joining
    member_id: UUID = Field(foreign_key="member.id", index=True)
    equipment_kind: EquipmentKind = Field(sa_type=words(EquipmentKind))
    canner_kind: CannerKind | None = Field(default=None, sa_type=words(CannerKind))
    minutes: int
    not_before: datetime
    not_after: datetime
    purpose: str = Field(max_length=500)
    state: State = Field(default=State.WAITING, sa_type=words(State))
    declined: list[list[int]] = Field(default_factory=list, sa_type=JSON)  # from and to: minutes that didn't suit
    equipment_id: UUID | None = Field(default=None, foreign_key="equipment.id")
    starts_at: datetime | None = None
    ends_at: datetime | None = None
    offered_until: datetime | None = None
    booking_id: UUID | None = Field(default=None, foreign_key="booking.id")
    joined_at: datetime


class Hold(Row, table=True):
    """What occupancy holds for an offer."""

    __tablename__ = "hold"

    occupancy_id: UUID = Field(foreign_key="occupancy.id", primary_key=True)
    waiting_id: UUID = Field(foreign_key="waiting.id", index=True)
