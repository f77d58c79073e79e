"""What a booking is: its claims, what they occupy, and when they take the member's own hands."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.equipment import PRESSURE_KINDS, CannerKind, EquipmentKind
from service.core.scheduling.slots import Busy, Resource
from service.core.scheduling.spans import Span


class Status(StrEnum):
    """What became of a booking. Only a confirmed one holds equipment, and a done one what is left of its time."""

    CONFIRMED = "confirmed"
    DISPLACED = "displaced"
    CANCELLED = "cancelled"
    DONE = "done"


class Step(StrEnum):
    """What a batch does with the equipment."""

    PREP = "prep"
    COOK = "cook"
    FILL = "fill"
    PROCESS = "process"
    REST = "rest"


STEP_OF = {  # of a piece that is booked alone
    EquipmentKind.TABLE: Step.PREP,
    EquipmentKind.BURNER: Step.COOK,
    EquipmentKind.CANNER: Step.PROCESS,
    EquipmentKind.RACK: Step.REST,
}


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of equipment with all that occupies it near the wished time."""

    resource: Resource
    kind: EquipmentKind
    canner_kind: CannerKind | None = None
    capacity: Mapping[str, int] | None = None  # jars of each size one load of the canner holds
    needs_burner: bool = False  # booked alone, it takes one along

    @property
    def needs_training(self) -> bool:
        return self.canner_kind in PRESSURE_KINDS

    def does_as(self, other: "Piece") -> bool:
        """Whether a batch may have this piece instead of the other."""
        return (self.kind, self.canner_kind, self.capacity) == (other.kind, other.canner_kind, other.capacity)


@dataclass(frozen=True, slots=True)
class Standing:
    """What the check of a recipe's revision said."""

    verdict: str
    severities: tuple[str, ...] = ()

    def allows_canning(self, *, acknowledged: bool) -> bool:
        """Ready; or only its quality may suffer, and the member says they know."""
        return self.verdict == "ready" or (acknowledged and set(self.severities) == {"quality"})


@dataclass(frozen=True, slots=True)
class Claim:
    step: Step
    equipment_id: UUID
    unit_fixed: bool  # False: an identical piece may be given instead until the day begins
    starts_at: datetime
    ends_at: datetime
    attended: bool
    places: tuple[Busy, ...]


@dataclass(frozen=True, slots=True)
class Move:
    """A stay of another booking that gets an identical unit, to make room."""

    booking_id: UUID
    span: Span
    from_id: UUID
    to_id: UUID


@dataclass(frozen=True, slots=True)
class Booked:
    """What a booking claims, when it takes the member's own hands, and what has to move for it."""

    claims: tuple[Claim, ...]
    hands: tuple[Span, ...]
    moves: tuple[Move, ...] = ()


def cancellation(status: Status) -> Refused | None:
    """Why a booking can't be cancelled any more, if it can't."""
    if status is Status.CANCELLED:
        return Refused("already-cancelled", "This booking was cancelled before.")
    if status is Status.DONE:
        return Refused("not-now", "What was booked has been done.")
    return None
<<<<<<< HEAD
=======


def _misshapen(wish: Wish, now: datetime) -> Refused | None:
    if wish.ends_at <= wish.starts_at:
        return Refused("ends-before-start", "A booking has to end after it starts.")
    if at_minute(wish.span.starts_min) != wish.starts_at or at_minute(wish.span.ends_min) != wish.ends_at:
        return Refused("not-possible", "Bookings start and end on whole minutes.")
    if wish.span.minutes > MOST_HOURS * 60:
        return Refused("not-possible", f"A booking lasts at most {MOST_HOURS} hours.")
    if wish.span.starts_min < minute_of(now) and not wish.in_the_past_too:
        return Refused("in-the-past", "This time has already begun; only a coordinator can enter it afterwards.")
    return None


def _unfit(wish: Wish, piece: Piece) -> Refused | None:
    """What speaks against these jars, this recipe or this member on this equipment at any time."""
    if wish.standing is not None and not wish.standing.allows_canning(acknowledged=wish.acknowledged):
        return Refused("not-ready", "The check of this revision doesn't say that it is ready to be canned.")
    if not wish.jars.keys() <= JAR_ML.keys():
        return Refused("not-possible", f"The jar sizes known here: {', '.join(JAR_ML)}.")
    if piece.kind is EquipmentKind.CANNER and not wish.jars.keys() <= (piece.capacity or {}).keys():
        return Refused("does-not-fit", "This canner doesn't take jars of that size.")
    if piece.kind is EquipmentKind.RACK and sum(wish.jars.values()) > piece.resource.lanes:
        return Refused("does-not-fit", "The rack has fewer places than there are jars.")
    if piece.needs_training and not wish.signed_off:
        return Refused("sign-off-missing", "A pressure canner needs a trainer's sign-off that is valid on that day.")
    return None


def _taken(wish: Wish, resource: Resource, open_spans: tuple[Span, ...]) -> Refused | None:
    obstacle = in_the_way(resource, common(open_spans, (wish.span,)), wish.span.minutes)
    return _REFUSALS[obstacle] if obstacle else None


def _with_places(piece: Piece, jars: Mapping[str, int]) -> Resource:
    """A rack gives a place to each jar; without a count, and for any other equipment, the whole of it is taken."""
    by_the_jar = piece.kind is EquipmentKind.RACK and 0 < sum(jars.values()) <= piece.resource.lanes
    return replace(piece.resource, needs_lanes=sum(jars.values()) if by_the_jar else piece.resource.lanes)


def _claim(resource: Resource, step: Step, wish: Wish, *, unit_fixed: bool, attended: bool) -> Claim:
    places = tuple(Busy(wish.span, lanes, Kind.BOOKING) for lanes in ranges(resource.free_lanes(wish.span)))
    return Claim(step, resource.equipment_id, unit_fixed, wish.starts_at, wish.ends_at, attended, places)


def ranges(numbers: tuple[int, ...]) -> tuple[Lanes, ...]:
    """Neighbouring lanes as one range each."""
    if not numbers:
        return ()
    breaks = [0, *(place + 1 for place, (one, next_one) in enumerate(pairwise(numbers)) if next_one != one + 1)]
    ends = [*breaks[1:], len(numbers)]
    return tuple(Lanes(numbers[low], numbers[high - 1] + 1) for low, high in zip(breaks, ends, strict=True))
>>>>>>> 1450150 (A batch that runs over holds its equipment longer, and what has begun makes way for it; few others move, each for a reason)
