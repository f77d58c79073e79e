"""The route by which a member leaves the kitchen."""

from service.bookings.waiting import offering
from service.departures import bodies, store
from service.members import store as members
from service.web import Coordinator, Now, Problem, Routes, Writing, problems
from service.web.types import Id

router = Routes("/v1/members", "members")


@router.post("/{member_id}/departure", responses=problems(403, 404, 409))
def record_departure(
    member_id: Id, new: bodies.NewDeparture, caller: Coordinator, session: Writing, now: Now
) -> bodies.DepartureAnswer:
    """Let a member go: jars are handed on or taken along, bookings ahead cancelled, tokens ended."""
    row = members.member(session, caller.kitchen_id, member_id)
    if row is None:
        raise Problem.not_found()
    if row.id == caller.id:
        raise Problem("not-possible", "Another coordinator has to record that a coordinator leaves.")
    if new.jars_to is not None:
        heir = members.member(session, caller.kitchen_id, new.jars_to)
        if heir is None or heir.id == row.id:
            raise Problem("not-possible", "The jars go to another member of this kitchen, or are taken along.")
    if store.is_canning(session, caller.kitchen_id, row.id):
        raise Problem("not-now", "A batch of theirs has jars whose seals aren't checked yet.")
    departed = store.depart(session, row, new.jars_to, caller.id, now)
    offering.pass_on(session, caller.kitchen, now)
    return bodies.DepartureAnswer.of(departed)
