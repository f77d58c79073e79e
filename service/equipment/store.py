"""Equipment and hours as rows, and as the values the scheduling core decides with."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any, NamedTuple
from uuid import UUID, uuid4

from sqlalchemy import ColumnElement, Integer, TextClause, bindparam, delete, insert, or_, text
from sqlalchemy import select as columns
from sqlmodel import Session, col, select

from service.core.refusals import Refused
from service.core.scheduling import bookings, hours
from service.core.scheduling.equipment import LONGEST_INTERRUPTION, CannerKind, EquipmentKind
from service.core.scheduling.figures import Figures
from service.core.scheduling.figures import figures as figures_of
from service.core.scheduling.slots import Busy, Kind, Lanes, Resource, shut_lanes
from service.core.scheduling.spans import EPOCH, LAST_MINUTE, Span, around, at_minute, minute_of, pieces, union, without
from service.database.prepared import Prepared, Rows
from service.database.rows import change
from service.equipment.tables import (
    MOST_MINUTES,
    Closure,
    Equipment,
    KitchenFigures,
    Occupancy,
    Opening,
    OpeningHours,
    Outage,
)
from service.published.loading import kitchen_figures

BLOCKS = (Kind.CLOSURE, Kind.OUTAGE)
HOLDS = text("occupancy.active")  # as the partial index says it: `active = 1` would not go by that
# Made once: to make a statement takes as long as to ask it.
_OPENINGS = Prepared(
    columns(col(Opening.weekday), col(Opening.opens_minute), col(Opening.closes_minute)).where(
        col(Opening.kitchen_id) == bindparam("kitchen")
    )
)


class Unit(NamedTuple):
    """A piece of equipment as far as it is booked."""

    number: int
    id: UUID
    kind: EquipmentKind
    canner_kind: CannerKind | None
    capacity: dict[str, int] | None
    places: int
    needs_burner: bool
    in_service: bool


_WITH_BURNERS = Prepared(
    columns(*(getattr(Equipment, name) for name in Unit._fields))
    .where(
        col(Equipment.kitchen_id) == bindparam("kitchen"),
        or_(col(Equipment.id) == bindparam("wanted"), col(Equipment.kind) == EquipmentKind.BURNER),
    )
    .order_by(col(Equipment.number))
)
_OCCUPY = Prepared(
    insert(Occupancy).values(
        resource_id=columns(col(Equipment.number)).where(col(Equipment.id) == bindparam("claimed")).scalar_subquery()
    ),
    leaving_out=["held_until"],
)


def equipment(session: Session, kitchen_id: UUID, after: int = 0, limit: int | None = None) -> Sequence[Equipment]:
    """What a kitchen has, in the order it was entered: all of it, or one more than asked for."""
    query = select(Equipment).where(Equipment.kitchen_id == kitchen_id, col(Equipment.number) > after)
    return session.exec(query.order_by(col(Equipment.number)).limit(limit and limit + 1)).all()


def piece(session: Session, kitchen_id: UUID, equipment_id: UUID) -> Equipment | None:
    query = select(Equipment).where(Equipment.kitchen_id == kitchen_id, Equipment.id == equipment_id)
    return session.exec(query).one_or_none()


def with_burners(session: Session, kitchen_id: UUID, equipment_id: UUID) -> Sequence[Unit]:
    """One piece, if the kitchen has it, and every burner, in the order they were entered."""
    return [Unit._make(row) for row in _WITH_BURNERS.rows(session, kitchen=kitchen_id, wanted=equipment_id)]


def add(session: Session, kitchen_id: UUID, now: datetime, **values: Any) -> Equipment:
    """Enter a piece of equipment; it is closed whenever the kitchen is."""
    row = Equipment(kitchen_id=kitchen_id, **values)
    session.add(row)
    session.flush()
    lay_blocks(session, [row], minute_of(now))
    return row


def edit(session: Session, row: Equipment, version: int, values: Mapping[str, Any]) -> bool:
    return change(session, row, version, **values)


def week(session: Session, kitchen_id: UUID) -> tuple[hours.Week, int]:
    """The opening hours and their version; no hours and version 1 in a kitchen that never set them."""
    head = session.get(OpeningHours, kitchen_id)
    return openings(session, kitchen_id), head.version if head else 1


def openings(session: Session, kitchen_id: UUID) -> hours.Week:
    """The opening hours alone, in order."""
    return tuple(sorted(hours.Opening(*each) for each in _OPENINGS.rows(session, kitchen=kitchen_id)))


def set_week(session: Session, kitchen_id: UUID, new: hours.Week, version: int) -> bool:
    """Put other hours in place of those of this version; `False` says that somebody else was first."""
    head = session.get(OpeningHours, kitchen_id)
    if head is None:
        if version != 1:
            return False
        session.add(OpeningHours(id=kitchen_id, version=2))
        session.flush()
    elif not change(session, head, version):
        return False
    session.execute(delete(Opening).where(col(Opening.kitchen_id) == kitchen_id))
    for opening in new:
        session.add(
            Opening(
                kitchen_id=kitchen_id,
                weekday=opening.weekday,
                opens_minute=opening.opens_minute,
                closes_minute=opening.closes_minute,
            )
        )
    session.flush()
    return True


def own_figures(session: Session, kitchen_id: UUID) -> tuple[dict[str, int], int]:
    """The figures a kitchen set itself, and their version; none and version 1 where it never did."""
    row = session.get(KitchenFigures, kitchen_id)
    return (dict(row.own), row.version) if row else ({}, 1)


def set_own_figures(session: Session, kitchen_id: UUID, own: Mapping[str, int], version: int) -> bool:
    """Put other figures in place of those of this version; `False` says that somebody else was first."""
    row = session.get(KitchenFigures, kitchen_id)
    if row is None:
        if version == 1:
            session.add(KitchenFigures(id=kitchen_id, own=dict(own), version=2))
            session.flush()
        return version == 1
    return change(session, row, version, own=dict(own))


def figures(session: Session, kitchen_id: UUID) -> Figures | Refused:
    """How long the steps of a batch take in a kitchen."""
    own, _ = own_figures(session, kitchen_id)
    return figures_of({name: each.figure for name, each in kitchen_figures().items()}, own)


def closure(session: Session, kitchen_id: UUID, closure_id: UUID) -> Closure | None:
    query = select(Closure).where(Closure.kitchen_id == kitchen_id, Closure.id == closure_id)
    return session.exec(query).one_or_none()


def closures(session: Session, kitchen_id: UUID, after: tuple[datetime, UUID] | None, limit: int) -> Sequence[Closure]:
    """The closures of a kitchen, earliest first and one more than asked for."""
    query = select(Closure).where(Closure.kitchen_id == kitchen_id)
    if after is not None:
        starts_at, last = after
        later = (col(Closure.starts_at) == starts_at) & (col(Closure.id) > last)
        query = query.where(or_(col(Closure.starts_at) > starts_at, later))
    return session.exec(query.order_by(col(Closure.starts_at), col(Closure.id)).limit(limit + 1)).all()


def add_closure(session: Session, kitchen_id: UUID, starts_at: datetime, ends_at: datetime, reason: str) -> Closure:
    row = Closure(kitchen_id=kitchen_id, starts_at=starts_at, ends_at=ends_at, reason=reason)
    session.add(row)
    session.flush()
    return row


def remove_closure(session: Session, row: Closure, version: int) -> bool:
    """Open the kitchen again; `False` says that the version is another one."""
    if row.version != version:
        return False
    session.delete(row)
    session.flush()
    return True


def add_outage(session: Session, equipment_id: UUID, starts_at: datetime, ends_at: datetime, reason: str) -> Outage:
    row = Outage(equipment_id=equipment_id, starts_at=starts_at, ends_at=ends_at, reason=reason)
    session.add(row)
    session.flush()
    return row


def outage(session: Session, equipment_id: UUID, outage_id: UUID) -> Outage | None:
    query = select(Outage).where(Outage.equipment_id == equipment_id, Outage.id == outage_id)
    return session.exec(query).one_or_none()


def outages(session: Session, equipment_id: UUID, after: tuple[datetime, UUID] | None, limit: int) -> Sequence[Outage]:
    """The outages of a piece of equipment, earliest first and one more than asked for."""
    query = select(Outage).where(Outage.equipment_id == equipment_id)
    if after is not None:
        starts_at, last = after
        later = (col(Outage.starts_at) == starts_at) & (col(Outage.id) > last)
        query = query.where(or_(col(Outage.starts_at) > starts_at, later))
    return session.exec(query.order_by(col(Outage.starts_at), col(Outage.id)).limit(limit + 1)).all()


def end_outage(session: Session, row: Outage, ends_at: datetime) -> None:
    """Let an outage end at a moment; one that ends as it begins never was."""
    row.ends_at = ends_at
    if ends_at > row.starts_at:
        session.add(row)
        session.flush()
    else:
        session.expunge(row)
        session.execute(delete(Outage).where(col(Outage.id) == row.id))


def lay_blocks(session: Session, rows: Iterable[Equipment], from_min: int) -> None:
    """Make occupancy say what the closures and outages say from this minute on.

    Two blocks may lie over each other, two active rows may not: so they are laid afresh as one, outages first. Bookings
    in the way have been displaced before.
    """
    for row in rows:
        assert row.number is not None
        around_it = select(Occupancy).where(
            Occupancy.resource_id == row.number,
            col(Occupancy.kind).in_(BLOCKS),
            Occupancy.starts_min < from_min,
            Occupancy.ends_min > from_min,
        )
        since = min((block.starts_min for block in session.exec(around_it)), default=from_min)
        session.execute(
            delete(Occupancy).where(
                col(Occupancy.resource_id) == row.number,
                col(Occupancy.kind).in_(BLOCKS),
                col(Occupancy.starts_min) >= since,
            )
        )
        outages = _spans(session, since, Outage, col(Outage.equipment_id) == row.id)
        closures = without(_spans(session, since, Closure, col(Closure.kitchen_id) == row.kitchen_id), outages)
        everything, shut = Lanes(0, row.places), shut_lanes(row.kind, row.places)
        for kind, lanes, spans in ((Kind.OUTAGE, everything, outages), (Kind.CLOSURE, shut, closures)):
            for part in (part for span in spans for part in pieces(span, MOST_MINUTES)):
                occupy(session, row.number, lanes, part, kind)
    session.flush()


def _spans(
    session: Session, since: int, table: type[Closure] | type[Outage], whose: ColumnElement[bool]
) -> tuple[Span, ...]:
    after = at_minute(since)
    lately = col(table.starts_at) > after - LONGEST_INTERRUPTION  # what began before that is over
    query = select(table.starts_at, table.ends_at).where(whose, col(table.ends_at) > after, lately)
    found = (around(starts_at, ends_at) for starts_at, ends_at in session.exec(query))
    return union(Span(max(span.starts_min, since), span.ends_min) for span in found)


def occupy(
    session: Session,
    number: int,
    lanes: Lanes,
    span: Span,
    kind: Kind,
    booking_id: UUID | None = None,
    *,
    unit_fixed: bool = True,
) -> None:
    session.add(
        Occupancy(
            booking_id=booking_id,
            unit_fixed=unit_fixed,
            resource_id=number,
            lane_lo=lanes.low,
            lane_hi=lanes.high,
            starts_min=span.starts_min,
            ends_min=span.ends_min,
            kind=kind,
        )
    )


def claimed(booking_id: UUID, claims: Iterable[bookings.Claim]) -> Rows:
    """What a booking holds, to be written; the database refuses it where something else holds that."""
    rows = [
        {
            "id": uuid4(),
            "booking_id": booking_id,
            "claimed": claim.equipment_id,
            "lane_lo": place.lanes.low,
            "lane_hi": place.lanes.high,
            "starts_min": part.starts_min,
            "ends_min": part.ends_min,
            "active": True,
            "unit_fixed": claim.unit_fixed,
            "kind": Kind.BOOKING,
        }
        for claim in claims
        for place in claim.places
        for part in pieces(place.span, MOST_MINUTES)
    ]
    return _OCCUPY.of(*rows)


def as_pieces(
    session: Session,
    rows: Sequence[Equipment | Unit],
    windows: Sequence[Span],
    movable_from_min: int = LAST_MINUTE,
    *,
    now: datetime | None = None,
) -> tuple[bookings.Piece, ...]:
    """Equipment with what occupies it; from this minute on, units that aren't fixed may be changed."""
    occupied = busy(session, rows, windows, movable_from_min, now=now)
    return tuple(
        bookings.Piece(
            Resource(row.id, row.places, row.in_service, occupied[row.id]),
            row.kind,
            row.canner_kind,
            row.capacity,
            row.needs_burner,
        )
        for row in rows
    )


def busy(
    session: Session,
    rows: Iterable[Equipment | Unit],
    windows: Sequence[Span],
    movable_from_min: int = LAST_MINUTE,
    *,
    now: datetime | None = None,
) -> dict[UUID, tuple[Busy, ...]]:
    """What occupies each piece within the windows; a hold that is over by the clock, if one is told, doesn't."""
    ids = {row.number: row.id for row in rows}
    if not ids:
        return {}
    numbers = {f"piece_{place}": number for place, number in enumerate(ids)}
    times = {f"starts_{place}": window.starts_min for place, window in enumerate(windows)}
    times |= {f"ends_{place}": window.ends_min for place, window in enumerate(windows)}
    times["starts"] = min((window.starts_min for window in windows), default=0)
    times["ends"] = max((window.ends_min for window in windows), default=0)
    held = _busy(len(windows), len(ids)).rows(session, now=now or EPOCH, **numbers, **times)
    found: dict[UUID, list[Busy]] = {equipment_id: [] for equipment_id in ids.values()}
    for number, starts_min, ends_min, lane_lo, lane_hi, kind, booking_id, unit_fixed in held:
        movable = not unit_fixed and starts_min >= movable_from_min
        one = Busy(Span(starts_min, ends_min), Lanes(lane_lo, lane_hi), kind, booking_id, movable)
        found[ids[number]].append(one)
    return {equipment_id: tuple(each) for equipment_id, each in found.items()}


@lru_cache(maxsize=128)
def _busy(windows: int, count: int) -> Prepared:
    """What occupies so many pieces within so many windows."""
    table = Occupancy.__table__.c  # type: ignore[attr-defined]
    held = columns(
        table.resource_id,
        table.starts_min,
        table.ends_min,
        table.lane_lo,
        table.lane_hi,
        table.kind,
        table.booking_id,
        table.unit_fixed,
    ).where(
        HOLDS,
        or_(table.held_until.is_(None), table.held_until > bindparam("now")),
        table.resource_id.in_([bindparam(f"piece_{place}", type_=Integer) for place in range(count)]),
        table.starts_min > bindparam("starts") - MOST_MINUTES,  # SQLite finds no index for a choice of ranges,
        table.starts_min < bindparam("ends"),  # but for the one they lie in
        or_(
            *(
                (table.starts_min > bindparam(f"starts_{place}") - MOST_MINUTES)
                & (table.starts_min < bindparam(f"ends_{place}"))
                & (table.ends_min > bindparam(f"starts_{place}"))
                for place in range(windows)
            )
        ),
    )
    return Prepared(held)


def meets(numbers: Iterable[int | None], span: Span) -> tuple[ColumnElement[bool] | TextClause, ...]:
    """What says that a row of occupancy holds one of these pieces within the span."""
    return (
        HOLDS,
        col(Occupancy.resource_id).in_(list(numbers)),
        col(Occupancy.starts_min) > span.starts_min - MOST_MINUTES,
        col(Occupancy.starts_min) < span.ends_min,
        col(Occupancy.ends_min) > span.starts_min,
    )


def move(session: Session, moves: Sequence[bookings.Move]) -> None:
    """Give stays of bookings other units: all leave theirs before the first takes its new one."""
    numbers = {row.id: row.number for row in session.exec(select(Equipment).where(col(Equipment.id).in_(_ends(moves))))}
    places = [
        (
            (Occupancy.booking_id == each.booking_id)
            & (Occupancy.resource_id == numbers[each.from_id])
            & (Occupancy.starts_min == each.span.starts_min)
            & (Occupancy.ends_min == each.span.ends_min),
            numbers[each.to_id],
        )
        for each in moves
    ]
    found = [(session.exec(select(Occupancy).where(place, HOLDS)).one(), number) for place, number in places]
    for row, _ in found:
        row.active = False
    session.flush()
    for row, number in found:
        assert number is not None
        row.resource_id, row.active = number, True
        session.flush()


def _ends(moves: Sequence[bookings.Move]) -> set[UUID]:
    return {end for each in moves for end in (each.from_id, each.to_id)}
