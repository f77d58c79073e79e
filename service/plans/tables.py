"""The tables of plans and of the batches each is to place."""

from datetime import datetime
from enum import StrEnum
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import JSON, CheckConstraint, ForeignKeyConstraint, Index
from sqlmodel import Field

from service.database.rows import Row, words


class PlanStatus(StrEnum):
    """What became of a plan. A queued one waits for the planner; a proposed one can be accepted."""

    QUEUED = "queued"
    RUNNING = "running"
    PROPOSED = "proposed"
    INFEASIBLE = "infeasible"
    CANCELLED = "cancelled"
    STALE = "stale"
    ACCEPTED = "accepted"


class DayPlan(Row, table=True):
    """Batches that a coordinator wants placed within a time, and what the planner found."""

    __tablename__ = "day_plan"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="starts_before_it_ends"),
        Index("ix_day_plan_kitchen_id_ordered_at_id", "kitchen_id", "ordered_at", "id"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    status: PlanStatus = Field(default=PlanStatus.QUEUED, sa_type=words(PlanStatus), index=True)
    starts_at: datetime
    ends_at: datetime
    time_limit_seconds: int
    seed: int | None = None
    ordered_by: UUID = Field(foreign_key="member.id")
    ordered_at: datetime
    beyond_limits_because: str | None = Field(default=None, max_length=500)
    tries: int = 0
    beat_at: datetime | None = None  # the last sign of the planner that works on it
    reason: str | None = Field(default=None, max_length=1000)
    progress: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    found: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))


class PlannedBatch(Row, table=True):
    """One batch of a plan, in the order of asking."""

    __tablename__ = "planned_batch"
    __table_args__ = (ForeignKeyConstraint(["recipe_id", "revision"], ["revision.recipe_id", "revision.number"]),)

    plan_id: UUID = Field(foreign_key="day_plan.id", primary_key=True)
    place: int = Field(primary_key=True)
    member_id: UUID = Field(foreign_key="member.id", index=True)
    recipe_id: UUID
    revision: int
    jars: dict[str, int] = Field(sa_type=JSON)
    due_at: datetime | None = None  # None: booked before, and nobody said when it is due
    weight: int = 1
    acknowledged: bool = False
    expected_out_at: datetime | None = None  # of a batch that has begun and runs over: when its last jars are out
    timed: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    booking_id: UUID | None = Field(default=None, foreign_key="booking.id")  # what it became, or what it was before
