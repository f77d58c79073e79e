"""What a booking is: its claims, what they occupy, and when they take the member's own hands."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.equipment import PRESSURE_KINDS, CannerKind, EquipmentKind
from service.core.scheduling.slots import Busy, Resource
from service.core.scheduling.spans import Span

# More than any batch takes with its rest; whoever looks for what ends after a moment needn't look further back.
LONGEST = timedelta(days=14)


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


def too_long(claims: Collection[Claim]) -> Refused | None:
    """Why these claims can't be one booking, if they can't."""
    if max(claim.ends_at for claim in claims) - min(claim.starts_at for claim in claims) > LONGEST:
        return Refused("not-possible", f"A booking lasts at most {LONGEST.days} days.")
    return None


def cancellation(status: Status) -> Refused | None:
    """Why a booking can't be cancelled any more, if it can't."""
    if status is Status.CANCELLED:
        return Refused("already-cancelled", "This booking was cancelled before.")
    if status is Status.DONE:
        return Refused("not-now", "What was booked has been done.")
    return None
