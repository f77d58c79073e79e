"""The routes of waiting. Every one of them writes: what the clock has decided meanwhile is done first."""

from uuid import UUID

from fastapi import Response

from service.bookings.bodies import BookingAnswer
from service.bookings.waiting import bodies, offering, store
from service.core.refusals import Refused
from service.core.scheduling import searches
from service.core.scheduling.spans import at_minute
from service.core.scheduling.waiting import OPEN, State, misplaced, unanswerable, unleavable
from service.web import Caller, Member, Now, Page, Problem, Routes, Writing, problems
from service.web.types import Id

router = Routes("/v1", "bookings")


@router.post("/waiting-list", status_code=201, responses=problems(409))
def wait(
    new: bodies.NewWaiting, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.WaitingAnswer:
    """Wait for a time that suits; one that is free already is offered at once."""
    within = searches.window(new.not_before, new.not_after, now)
    if isinstance(within, Refused):
        raise Problem.of(within)
    everybody = store.in_order(session, caller.kitchen_id, *OPEN)
    waits_for = sum(row.member_id == caller.id for row in everybody)
    refused = misplaced(new.equipment_kind, new.canner_kind, waits_for)
    if refused:
        raise Problem.of(refused)
    row = store.join(
        session,
        caller.kitchen_id,
        member_id=caller.id,
        equipment_kind=new.equipment_kind,
        canner_kind=new.canner_kind,
        minutes=new.minutes,
        not_before=at_minute(within.starts_min),
        not_after=at_minute(within.ends_min),
        purpose=new.purpose,
        joined_at=now,
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


def _waiting(session: Writing, caller: Caller, waiting_id: UUID, *, anybodys: bool = False) -> store.Waiting:
    row = store.waiting(session, caller.kitchen_id, waiting_id, None if anybodys else caller.id)
    if row is None:
        raise Problem.not_found()
    return row


def _shown(session: Writing, row: store.Waiting) -> bodies.WaitingAnswer:
    return bodies.WaitingAnswer.of(row, store.positions(session, [row])[row.id])
