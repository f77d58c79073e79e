"""What is sent and answered about plans of whole days."""

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from service.bookings.bodies import (
    A_BOOKING,
    A_CLAIM,
    A_MEMBER,
    A_RECIPE,
    ClaimAnswer,
    JarsBooked,
    JarsToFill,
    Reason,
)
from service.core.scheduling.timetables import Goal
from service.plans import store
from service.plans.tables import PlannedBatch, PlanStatus
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Flag, Id, Timestamp, Whole

MOST_BATCHES = 100
MOST_RUNNING_OVER = 20
A_DAY = {"from": "2027-08-14T14:00:00Z", "to": "2027-08-16T02:00:00Z"}
A_BATCH = {
    "recipe_id": A_RECIPE,
    "revision": 1,
    "member_id": A_MEMBER,
    "jars": [{"size": "half-pint", "count": 8}],
    "due_by": "2027-08-14T23:00:00Z",
}
A_LATENESS = {"goal": "lateness", "minutes": 20, "lower_bound": 20, "gap": 0.0, "proven": True}
A_LINE = {
    **A_BATCH,
    "weight": 1,
    "claims": [A_CLAIM],
    "out_at": "2027-08-14T17:25:00Z",
    "late_minutes": 0,
    "change": None,
}
A_PLAN = {
    "id": "5a7a3c1e-8f52-4f0c-bb6e-7d0e4a1f9c33",
    "status": "proposed",
    **A_DAY,
    "time_limit_seconds": 20,
    "seed": None,
    "ordered_at": "2027-08-13T09:00:00Z",
    "beyond_limits_because": None,
    "batches": 1,
    "timetable": [{**A_LINE, "batch": 0, "booking_id": A_BOOKING}],
    "lateness_minutes": 20,
    "makespan_minutes": 205,
    "lower_bound": 20,
    "optimal": True,
    "goals": [A_LATENESS],
    "first_come": {"lateness": 55, "worst-off-member": 55, "makespan": 240, "idle-canners": 0},
    "progress": None,
    "without_place": [],
    "reason": None,
}


class BatchToPlan(Body):
    """A batch that wants a place: whose it is, and by when its jars should be out of the canner."""

    model_config = example(**A_BATCH)

    recipe_id: Id
    revision: Annotated[Whole, Field(ge=1)]
    member_id: Id
    jars: JarsToFill
    due_by: Timestamp
    weight: Annotated[Whole, Field(ge=1, le=10)] = 1
    "how much a minute late counts beside those of other batches"
    acknowledged: Flag = False
    "that the check found something about the quality of the food, and it is to be canned all the same"


class NewDayPlan(Body):
    """Batches in the order of asking, with all their work between two times; jars may rest on after that."""

    model_config = example(**A_DAY, batches=[A_BATCH], time_limit_seconds=20)

    from_at: Annotated[Timestamp, Field(alias="from")]
    to_at: Annotated[Timestamp, Field(alias="to")]
    batches: Annotated[tuple[BatchToPlan, ...], Field(min_length=1, max_length=MOST_BATCHES)]
    time_limit_seconds: Annotated[Whole, Field(ge=1, le=120)] = 20
    seed: Annotated[Whole, Field(ge=0)] | None = None
    "the same seed gives the same plan: the planner then counts its own steps instead of seconds, and may take longer"
    beyond_limits_because: Reason | None = None
    "why this plan goes past the limits of fair use; without it, every member keeps to them"


class RunningOver(Body):
    """A batch that has begun and takes longer: what it uses is held so much longer, what is to come comes later."""

    model_config = example(booking_id=A_BOOKING, out_at="2027-08-14T18:05:00Z")

    booking_id: Id
    out_at: Timestamp
    "when its last jars are now expected out of the canner"


class NewRePlan(Body):
    """A time in which equipment failed or work ran over: batches that haven't begun are planned once more."""

    model_config = example(**A_DAY, running_over=[{"booking_id": A_BOOKING, "out_at": "2027-08-14T18:05:00Z"}])

    from_at: Annotated[Timestamp, Field(alias="from")]
    to_at: Annotated[Timestamp, Field(alias="to")]
    time_limit_seconds: Annotated[Whole, Field(ge=1, le=120)] = 20
    seed: Annotated[Whole, Field(ge=0)] | None = None
    "the same seed gives the same plan"
    running_over: Annotated[tuple[RunningOver, ...], Field(max_length=MOST_RUNNING_OVER)] = ()


class GoalReached(Answer):
    """How well a goal is met. Nothing below the bound is possible, as long as the goals before it are met as well."""

    model_config = example(**A_LATENESS)

    goal: Goal
    minutes: int
    lower_bound: int
    gap: float
    "how far above the bound, as a share of what was reached"
    proven: bool

    @classmethod
    def of(cls, goal: str, minutes: int, bound: int) -> "GoalReached":
        """Say how far from the bound it is."""
        gap = (minutes - bound) / max(1, minutes)
        return cls(goal=Goal(goal), minutes=minutes, lower_bound=bound, gap=gap, proven=minutes == bound)


class TimetableLine(Answer):
    """One batch of a timetable: when and where each step is, when its last jars come out, and how late that is."""

    model_config = example(**A_LINE, batch=0, booking_id=A_BOOKING)

    batch: int
    "its place in the order of asking, from 0"
    recipe_id: Id
    revision: int
    member_id: Id
    jars: tuple[JarsBooked, ...]
    due_by: Timestamp | None
    "null for a batch that was booked without a plan"
    weight: int
    claims: tuple[ClaimAnswer, ...]
    out_at: Timestamp
    late_minutes: int
    change: str | None
    "why a booked batch doesn't stay as it is, or goes on for longer; null if it stays, or wasn't booked before"
    booking_id: Id | None
    "what was booked of it; in a new plan of booked batches, what it moves"

    @classmethod
    def of(cls, row: PlannedBatch) -> "TimetableLine":
        """Put a batch and its place together."""
        assert row.timed is not None
        return cls.model_validate(
            {
                **row.timed,
                "batch": row.place,
                "recipe_id": str(row.recipe_id),
                "revision": row.revision,
                "member_id": str(row.member_id),
                "jars": [{"size": size, "count": count} for size, count in row.jars.items()],
                "due_by": row.due_at,
                "weight": row.weight,
                "booking_id": row.booking_id and str(row.booking_id),
            }
        )


class DayPlanAnswer(Answer):
    """A plan: waiting, being worked on, or with what was found."""

    model_config = example(**A_PLAN)

    id: Id
    status: PlanStatus
    from_at: Annotated[Timestamp, Field(alias="from")]
    to_at: Annotated[Timestamp, Field(alias="to")]
    time_limit_seconds: int
    seed: int | None
    ordered_at: Timestamp
    beyond_limits_because: str | None
    batches: int
    "how many the reader may see: a member sees their own"
    timetable: tuple[TimetableLine, ...]
    lateness_minutes: int | None
    makespan_minutes: int | None
    lower_bound: int | None
    "of the lateness, by weight"
    optimal: bool | None
    "whether no timetable has less lateness"
    goals: tuple[GoalReached, ...]
    first_come: dict[Goal, int] | None
    "what first come, first served would reach; null if it leaves some batch without a place"
    progress: GoalReached | None
    without_place: tuple[int, ...]
    "batches that had no place beside the others"
    reason: str | None

    @classmethod
    def of(cls, kept: store.KeptPlan) -> "DayPlanAnswer":
        """Put the rows together."""
        plan, found = kept.plan, kept.plan.found or {}
        goals = {each.goal: each for each in _goals(found.get("goals", {}))}
        lateness, makespan = goals.get(Goal.LATENESS), goals.get(Goal.MAKESPAN)
        placed = sorted((row for row in kept.batches if row.timed), key=lambda row: (row.timed or {})["out_at"])
        return cls.model_validate(
            {
                "id": str(plan.id),
                "status": plan.status,
                "from": plan.starts_at,
                "to": plan.ends_at,
                "time_limit_seconds": plan.time_limit_seconds,
                "seed": plan.seed,
                "ordered_at": plan.ordered_at,
                "beyond_limits_because": plan.beyond_limits_because,
                "batches": len(kept.batches),
                "timetable": tuple(TimetableLine.of(row) for row in placed),
                "lateness_minutes": found.get("lateness_minutes"),
                "makespan_minutes": makespan and makespan.minutes,
                "lower_bound": lateness and lateness.lower_bound,
                "optimal": lateness and lateness.proven,
                "goals": tuple(goals.values()),
                "first_come": found.get("first_come"),
                "progress": plan.progress and GoalReached.of(**plan.progress),
                "without_place": tuple(found.get("without_place", ())),
                "reason": plan.reason,
            }
        )


def _goals(found: dict[str, dict[str, int]]) -> Iterator[GoalReached]:
    """In their order, which JSON on its way through the database doesn't keep."""
    for goal in Goal:
        if goal in found:
            yield GoalReached.of(goal, **found[goal])


class DayPlanList(Listed[DayPlanAnswer]):
    """A page of plans, newest first."""

    model_config = example(items=[A_PLAN], next_cursor=None)
