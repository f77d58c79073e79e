"""The routes of plans of whole days."""

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from fastapi import BackgroundTasks, Request, Response

from service.bookings import store as bookings
from service.bookings import whole_batches
from service.bookings.bodies import jars_by_size
from service.bookings.fair_use import store as fair_use
from service.bookings.waiting import offering
from service.core.refusals import Refused
from service.core.scheduling.spans import Span, minute_of
from service.members import store as members
from service.plans import bodies, store
from service.plans.booking import booked
from service.plans.ordering import begun
from service.plans.tables import DayPlan, PlanStatus
from service.web import (
    Caller,
    Coordinator,
    Member,
    Now,
    Page,
    Problem,
    Reading,
    Routes,
    Writing,
    problems,
)
from service.web.problems import request_id_of
from service.web.types import Id, Timestamp

router = Routes("/v1", "plans")

LONGEST_PLAN = timedelta(days=14)
MOST_WAITING = 5


@router.post("/day-plans", status_code=202, responses=problems(403, 404, 409))
def order_day_plan(
    new: bodies.NewDayPlan,
    caller: Coordinator,
    session: Writing,
    now: Now,
    request: Request,
    response: Response,
    after: BackgroundTasks,
) -> bodies.DayPlanAnswer:
    """Have batches placed beside what is booked; read the plan later to see how far it is."""
    _check_time(new, caller, session, now)
    _check_batches(new, caller, session, now)
    rows = map(_row, new.batches)
    return bodies.DayPlanAnswer.of(_queued(new, rows, caller, session, now, request, response, after))


@router.post("/re-plans", status_code=202, responses=problems(403, 404, 409))
def order_re_plan(
    new: bodies.NewRePlan,
    caller: Coordinator,
    session: Writing,
    now: Now,
    request: Request,
    response: Response,
    after: BackgroundTasks,
) -> bodies.DayPlanAnswer:
    """Have booked batches that haven't begun placed again, moving as few as possible; read and accept it as any plan.

    Batches that lost their equipment find other equipment or another time. What has begun stays as it is, or holds
    its equipment for longer if it is said to run over. Equipment that was booked by itself stays as it is.
    """
    _check_time(new, caller, session, now)
    running_over = [_running_over(each, caller, session, now) for each in new.running_over]
    named = {row["booking_id"] for row in running_over}
    if len(named) < len(running_over):
        raise Problem("not-possible", "A batch that runs over is named once.")
    promised = store.promised(session, caller.kitchen_id, max(new.from_at, now), new.to_at)
    if not promised and not running_over:
        raise Problem("not-now", "No batch that could be moved starts in that time.")
    if len(promised) > bodies.MOST_BATCHES:
        raise Problem("not-possible", f"A plan has at most {bodies.MOST_BATCHES} batches; take a shorter time.")
    at_work = store.at_work(session, caller.kitchen_id, now) if running_over else ()
    others = [store.as_begun(session, each) for each in at_work if each.booking.id not in named]
    rows = [*(store.as_promised(session, each) for each in promised), *running_over, *others]
    kept = _queued(new, rows, caller, session, now, request, response, after)
    refused = begun(session, caller, kept, {each.booking.id for each in promised}, now)
    if isinstance(refused, Refused):
        raise Problem.of(refused)
    return bodies.DayPlanAnswer.of(kept)


@router.get("/day-plans")
def list_day_plans(caller: Member, session: Reading, page: Page) -> bodies.DayPlanList:
    """List plans, newest first: all for a coordinator, those with a batch of theirs for a member."""
    rows = store.plans(session, caller.kitchen_id, _whose(caller), page.after(Timestamp, Id), page.limit)
    items, next_cursor = page.page(rows, place=lambda kept: (kept.plan.ordered_at, kept.plan.id))
    return bodies.DayPlanList(items=tuple(bodies.DayPlanAnswer.of(kept) for kept in items), next_cursor=next_cursor)


@router.get("/day-plans/{plan_id}", responses=problems(404))
def get_day_plan(plan_id: Id, caller: Member, session: Reading, request: Request) -> bodies.DayPlanAnswer:
    """Read a plan: how far it is, or what was found. A member sees their own batches in it."""
    kept = _plan(session, caller, plan_id)
    if kept.plan.status in store.UNFINISHED:
        request.app.state.planner.wake()  # whoever was to plan it may be gone
    return bodies.DayPlanAnswer.of(kept)


@router.post("/day-plans/{plan_id}/acceptance", response_model=bodies.DayPlanAnswer, responses=problems(403, 404, 409))
def accept_day_plan(
    plan_id: Id, caller: Coordinator, session: Writing, now: Now, request: Request
) -> bodies.DayPlanAnswer | Response:
    """Book everything as planned, all or none; the plan is stale if any of it can't be had any more."""
    kept = _plan(session, caller, plan_id)
    if kept.plan.status is PlanStatus.ACCEPTED:
        raise Problem("already-done", "This plan was accepted before.")
    if kept.plan.status is not PlanStatus.PROPOSED:
        raise Problem("not-now", f"Only a proposed plan can be accepted; this one is {kept.plan.status}.")
    refused = booked(session, caller, kept, now)
    if refused is None:
        offering.pass_on(session, caller.kitchen, now)  # what batches leave that move
        return bodies.DayPlanAnswer.of(kept)
    # Answered, not raised: that the plan is stale has to be kept.
    if refused.code == "fair-use":
        return Problem.of(refused).response(request_id_of(request))
    detail = f"The kitchen has changed since this was planned, and nothing was booked. {refused.detail}"
    return Problem("plan-stale", detail, **dict[str, Any](refused.extra)).response(request_id_of(request))


@router.post("/day-plans/{plan_id}/cancellation", responses=problems(403, 404, 409))
def cancel_day_plan(plan_id: Id, caller: Coordinator, session: Writing) -> bodies.DayPlanAnswer:
    """Want a plan no more: it is stopped if it is being worked on, and can't be accepted."""
    kept = _plan(session, caller, plan_id)
    if kept.plan.status is PlanStatus.CANCELLED:
        raise Problem("already-done", "This plan was cancelled before.")
    if kept.plan.status not in (*store.UNFINISHED, PlanStatus.PROPOSED):
        raise Problem("not-now", f"This plan is {kept.plan.status}.")
    store.cancel(session, kept.plan)
    return bodies.DayPlanAnswer.of(kept)


def _queued(
    new: bodies.NewDayPlan | bodies.NewRePlan,
    rows: Iterable[dict[str, object]],
    caller: Caller,
    session: Writing,
    now: Now,
    request: Request,
    response: Response,
    after: BackgroundTasks,
) -> store.KeptPlan:
    """Write the plan down; the planner is woken when that is committed and answered."""
    plan = DayPlan(
        kitchen_id=caller.kitchen_id,
        starts_at=new.from_at,
        ends_at=new.to_at,
        time_limit_seconds=new.time_limit_seconds,
        seed=new.seed,
        ordered_by=caller.id,
        ordered_at=now,
        beyond_limits_because=new.beyond_limits_because if isinstance(new, bodies.NewDayPlan) else None,
    )
    kept = store.add(session, plan, rows)
    after.add_task(request.app.state.planner.wake)
    response.headers["Location"] = f"/v1/day-plans/{plan.id}"
    return kept


def _running_over(each: bodies.RunningOver, caller: Caller, session: Writing, now: Now) -> dict[str, object]:
    kept = bookings.booking(session, caller.kitchen_id, each.booking_id, None)
    if kept is None:
        raise Problem.not_found()
    if not store.is_whole_batch(kept):
        raise Problem("not-possible", "Only a whole batch runs over; equipment booked by itself can be booked again.")
    if not store.has_begun(session, kept, now):
        raise Problem("not-now", "This batch hasn't begun: it is planned again like the others.")
    row = store.as_begun(session, kept)
    if each.out_at <= row["expected_out_at"]:
        raise Problem("not-possible", "Its last jars were to be out at that time, or after it: it doesn't run over.")
    return row | {"expected_out_at": each.out_at}


def _check_time(new: bodies.NewDayPlan | bodies.NewRePlan, caller: Caller, session: Writing, now: Now) -> None:
    if new.to_at <= new.from_at:
        raise Problem("ends-before-start", "The time of a plan has to end after it starts.")
    if new.to_at <= now:
        raise Problem("in-the-past", "Only time that lies ahead can be planned.")
    if new.to_at - new.from_at > LONGEST_PLAN:
        raise Problem("not-possible", f"A plan covers at most {LONGEST_PLAN.days} days.")
    if store.waiting(session, caller.kitchen_id) >= MOST_WAITING:
        raise Problem("not-now", f"{MOST_WAITING} plans wait already; cancel one, or wait for it.")


def _check_batches(new: bodies.NewDayPlan, caller: Caller, session: Writing, now: Now) -> None:
    """Refuse what no plan could ever place, and say which batch it is."""
    here = whole_batches.kitchen(session, caller, [Span(minute_of(now), minute_of(now) + 1)], now)
    asked_by: dict[Id, int] = {}
    everybody = () if new.beyond_limits_because else [each.member_id for each in new.batches]
    shares = fair_use.shares(session, caller.kitchen, everybody, now)
    time = Span(minute_of(max(new.from_at, now)), minute_of(new.to_at))
    for place, each in enumerate(new.batches):
        wanted = whole_batches.batch(session, caller, each.recipe_id, each.revision, jars_by_size(each.jars))
        if wanted is None or members.member(session, caller.kitchen_id, each.member_id) is None:
            raise Problem("not-found", f"Batch {place} names a recipe or member that isn't here.", batch=place)
        if each.due_by <= now:
            raise Problem("in-the-past", f"Batch {place} was due before now.", batch=place)
        if not wanted.standing.allows_canning(acknowledged=each.acknowledged):
            raise Problem("not-ready", f"The recipe of batch {place} isn't ready to be canned.", batch=place)
        chains = whole_batches.chains_of(session, caller, wanted, here)
        if isinstance(chains, Refused):
            extra = dict[str, Any](chains.extra) | {"batch": place}
            raise Problem(chains.code, f"Batch {place}: {chains.detail}", **extra)
        asked_by[each.member_id] = asked_by.get(each.member_id, 0) + 1
        too_much = shares and shares.out_of_reach(each.member_id, asked_by[each.member_id], time)
        if too_much:
            extra = dict[str, Any](too_much.extra) | {"batch": place}
            raise Problem(too_much.code, f"Batch {place}: {too_much.detail}", **extra)


def _row(each: bodies.BatchToPlan) -> dict[str, object]:
    return {
        "member_id": each.member_id,
        "recipe_id": each.recipe_id,
        "revision": each.revision,
        "jars": jars_by_size(each.jars),
        "due_at": each.due_by,
        "weight": each.weight,
        "acknowledged": each.acknowledged,
    }


def _plan(session: Reading, caller: Caller, plan_id: Id) -> store.KeptPlan:
    kept = store.plan(session, caller.kitchen_id, plan_id, _whose(caller))
    if kept is None:
        raise Problem.not_found()
    return kept


def _whose(caller: Caller) -> Id | None:
    return None if caller.is_coordinator else caller.id
