"""The routes of lots: reading one whole, sharing it, calling it back until every jar is accounted for."""

from collections import Counter
from datetime import datetime
from fractions import Fraction
from uuid import UUID

from fastapi import Response

from service.core.jars import recalls, sharing
from service.core.jars.movements import Place, State
from service.core.refusals import Refused
from service.members import store as members
from service.pantry import store as pantry
from service.pantry.bodies import MovementAnswer
from service.pantry.lots import bodies, store
from service.pantry.routes import found_lot, known_code
from service.web import Caller, Coordinator, Looking, Member, Now, Page, Problem, Reading, Routes, Writing, problems
from service.web.types import Id

router = Routes("/v1", "lots")


@router.get("/lots/{lot_code}", responses=problems(404))
def get_lot(lot_code: str, caller: Member, look: Looking) -> bodies.LotAnswer:
    """Read a lot with every holder and what is left; a member sees their own part."""
    seen = store.seen(look, caller.kitchen_id, known_code(lot_code), None if caller.is_coordinator else caller.id)
    if seen is None:
        raise Problem.not_found()
    return bodies.LotAnswer.of(seen)


@router.post("/lots/{lot_code}/shares", status_code=201, responses=problems(403, 404, 409))
def share_lot(
    lot_code: str, new: bodies.NewShares, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.SharesAnswer:
    """Share jars between members: by jars, or by part of the work or the produce."""
    lot = found_lot(session, caller, lot_code)
    holder_id = _whose(caller, new.from_member_id)
    balances = pantry.balances(session, lot.id, holder_id)
    if not balances:
        raise Problem.not_found()
    for share in new.shares:
        if members.member(session, caller.kitchen_id, share.member_id) is None:
            raise Problem("not-possible", "There is no such member in this kitchen.")
    if (new.by == "jars") != (new.jars is None):
        raise Problem("not-possible", "All jars are named where they are shared by work or produce, and only there.")
    shares = [
        sharing.Share(each.member_id, _counted(each.jars), None if each.part is None else Fraction(each.part))
        for each in new.shares
    ]
    shared = sharing.share(lot.id, holder_id, State(new.from_state), _counted(new.jars), shares, balances)
    if isinstance(shared, Refused):
        raise Problem.of(shared)
    pantry.write(session, lot, shared.moved, caller.id, now)
    response.headers["Location"] = f"/v1/lots/{lot.code}"
    return bodies.SharesAnswer.of(lot.code, new, shared)


@router.post("/lots/{lot_code}/recall", responses=problems(403, 404, 409))
def recall_lot(
    lot_code: str, new: bodies.NewRecall, caller: Coordinator, session: Writing, now: Now
) -> bodies.LotAnswer:
    """Call back every jar of a lot that anyone still has, and tell all through whose hands it went."""
    lot = found_lot(session, caller, lot_code)
    if lot.recalled_at is not None:
        raise Problem("already-done", "The lot was recalled before.")
    return bodies.LotAnswer.of(store.recall(session, lot, new.reason, caller.id, now))


@router.post("/lots/{lot_code}/recall/outcomes", status_code=201, responses=problems(403, 404, 409))
def account_for_jars(
    lot_code: str, new: bodies.NewOutcome, caller: Member, session: Writing, now: Now, response: Response
) -> MovementAnswer:
    """Say what became of called-back jars: brought back, destroyed, or eaten before."""
    lot = found_lot(session, caller, lot_code)
    holder_id = _whose(caller, new.member_id)
    balances = pantry.balances(session, lot.id, holder_id)
    if not balances:
        raise Problem.not_found()
    if lot.recalled_at is None:
        raise Problem("not-now", "The lot isn't called back.")
    source = Place(lot.id, new.jar_size, holder_id, State.RECALLED)
    moved = recalls.account(new.outcome, new.count, source, balances)
    if isinstance(moved, Refused):
        raise Problem.of(moved)
    (written,) = pantry.write(session, lot, [moved], caller.id, now)
    response.headers["Location"] = f"/v1/lots/{lot.code}"
    return MovementAnswer.of(written)


@router.get("/recalls", responses=problems(403))
def list_recalls(caller: Coordinator, session: Reading, page: Page) -> bodies.RecallList:
    """List the lots that were called back, the last first, with the jars that aren't accounted for."""
    found = store.recalls(session, caller.kitchen_id, page.limit, page.after(datetime, Id))
    items, next_cursor = page.page(found, place=lambda each: (each.lot.recalled_at, each.lot.id))
    return bodies.RecallList(items=tuple(bodies.RecallItem.of(each) for each in items), next_cursor=next_cursor)


def _whose(caller: Caller, member_id: UUID | None) -> UUID:
    """The caller's own jars, or for a coordinator anybody's."""
    if member_id not in (None, caller.id) and not caller.is_coordinator:
        raise Problem("role-needed", "Only a coordinator does that for somebody else.")
    return member_id or caller.id


def _counted(jars: bodies.JarList | None) -> dict[str, int] | None:
    """Jars by size, a size named twice added up."""
    if jars is None:
        return None
    counts = Counter[str]()
    for each in jars:
        counts[each.size] += each.count
    return dict(counts)
