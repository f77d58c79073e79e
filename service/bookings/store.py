"""Bookings as rows: written with what they occupy, and taken out of the way of what comes between."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID, uuid4

import sqlalchemy
from sqlalchemy import (
    ColumnElement,
    Connection,
    FromClause,
    and_,
    bindparam,
    exists,
    insert,
    literal_column,
    or_,
    update,
)
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from service.bookings.tables import Booking, Claim
from service.bookings.waiting import store as waiting
from service.core.refusals import Refused
from service.core.scheduling import bookings
from service.core.scheduling.bookings import Status, Step
from service.core.scheduling.spans import Span, at_minute
from service.database.prepared import Prepared, at_work, write
from service.equipment import store as equipment
from service.equipment.tables import Equipment, Occupancy
from service.members import store as members
from service.members.tables import Member, Skill

_ADD, _ADD_CLAIMS = Prepared(insert(Booking)), Prepared(insert(Claim))


@dataclass(frozen=True, slots=True)
class Kept:
    """A booking with its claims."""

    booking: Booking
    claims: tuple[Claim, ...]


class Entry(NamedTuple):
    """A booking as a list shows it."""

    id: UUID
    member_id: UUID
    status: Status
    purpose: str
    recipe_id: UUID | None
    revision: int | None
    jars: dict[str, int]
    starts_at: datetime
    ends_at: datetime
    booked_at: datetime
    beyond_limits_because: str | None


class Claimed(NamedTuple):
    """A claim as a list shows it."""

    booking_id: UUID
    place: int
    step: Step
    equipment_id: UUID
    unit_fixed: bool
    starts_at: datetime
    ends_at: datetime
    attended: bool


class Listed(NamedTuple):
    """A booking of a list with its claims."""

    booking: Entry
    claims: Sequence[Claimed]


@dataclass(frozen=True, slots=True)
class Displaced:
    """A booking that lost its equipment, and whose it was."""

    booking: Booking
    member_name: str


def trained_until(session: Session, member_id: UUID) -> date | None:
    """The last day on which a member may run a pressure canner."""
    sign_offs = members.sign_offs(session, member_id)
    return max((row.expires_on for row in sign_offs if row.skill is Skill.PRESSURE_CANNING), default=None)


def hands_of(session: Session, member_id: UUID, windows: Sequence[Span]) -> tuple[Span, ...]:
    """When a member's own hands are wanted by what they have booked."""
    query = select(Booking.hands).where(
        Booking.member_id == member_id,
        Booking.status == Status.CONFIRMED,
        ends_after(
            at_minute(min(window.starts_min for window in windows))
        ),  # for the index, as where equipment is busy
        col(Booking.starts_at) < at_minute(max(window.ends_min for window in windows)),
        or_(
            *(
                (col(Booking.starts_at) < at_minute(window.ends_min)) & ends_after(at_minute(window.starts_min))
                for window in windows
            )
        ),
    )
    return tuple(Span(starts_min, ends_min) for taken in session.exec(query) for starts_min, ends_min in taken)


def add(session: Session, booked: bookings.Booked, **values: Any) -> Listed | Refused:
    """Write a booking and occupy what it claims, after others have made room for it.

    The database has the last word on whether that is free; where it says no, the transaction is over. The rows are
    written as they are, without the session: nothing of them is there before, and nothing changes them here.
    """
    claims = booked.claims
    too_long = bookings.too_long(claims)
    if too_long:
        return too_long
    booking_id = uuid4()
    booking = {
        "id": booking_id,
        "status": Status.CONFIRMED,
        "starts_at": min(claim.starts_at for claim in claims),
        "ends_at": max(claim.ends_at for claim in claims),
        "hands": [[span.starts_min, span.ends_min] for span in booked.hands],
        "beyond_limits_because": None,
        **values,
    }
    rows = tuple(
        Claimed(
            booking_id,
            place,
            claim.step,
            claim.equipment_id,
            claim.unit_fixed,
            claim.starts_at,
            claim.ends_at,
            claim.attended,
        )
        for place, claim in enumerate(claims)
    )
    make_room(session, booked.moves)
    held = equipment.claimed(booking_id, claims)
    try:
        write(at_work(session), _ADD.of(booking), _ADD_CLAIMS.of(*(row._asdict() for row in rows)), held)
    except IntegrityError:
        if not session.in_nested_transaction():  # else whoever began that takes back all of it
            session.rollback()
        return Refused("slot-taken", "Somebody booked it at the same moment.", {"next_free_at": None})
    return Listed(Entry(*(booking[name] for name in Entry._fields)), rows)


def go_on(session: Session, longer: Sequence[tuple[Kept, bookings.Booked]]) -> Refused | None:
    """Let bookings whose batches have begun hold what they hold for longer; the database has the last word."""
    for _, booked in longer:
        too_long = bookings.too_long(booked.claims)
        if too_long:
            return too_long
    _free(session, [kept.booking.id for kept, _ in longer])
    for kept, booked in longer:
        for row, claim in zip(kept.claims, booked.claims, strict=True):
            row.equipment_id, row.starts_at, row.ends_at = claim.equipment_id, claim.starts_at, claim.ends_at
        kept.booking.ends_at = max(claim.ends_at for claim in booked.claims)
        kept.booking.hands = [[span.starts_min, span.ends_min] for span in booked.hands]
        session.add_all([kept.booking, *kept.claims])
    session.flush()
    try:
        for kept, booked in longer:
            write(at_work(session), equipment.claimed(kept.booking.id, booked.claims))
    except IntegrityError:
        return Refused("slot-taken", "Somebody booked it at the same moment.", {"next_free_at": None})
    return None


def make_room(session: Session, moves: Sequence[bookings.Move]) -> None:
    """Give stays of others identical units."""
    if moves:
        equipment.move(session, moves)
    for each in moves:
        session.execute(
            update(Claim)
            .where(
                col(Claim.booking_id) == each.booking_id,
                col(Claim.equipment_id) == each.from_id,
                col(Claim.starts_at) == at_minute(each.span.starts_min),
            )
            .values(equipment_id=each.to_id)
        )


def ends_after(at: datetime) -> ColumnElement[bool]:
    """Whether a booking ends after a moment, said so that an index by its start finds it: none lasts for longer."""
    return (col(Booking.ends_at) > at) & (col(Booking.starts_at) > at - bookings.LONGEST)


def kept(session: Session, rows: Iterable[Booking]) -> tuple[Kept, ...]:
    """Bookings with their claims, in the same order."""
    found = tuple(rows)
    query = select(Claim).where(col(Claim.booking_id).in_([row.id for row in found])).order_by(col(Claim.place))
    claims: dict[UUID, list[Claim]] = {row.id: [] for row in found}
    for claim in session.exec(query):
        claims[claim.booking_id].append(claim)
    return tuple(Kept(row, tuple(claims[row.id])) for row in found)


def booking(session: Session, kitchen_id: UUID, booking_id: UUID, member_id: UUID | None) -> Kept | None:
    """One booking of a member, or of anybody in the kitchen if no member is named."""
    query = select(Booking).where(Booking.kitchen_id == kitchen_id, Booking.id == booking_id)
    if member_id is not None:
        query = query.where(Booking.member_id == member_id)
    return next(iter(kept(session, session.exec(query))), None)


def bookings_between(
    look: Session | Connection,
    kitchen_id: UUID,
    from_at: datetime | None,
    to_at: datetime | None,
    equipment_id: UUID | None,
    member_ids: Sequence[UUID],
    after: tuple[datetime, UUID] | None,
    limit: int,
) -> tuple[Listed, ...]:
    """Bookings that touch the time, earliest first and one more than asked for; of certain members, if any is named."""
    whose = {f"member_{number}": member_id for number, member_id in enumerate(member_ids)}
    bounds = {"from_at": from_at, "to_at": to_at, "equipment_id": equipment_id}
    given = {name: value for name, value in bounds.items() if value is not None}
    starts_at, last = after or (None, None)
    place = {"starts_at": starts_at, "last": last} if after else {}
    earliest = {"earliest": from_at - bookings.LONGEST} if from_at is not None else {}
    dialect = (look.get_bind() if isinstance(look, Session) else look).dialect.name
    query = _between(dialect, frozenset(given), tuple(whose), further=after is not None)
    values = {"kitchen_id": kitchen_id, "most": limit + 1, **given, **earliest, **whose, **place}
    found: list[Listed] = []
    claims: list[Claimed] = []
    for row in query.rows(look, **values):
        if not found or found[-1].booking.id != row[0]:
            claims = []
            found.append(Listed(Entry._make(row[:_OF_ENTRY]), claims))
        if row[_OF_ENTRY] is not None:
            claims.append(Claimed._make(row[_OF_ENTRY:]))
    return tuple(found)


_OF_ENTRY = len(Entry._fields)


@cache
def _between(dialect: str, bounds: frozenset[str], whose: tuple[str, ...], *, further: bool) -> Prepared:
    """A page of bookings, each as often as it has claims, or once."""
    query = sqlalchemy.select(*(getattr(Booking, name) for name in Entry._fields)).where(
        col(Booking.kitchen_id) == bindparam("kitchen_id")
    )
    if "from_at" in bounds:
        query = query.where(  # as `ends_after`
            col(Booking.ends_at) > bindparam("from_at"), col(Booking.starts_at) > bindparam("earliest")
        )
    if "to_at" in bounds:
        query = query.where(col(Booking.starts_at) < bindparam("to_at"))
    if "equipment_id" in bounds:
        query = query.where(
            exists().where(
                col(Claim.booking_id) == col(Booking.id), col(Claim.equipment_id) == bindparam("equipment_id")
            )
        )
    for name in whose:
        query = query.where(col(Booking.member_id) == bindparam(name))
    if further:
        later = (col(Booking.starts_at) == bindparam("starts_at")) & (col(Booking.id) > bindparam("last"))
        query = query.where(or_(col(Booking.starts_at) > bindparam("starts_at"), later))
    page = query.order_by(col(Booking.starts_at), col(Booking.id)).limit(bindparam("most")).subquery("page")
    claimed = sqlalchemy.select(*(getattr(Claim, name) for name in Claimed._fields))
    if dialect == "postgresql":  # else it may read every claim there ever was, to join a few of them
        claims: FromClause = (
            claimed.where(col(Claim.booking_id) == page.c.id).offset(literal_column("0")).lateral("claimed")
        )
    else:
        claims = claimed.subquery("claimed")
    return Prepared(
        sqlalchemy.select(*page.c, *claims.c)
        .select_from(page)
        .outerjoin(claims, claims.c.booking_id == page.c.id)
        .order_by(page.c.starts_at, page.c.id, claims.c.place)
    )


def cancel(session: Session, row: Booking) -> None:
    """Free exactly what the booking held."""
    row.status = Status.CANCELLED
    _free(session, [row.id])


def displace(
    session: Session, pieces: Iterable[Equipment], span: Span, because: str, now: datetime
) -> tuple[Displaced, ...]:
    """Take every booking out of the way that holds one of the pieces within the span, and tell its member."""
    numbers = [row.number for row in pieces]
    waiting.withdraw(session, numbers, span, now)
    return displace_holders(session, and_(*equipment.meets(numbers, span)), because, now)


def displace_holders(session: Session, held: ColumnElement[bool], because: str, now: datetime) -> tuple[Displaced, ...]:
    """Displace every booking that holds what this says of occupancy, and tell its member."""
    in_the_way = select(Occupancy.booking_id).where(held, col(Occupancy.booking_id).is_not(None))
    query = (
        select(Booking, Member.name)
        .join(Member, col(Member.id) == col(Booking.member_id))
        .where(col(Booking.id).in_(in_the_way))
        .order_by(col(Booking.starts_at), col(Booking.id))
    )
    found = session.exec(query).all()
    _free(session, [row.id for row, _ in found])
    displaced = tuple(Displaced(row, name) for row, name in found if row.status is Status.CONFIRMED)
    for each in displaced:
        each.booking.status = Status.DISPLACED
        message = f"Your booking was displaced. {because}"
        members.tell(session, each.booking.member_id, message, now, booking_id=each.booking.id)
    session.flush()
    return displaced


def _free(session: Session, booking_ids: Sequence[UUID]) -> None:
    session.execute(update(Occupancy).where(col(Occupancy.booking_id).in_(booking_ids)).values(active=False))
    session.flush()
