"""Offering what is free to those who wait, in order; within the kitchen's lock, so that nothing is offered twice."""

from datetime import datetime

from sqlmodel import Session

from service.bookings import single_pieces
from service.bookings import store as bookings_store
from service.bookings.fair_use import store as fair_use
from service.bookings.waiting import store
from service.bookings.waiting.tables import Waiting
from service.core.refusals import Refused
from service.core.roles import Role
from service.core.scheduling import piece_bookings, searches
from service.core.scheduling.spans import Span
from service.core.scheduling.waiting import State, offered_until
from service.equipment import store as equipment
from service.web.callers import Caller, Kitchen
from service.web.types import NOBODY

OPTIONS = 50  # looked at for one that is within the limits of fair use


def settle(session: Session, kitchen: Kitchen, now: datetime) -> None:
    """Do what the clock has decided since somebody last wrote: end what is over, and offer it to the next."""
    over = store.overdue(session, kitchen.id, now)
    for row in over:
        store.lapse(session, row, now)
    if over:
        pass_on(session, kitchen, now)


def pass_on(session: Session, kitchen: Kitchen, now: datetime) -> None:
    """Offer everybody who waits, first come first, the earliest time that suits them, if there is any."""
    everybody = store.in_order(session, kitchen.id, State.WAITING)
    minutes = fair_use.rules(session, kitchen.id)[0].offer_minutes if everybody else 0
    for row in everybody:
        option = _first_that_suits(session, row, kitchen, now)
        if option:
            store.offer(session, row, option, offered_until(now, minutes, option.starts_at), now)


def accept(session: Session, row: Waiting, kitchen: Kitchen, now: datetime) -> bookings_store.Kept | Refused:
    """Turn what is held for somebody into their booking, unless something speaks against it by now."""
    piece = row.equipment_id and equipment.piece(session, kitchen.id, row.equipment_id)
    starts_at, ends_at = row.starts_at, row.ends_at
    assert piece
    assert starts_at
    assert ends_at
    store.release(session, row, State.BOOKED)
    wish = piece_bookings.Wish(piece.id, starts_at, ends_at)
    booked = single_pieces.book(session, _as(row, kitchen), row.member_id, wish, now, ahead_minutes=0)
    assert booked
    if isinstance(booked, Refused):
        return booked
    too_much = fair_use.refused(session, kitchen, row.member_id, booked.claims, now)
    if too_much:
        return too_much
    kept = bookings_store.add(
        session,
        booked,
        kitchen_id=kitchen.id,
        member_id=row.member_id,
        purpose=row.purpose,
        booked_by=row.member_id,
        booked_at=now,
    )
    if not isinstance(kept, Refused):
        row.booking_id = kept.booking.id
        session.flush()
    return kept


def _first_that_suits(session: Session, row: Waiting, kitchen: Kitchen, now: datetime) -> searches.Option | None:
    within = searches.window(row.not_before, row.not_after, now)
    if isinstance(within, Refused):
        return None
    found = single_pieces.search(
        session,
        _as(row, kitchen),
        row.equipment_kind,
        row.canner_kind,
        row.minutes,
        within,
        OPTIONS,
        ahead_minutes=0,
        avoiding=[Span(starts_min, ends_min) for starts_min, ends_min in row.declined],
    )
    for option in found.options:
        if option.starts_at > now and not fair_use.refused(session, kitchen, row.member_id, option.claims, now):
            return option
    return None


def _as(row: Waiting, kitchen: Kitchen) -> Caller:
    """Somebody who waits, as if they asked themselves."""
    return Caller(row.member_id, "", Role.MEMBER, kitchen, NOBODY)
