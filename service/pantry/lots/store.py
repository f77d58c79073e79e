"""Reading a lot with all its holders, and calling it back."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import NamedTuple
from uuid import UUID

import sqlalchemy
from sqlalchemy import Connection, bindparam, func
from sqlmodel import Session, col, or_, select

from service.core.jars import movements
from service.core.jars.movements import State
from service.core.jars.recalls import TO_ACCOUNT_FOR
from service.database.prepared import Prepared
from service.members import store as members
from service.members.tables import Member
from service.pantry import store as pantry
from service.pantry.tables import Balance, Lot, Movement


class Shown(NamedTuple):
    """A lot as it is shown."""

    id: UUID
    code: str
    title: str
    family: str | None
    product: str | None
    made_on: date
    best_by: date
    recalled_at: datetime | None
    recall_reason: str | None


class Holder(NamedTuple):
    """Jars of a lot with the name of who has them."""

    member_id: UUID
    name: str
    jar_size: str
    state: State
    jars: int
    location: str | None


@dataclass(frozen=True, slots=True)
class Gift:
    """Jars that a member gave to somebody outside the kitchen."""

    giver_id: UUID
    recipient: str
    jar_size: str
    jars: int
    given_at: datetime


@dataclass(frozen=True, slots=True)
class Seen:
    """A lot as far as somebody may see it; `accounted` says how called-back jars ended."""

    lot: Shown
    holders: tuple[Holder, ...]
    gifts: tuple[Gift, ...]
    accounted: Counter[State]


def seen(look: Session | Connection, kitchen_id: UUID, code: str, holder_id: UUID | None) -> Seen | None:
    """A lot with all who have or had jars of it, or one member's part; None where there is no such part."""
    whose = {} if holder_id is None else {"holder_id": holder_id}
    found = _holders(one=bool(whose)).rows(look, kitchen_id=kitchen_id, code=code, **whose)
    if not found:
        return None
    lot = Shown._make(found[0][:_OF_LOT])
    holders = tuple(Holder._make(row[_OF_LOT:]) for row in found)
    gifts, accounted = [], Counter[State]()
    if lot.recalled_at is not None or any(each.state is State.GIVEN for each in holders):  # else there is nothing there
        for giver_id, recipient, jar_size, jars, target, moved_at in _outside(one=bool(whose)).rows(
            look, lot_id=lot.id, **whose
        ):
            if recipient is not None:
                gifts.append(Gift(giver_id, recipient, jar_size, jars, moved_at))
            elif target is not State.RECALLED:
                accounted[target] += jars
    return Seen(lot, holders, tuple(gifts), accounted)


_OF_LOT = len(Shown._fields)


@cache
def _holders(*, one: bool) -> Prepared:
    """A lot beside all who have or had jars of it, or one of them: each lot begins with its first jars."""
    query = (
        sqlalchemy.select(
            *(getattr(Lot, name) for name in Shown._fields),
            col(Member.id),
            col(Member.name),
            col(Balance.jar_size),
            col(Balance.state),
            col(Balance.jars),
            col(Balance.location),
        )
        .join(Balance, col(Balance.lot_id) == col(Lot.id))
        .join(Member, col(Member.id) == col(Balance.holder_id))
        .where(col(Lot.kitchen_id) == bindparam("kitchen_id"), col(Lot.code) == bindparam("code"))
        .order_by(col(Member.name), col(Balance.id))
    )
    return Prepared(query.where(col(Balance.holder_id) == bindparam("holder_id")) if one else query)


@cache
def _outside(*, one: bool) -> Prepared:
    """What left the kitchen, and what became of called-back jars."""
    query = (
        sqlalchemy.select(
            col(Movement.target_holder_id),
            col(Movement.recipient),
            col(Movement.jar_size),
            col(Movement.jars),
            col(Movement.target_state),
            col(Movement.moved_at),
        )
        .where(
            col(Movement.lot_id) == bindparam("lot_id"),
            or_(col(Movement.target_state) == State.GIVEN, col(Movement.source_state) == State.RECALLED),
        )
        .order_by(col(Movement.moved_at), col(Movement.id))
    )
    return Prepared(query.where(col(Movement.source_holder_id) == bindparam("holder_id")) if one else query)


def recall(session: Session, row: Lot, reason: str, by: UUID, at: datetime) -> Seen:
    """Call back every jar of a lot that anyone still has, and those to come; tell all who have or had any."""
    row.recalled_at, row.recall_reason = at, reason
    session.add(row)
    pantry.write(session, row, movements.recall(pantry.balances(session, row.id)), by, at)
    found = seen(session, row.kitchen_id, row.code, None)
    assert found is not None  # a lot begins with its first jars
    message = (
        f"Lot {row.code}, {row.title}, is called back: {reason} Don't eat of it, and tell those to whom you gave jars."
        " Bring the jars back or destroy them unopened, and record each one, those already eaten too."
    )
    for member_id in sorted({holder.member_id for holder in found.holders}):
        members.tell(session, member_id, message, at, lot_code=row.code)
    session.flush()
    return found


@dataclass(frozen=True, slots=True)
class Recalled:
    """A lot that was called back, with the jars that aren't accounted for."""

    lot: Lot
    to_account_for: int


def recalls(session: Session, kitchen_id: UUID, limit: int, after: tuple[datetime, UUID] | None) -> Sequence[Recalled]:
    """Lots that were called back, the last first; one more than asked for."""
    left = (
        select(func.coalesce(func.sum(Balance.jars), 0))
        .where(col(Balance.lot_id) == col(Lot.id), col(Balance.state).in_(TO_ACCOUNT_FOR))
        .scalar_subquery()
    )
    query = select(Lot, left).where(col(Lot.kitchen_id) == kitchen_id, col(Lot.recalled_at).is_not(None))
    if after is not None:
        at, last = after
        query = query.where(or_(col(Lot.recalled_at) < at, (col(Lot.recalled_at) == at) & (col(Lot.id) < last)))
    query = query.order_by(col(Lot.recalled_at).desc(), col(Lot.id).desc()).limit(limit + 1)
    return [Recalled(row, jars) for row, jars in session.exec(query)]
