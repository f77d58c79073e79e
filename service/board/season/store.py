"""Reading how canners are used."""

from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.core.scheduling import hours
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Kind
from service.core.scheduling.spans import Span, common, without
from service.equipment import store as equipment


def canner_use(
    session: Session, kitchen_id: UUID, zone: ZoneInfo, within: Span
) -> tuple[int, list[Span], tuple[Span, ...]]:
    """How many canners there are, when each was booked, and when the kitchen was open, by its hours of today."""
    rows = [row for row in equipment.equipment(session, kitchen_id) if row.kind is EquipmentKind.CANNER]
    busy = [each for found in equipment.busy(session, rows, [within]).values() for each in found]
    booked = [span for each in busy if each.kind is Kind.BOOKING for span in common((each.span,), (within,))]
    closures = [each.span for each in busy if each.kind is Kind.CLOSURE]
    week, _ = equipment.week(session, kitchen_id)
    return len(rows), booked, without(hours.open_spans(week, zone, within), closures)
