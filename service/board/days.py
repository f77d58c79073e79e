"""A day of the kitchen as everybody in it may see it: what is free, what is taken, and what of that is one's own."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from uuid import UUID

from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.piece_bookings import options
from service.core.scheduling.slots import Busy, Kind, Lanes, Resource
from service.core.scheduling.spans import LAST_MINUTE, Span, common, minute_of, union, without

ORDER = (EquipmentKind.CANNER, EquipmentKind.BURNER, EquipmentKind.TABLE, EquipmentKind.RACK)
AN_HOUR = 60


class Shown(StrEnum):
    """What a stay is called on the board, where nobody's name and nobody's food stands."""

    YOURS = "yours"
    BOOKED = "booked"
    KEPT = "kept for somebody"
    OUT = "out of service"
    CLOSED = "closed"


SHOWN = {
    Kind.BOOKING: Shown.BOOKED,
    Kind.HOLD: Shown.KEPT,
    Kind.OUTAGE: Shown.OUT,
}


@dataclass(frozen=True, slots=True)
class Stay:
    """Why some lanes of a piece of equipment aren't free for a while; `title` is of one's own bookings only."""

    span: Span
    lanes: Lanes
    shown: Shown
    title: str | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One piece of equipment and its day."""

    equipment_id: UUID
    name: str
    kind: EquipmentKind
    canner_kind: CannerKind | None
    resource: Resource
    stays: tuple[Stay, ...]

    @property
    def places(self) -> int:
        return self.resource.lanes

    def free_places(self, minute: int) -> int:
        """How many lanes are free in a minute."""
        taken = {
            lane
            for stay in self.stays
            if stay.span.starts_min <= minute < stay.span.ends_min
            for lane in range(stay.lanes.low, min(stay.lanes.high, self.places))
        }
        return self.places - len(taken) if self.resource.in_service else 0

    def changes_min(self, minute: int) -> int | None:
        """When something first begins on it after a minute: until then it is as free as it is now."""
        return min((stay.span.starts_min for stay in self.stays if stay.span.starts_min > minute), default=None)


@dataclass(frozen=True, slots=True)
class Day:
    """A local day; `opens` holds nothing where the kitchen stays closed."""

    on: date
    whole: Span
    opens: tuple[Span, ...]
    lines: tuple[Line, ...]
    kitchen: Kitchen

    @property
    def window(self) -> Span | None:
        """From the first opening to the last closing."""
        return Span(self.opens[0].starts_min, self.opens[-1].ends_min) if self.opens else None

    def closes_min(self, minute: int) -> int | None:
        """When the kitchen closes next, if it is open."""
        return next((span.ends_min for span in self.opens if span.starts_min <= minute < span.ends_min), None)

    def opens_min(self, minute: int) -> int | None:
        """When the kitchen opens next on this day."""
        return next((span.starts_min for span in self.opens if span.starts_min > minute), None)

    def of(self, kind: EquipmentKind) -> tuple[Line, ...]:
        return tuple(line for line in self.lines if line.kind is kind)

    @property
    def booked_minutes(self) -> int:
        """Minutes in which canners are booked."""
        return sum(
            span.minutes
            for line in self.of(EquipmentKind.CANNER)
            for span in common(
                union(stay.span for stay in line.stays if stay.shown in (Shown.BOOKED, Shown.YOURS)), (self.whole,)
            )
        )

    def first_free(self, kind: CannerKind, from_min: int) -> tuple[int, str] | None:
        """The first minute from which a canner of a kind is free for an hour, and its name; for whoever may run it."""
        names = {line.equipment_id: line.name for line in self.lines if line.canner_kind is kind}
        within = Span(max(self.whole.starts_min, from_min), self.whole.ends_min)
        if within.minutes <= 0:
            return None
        found = options(self.kitchen, Cook((), LAST_MINUTE), names.keys(), AN_HOUR, within, 1)
        return next(((minute_of(each.starts_at), names[each.claims[0].equipment_id]) for each in found), None)


def stays(resource: Resource, opens: Iterable[Span], whole: Span, own: Mapping[UUID, str]) -> tuple[Stay, ...]:
    """What stands in the way of a piece of equipment on a day, in order; `own` has the titles of one's bookings.

    `opens` are the hours without the closures.
    """
    everything = Lanes(0, resource.lanes)
    if not resource.in_service:
        return (Stay(whole, everything, Shown.OUT),)
    found = [_stay(busy, own) for busy in resource.busy if busy.kind in SHOWN and busy.span.overlaps(whole)]
    shut = without((whole,), (*opens, *(stay.span for stay in found if stay.shown is Shown.OUT)))
    found += [Stay(span, everything, Shown.CLOSED) for span in shut]
    return tuple(sorted(found, key=lambda stay: (stay.span, stay.lanes.low)))


def _stay(busy: Busy, own: Mapping[UUID, str]) -> Stay:
    title = own.get(busy.booking_id) if busy.booking_id else None
    return Stay(busy.span, busy.lanes, Shown.YOURS if title is not None else SHOWN[busy.kind], title)
