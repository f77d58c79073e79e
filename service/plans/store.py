"""Plans as rows, from what was ordered to what was found and booked."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import exists, update
from sqlalchemy.engine import CursorResult
from sqlmodel import Session, col, or_, select

from service.batches.tables import Batch
from service.bookings import store as bookings
from service.bookings.tables import Booking
from service.core.refusals import Refused
from service.core.scheduling.bookings import Claim, Status, Step
from service.core.scheduling.overruns import Begun
from service.core.scheduling.planning import Plan, Reached
from service.core.scheduling.spans import Span, at_minute
from service.core.scheduling.timetables import Goal, Timed
from service.equipment import store as equipment
from service.plans.tables import DayPlan, PlannedBatch, PlanStatus
from service.web.types import write_timestamp

LOST = "What it had booked can't be used then any more, and nothing else was free at that time."
SAME_TIME = "What it had booked can't be used any more; it has other equipment at the same time."
MADE_ROOM = "It makes room for a batch that lost its equipment."
HELD_LONGER = "A batch that began before it runs over, and needs what this one had booked."
RUNS_OVER = "It takes longer than it was promised, and keeps what it uses until it is done."
MAKES_WAY = "It has begun, and what is to come of it waits for a batch that runs over, or has other equipment."
OTHER_UNITS = "It keeps its time, with other equipment, so that another batch finds room."
UNFINISHED = (PlanStatus.QUEUED, PlanStatus.RUNNING)
SILENT_FOR = timedelta(seconds=60)  # a planner that gave no sign for so long isn't there any more


@dataclass(frozen=True, slots=True)
class KeptPlan:
    """A plan with its batches, in the order of asking."""

    plan: DayPlan
    batches: tuple[PlannedBatch, ...]


def add(session: Session, plan: DayPlan, batches: Iterable[Mapping[str, Any]]) -> KeptPlan:
    """Write down what is to be planned."""
    session.add(plan)
    session.flush()
    rows = tuple(PlannedBatch(plan_id=plan.id, place=place, **values) for place, values in enumerate(batches))
    session.add_all(rows)
    session.flush()
    return KeptPlan(plan, rows)


def plan(session: Session, kitchen_id: UUID, plan_id: UUID, member_id: UUID | None) -> KeptPlan | None:
    """One plan of a kitchen; of a member's, only if a batch of theirs is in it, and only those batches."""
    query = select(DayPlan).where(DayPlan.kitchen_id == kitchen_id, DayPlan.id == plan_id)
    row = session.exec(query).one_or_none()
    if row is None:
        return None
    batches = select(PlannedBatch).where(PlannedBatch.plan_id == plan_id).order_by(col(PlannedBatch.place))
    if member_id is not None:
        batches = batches.where(PlannedBatch.member_id == member_id)
    kept = KeptPlan(row, tuple(session.exec(batches)))
    return kept if kept.batches or member_id is None else None


def plans(
    session: Session, kitchen_id: UUID, member_id: UUID | None, after: tuple[datetime, UUID] | None, limit: int
) -> tuple[KeptPlan, ...]:
    """Plans, newest first and one more than asked for; of a member, those with a batch of theirs."""
    query = select(DayPlan).where(DayPlan.kitchen_id == kitchen_id)
    if member_id is not None:
        theirs = exists().where(col(PlannedBatch.plan_id) == col(DayPlan.id), col(PlannedBatch.member_id) == member_id)
        query = query.where(theirs)
    if after is not None:
        ordered_at, last = after
        same = (col(DayPlan.ordered_at) == ordered_at) & (col(DayPlan.id) > last)
        query = query.where(or_(col(DayPlan.ordered_at) < ordered_at, same))
    found = session.exec(query.order_by(col(DayPlan.ordered_at).desc(), col(DayPlan.id)).limit(limit + 1)).all()
    batches: dict[UUID, list[PlannedBatch]] = {row.id: [] for row in found}
    of_plans = select(PlannedBatch).where(col(PlannedBatch.plan_id).in_(batches))
    if member_id is not None:
        of_plans = of_plans.where(PlannedBatch.member_id == member_id)
    for each in session.exec(of_plans.order_by(col(PlannedBatch.place))):
        batches[each.plan_id].append(each)
    return tuple(KeptPlan(row, tuple(batches[row.id])) for row in found)


def waiting(session: Session, kitchen_id: UUID) -> int:
    """How many plans of a kitchen wait for the planner, or are with it."""
    query = select(DayPlan.id).where(DayPlan.kitchen_id == kitchen_id, col(DayPlan.status).in_(UNFINISHED))
    return len(session.exec(query).all())


def unfinished(session: Session) -> bool:
    return session.exec(select(DayPlan.id).where(col(DayPlan.status).in_(UNFINISHED)).limit(1)).first() is not None


def take_next(session: Session, at: datetime) -> KeptPlan | None:
    """Take the oldest plan that nobody works on: one that is queued, or whose planner fell silent."""
    left = (col(DayPlan.status) == PlanStatus.QUEUED) | (
        (col(DayPlan.status) == PlanStatus.RUNNING) & (col(DayPlan.beat_at) < at - SILENT_FOR)
    )
    oldest = select(DayPlan).where(left).order_by(col(DayPlan.ordered_at), col(DayPlan.id)).limit(1)
    row = session.exec(oldest.with_for_update(skip_locked=True)).first()  # another planner's isn't waited for
    if row is None:
        return None
    taken = session.execute(
        update(DayPlan)
        .where(col(DayPlan.id) == row.id, left)
        .values(status=PlanStatus.RUNNING, tries=row.tries + 1, beat_at=at)
        .execution_options(synchronize_session=False)
    )
    assert isinstance(taken, CursorResult)
    session.refresh(row)
    return plan(session, row.kitchen_id, row.id, None) if taken.rowcount else None


def beat(session: Session, plan_id: UUID, at: datetime, progress: Mapping[str, Any] | None) -> bool:
    """Say that the planner is still at it; `False` says that the plan is wanted no more."""
    return _write(session, plan_id, beat_at=at, progress=progress)


def finish(
    session: Session,
    plan_id: UUID,
    status: PlanStatus,
    reason: str | None = None,
    found: Mapping[str, Any] | None = None,
) -> bool:
    """Write what came of a plan, unless it is wanted no more."""
    return _write(session, plan_id, status=status, reason=reason, found=found, progress=None)


def put_back(session: Session, plan_id: UUID) -> bool:
    """Leave a plan to whoever looks for one next."""
    return _write(session, plan_id, status=PlanStatus.QUEUED, beat_at=None, progress=None)


def propose(session: Session, kept: KeptPlan, made: Plan, begun: Sequence[Begun]) -> None:
    """Write a timetable, how good it is, and how batches that have begun go on beside it."""
    goals = {goal: asdict(reached) for goal, reached in made.goals.items()}
    late = sum(each.late_minutes for each in made.timed)
    found = {"goals": goals, "lateness_minutes": late, "first_come": made.first_come}
    if finish(session, kept.plan.id, PlanStatus.PROPOSED, found=found):
        for each in made.timed:
            row = next(row for row in kept.batches if batch_id(row) == each.batch.id)
            row.timed = _timed(each.claims, each.out_min, each.late_minutes)
            row.timed["change"] = _change(session, row, each, begun)
            session.add(row)
        for gone_on in begun:
            row = next(row for row in kept.batches if row.booking_id == gone_on.promised.booking_id)
            over = gone_on.out_min - gone_on.promised.out_min
            why = (RUNS_OVER if gone_on.runs_over else MAKES_WAY) if gone_on.changed else None
            row.timed = _timed(gone_on.claims, gone_on.out_min, over) | {"change": why}
            session.add(row)


def cancel(session: Session, row: DayPlan) -> None:
    """Want a plan no more; a planner that works on it sees that at its next sign of life."""
    row.status = PlanStatus.CANCELLED
    session.add(row)
    session.flush()


def promised(session: Session, kitchen_id: UUID, from_at: datetime, to_at: datetime) -> tuple[bookings.Kept, ...]:
    """Whole batches that start within a time, with their equipment or without it any more, earliest first."""
    query = select(Booking).where(
        Booking.kitchen_id == kitchen_id,
        col(Booking.status).in_((Status.CONFIRMED, Status.DISPLACED)),
        col(Booking.recipe_id).is_not(None),
        Booking.starts_at >= from_at,
        Booking.starts_at < to_at,
        ~exists().where(col(Batch.booking_id) == col(Booking.id)),
    )
    found = bookings.kept(session, session.exec(query.order_by(col(Booking.starts_at), col(Booking.id))))
    return tuple(each for each in found if is_whole_batch(each))


def at_work(session: Session, kitchen_id: UUID, now: datetime) -> tuple[bookings.Kept, ...]:
    """Whole batches that have begun and may still have work to come, earliest first."""
    begun = exists().where(col(Batch.booking_id) == col(Booking.id))
    query = select(Booking).where(
        Booking.kitchen_id == kitchen_id,
        Booking.status == Status.CONFIRMED,
        bookings.ends_after(now),
        or_(col(Booking.starts_at) <= now, begun),
    )
    found = bookings.kept(session, session.exec(query.order_by(col(Booking.starts_at), col(Booking.id))))
    return tuple(each for each in found if is_whole_batch(each) and _worked_until(each) > now)


def _worked_until(each: bookings.Kept) -> datetime:
    return max(claim.ends_at for claim in each.claims if claim.step is not Step.REST)


def is_whole_batch(each: bookings.Kept) -> bool:
    return each.booking.recipe_id is not None and {Step.PREP, Step.REST} <= {claim.step for claim in each.claims}


def has_begun(session: Session, each: bookings.Kept, now: datetime) -> bool:
    """Whether somebody works on it: its time has come, or its batch was begun before that."""
    begun = session.exec(select(Batch.id).where(Batch.booking_id == each.booking.id)).first() is not None
    return begun or each.booking.starts_at <= now


def as_promised(session: Session, each: bookings.Kept) -> dict[str, Any]:
    """A booked batch as one to plan: due when it was due in the plan that booked it, if one did."""
    planned = select(PlannedBatch).join(DayPlan, col(DayPlan.id) == col(PlannedBatch.plan_id))
    accepted = planned.where(PlannedBatch.booking_id == each.booking.id, DayPlan.status == PlanStatus.ACCEPTED)
    before = session.exec(accepted.order_by(col(DayPlan.ordered_at).desc()).limit(1)).first()
    return {
        "member_id": each.booking.member_id,
        "recipe_id": each.booking.recipe_id,
        "revision": each.booking.revision,
        "jars": each.booking.jars,
        "due_at": before and before.due_at,
        "weight": before.weight if before else 1,
        "acknowledged": True,
        "booking_id": each.booking.id,
    }


def as_begun(session: Session, each: bookings.Kept) -> dict[str, Any]:
    """A batch that has begun: its last jars are to be out when they were promised."""
    figures = equipment.figures(session, each.booking.kitchen_id)
    assert not isinstance(figures, Refused)  # figures were looked at when they were set
    cleaned_at = max(claim.ends_at for claim in each.claims if claim.step is Step.PROCESS)
    out_at = cleaned_at - timedelta(minutes=figures.cleaning_minutes)
    return as_promised(session, each) | {"expected_out_at": out_at}


def claims_of(found: Iterable[Any]) -> tuple[Claim, ...]:
    """Claims as they were written or answered; what they occupy is looked for anew."""
    return tuple(
        Claim(each.step, each.equipment_id, each.unit_fixed, each.starts_at, each.ends_at, each.attended, ())
        for each in found
    )


def batch_id(row: PlannedBatch) -> UUID:
    """What a batch is called while it is planned."""
    return UUID(int=row.place + 1)


def told(goal: Goal, reached: Reached) -> dict[str, Any]:
    return {"goal": goal, **asdict(reached)}


def _write(session: Session, plan_id: UUID, **values: Any) -> bool:
    done = session.execute(
        update(DayPlan)
        .where(col(DayPlan.id) == plan_id, col(DayPlan.status) == PlanStatus.RUNNING)
        .values(**values)
        .execution_options(synchronize_session=False)
    )
    assert isinstance(done, CursorResult)
    return done.rowcount == 1


def _change(session: Session, row: PlannedBatch, each: Timed, begun: Sequence[Begun]) -> str | None:
    """Why a promised batch isn't left as it is, if it isn't."""
    promised = row.booking_id and bookings.kept(session, [session.get_one(Booking, row.booking_id)])
    if not promised:
        return None
    if promised[0].booking.status is Status.DISPLACED:
        return LOST if each.moved else SAME_TIME
    before, now = ([claim.equipment_id for claim in claims] for claims in (promised[0].claims, each.claims))
    if not each.moved and before == now:
        return None
    if _in_the_way(promised[0], begun):
        return HELD_LONGER
    return MADE_ROOM if each.moved else OTHER_UNITS


def _in_the_way(promised: bookings.Kept, begun: Sequence[Begun]) -> bool:
    """Whether a batch that runs over wants a piece that was promised, or its member's hands, at the same time."""
    theirs = [Span(*hands) for hands in promised.booking.hands]
    return any(
        one.equipment_id == other.equipment_id and one.starts_at < other.ends_at and other.starts_at < one.ends_at
        for each in begun
        for one in each.claims
        for other in promised.claims
        if other.step is not Step.REST
    ) or any(
        each.promised.member_id == promised.booking.member_id and one.overlaps(other)
        for each in begun
        for one in each.hands
        for other in theirs
    )


def _timed(found: Iterable[Claim], out_min: int, late_minutes: int) -> dict[str, Any]:
    claims = [
        {
            "step": claim.step,
            "equipment_id": str(claim.equipment_id),
            "unit_fixed": claim.unit_fixed,
            "starts_at": write_timestamp(claim.starts_at),
            "ends_at": write_timestamp(claim.ends_at),
            "attended": claim.attended,
        }
        for claim in found
    ]
    return {"claims": claims, "out_at": write_timestamp(at_minute(out_min)), "late_minutes": late_minutes}
