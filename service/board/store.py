"""Reading what the board shows, all by what the other features read; nothing is written here."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.batches import store as batches
from service.batches.bodies import HeldLot, LoadAnswer
from service.board.days import ORDER, Day, Line, stays
from service.bookings import store as bookings
from service.core.jars import batches as loads
from service.core.roles import Role, Scope
from service.core.scheduling import hours
from service.core.scheduling.bookings import Status
from service.core.scheduling.chain_slots import Kitchen
from service.core.scheduling.spans import Span, common, minute_of
from service.equipment import store as equipment
from service.web import Caller

LOOK_BACK = timedelta(days=loads.MOST_DAYS_BACK + 1)  # a load of a batch begun before that isn't waited for any more
MOST_HELD = 100
MOST_OWN = 200


def midnight(day: date, zone: ZoneInfo) -> datetime:
    """When a local day begins."""
    return datetime.combine(day, time(), zone).astimezone(UTC)


def is_in_person(caller: Caller) -> bool:
    """Whether a member looks for themselves; a screen on the wall is good for the board alone and shows nobody's."""
    return caller.scope in (Scope.EVERYTHING, Scope.READ)


def days(session: Session, caller: Caller, first: date, count: int, now: datetime) -> list[Day]:
    """So many days from a first one, from one read of the book; one's own bookings have their titles."""
    zone = ZoneInfo(caller.kitchen.time_zone)
    edges = [midnight(first + timedelta(days=ahead), zone) for ahead in range(count + 1)]
    known = Span(minute_of(edges[0]), minute_of(edges[-1]))
    rows = sorted(equipment.equipment(session, caller.kitchen_id), key=lambda row: ORDER.index(row.kind))
    week, _ = equipment.week(session, caller.kitchen_id)
    kitchen = Kitchen(equipment.as_pieces(session, rows, [known], now=now), hours.open_spans(week, zone, known))
    opens = kitchen.hours
    mine = own_bookings(session, caller, edges[0], edges[-1]) if is_in_person(caller) else ()
    own = {kept.booking.id: kept.booking.purpose for kept in mine}
    found = []
    for ahead in range(count):
        whole = Span(minute_of(edges[ahead]), minute_of(edges[ahead + 1]))
        open_then = common(opens, (whole,))
        lines = tuple(
            Line(
                row.id,
                row.name,
                row.kind,
                row.canner_kind,
                piece.resource,
                stays(piece.resource, open_then, whole, own),
            )
            for row, piece in zip(rows, kitchen.pieces, strict=True)
        )
        found.append(Day(first + timedelta(days=ahead), whole, open_then, lines, kitchen))
    return found


def own_bookings(
    session: Session, caller: Caller, from_at: datetime, to_at: datetime | None
) -> tuple[bookings.Listed, ...]:
    """The caller's bookings of a time that hold something."""
    found = bookings.bookings_between(session, caller.kitchen_id, from_at, to_at, None, [caller.id], None, MOST_OWN)
    return tuple(kept for kept in found if kept.booking.status in (Status.CONFIRMED, Status.DONE))


@dataclass(frozen=True, slots=True)
class InCanner:
    """A load in its canner. `title` is of one's own only; nobody knows here when its minutes really began."""

    canner: str
    jar_size: str
    count: int
    earliest_out_at: datetime
    booked_until: datetime | None
    title: str | None


@dataclass(frozen=True, slots=True)
class OpenClock:
    """Something that has to be done by a time, or may be done from a time on."""

    says: str
    at: datetime
    by: bool  # or from then on
    title: str | None


@dataclass(frozen=True, slots=True)
class Underway:
    """What is in canners and at rest, and what waits for a person."""

    in_canners: tuple[InCanner, ...]
    clocks: tuple[OpenClock, ...]
    held_lots: int
    held_jars: int
    to_decide: tuple[HeldLot, ...]  # for those who decide: which lots, and what stands against each


def underway(session: Session, caller: Caller, now: datetime) -> Underway:
    """Loads, clocks and holds of the kitchen; without a name or a title, but for one's own."""
    found = batches.page(session, caller.kitchen_id, None, None, None, from_at=now - LOOK_BACK)
    names = {row.id: row.name for row in equipment.equipment(session, caller.kitchen_id)}
    held = batches.held(session, caller.kitchen_id, MOST_HELD, None)
    in_canners: list[InCanner] = []
    clocks: list[OpenClock] = []
    for kept in found:
        title = kept.row.title if kept.row.member_id == caller.id and is_in_person(caller) else None
        for each in kept.loads:
            if each.load.out_at is None:
                until = _booked_until(session, caller, kept, each.load.canner_id)
                in_canners.append(
                    InCanner(
                        names[each.load.canner_id],
                        each.load.jar_size,
                        each.load.count,
                        each.load.earliest_out_at,
                        until,
                        title,
                    )
                )
        clocks += (
            OpenClock(f"{names[each.load.canner_id]}, {says}", at, by, title)
            for each in kept.loads
            for says, at, by in _clocks(kept, each)
            if not by or at > now
        )
    in_canners.sort(key=lambda each: each.earliest_out_at)
    clocks.sort(key=lambda each: each.at)
    decides = is_in_person(caller) and caller.role is not Role.MEMBER
    to_decide = tuple(HeldLot.of(*each) for each in held) if decides else ()
    return Underway(tuple(in_canners), tuple(clocks), len(held), sum(jars for _, jars in held), to_decide)


def _booked_until(session: Session, caller: Caller, kept: batches.Kept, canner_id: UUID) -> datetime | None:
    """Until when the batch's booking has the canner."""
    booking = bookings.booking(session, caller.kitchen_id, kept.row.booking_id, None)
    claims = booking.claims if booking else ()
    return max((claim.ends_at for claim in claims if claim.equipment_id == canner_id), default=None)


def _clocks(kept: batches.Kept, each: batches.KeptLoad) -> Iterator[tuple[str, datetime, bool]]:
    """What is to be done about a load that is out, with the moment, and whether it is the last or the first one."""
    load, clock = each.load, LoadAnswer.of(each, kept).clock
    if load.out_at is not None and load.seals is None and not any(one.load.again == load.number for one in kept.loads):
        rested_at = load.out_at + timedelta(hours=loads.REST_HOURS[0])
        yield f"{load.count} {load.jar_size} jars at rest: seals can be checked", rested_at, False
    if clock is None:
        return
    jars = f"{clock.jars} {load.jar_size} {'jar' if clock.jars == 1 else 'jars'}"
    if clock.because == "unsealed":
        yield f"{jars} didn't seal: eat, chill, freeze or process again", clock.again_by, True
    else:
        yield f"{jars} heated too little: process again or chill", clock.again_by, True
        if clock.decided_by:
            yield f"{jars} heated too little: a trainer decides", clock.decided_by, True
