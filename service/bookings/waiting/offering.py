"""Offering what is free to those who wait, in order; within the kitchen's lock, so that nothing is offered twice."""

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.audit import store as trail
from service.bookings import single_pieces, whole_batches
from service.bookings import store as bookings_store
from service.bookings.fair_use import store as fair_use
from service.bookings.waiting import store
from service.bookings.waiting.tables import Waiting
from service.core.refusals import Refused
from service.core.roles import Role
from service.core.scheduling import piece_bookings, searches
from service.core.scheduling.bookings import Booked, Claim
from service.core.scheduling.spans import Span
from service.core.scheduling.waiting import State, offered_until
from service.web.callers import Caller, Kitchen
from service.web.types import NOBODY

OPTIONS = 50  # looked at for one that is within the limits of fair use


def settle(session: Session, kitchen: Kitchen, now: datetime) -> None:
    """Do what the clock has decided since somebody last wrote: end what is over, and offer it to the next."""
    over = store.overdue(session, kitchen.id, now)
    for row in over:
        store.lapse(session, row, now)
        _note(session, row, "lapse_waiting", now)
    if over:
        pass_on(session, kitchen, now)


def pass_on(session: Session, kitchen: Kitchen, now: datetime) -> None:
    """Offer everybody who waits, first come first, the earliest time that suits them, if there is any."""
    everybody = store.in_order(session, kitchen.id, State.WAITING)
    minutes = fair_use.rules(session, kitchen.id)[0].offer_minutes if everybody else 0
    for row in everybody:
        found = _first_that_suits(session, row, kitchen, now)
        if found:
            option, booked = found
            bookings_store.make_room(session, booked.moves)
            equipment_id = None if row.recipe_id else booked.claims[0].equipment_id
            store.offer(session, row, booked, equipment_id, offered_until(now, minutes, option.starts_at), now)
            _note(session, row, "offer_time", now)


def accept(session: Session, row: Waiting, kitchen: Kitchen, now: datetime) -> bookings_store.Listed | Refused:
    """Turn what is held for somebody into their booking, unless something speaks against it by now."""
    starts_at, ends_at, equipment_id, claims = row.starts_at, row.ends_at, row.equipment_id, store.claims(row)
    assert starts_at
    assert ends_at
    store.release(session, row, State.BOOKED)
    if equipment_id:
        booked = _piece(session, row, kitchen, equipment_id, (starts_at, ends_at), now)
    else:
        booked = _batch(session, row, kitchen, claims, now)
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
        recipe_id=row.recipe_id,
        revision=row.revision,
        jars=row.jars,
        booked_by=row.member_id,
        booked_at=now,
    )
    if not isinstance(kept, Refused):
        row.booking_id = kept.booking.id
        session.flush()
    return kept


def _note(session: Session, row: Waiting, act: str, now: datetime) -> None:
    """What the list and the clock decide is nobody's act, and stands in the trail all the same."""
    trail.note(session, row.kitchen_id, None, act, f"/v1/waiting-list/{row.id}", None, now)


def _first_that_suits(
    session: Session, row: Waiting, kitchen: Kitchen, now: datetime
) -> tuple[searches.Option, Booked] | None:
    within = searches.window(row.not_before, row.not_after, now)
    if isinstance(within, Refused):
        return None
    for limit in (1, OPTIONS):  # the first nearly always suits
        options = _options(session, row, kitchen, within, limit, now)
        for option in options:
            booked = _suits(session, row, kitchen, option, now)
            if booked:
                return option, booked
        if len(options) < limit:
            break
    return None


def _suits(session: Session, row: Waiting, kitchen: Kitchen, option: searches.Option, now: datetime) -> Booked | None:
    if option.starts_at <= now or fair_use.refused(session, kitchen, row.member_id, option.claims, now):
        return None
    if row.recipe_id:
        booked = _batch(session, row, kitchen, option.claims, now)
    else:
        own = option.claims[0]
        booked = _piece(session, row, kitchen, own.equipment_id, (own.starts_at, own.ends_at), now)
    return None if isinstance(booked, Refused) else booked


def _options(
    session: Session, row: Waiting, kitchen: Kitchen, within: Span, limit: int, now: datetime
) -> Sequence[searches.Option]:
    declined = [Span(starts_min, ends_min) for starts_min, ends_min in row.declined]
    if row.equipment_kind and row.minutes:
        return single_pieces.search(
            session,
            _as(row, kitchen),
            row.equipment_kind,
            row.canner_kind,
            row.minutes,
            within,
            limit,
            now,
            ahead_minutes=0,
            avoiding=declined,
        ).options
    wanted = _wanted(session, row, kitchen)
    found = whole_batches.starts(session, _as(row, kitchen), wanted, within, limit, now, declined)
    return () if isinstance(found, Refused) else found.options


def _piece(
    session: Session,
    row: Waiting,
    kitchen: Kitchen,
    equipment_id: UUID,
    time: tuple[datetime, datetime],
    now: datetime,
) -> Booked | Refused:
    wish = piece_bookings.Wish(equipment_id, *time)
    booked = single_pieces.book(session, _as(row, kitchen), row.member_id, wish, now, ahead_minutes=0)
    assert booked  # equipment is never taken away
    return booked


def _batch(
    session: Session, row: Waiting, kitchen: Kitchen, claims: Sequence[Claim], now: datetime
) -> Booked | Refused:
    return whole_batches.book(
        session,
        _as(row, kitchen),
        _wanted(session, row, kitchen),
        claims,
        row.member_id,
        now,
        ahead_minutes=0,
        acknowledged=row.acknowledged,
    )


def _wanted(session: Session, row: Waiting, kitchen: Kitchen) -> whole_batches.Batch:
    assert row.recipe_id
    assert row.revision
    wanted = whole_batches.batch(session, _as(row, kitchen), row.recipe_id, row.revision, row.jars)
    assert wanted  # revisions are never taken away
    return wanted


def _as(row: Waiting, kitchen: Kitchen) -> Caller:
    """Somebody who waits, as if they asked themselves."""
    return Caller(row.member_id, "", Role.MEMBER, kitchen, NOBODY)
