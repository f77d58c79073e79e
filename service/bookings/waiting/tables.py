"""The tables of those who wait, and of what is held for them."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import JSON, CheckConstraint, ForeignKeyConstraint, Index, UniqueConstraint, text
from sqlmodel import Field

from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.waiting import OPEN, State
from service.database.rows import Row, words

# A partial index is used by whoever says its condition in the same words: written once, and without parameters.
IS_OPEN = f"state IN ({', '.join(repr(state.value) for state in OPEN)})"


class Waiting(Row, table=True):
    """A member who waits for a piece of equipment of some kind, or for all that a batch takes; and what is offered."""

    __tablename__ = "waiting"
    __table_args__ = (
        CheckConstraint("not_before < not_after", name="starts_before_it_ends"),
        CheckConstraint("state <> 'offered' OR offered_until IS NOT NULL", name="offers_end"),
        CheckConstraint(
            "(equipment_kind IS NULL) = (minutes IS NULL) AND (equipment_kind IS NULL) <> (recipe_id IS NULL)",
            name="waits_for_one_thing",
        ),
        CheckConstraint("(recipe_id IS NULL) = (revision IS NULL)", name="recipes_come_with_a_revision"),
        ForeignKeyConstraint(["recipe_id", "revision"], ["revision.recipe_id", "revision.number"]),
        UniqueConstraint("kitchen_id", "number"),
        Index(
            "ix_waiting_open",
            "kitchen_id",
            "number",
            postgresql_where=text(IS_OPEN),
            sqlite_where=text(IS_OPEN),
        ),
        Index("ix_waiting_member_id_number", "member_id", "number"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    number: int  # in the order of joining
    member_id: UUID = Field(foreign_key="member.id")
    equipment_kind: EquipmentKind | None = Field(default=None, sa_type=words(EquipmentKind))
    canner_kind: CannerKind | None = Field(default=None, sa_type=words(CannerKind))
    minutes: int | None = None
    recipe_id: UUID | None = None
    revision: int | None = None
    jars: dict[str, int] = Field(default_factory=dict, sa_type=JSON)
    acknowledged: bool = False
    not_before: datetime
    not_after: datetime
    purpose: str = Field(max_length=500)
    state: State = Field(default=State.WAITING, sa_type=words(State))
    declined: list[list[int]] = Field(default_factory=list, sa_type=JSON)  # from and to: minutes that didn't suit
    claims: list[dict[str, Any]] = Field(default_factory=list, sa_type=JSON)  # as offered, where it is for a batch
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
