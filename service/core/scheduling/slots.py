"""Finding free time: when a piece of equipment could be had for so many minutes, and what stands in the way if not."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from heapq import merge
from itertools import islice
from uuid import UUID

from service.core.scheduling.spans import Span, common, covered, union, without

GRID_MINUTES = 5


class Kind(StrEnum):
    """What occupies a piece of equipment."""

    BOOKING = "booking"
    HOLD = "hold"
    CLOSURE = "closure"
    OUTAGE = "outage"


class Obstacle(StrEnum):
    """What can stand in the way."""

    CLOSED = "kitchen-closed"
    OUT_OF_SERVICE = "out-of-service"
    TAKEN = "slot-taken"
    NO_BURNER = "no-burner-free"
    SIGN_OFF = "sign-off-missing"
    HANDS = "member-busy"
    NONE_HERE = "none-here"


@dataclass(frozen=True, slots=True)
class Lanes:
    """A range of a resource's lanes, half-open: a canner has one lane, a rack one for each jar place."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Busy:
    span: Span
    lanes: Lanes
    kind: Kind
    booking_id: UUID | None = None
    movable: bool = False  # the booking may get an identical unit instead


@dataclass(frozen=True, slots=True)
class Resource:
    """A piece of equipment as the finder sees it."""

    equipment_id: UUID
    lanes: int = 1
    needs_lanes: int = 1
    in_service: bool = True
    busy: tuple[Busy, ...] = ()
    companions: "tuple[Resource, ...] | None" = None  # one of these has to be free as well

    def free_lanes(self, span: Span) -> tuple[int, ...]:
        """The lanes this needs, lowest first, that are free throughout; empty if there are too few."""
        taken = {
            lane
            for busy in self.busy
            if busy.span.overlaps(span)
            for lane in range(busy.lanes.low, min(busy.lanes.high, self.lanes))
        }
        free = tuple(islice((lane for lane in range(self.lanes) if lane not in taken), self.needs_lanes))
        return free if self.in_service and len(free) == self.needs_lanes else ()


@dataclass(frozen=True, slots=True, order=True)
class Slot:
    starts_min: int
    ends_min: int
    equipment_id: UUID


def openings(places: Iterable[tuple[Resource, tuple[Span, ...]]], minutes: int, limit: int) -> tuple[Slot, ...]:
    """The first slots of this length on the five-minute grid, earliest first; each may be booked as it stands.

    Each resource comes with the spans it may be used in.
    """
    return tuple(islice(merge(*(_slots(resource, usable, minutes) for resource, usable in places)), limit))


def next_free_min(resource: Resource, open_spans: tuple[Span, ...], minutes: int) -> int | None:
    first = next(_slots(resource, open_spans, minutes), None)
    return first.starts_min if first else None


def in_the_way(resource: Resource, open_spans: tuple[Span, ...], minutes: int) -> Obstacle | None:
    """The first thing that leaves no time of this length: the hours, a closure, an outage, a booking, no burner."""

    def fits(kinds: set[Kind]) -> bool:
        alone = replace(resource, busy=tuple(busy for busy in resource.busy if busy.kind in kinds), companions=None)
        return bool(_starts(alone, open_spans, minutes))

    if not resource.in_service:
        return Obstacle.OUT_OF_SERVICE
    if not fits({Kind.CLOSURE}):
        return Obstacle.CLOSED
    if not fits({Kind.CLOSURE, Kind.OUTAGE}):
        return Obstacle.OUT_OF_SERVICE
    if not fits(set(Kind)):
        return Obstacle.TAKEN
    return None if _starts(resource, open_spans, minutes) else Obstacle.NO_BURNER


def _slots(resource: Resource, open_spans: tuple[Span, ...], minutes: int) -> Iterator[Slot]:
    for starts in _starts(resource, open_spans, minutes):
        on_grid = -(-starts.starts_min // GRID_MINUTES) * GRID_MINUTES
        for starts_min in range(on_grid, starts.ends_min, GRID_MINUTES):
            yield Slot(starts_min, starts_min + minutes, resource.equipment_id)


def _starts(resource: Resource, open_spans: tuple[Span, ...], minutes: int) -> tuple[Span, ...]:
    """Every minute at which a stay of this length could begin."""
    if not resource.in_service:
        return ()
    by_lane = (
        Span(gap.starts_min, gap.ends_min - minutes + 1)
        for lane in range(resource.lanes)
        for gap in without(
            open_spans, (busy.span for busy in resource.busy if busy.lanes.low <= lane < busy.lanes.high)
        )
        if gap.minutes >= minutes
    )
    own = covered(by_lane, by_at_least=resource.needs_lanes)
    if resource.companions is None:
        return own
    theirs = (start for companion in resource.companions for start in _starts(companion, open_spans, minutes))
    return common(own, union(theirs))
