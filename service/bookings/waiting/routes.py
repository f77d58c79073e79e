"""The routes of waiting. Every one of them writes: what the clock has decided meanwhile is done first."""

from typing import Any
from uuid import UUID

from fastapi import Response

from service.bookings import whole_batches
from service.bookings.bodies import BookingAnswer, jars_by_size
from service.bookings.waiting import bodies, offering, store
from service.core.refusals import Refused
from service.core.scheduling import searches
from service.core.scheduling.spans import ONE_MINUTE, around, at_minute
from service.core.scheduling.waiting import OPEN, State, misplaced, unanswerable, unleavable
from service.web import Caller, Member, Now, Page, Problem, Routes, Writing, problems
from service.web.types import Id

router = Routes("/v1", "bookings")


@router.post("/waiting-list", status_code=201, responses=problems(404, 409))
def wait(
    new: bodies.AnyNewWaiting, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.WaitingAnswer:
    """Wait for a time that suits one piece of equipment or a whole batch; one that is free is offered at once."""
    within = searches.window(new.not_before, new.not_after, now)
    if isinstance(within, Refused):
        raise Problem.of(within)
    everybody = store.in_order(session, caller.kitchen_id, *OPEN)
    waits_for = sum(row.member_id == caller.id for row in everybody)
    wanted: dict[str, Any] = {"purpose": new.purpose}
    if isinstance(new, bodies.NewWaiting):
        wanted |= {"equipment_kind": new.equipment_kind, "canner_kind": new.canner_kind, "minutes": new.minutes}
    else:
        batch = _batch(new, caller, session, now)
        wanted |= {"recipe_id": new.recipe_id, "revision": new.revision, "jars": dict(batch.jars)}
        wanted |= {"acknowledged": new.acknowledged, "purpose": new.purpose or batch.title}
    refused = misplaced(wanted.get("equipment_kind"), wanted.get("canner_kind"), waits_for)
    if refused:
        raise Problem.of(refused)
    row = store.join(
        session,
        caller.kitchen_id,
        member_id=caller.id,
        not_before=at_minute(within.starts_min),
        not_after=at_minute(within.ends_min),
        joined_at=now,
        **wanted,
    )
    offering.pass_on(session, caller.kitchen, now)
    response.headers["Location"] = f"/v1/waiting-list/{row.id}"
    return _shown(session, row)


@router.get("/waiting-list")
def list_waiting(caller: Member, session: Writing, page: Page) -> bodies.WaitingList:
    """List what one waits for, or what everybody does for a coordinator, first come first."""
    (after,) = page.after(int) or (0,)
    whose = None if caller.is_coordinator else caller.id
    rows = store.listed(session, caller.kitchen_id, whose, after, page.limit)
    items, next_cursor = page.page(rows, place=lambda row: (row.number,))
    positions = store.positions(session, items)
    return bodies.WaitingList(
        items=tuple(bodies.WaitingAnswer.of(row, positions[row.id]) for row in items), next_cursor=next_cursor
    )


@router.get("/waiting-list/{waiting_id}", responses=problems(404))
def get_waiting(waiting_id: Id, caller: Member, session: Writing) -> bodies.WaitingAnswer:
    """Read one place on the list."""
    return _shown(session, _waiting(session, caller, waiting_id, anybodys=caller.is_coordinator))


@router.post("/waiting-list/{waiting_id}/acceptance", status_code=201, responses=problems(403, 404, 409))
def accept_offer(waiting_id: Id, caller: Member, session: Writing, now: Now, response: Response) -> BookingAnswer:
    """Take the time that is offered: it becomes a booking."""
    row = _waiting(session, caller, waiting_id)
    refused = unanswerable(row.state)
    if refused:
        raise Problem.of(refused)
    kept = offering.accept(session, row, caller.kitchen, now)
    if isinstance(kept, Refused):
        raise Problem.of(kept)
    response.headers["Location"] = f"/v1/bookings/{kept.booking.id}"
    return BookingAnswer.of(kept)


@router.post("/waiting-list/{waiting_id}/decline", responses=problems(404, 409))
def decline_offer(waiting_id: Id, caller: Member, session: Writing, now: Now) -> bodies.WaitingAnswer:
    """Let the offered time pass to the next, and keep one's place for another."""
    row = _waiting(session, caller, waiting_id)
    refused = unanswerable(row.state)
    if refused:
        raise Problem.of(refused)
    store.decline(session, row)
    offering.pass_on(session, caller.kitchen, now)
    return _shown(session, row)


@router.post("/waiting-list/{waiting_id}/cancellation", responses=problems(404, 409))
def stop_waiting(waiting_id: Id, caller: Member, session: Writing, now: Now) -> bodies.WaitingAnswer:
    """Leave the list; what was offered passes to the next."""
    row = _waiting(session, caller, waiting_id, anybodys=caller.is_coordinator)
    refused = unleavable(row.state)
    if refused:
        raise Problem.of(refused)
    store.release(session, row, State.LEFT)
    offering.pass_on(session, caller.kitchen, now)
    return _shown(session, row)


def _batch(new: bodies.NewBatchWaiting, caller: Caller, session: Writing, now: Now) -> whole_batches.Batch:
    """A batch that may be canned, and that the kitchen can make at all."""
    batch = whole_batches.batch(session, caller, new.recipe_id, new.revision, jars_by_size(new.jars))
    if batch is None:
        raise Problem.not_found()
    if not batch.standing.allows_canning(acknowledged=new.acknowledged):
        raise Problem("not-ready", "The check of this revision doesn't say that it is ready to be canned.")
    this_minute = [around(now, now + ONE_MINUTE)]
    kitchen = whole_batches.kitchen(session, caller, this_minute, now)
    chains = whole_batches.chains_of(session, caller, batch, kitchen)
    if isinstance(chains, Refused):
        raise Problem.of(chains)
    return batch


def _waiting(session: Writing, caller: Caller, waiting_id: UUID, *, anybodys: bool = False) -> store.Waiting:
    row = store.waiting(session, caller.kitchen_id, waiting_id, None if anybodys else caller.id)
    if row is None:
        raise Problem.not_found()
    return row


def _shown(session: Writing, row: store.Waiting) -> bodies.WaitingAnswer:
    return bodies.WaitingAnswer.of(row, store.positions(session, [row])[row.id])
