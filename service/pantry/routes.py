"""The routes of pantries, movements and the ledger behind them."""

from datetime import UTC, date, datetime
from typing import Annotated
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Path, Query, Response

from service.core.jars import movements, years
from service.core.jars.lots import read_code
from service.core.jars.movements import Kind, State
from service.core.refusals import Refused
from service.members import store as members
from service.pantry import bodies, store
from service.web import Caller, Coordinator, Looking, Member, Now, Page, Problem, Reading, Routes, Writing, problems
from service.web.pages import Limit
from service.web.types import Day, Id, Text, WholeQuery

router = Routes("/v1", "pantry")

Whose = Annotated[str, Path(max_length=100, description="a member's id, or `me`")]
Word = Annotated[Text | None, Query(max_length=120)]
Year = Annotated[WholeQuery, Path(ge=1970, le=2199)]


@router.get("/members/{member_id}/pantry", responses=problems(404))
def list_pantry(
    member_id: Whose,
    caller: Member,
    look: Looking,
    page: Page,
    family: Word = None,
    product: Word = None,
    jar_size: Word = None,
    state: bodies.HeldState | None = None,
    best_by_before: Day | None = None,
    lot: Word = None,
    text: Annotated[Word, Query(description="a part of the title")] = None,
    sort: Annotated[store.Sort, Query(description="a leading hyphen turns the order round")] = store.Sort.BEST_BY,
) -> bodies.PantryList:
    """List a member's jars, by default what is best by the earliest day at the top."""
    holder_id = holder(look, caller, member_id)
    wanted = store.Filters(
        family,
        product,
        jar_size,
        State(state) if state else None,
        best_by_before,
        lot_code=None if lot is None else known_code(lot),
        text=text,
    )
    after = page.after(str if sort.key == "title" else date, Id)
    found = store.shelf(look, caller.kitchen_id, holder_id, wanted, sort, page.limit, after)
    kept, next_cursor = page.page(found, place=lambda each: (each.sorted_by(sort), each.id))
    items = tuple(bodies.PantryItem.of(each) for each in kept)
    return bodies.PantryList(items=items, next_cursor=next_cursor)


@router.get("/members/{member_id}/pantry/summary", responses=problems(404))
def get_pantry_summary(member_id: Whose, caller: Member, session: Reading) -> bodies.PantrySummary:
    """Add up a member's jars."""
    holder_id = holder(session, caller, member_id)
    groups = store.groups(session, caller.kitchen_id, holder_id)
    return bodies.PantrySummary.of([bodies.PantryGroup.model_validate(group) for group in groups])


@router.get("/members/{member_id}/pantry/eat-first", responses=problems(404))
def list_eat_first(member_id: Whose, caller: Member, session: Reading, now: Now, limit: Limit = 50) -> bodies.EatFirst:
    """List what is best eaten first, by the clock of each jar: best-by, refrigerated or opened."""
    holder_id = holder(session, caller, member_id)
    zone = ZoneInfo(caller.kitchen.time_zone)
    items = []
    for each in store.eatable(session, caller.kitchen_id, holder_id):
        until = each.until(zone, now)
        if until is not None:
            items.append(bodies.EatFirstItem.by(each, until, each.since(zone, now), now.astimezone(zone).date()))
    items.sort(key=lambda item: (item.eat_by, item.lot_code, item.jar_size, item.state))
    return bodies.EatFirst.of(items[:limit])


@router.get("/members/{member_id}/pantry/years/{year}", responses=problems(404))
def get_pantry_year(member_id: Whose, year: Year, caller: Member, session: Reading) -> bodies.PantryYear:
    """Add up what a member put up, received, ate, gave and lost in a year of the kitchen's calendar."""
    holder_id = holder(session, caller, member_id)
    zone = ZoneInfo(caller.kitchen.time_zone)
    starts_at, ends_at = (datetime(each, 1, 1, tzinfo=zone).astimezone(UTC) for each in (year, year + 1))
    moved = store.moved_between(session, caller.kitchen_id, holder_id, starts_at, ends_at)
    return bodies.PantryYear.of(year, years.rows(moved, holder_id))


@router.get("/members/{member_id}/pantry/years/{year}/months", responses=problems(404))
def get_pantry_months(member_id: Whose, year: Year, caller: Member, session: Reading) -> bodies.PantryMonths:
    """Add up the same for each month of a year, by which a year can be drawn."""
    holder_id = holder(session, caller, member_id)
    zone = ZoneInfo(caller.kitchen.time_zone)
    begins = [datetime(year, month, 1, tzinfo=zone).astimezone(UTC) for month in range(1, 13)]
    ends = [*begins[1:], datetime(year + 1, 1, 1, tzinfo=zone).astimezone(UTC)]
    moved = (
        store.moved_between(session, caller.kitchen_id, holder_id, *month) for month in zip(begins, ends, strict=True)
    )
    return bodies.PantryMonths.of(year, [years.rows(each, holder_id) for each in moved])


@router.post("/movements", status_code=201, responses=problems(404, 409))
def move_jars(
    new: bodies.NewMovement, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.MovementAnswer:
    """Give, use, open, discard, chill, freeze or relocate jars of one lot."""
    lot = found_lot(session, caller, new.lot_code)
    mine = store.balances(session, lot.id, caller.id)
    if not mine:
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


@router.get("/ledger/proof", responses=problems(403))
def prove_ledger(caller: Coordinator, session: Reading) -> bodies.LedgerProof:
    """Compare every balance of the kitchen with the sum of its movements."""
    return bodies.LedgerProof.of(store.prove(session, caller.kitchen_id))


def found_lot(session: Reading, caller: Caller, written: str) -> store.Lot:
    """The lot that a label names."""
    lot = store.lot(session, caller.kitchen_id, known_code(written))
    if lot is None:
        raise Problem.not_found()
    return lot


def known_code(written: str) -> str:
    """The code that a label shows, as lots have it."""
    code = read_code(written)
    if code is None:
        raise Problem("misread-lot-code", "No lot has a code like that: read the label again, character by character.")
    return code


def holder(look: Looking | Reading, caller: Caller, member_id: str) -> UUID:
    """Whose pantry is meant: the caller's own, or for a coordinator anybody's."""
    if member_id in ("me", str(caller.id)):
        return caller.id
    asked = _id(member_id)
    if asked is None or not caller.is_coordinator or not members.is_here(look, caller.kitchen_id, asked):
        raise Problem.not_found()
    return asked


def _id(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
