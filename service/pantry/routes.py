"""The routes of pantries, movements and lots."""

from datetime import date
from typing import Annotated
from uuid import UUID

from fastapi import Path, Query, Response

from service.core.jars import movements
from service.core.jars.movements import Kind, State
from service.core.refusals import Refused
from service.members import store as members
from service.pantry import bodies, store
from service.web import Caller, Coordinator, Member, Now, Page, Problem, Reading, Routes, Writing, problems
from service.web.types import Id, Text

router = Routes("/v1", "pantry")

Whose = Annotated[str, Path(max_length=100, description="a member's id, or `me`")]
Word = Annotated[Text | None, Query(max_length=120)]
Day = Annotated[date | None, Query(ge=date(1970, 1, 1), le=date(2199, 12, 31))]


@router.get("/members/{member_id}/pantry", responses=problems(404))
def list_pantry(
    member_id: Whose,
    caller: Member,
    session: Reading,
    page: Page,
    family: Word = None,
    product: Word = None,
    jar_size: Word = None,
    state: bodies.HeldState | None = None,
    best_by_before: Day = None,
) -> bodies.PantryList:
    """List a member's jars, what is best eaten first at the top."""
    holder_id = _holder(session, caller, member_id)
    wanted = store.Filters(family, product, jar_size, State(state) if state else None, best_by_before)
    found = store.shelf(session, caller.kitchen_id, holder_id, wanted, page.limit, page.after(date, Id))
    kept, next_cursor = page.page(found, place=lambda each: (each.balance.best_by, each.balance.id))
    items = tuple(bodies.PantryItem.of(each) for each in kept)
    return bodies.PantryList(items=items, next_cursor=next_cursor)


@router.get("/members/{member_id}/pantry/summary", responses=problems(404))
def get_pantry_summary(member_id: Whose, caller: Member, session: Reading) -> bodies.PantrySummary:
    """Add up a member's jars."""
    holder_id = _holder(session, caller, member_id)
    groups = store.groups(session, caller.kitchen_id, holder_id)
    return bodies.PantrySummary.of([bodies.PantryGroup.model_validate(group) for group in groups])


@router.post("/movements", status_code=201, responses=problems(404, 409))
def move_jars(
    new: bodies.NewMovement, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.MovementAnswer:
    """Give, use, open, discard, chill, freeze or relocate jars of one lot."""
    lot = store.lot(session, caller.kitchen_id, new.lot_code)
    mine = store.balances(session, lot.id, caller.id) if lot else {}
    if lot is None or not mine:
        raise Problem.not_found()
    if new.to_member_id is not None and members.member(session, caller.kitchen_id, new.to_member_id) is None:
        raise Problem("not-possible", "There is no such member in this kitchen.")
    wish = movements.Wish(
        Kind(new.kind),
        lot.id,
        new.jar_size,
        new.count,
        State(new.from_state),
        new.to_member_id,
        new.recipient,
        new.location,
    )
    moved = movements.move(wish, caller.id, mine)
    if isinstance(moved, Refused):
        raise Problem.of(moved)
    (written,) = store.write(session, lot, [moved], caller.id, now)
    response.headers["Location"] = f"/v1/lots/{lot.code}"
    return bodies.MovementAnswer.of(written)


@router.get("/lots/{lot_code}", responses=problems(404))
def get_lot(lot_code: str, caller: Member, session: Reading) -> bodies.LotAnswer:
    """Read a lot with every holder; a member sees their own part."""
    lot = store.lot(session, caller.kitchen_id, lot_code)
    seen = store.seen(session, lot, None if caller.is_coordinator else caller.id) if lot else None
    if seen is None:
        raise Problem.not_found()
    return bodies.LotAnswer.of(seen)


@router.post("/lots/{lot_code}/recall", responses=problems(403, 404, 409))
def recall_lot(
    lot_code: str, new: bodies.NewRecall, caller: Coordinator, session: Writing, now: Now
) -> bodies.LotAnswer:
    """Call back every jar of a lot that anyone still has."""
    lot = store.lot(session, caller.kitchen_id, lot_code)
    if lot is None:
        raise Problem.not_found()
    if lot.recalled_at is not None:
        raise Problem("already-done", "The lot was recalled before.")
    return bodies.LotAnswer.of(store.recall(session, lot, new.reason, caller.id, now))


def _holder(session: Reading, caller: Caller, member_id: str) -> UUID:
    """Whose pantry is meant: the caller's own, or for a coordinator anybody's."""
    if member_id in ("me", str(caller.id)):
        return caller.id
    asked = _id(member_id)
    if asked is None or not caller.is_coordinator or members.member(session, caller.kitchen_id, asked) is None:
        raise Problem.not_found()
    return asked


def _id(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
