"""Reading and writing lots, the ledger of their jars and the balances beside it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import sqlalchemy
from sqlalchemy import func, text
from sqlmodel import Session, col, or_, select
from sqlmodel.sql.expression import Select

from service.core.jars import clocks, lots, movements
from service.core.jars.movements import EATABLE, Place, Proof, State
from service.core.jars.years import Moved
from service.core.refusals import Refused
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


@dataclass(frozen=True, slots=True)
class Shelved:
    """Jars of one lot, size and state that somebody has."""

    lot: Lot
    balance: Balance

    def since(self, zone: ZoneInfo, now: datetime) -> date:
        """The local day from which their clock runs; where jars came one after another, the first one's."""
        return (self.balance.since_at or now).astimezone(zone).date()

    def until(self, zone: ZoneInfo, now: datetime) -> clocks.EatBy | None:
        """Until when they are at their best, by their own clock; `None` where nobody should eat them."""
        return clocks.eat_by(self.balance.state, self.lot.family, self.lot.best_by, self.since(zone, now))

    def sorted_by(self, sort: Sort) -> date | str:
        """What places these jars in an order."""
        keys: dict[str, date | str] = {
            "best_by": self.balance.best_by,
            "made_on": self.lot.made_on,
            "title": self.lot.title,
        }
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
    return session.exec(select(Lot).where(Lot.kitchen_id == kitchen_id, Lot.code == code)).one_or_none()


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
    session: Session,
    kitchen_id: UUID,
    holder_id: UUID,
    wanted: Filters,
    sort: Sort,
    limit: int,
    after: tuple[Any, UUID] | None,
) -> list[Shelved]:
    """What a member has, in the order asked for; one more than asked for."""
    query = _held(kitchen_id, holder_id)
    exact = (
        (Lot.family, wanted.family),
        (Lot.product, wanted.product),
        (Lot.code, wanted.lot_code),
        (Balance.jar_size, wanted.jar_size),
        (Balance.state, wanted.state),
    )
    for column, value in exact:
        if value is not None:
            query = query.where(col(column) == value)
    if wanted.best_by_before is not None:
        query = query.where(col(Balance.best_by) < wanted.best_by_before)
    if wanted.text is not None:
        query = query.where(col(Lot.title).icontains(wanted.text, autoescape=True))
    key = col({"best_by": Balance.best_by, "made_on": Lot.made_on, "title": Lot.title}[sort.key])
    if after is not None:
        value, last = after
        beyond = key < value if sort.falling else key > value
        query = query.where(or_(beyond, (key == value) & (col(Balance.id) > last)))
    query = query.order_by(key.desc() if sort.falling else key, col(Balance.id)).limit(limit + 1)
    return [Shelved(found, balance) for found, balance in session.exec(query)]


def eatable(session: Session, kitchen_id: UUID, holder_id: UUID) -> list[Shelved]:
    """Everything a member has that may be eaten."""
    query = _held(kitchen_id, holder_id).where(col(Balance.state).in_(EATABLE))
    return [Shelved(found, balance) for found, balance in session.exec(query)]


def _held(kitchen_id: UUID, holder_id: UUID) -> Select[Lot, Balance]:
    """Lots and balances of which somebody has jars."""
    return (
        select(Lot, Balance)
        .join(Balance, col(Balance.lot_id) == col(Lot.id))
        .where(
            col(Lot.kitchen_id) == kitchen_id,
            col(Balance.holder_id) == holder_id,
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
