"""What has to be known to find times for a single piece of equipment and to book one."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bookings import store, whole_batches
from service.core.refusals import Refused
from service.core.scheduling import hours, piece_bookings
from service.core.scheduling.bookings import Booked
from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.equipment import PRESSURE_KINDS, CannerKind, EquipmentKind
from service.core.scheduling.piece_slots import HANDLED
from service.core.scheduling.searches import Found
from service.core.scheduling.spans import MINUTES_PER_DAY, Span, without
from service.equipment import store as equipment
from service.equipment.store import Unit
from service.equipment.tables import Equipment
from service.web.callers import Caller

FIRST_DAYS_MINUTES = 2 * MINUTES_PER_DAY  # what is taken is nearly always free again within them


def search(
    session: Session,
    caller: Caller,
    kind: EquipmentKind,
    canner_kind: CannerKind | None,
    minutes: int,
    within: Span,
    limit: int,
    now: datetime,
    ahead_minutes: int,
    avoiding: Sequence[Span] = (),
) -> Found:
    """The first times on any piece of a kind, or what is in the way of each; none that meets what is avoided."""
    everything = equipment.equipment(session, caller.kitchen_id)
    wanted = [row for row in everything if row.kind is kind and canner_kind in (None, row.canner_kind)]
    ids = {row.id for row in wanted}
    rows, week = _with_burners(wanted, everything), equipment.openings(session, caller.kitchen_id)
    cook = whole_batches.cook(session, caller, caller.id, [within])
    known = _kitchen(session, caller, rows, week, within, now)
    known = replace(known, open_spans=without(known.open_spans, avoiding))
    options = piece_bookings.options(known, cook, ids, minutes, within, limit)
    if options:
        return Found(options, ())
    later = Span(within.starts_min, within.ends_min + ahead_minutes)
    known = _kitchen(session, caller, rows, week, later, now)
    cook = whole_batches.cook(session, caller, caller.id, [later])
    return Found((), piece_bookings.blocked(known, cook, ids, minutes, within, ahead_minutes))


def book(
    session: Session, caller: Caller, cook_id: UUID, wish: piece_bookings.Wish, now: datetime, ahead_minutes: int
) -> Booked | Refused | None:
    """What a booking of one piece claims; `None` if the kitchen has no such piece."""
    found = equipment.with_burners(session, caller.kitchen_id, wish.equipment_id)
    own = [row for row in found if row.id == wish.equipment_id]
    if not own:
        return None
    rows, week = _with_burners(own, found), equipment.openings(session, caller.kitchen_id)
    known = _kitchen(session, caller, rows, week, wish.decided_within, now)
    cook = Cook()
    if own[0].canner_kind in PRESSURE_KINDS:
        cook = Cook(trained_until_min=whole_batches.trained_until_min(session, caller, cook_id))
    booked = piece_bookings.book(wish, known, cook, now)
    if isinstance(booked, Booked):
        return booked
    within = wish.offered_within(now, ahead_minutes)
    first_days_min = min(within.starts_min + FIRST_DAYS_MINUTES, within.ends_min)
    next_free_at = None
    for ends_min in dict.fromkeys((first_days_min, within.ends_min)) if ahead_minutes else ():
        looked_at = Span(within.starts_min, ends_min)
        known = _kitchen(session, caller, rows, week, looked_at, now)
        hands = store.hands_of(session, cook_id, [looked_at]) if own[0].kind in HANDLED else ()
        next_free_at = piece_bookings.next_free_at(wish, known, Cook(hands), looked_at)
        if next_free_at:
            break
    return replace(booked, extra={**booked.extra, "next_free_at": next_free_at})


def _with_burners(wanted: Sequence[Equipment | Unit], everything: Sequence[Equipment | Unit]) -> list[Equipment | Unit]:
    """The wanted pieces, and all burners if one of them takes one along."""
    burners = [row for row in everything if row.kind is EquipmentKind.BURNER and row not in wanted]
    return [*wanted, *burners] if any(row.needs_burner for row in wanted) else list(wanted)


def _kitchen(
    session: Session, caller: Caller, rows: Sequence[Equipment | Unit], week: hours.Week, window: Span, now: datetime
) -> Kitchen:
    return Kitchen(
        equipment.as_pieces(session, rows, [window], now=now),
        hours.open_spans(week, ZoneInfo(caller.kitchen.time_zone), window),
    )
