"""Equipment and what occupies it, as those see it who look for free time."""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import accumulate, pairwise
from uuid import UUID

from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.spans import Span

GRID_MINUTES = 5
MOST_LANES = 2000


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
    TOO_SHORT = "time-too-short"


@dataclass(frozen=True, slots=True)
class Lanes:
    """A range of a resource's lanes, half-open: a canner has one lane, a rack one for each jar place."""

    low: int
    high: int


NO_LANE = Lanes(MOST_LANES, MOST_LANES + 1)  # beyond those of any resource


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
    in_service: bool = True
    busy: tuple[Busy, ...] = ()

    def free_lanes(self, span: Span) -> tuple[int, ...]:
        """The lanes that are free throughout, lowest first."""
        taken = {
            lane
            for busy in self.busy
            if busy.span.overlaps(span)
            for lane in range(busy.lanes.low, min(busy.lanes.high, self.lanes))
        }
        return tuple(lane for lane in range(self.lanes) if lane not in taken)

    def spare(self, span: Span) -> int:
        """How many lanes are free in the fullest minute, whichever they are."""
        if not self.in_service:
            return 0
        return self.lanes - max((taken for time, taken in levels(self) if time.overlaps(span)), default=0)


def shut_lanes(kind: EquipmentKind, lanes: int) -> Lanes:
    """What a closure takes of a piece: all of it, but no place of a rack, where jars rest while nobody is there."""
    return NO_LANE if kind is EquipmentKind.RACK else Lanes(0, lanes)


def levels(resource: Resource) -> Iterator[tuple[Span, int]]:
    """From one change to the next, how many lanes are taken; in order, without the times at which none is."""
    changes: dict[int, int] = {}
    for busy in resource.busy:
        lanes = min(busy.lanes.high, resource.lanes) - min(busy.lanes.low, resource.lanes)
        changes[busy.span.starts_min] = changes.get(busy.span.starts_min, 0) + lanes
        changes[busy.span.ends_min] = changes.get(busy.span.ends_min, 0) - lanes
    edges = sorted(changes)
    taken = accumulate(changes[edge] for edge in edges)
    for (low, high), lanes in zip(pairwise(edges), taken, strict=False):
        if lanes:
            yield Span(low, high), lanes


def laid(resource: Resource, lanes: int, span: Span) -> tuple[Busy, ...]:
    """So many lanes of a resource that has them to spare.

    If no such lanes are free throughout, one range after another is taken: places on a rack differ in nothing.
    """
    edges = {edge for busy in resource.busy for edge in (busy.span.starts_min, busy.span.ends_min)}
    cuts = [span.starts_min, *sorted(edge for edge in edges if span.starts_min < edge < span.ends_min), span.ends_min]
    whole = len(resource.free_lanes(span)) >= lanes
    times = [span] if whole else [Span(low, high) for low, high in pairwise(cuts)]
    return tuple(
        Busy(time, each, Kind.BOOKING) for time in times for each in _ranges(resource.free_lanes(time)[:lanes])
    )


def whole(span: Span) -> tuple[Busy, ...]:
    """The whole of a piece of equipment that has one lane."""
    return (Busy(span, Lanes(0, 1), Kind.BOOKING),)


def _ranges(numbers: tuple[int, ...]) -> tuple[Lanes, ...]:
    """Neighbouring lanes as one range each."""
    breaks = [0, *(place + 1 for place, (one, next_one) in enumerate(pairwise(numbers)) if next_one != one + 1)]
    ends = [*breaks[1:], len(numbers)]
    return tuple(Lanes(numbers[low], numbers[high - 1] + 1) for low, high in zip(breaks, ends, strict=True))
