"""Reading a lot with all its holders, and calling it back."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import func
from sqlmodel import Session, col, or_, select

from service.core.jars import movements
from service.core.jars.movements import State
from service.core.jars.recalls import TO_ACCOUNT_FOR
from service.members import store as members
from service.members.tables import Member
from service.pantry import store as pantry
from service.pantry.tables import Balance, Lot, Movement


@dataclass(frozen=True, slots=True)
class Holder:
    """Jars of a lot with the name of who has them."""

    balance: Balance
    name: str


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

    lot: Lot
    holders: tuple[Holder, ...]
    gifts: tuple[Gift, ...]
    accounted: Counter[State]


def seen(session: Session, row: Lot, holder_id: UUID | None) -> Seen | None:
    """A lot with all who have or had jars of it, or one member's part; None where there is no such part."""
    query = (
        select(Balance, Member.name)
        .join(Member, col(Member.id) == col(Balance.holder_id))
        .where(col(Balance.lot_id) == row.id)
        .order_by(col(Member.name), col(Balance.id))
    )
    outside = (
        select(Movement)
        .where(
            col(Movement.lot_id) == row.id,
            or_(col(Movement.target_state) == State.GIVEN, col(Movement.source_state) == State.RECALLED),
        )
        .order_by(col(Movement.moved_at), col(Movement.id))
    )
    if holder_id is not None:
        query = query.where(col(Balance.holder_id) == holder_id)
        outside = outside.where(col(Movement.source_holder_id) == holder_id)
    holders = tuple(Holder(balance, name) for balance, name in session.exec(query))
    if not holders:
        return None
    gifts, accounted = [], Counter[State]()
    for each in session.exec(outside):
        if each.recipient is not None:
            gifts.append(Gift(each.target_holder_id, each.recipient, each.jar_size, each.jars, each.moved_at))
        elif each.target_state is not State.RECALLED:
            accounted[each.target_state] += each.jars
    return Seen(row, holders, tuple(gifts), accounted)


def recall(session: Session, row: Lot, reason: str, by: UUID, at: datetime) -> Seen:
    """Call back every jar of a lot that anyone still has, and those to come; tell all who have or had any."""
    row.recalled_at, row.recall_reason = at, reason
    session.add(row)
    pantry.write(session, row, movements.recall(pantry.balances(session, row.id)), by, at)
    found = seen(session, row, None)
    assert found is not None  # a lot begins with its first jars
    message = (
        f"Lot {row.code}, {row.title}, is called back: {reason} Don't eat of it, and tell those to whom you gave jars."
        " Bring the jars back or destroy them unopened, and record each one, those already eaten too."
    )
    for member_id in sorted({holder.balance.holder_id for holder in found.holders}):
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
