"""What has to be known to find times for a single piece of equipment and to book one."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bookings import whole_batches
from service.core.refusals import Refused
from service.core.scheduling import hours, piece_bookings
from service.core.scheduling.bookings import Booked
from service.core.scheduling.chain_slots import Kitchen
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.searches import Found
from service.core.scheduling.spans import Span, union, without
from service.equipment import store as equipment
from service.equipment.tables import Equipment
from service.web.callers import Caller


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
    rows = _with_burners(wanted, everything)
    cook = whole_batches.cook(session, caller, caller.id, [within])
    known = _kitchen(session, caller, rows, [within], now)
    known = replace(known, open_spans=without(known.open_spans, avoiding))
    options = piece_bookings.options(known, cook, ids, minutes, within, limit)
    if options:
        return Found(options, ())
    later = [Span(within.starts_min, within.ends_min + ahead_minutes)]
    known, cook = _kitchen(session, caller, rows, later, now), whole_batches.cook(session, caller, caller.id, later)
    return Found((), piece_bookings.blocked(known, cook, ids, minutes, within, ahead_minutes))


def book(
    session: Session, caller: Caller, cook_id: UUID, wish: piece_bookings.Wish, now: datetime, ahead_minutes: int
) -> Booked | Refused | None:
    """What a booking of one piece claims; `None` if the kitchen has no such piece."""
    row = equipment.piece(session, caller.kitchen_id, wish.equipment_id)
    if row is None:
        return None
    rows = _with_burners([row], equipment.equipment(session, caller.kitchen_id))
    windows = wish.windows(now, ahead_minutes)
    known, cook = _kitchen(session, caller, rows, windows, now), whole_batches.cook(session, caller, cook_id, windows)
    return piece_bookings.book(wish, known, cook, now, ahead_minutes)


def _with_burners(wanted: Sequence[Equipment], everything: Sequence[Equipment]) -> list[Equipment]:
    """The wanted pieces, and all burners if one of them takes one along."""
    burners = [row for row in everything if row.kind is EquipmentKind.BURNER and row not in wanted]
    return [*wanted, *burners] if any(row.needs_burner for row in wanted) else list(wanted)


def _kitchen(
    session: Session, caller: Caller, rows: Sequence[Equipment], windows: Sequence[Span], now: datetime
) -> Kitchen:
    week, _ = equipment.week(session, caller.kitchen_id)
    zone = ZoneInfo(caller.kitchen.time_zone)
    return Kitchen(
        equipment.as_pieces(session, rows, windows, now=now),
        union(span for window in windows for span in hours.open_spans(week, zone, window)),
    )
