"""Reading and writing lots, the ledger of their jars and the balances beside it."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID
from zoneinfo import ZoneInfo

import sqlalchemy
from sqlalchemy import Connection, bindparam, func, text
from sqlmodel import Session, col, or_, select
from sqlmodel.sql.expression import SelectOfScalar

from service.core.jars import clocks, lots, movements
from service.core.jars.movements import EATABLE, Place, Proof, State
from service.core.jars.years import Moved
from service.core.refusals import Refused
from service.database.prepared import Prepared
from service.pantry.tables import IS_HELD, Balance, Movement
from service.pantry.tables import Lot as Lot  # routes pass lots on


@dataclass(frozen=True, slots=True)
class Filters:
    """What of a pantry is asked for; None is anything."""

    family: str | None = None
    product: str | None = None
    jar_size: str | None = None
    state: State | None = None
    best_by_before: date | None = None
    lot_code: str | None = None
    text: str | None = None  # a part of the title


class Sort(StrEnum):
    """In which order a pantry is read; none changes while jars move."""

    BEST_BY = "best_by"
    LATEST_BEST_BY = "-best_by"
    MADE_ON = "made_on"
    LATEST_MADE_ON = "-made_on"
    TITLE = "title"
    LATEST_TITLE = "-title"

    @property
    def key(self) -> str:
        return self.value.removeprefix("-")

    @property
    def falling(self) -> bool:
        return self.value.startswith("-")


class Shelved(NamedTuple):
    """Jars of one lot, size and state that somebody has."""

    id: UUID  # of their balance
    lot_code: str
    title: str
    family: str | None
    product: str | None
    made_on: date
    best_by: date
    jar_size: str
    state: State
    jars: int
    since_at: datetime | None
    location: str | None

    def since(self, zone: ZoneInfo, now: datetime) -> date:
        """The local day from which their clock runs; where jars came one after another, the first one's."""
        return (self.since_at or now).astimezone(zone).date()

    def until(self, zone: ZoneInfo, now: datetime) -> clocks.EatBy | None:
        """Until when they are at their best, by their own clock; `None` where nobody should eat them."""
        return clocks.eat_by(self.state, self.family, self.best_by, self.since(zone, now))

    def sorted_by(self, sort: Sort) -> date | str:
        """What places these jars in an order."""
        keys: dict[str, date | str] = {"best_by": self.best_by, "made_on": self.made_on, "title": self.title}
        return keys[sort.key]


@dataclass(frozen=True, slots=True)
class Written:
    """A movement of a lot as it stands in the ledger."""

    lot: Lot
    movement: Movement


def add_lot(
    session: Session,
    kitchen_id: UUID,
    title: str,
    family: str | None,
    product: str | None,
    made_on: date,
    best_by_months: int,
) -> Lot | Refused:
    """Give the jars of a batch their lot code and best-by date."""
    best_by = lots.best_by(made_on, best_by_months)
    if isinstance(best_by, Refused):
        return best_by
    query = select(func.count()).where(col(Lot.kitchen_id) == kitchen_id, col(Lot.made_on) == made_on)
    row = Lot(
        kitchen_id=kitchen_id,
        code=lots.lot_code(made_on, session.exec(query).one() + 1),
        title=title,
        family=family,
        product=product,
        made_on=made_on,
        best_by=best_by,
    )
    session.add(row)
    session.flush()
    return row


def lot(session: Session, kitchen_id: UUID, code: str) -> Lot | None:
    """The lot with this code."""
    return session.exec(_lot(), params={"kitchen_id": kitchen_id, "code": code}).one_or_none()


@cache
def _lot() -> SelectOfScalar[Lot]:
    return select(Lot).where(col(Lot.kitchen_id) == bindparam("kitchen_id"), col(Lot.code) == bindparam("code"))


def balances(session: Session, lot_id: UUID, holder_id: UUID | None = None) -> dict[Place, int]:
    """Where a lot's jars are, or those of one holder; a place that jars have left is there with none."""
    query = select(Balance).where(Balance.lot_id == lot_id)
    if holder_id is not None:
        query = query.where(Balance.holder_id == holder_id)
    return {_place(row): row.jars for row in session.exec(query)}


def write(session: Session, row: Lot, moved: Iterable[movements.Movement], by: UUID, at: datetime) -> list[Written]:
    """Write movements into the ledger and move the balances with them."""
    kept = {_place(found): found for found in session.exec(select(Balance).where(Balance.lot_id == row.id))}
    written = []
    for movement in moved:
        source, target, came_at = movement.source, movement.target, at
        if source is not None:
            came_at = clocks.since(source.state, kept[source].since_at, at)
        if target not in kept:
            kept[target] = Balance(
                lot_id=row.id,
                jar_size=target.jar_size,
                holder_id=target.holder_id,
                state=target.state,
                jars=0,
                best_by=row.best_by,
            )
        if source is not None and source != target:
            _take(kept[source], movement.jars)
        if source != target:
            _put(kept[target], movement.jars, came_at)
        if movement.location is not None:
            kept[target].location = movement.location
        written.append(
            Movement(
                lot_id=row.id,
                jar_size=target.jar_size,
                kind=movement.kind,
                jars=movement.jars,
                source_holder_id=source.holder_id if source else None,
                source_state=source.state if source else None,
                target_holder_id=target.holder_id,
                target_state=target.state,
                location=movement.location,
                recipient=movement.recipient,
                moved_by=by,
                moved_at=at,
            )
        )
    session.add_all([*written, *kept.values()])
    session.flush()
    return [Written(row, movement) for movement in written]


def shelf(
    look: Session | Connection,
    kitchen_id: UUID,
    holder_id: UUID,
    wanted: Filters,
    sort: Sort,
    limit: int,
    after: tuple[Any, UUID] | None,
) -> list[Shelved]:
    """What a member has, in the order asked for; one more than asked for."""
    exact = {
        "family": wanted.family,
        "product": wanted.product,
        "lot_code": wanted.lot_code,
        "jar_size": wanted.jar_size,
        "state": wanted.state,
    }
    given: dict[str, Any] = {name: value for name, value in exact.items() if value is not None}
    if wanted.best_by_before is not None:
        given["before"] = wanted.best_by_before
    if wanted.text is not None:
        given["text"] = _UNMEANT.sub(r"/\g<0>", wanted.text)
    query = _shelf(tuple(given), sort, further=after is not None)
    place = dict(zip(("key", "last"), after or (), strict=False))
    found = query.rows(look, kitchen_id=kitchen_id, holder_id=holder_id, most=limit + 1, **given, **place)
    return [Shelved._make(row) for row in found]


_UNMEANT = re.compile("[/%_]")  # what stands for other letters in a pattern, and what says that it doesn't


def eatable(session: Session, kitchen_id: UUID, holder_id: UUID) -> list[Shelved]:
    """Everything a member has that may be eaten."""
    return [Shelved._make(row) for row in _eatable().rows(session, kitchen_id=kitchen_id, holder_id=holder_id)]


@cache
def _eatable() -> Prepared:
    return Prepared(_held().where(or_(*(col(Balance.state) == state for state in EATABLE))))


@cache
def _shelf(given: tuple[str, ...], sort: Sort, *, further: bool) -> Prepared:
    query = _held()
    conditions = {
        "family": col(Lot.family) == bindparam("family"),
        "product": col(Lot.product) == bindparam("product"),
        "lot_code": col(Lot.code) == bindparam("lot_code"),
        "jar_size": col(Balance.jar_size) == bindparam("jar_size"),
        "state": col(Balance.state) == bindparam("state"),
        "before": col(Balance.best_by) < bindparam("before"),
        "text": col(Lot.title).icontains(bindparam("text"), escape="/"),
    }
    query = query.where(*(conditions[name] for name in given))
    key = col({"best_by": Balance.best_by, "made_on": Lot.made_on, "title": Lot.title}[sort.key])
    if further:
        beyond = key < bindparam("key") if sort.falling else key > bindparam("key")
        query = query.where(or_(beyond, (key == bindparam("key")) & (col(Balance.id) > bindparam("last"))))
    return Prepared(query.order_by(key.desc() if sort.falling else key, col(Balance.id)).limit(bindparam("most")))


@cache
def _held() -> sqlalchemy.Select[*tuple[Any, ...]]:
    """What somebody has, as `Shelved` has it."""
    return (
        sqlalchemy.select(
            col(Balance.id),
            col(Lot.code),
            col(Lot.title),
            col(Lot.family),
            col(Lot.product),
            col(Lot.made_on),
            col(Balance.best_by),
            col(Balance.jar_size),
            col(Balance.state),
            col(Balance.jars),
            col(Balance.since_at),
            col(Balance.location),
        )
        .join(Lot, col(Balance.lot_id) == col(Lot.id))
        .where(
            col(Lot.kitchen_id) == bindparam("kitchen_id"),
            col(Balance.holder_id) == bindparam("holder_id"),
            text(IS_HELD),
        )
    )


@dataclass(frozen=True, slots=True)
class Group:
    """All jars of one family, size and state that somebody has, with the first best-by date."""

    family: str | None
    jar_size: str
    state: State
    count: int
    first_best_by: date


def groups(session: Session, kitchen_id: UUID, holder_id: UUID) -> list[Group]:
    """What a member has, by family, jar size and state."""
    query = (
        sqlalchemy.select(
            col(Lot.family),
            col(Balance.jar_size),
            col(Balance.state),
            func.sum(col(Balance.jars)),
            func.min(col(Balance.best_by)),
        )
        .join(Balance, col(Balance.lot_id) == col(Lot.id))
        .where(
            col(Lot.kitchen_id) == kitchen_id,
            col(Balance.holder_id) == holder_id,
            text(IS_HELD),
        )
        .group_by(col(Lot.family), col(Balance.jar_size), col(Balance.state))
        .order_by(col(Lot.family), col(Balance.jar_size), col(Balance.state))
    )
    return [Group(*row) for row in session.execute(query)]


def moved_between(
    session: Session, kitchen_id: UUID, member_id: UUID, from_at: datetime, to_at: datetime
) -> list[Moved]:
    """What came to a member or left them in a time, by family, size and places."""
    places = (Movement.source_holder_id, Movement.source_state, Movement.target_holder_id, Movement.target_state)
    keys = [col(column) for column in (Lot.family, Movement.jar_size, *places)]
    query = (
        sqlalchemy.select(*keys, func.sum(col(Movement.jars)))
        .join(Lot, col(Lot.id) == col(Movement.lot_id))
        .where(
            col(Lot.kitchen_id) == kitchen_id,
            or_(col(Movement.source_holder_id) == member_id, col(Movement.target_holder_id) == member_id),
            col(Movement.moved_at) >= from_at,
            col(Movement.moved_at) < to_at,
        )
        .group_by(*keys)
        .order_by(*keys)
    )
    nowhere = UUID(int=0)  # lots are added up, so their places stand for any lot
    return [
        Moved(
            family,
            jar_size,
            Place(nowhere, jar_size, source_id, source_state) if source_id else None,
            Place(nowhere, jar_size, target_id, target_state),
            jars,
        )
        for family, jar_size, source_id, source_state, target_id, target_state, jars in session.execute(query)
    ]


def prove(session: Session, kitchen_id: UUID) -> Proof:
    """Whether every balance of a kitchen is the sum of its movements, and every jar ever filled is somewhere."""
    of_kitchen = select(Lot.id).where(Lot.kitchen_id == kitchen_id)
    ledger = [_movement(row) for row in session.exec(select(Movement).where(col(Movement.lot_id).in_(of_kitchen)))]
    kept = session.exec(select(Balance).where(col(Balance.lot_id).in_(of_kitchen)))
    return movements.prove(ledger, {_place(row): row.jars for row in kept})


def _place(row: Balance) -> Place:
    return Place(row.lot_id, row.jar_size, row.holder_id, row.state)


def _movement(row: Movement) -> movements.Movement:
    source = None
    if row.source_holder_id is not None and row.source_state is not None:
        source = Place(row.lot_id, row.jar_size, row.source_holder_id, row.source_state)
    target = Place(row.lot_id, row.jar_size, row.target_holder_id, row.target_state)
    return movements.Movement(row.kind, row.jars, source, target, row.location, row.recipient)


def _take(balance: Balance, jars: int) -> None:
    balance.jars -= jars
    if not balance.jars:
        balance.since_at = None


def _put(balance: Balance, jars: int, came_at: datetime) -> None:
    """Add jars; those added last may have come first."""
    balance.jars += jars
    balance.since_at = came_at if balance.since_at is None else min(balance.since_at, came_at)
