"""The routes of fair use."""

from fastapi import Response

from service.bookings.fair_use import bodies, store
from service.core.scheduling.fair_use import senseless
from service.web import (
    UNCHANGED,
    Coordinator,
    IfMatch,
    Member,
    Problem,
    Reading,
    Routes,
    Writing,
    problems,
    stale,
    tag,
)

router = Routes("/v1", "bookings")


@router.get("/fair-use", responses=UNCHANGED)
def get_fair_use(caller: Member, session: Reading, response: Response) -> bodies.FairUseAnswer:
    """Read the most each member may take; a kitchen that never set it has no limits."""
    rules, version = store.rules(session, caller.kitchen_id)
    tag(response, version)
    return bodies.FairUseAnswer.of(rules)


@router.put("/fair-use", responses=problems(403, 412, 428))
def set_fair_use(
    new: bodies.FairUseSent, caller: Coordinator, version: IfMatch, session: Writing, response: Response
) -> bodies.FairUseAnswer:
    """Set the most each member may take from now on; bookings already made stay."""
    rules = new.rules()
    nonsense = senseless(rules.seasons)
    if nonsense:
        raise Problem.of(nonsense)
    if not store.set_rules(session, caller.kitchen_id, rules, version):
        raise stale()
    tag(response, version + 1)
    return bodies.FairUseAnswer.of(rules)
