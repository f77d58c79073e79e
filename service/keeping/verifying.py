"""Looking a whole database over: is everything there, does nothing contradict itself, is nothing without its source?"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import groupby, islice
from uuid import UUID

from sqlalchemy import text
from sqlmodel import Session, col, select

from service.audit import chain
from service.audit import store as audit
from service.bookings.tables import Booking, Claim
from service.core.scheduling.bookings import Status
from service.core.scheduling.slots import Kind
from service.core.scheduling.spans import Span, around, union
from service.database.engine import Database
from service.database.guard import changeable, guard_present
from service.database.migrating import require_schema
from service.equipment.tables import Equipment, Occupancy
from service.members.tables import Kitchen
from service.pantry import store as pantry
from service.published.loading import BadFigure, facts, kitchen_figures

MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class Looked:
    """What one look at the database counted, and everything it found wrong."""

    at: str
    count: int
    wrong: tuple[str, ...]


Held = dict[int | None, list[Span]]  # by the number of the equipment
Found = Iterator[str | int]  # what is wrong, and how much was looked at


def verify(database: Database) -> Iterator[Looked]:
    """Look at everything in one reading; raises `WrongSchemaError` for a database that can't be read at all."""
    with Session(database.reader) as session:
        if database.dialect == "postgresql":
            session.execute(text("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"))
            session.execute(text("SET LOCAL statement_timeout = 0"))
        require_schema(session.connection())
        for name, look in LOOKS.items():
            found = list(look(session))
            counted = sum(each for each in found if isinstance(each, int))
            yield Looked(name, counted, tuple(each for each in found if isinstance(each, str)))


def _storage(session: Session) -> Found:
    """What the database knows of its own soundness; PostgreSQL checks its pages as they are read."""
    connection = session.connection()
    if connection.dialect.name == "sqlite":
        said = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
        yield from (line for line in said if line != "ok")
        yield from (
            f"{row[0]}: a row points at nothing" for row in connection.exec_driver_sql("PRAGMA foreign_key_check")
        )
    else:
        query = "SELECT conname FROM pg_constraint WHERE NOT convalidated"
        yield from (f"{name} isn't known to hold" for name in connection.exec_driver_sql(query).scalars())
    yield 1


def _guards(session: Session) -> Found:
    connection = session.connection()
    if not guard_present(connection):
        yield "the guard against double bookings is gone"
    yield from (f"{table} could be changed: its trigger is gone" for table in changeable(connection))
    yield 1


def _jars(session: Session) -> Found:
    for kitchen_id in session.exec(select(Kitchen.id)):
        proof = pantry.prove(session, kitchen_id)
        if not proof.holds:
            yield f"kitchen {kitchen_id}: {proof.filled} jars filled, {proof.held} held, {proof.ended} ended"
            yield from (
                f"lot {place.lot_id}, {place.jar_size}, {place.state}: not the sum of its movements"
                for place in proof.wrong[:MOST_NAMED]
            )
        yield proof.filled


def _overlaps(session: Session) -> Found:
    """Lanes and minutes of each piece of equipment, earliest first: none may begin before the one before it ends."""
    query = select(Occupancy).where(Occupancy.active).order_by(col(Occupancy.resource_id), col(Occupancy.starts_min))
    for number, rows in groupby(session.exec(query), key=lambda row: row.resource_id):
        running: list[Occupancy] = []
        for row in rows:
            running = [each for each in running if each.ends_min > row.starts_min]
            for each in running:
                if each.lane_lo < row.lane_hi and row.lane_lo < each.lane_hi:
                    yield f"equipment {number}: {each.id} and {row.id} overlap"
            running.append(row)
            yield 1


def _bookings(session: Session) -> Found:
    """A confirmed booking holds exactly the minutes of its claims, a done one those or none, another one nothing."""
    numbers = {row.id: row.number for row in session.exec(select(Equipment))}
    claimed: dict[UUID, Held] = defaultdict(lambda: defaultdict(list))
    for claim in session.exec(select(Claim)):
        claimed[claim.booking_id][numbers[claim.equipment_id]].append(around(claim.starts_at, claim.ends_at))
    held: dict[UUID | None, Held] = defaultdict(lambda: defaultdict(list))
    for row in session.exec(select(Occupancy).where(Occupancy.active, Occupancy.kind == Kind.BOOKING)):
        held[row.booking_id][row.resource_id].append(Span(row.starts_min, row.ends_min))
    for booking in session.exec(select(Booking)):
        claims, holds = _whole(claimed[booking.id]), _whole(held[booking.id])
        allowed = {Status.CONFIRMED: [claims], Status.DONE: [claims, {}]}.get(booking.status, [{}])
        if not claims:
            yield f"booking {booking.id} claims nothing"
        if holds not in allowed:
            yield f"booking {booking.id} is {booking.status} and doesn't hold what it should"
        yield 1


def _whole(spans: Held) -> dict[int | None, tuple[Span, ...]]:
    """The times of each piece as few spans: a long one is held in several rows, and a rack by several places."""
    return {number: tuple(union(found)) for number, found in spans.items()}


def _trails(session: Session) -> Found:
    for kitchen_id in session.exec(select(Kitchen.id)).all():
        for number in islice(chain.broken(audit.trail(session, kitchen_id)), MOST_NAMED):
            yield f"kitchen {kitchen_id}: entry {number} doesn't follow from the one before"
        yield audit.length(session, kitchen_id)


def _figures(_session: Session) -> Found:
    try:
        known = facts()
        yield len(kitchen_figures()) + len(known.statements) + len(known.processes) + len(known.tested_recipes)
    except BadFigure as bad:
        yield str(bad)


LOOKS: dict[str, Callable[[Session], Found]] = {
    "storage": _storage,
    "guards": _guards,
    "jars": _jars,
    "occupied times": _overlaps,
    "bookings": _bookings,
    "audit trails": _trails,
    "published figures": _figures,
}
