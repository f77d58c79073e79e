"""Closing the kitchen for a time: who was to work then loses their booking, and jars at rest stay where they are."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from itertools import groupby
from uuid import UUID

from sqlalchemy import and_, or_
from sqlmodel import Session, col, select

from service.bookings import store, whole_batches
from service.bookings.store import Displaced
from service.bookings.tables import Booking, Claim
from service.bookings.waiting import store as waiting
from service.core.scheduling import resting
from service.core.scheduling.bookings import LONGEST, Status, Step
from service.core.scheduling.chain_slots import REST_AHEAD_MINUTES
from service.core.scheduling.chains import left_min
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Busy, Kind, Resource
from service.core.scheduling.spans import Span, at_minute, minute_of, pieces
from service.equipment import store as equipment
from service.equipment.tables import MOST_MINUTES, Equipment, Occupancy
from service.members import store as members
from service.web.callers import Caller


def close(session: Session, caller: Caller, span: Span, reason: str, now: datetime) -> tuple[Displaced, ...]:
    """Let a closure that was entered take effect; what is answered are the bookings it displaces."""
    because = f"The kitchen is closed: {reason}"
    rows = equipment.equipment(session, caller.kitchen_id)
    racks = [row.number for row in rows if row.kind is EquipmentKind.RACK]
    worked_at = [row.number for row in rows if row.kind is not EquipmentKind.RACK]
    waiting.withdraw(session, [*worked_at, *racks], span, now)
    at_work = and_(*equipment.meets(worked_at, span))
    by_itself = and_(*equipment.meets(racks, span), col(Occupancy.unit_fixed))  # a rack that isn't a batch's
    lost = store.displace_holders(session, or_(at_work, by_itself), because, now)
    equipment.lay_blocks(session, rows, span.starts_min)
    homeless = _rest_on(session, caller, rows, span, because, now)
    lost += store.displace_holders(session, col(Occupancy.booking_id).in_(homeless), because, now)
    return tuple(sorted(lost, key=lambda each: (each.booking.starts_at, each.booking.id)))


def _rest_on(
    session: Session, caller: Caller, rows: Sequence[Equipment], span: Span, because: str, now: datetime
) -> list[UUID]:
    """Let jars stay that were to leave their rack within the span; the bookings of those that can't."""
    known = Span(span.starts_min - REST_AHEAD_MINUTES, span.ends_min + REST_AHEAD_MINUTES)
    kitchen = whole_batches.kitchen(session, caller, [known], now)
    opens_min = left_min(span.starts_min, kitchen.usable_spans)
    racks = {piece.resource.equipment_id: piece.resource for piece in kitchen.pieces}
    numbers = {row.id: row.number for row in rows}
    homeless = []
    for booking, claims in _leaving(session, caller.kitchen_id, span):
        longer = _longer(racks, booking, claims, opens_min)
        if longer is None or opens_min is None:
            homeless.append(booking.id)
            continue
        for rack, stays in longer.items():
            racks[rack] = replace(racks[rack], busy=(*racks[rack].busy, *stays))
            number = numbers[rack]
            assert number is not None
            for stay in stays:
                for part in pieces(stay.span, MOST_MINUTES):
                    equipment.occupy(session, number, stay.lanes, part, Kind.BOOKING, booking.id, unit_fixed=False)
        for claim in claims:
            claim.ends_at = at_minute(opens_min)
        booking.ends_at = max(booking.ends_at, at_minute(opens_min))
        session.add_all([booking, *claims])
        message = f"{because}. Your jars stay on their rack until it opens again."
        members.tell(session, booking.member_id, message, now, booking_id=booking.id)
    session.flush()
    return homeless


def _leaving(session: Session, kitchen_id: UUID, span: Span) -> Iterator[tuple[Booking, list[Claim]]]:
    """Batches with jars that were to leave a rack within the span, and those stays."""
    query = (
        select(Booking, Claim)
        .join(Claim, col(Claim.booking_id) == col(Booking.id))
        .where(
            Booking.kitchen_id == kitchen_id,
            Booking.status == Status.CONFIRMED,
            store.ends_after(at_minute(span.starts_min - 1)),
            col(Booking.starts_at) < at_minute(span.ends_min),
            Claim.step == Step.REST,
            ~col(Claim.unit_fixed),
            col(Claim.ends_at) >= at_minute(span.starts_min),
            col(Claim.ends_at) < at_minute(span.ends_min),
        )
        .order_by(col(Booking.starts_at), col(Booking.id), col(Claim.place))
    )
    for _, found in groupby(session.exec(query).all(), key=lambda row: row[0].id):
        booked = list(found)
        yield booked[0][0], [claim for _, claim in booked]


def _longer(
    racks: Mapping[UUID, Resource], booking: Booking, claims: Iterable[Claim], opens_min: int | None
) -> dict[UUID, tuple[Busy, ...]] | None:
    """What a batch holds of each rack until the kitchen opens; None if it can't, or that is too late."""
    if opens_min is None or at_minute(opens_min) - booking.starts_at > LONGEST:
        return None
    found: dict[UUID, tuple[Busy, ...]] = {}
    for rack, ready_at in dict.fromkeys((claim.equipment_id, claim.ends_at) for claim in claims):
        here = replace(racks[rack], busy=(*racks[rack].busy, *found.get(rack, ())))
        stays = resting.longer(here, booking.id, minute_of(ready_at), opens_min)
        if stays is None:
            return None
        found[rack] = (*found.get(rack, ()), *stays)
    return found
