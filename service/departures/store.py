"""Letting a member go: jars handed on, bookings given back, tokens ended, all in one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlalchemy import text
from sqlmodel import Session, col, select, update

from service.batches import store as batches
from service.bookings import store as bookings
from service.bookings.tables import Booking
from service.bookings.waiting import store as waiting
from service.core.jars.departures import departure
from service.core.scheduling.bookings import Status
from service.members.tables import Member, Token
from service.pantry import store as pantry
from service.pantry.tables import IS_HELD, Balance, Lot


@dataclass(frozen=True, slots=True)
class Departed:
    """What a member left behind."""

    member: Member
    jars_handed_on: int
    jars_taken_along: int
    bookings: tuple[UUID, ...]


def is_canning(session: Session, kitchen_id: UUID, member_id: UUID) -> bool:
    """Whether a batch of theirs has jars whose seals nobody has checked."""
    found = batches.page(session, kitchen_id, member_id, None, None)
    return any(load.load.seals is None for kept in found for load in kept.loads)


def depart(session: Session, row: Member, jars_to: UUID | None, by: UUID, at: datetime) -> Departed:
    """Let a member go at a moment."""
    mine = select(Balance.lot_id).where(col(Balance.holder_id) == row.id, text(IS_HELD))
    lots: Sequence[Lot] = session.exec(select(Lot).where(col(Lot.id).in_(mine)).order_by(col(Lot.code))).all()
    handed_on = taken_along = 0
    for lot in lots:
        moved = departure(pantry.balances(session, lot.id, row.id), row.name, jars_to, by)
        pantry.write(session, lot, moved, by, at)
        taken_along += sum(each.jars for each in moved if each.recipient)
        handed_on += sum(each.jars for each in moved if not each.recipient)
    ahead = session.exec(
        select(Booking).where(
            col(Booking.member_id) == row.id, bookings.ends_after(at), col(Booking.status) == Status.CONFIRMED
        )
    ).all()
    for booking in ahead:
        bookings.cancel(session, booking)
    waiting.leave(session, row.kitchen_id, row.id)
    session.execute(
        update(Token).where(col(Token.member_id) == row.id, col(Token.revoked_at).is_(None)).values(revoked_at=at)
    )
    row.left_at = at
    session.add(row)
    session.flush()
    return Departed(row, handed_on, taken_along, tuple(booking.id for booking in ahead))
