"""Reading and writing lots, the ledger of their jars and the balances beside it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

import sqlalchemy
from sqlalchemy import func
from sqlmodel import Session, col, or_, select

from service.core.jars import clocks, lots, movements
from service.core.jars.movements import HELD, Place, Proof, State
from service.core.refusals import Refused
from service.members.tables import Member
from service.pantry.tables import Balance, Lot, Movement


@dataclass(frozen=True, slots=True)
class Filters:
    """What of a pantry is asked for; None is anything."""

    family: str | None = None
    product: str | None = None
    jar_size: str | None = None
    state: State | None = None
    best_by_before: date | None = None


@dataclass(frozen=True, slots=True)
class Shelved:
    """Jars of one lot, size and state that somebody has."""

    lot: Lot
    balance: Balance


@dataclass(frozen=True, slots=True)
class Written:
    """A movement of a lot as it stands in the ledger."""

    lot: Lot
    movement: Movement


@dataclass(frozen=True, slots=True)
class Holder:
    """Jars of a lot with the name of who has them."""

    balance: Balance
    name: str


@dataclass(frozen=True, slots=True)
class Seen:
    """A lot with the holders that somebody may see."""

    lot: Lot
    holders: tuple[Holder, ...]


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
    """The lot behind a code, however it was written."""
    meant = lots.read_code(code)
    query = select(Lot).where(Lot.kitchen_id == kitchen_id, Lot.code == meant)
    return session.exec(query).one_or_none() if meant else None


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


def recall(session: Session, row: Lot, reason: str, by: UUID, at: datetime) -> Seen:
    """Call back every jar of a lot that anyone still has, and those that are still to come."""
    row.recalled_at, row.recall_reason = at, reason
    session.add(row)
    write(session, row, movements.recall(balances(session, row.id)), by, at)
    found = seen(session, row, None)
    assert found is not None  # a lot begins with its first jars
    return found


def seen(session: Session, row: Lot, holder_id: UUID | None) -> Seen | None:
    """A lot with all who have or had jars of it, or one member's part; None where there is no such part."""
    query = (
        select(Balance, Member.name)
        .join(Member, col(Member.id) == col(Balance.holder_id))
        .where(col(Balance.lot_id) == row.id)
        .order_by(col(Member.name), col(Balance.id))
    )
    if holder_id is not None:
        query = query.where(col(Balance.holder_id) == holder_id)
    holders = tuple(Holder(balance, name) for balance, name in session.exec(query))
    return Seen(row, holders) if holders else None


def shelf(
    session: Session,
    kitchen_id: UUID,
    holder_id: UUID,
    wanted: Filters,
    limit: int,
    after: tuple[date, UUID] | None,
) -> list[Shelved]:
    """What a member has, what is best eaten first at the top; one more than asked for."""
    query = (
        select(Lot, Balance)
        .join(Balance, col(Balance.lot_id) == col(Lot.id))
        .where(
            col(Lot.kitchen_id) == kitchen_id,
            col(Balance.holder_id) == holder_id,
            col(Balance.jars) > 0,
            col(Balance.state).in_(HELD),
        )
        .order_by(col(Balance.best_by), col(Balance.id))
        .limit(limit + 1)
    )
    exact = (
        (Lot.family, wanted.family),
        (Lot.product, wanted.product),
        (Balance.jar_size, wanted.jar_size),
        (Balance.state, wanted.state),
    )
    for column, value in exact:
        if value is not None:
            query = query.where(col(column) == value)
    if wanted.best_by_before is not None:
        query = query.where(col(Balance.best_by) < wanted.best_by_before)
    if after is not None:
        best_by, last = after
        query = query.where(
            or_(
                col(Balance.best_by) > best_by,
                (col(Balance.best_by) == best_by) & (col(Balance.id) > last),
            )
        )
    return [Shelved(found, balance) for found, balance in session.exec(query)]


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
            col(Balance.jars) > 0,
            col(Balance.state).in_(HELD),
        )
        .group_by(col(Lot.family), col(Balance.jar_size), col(Balance.state))
        .order_by(col(Lot.family), col(Balance.jar_size), col(Balance.state))
    )
    return [Group(*row) for row in session.execute(query)]


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
