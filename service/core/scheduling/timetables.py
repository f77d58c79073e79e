"""What is asked of a plan, and what it says: batches, and batches with a place."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from service.core.scheduling.bookings import Claim
from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.chains import Chain, Placed
from service.core.scheduling.fair_use import Shares
from service.core.scheduling.overruns import Begun
from service.core.scheduling.spans import Span


class Goal(StrEnum):
    """What a plan makes small, the weightiest first; in minutes, but for promises."""

    LATENESS = "lateness"  # of jars lifted out after they were due, by the batch's weight: fruit spoils
    MOVED = "moved-promises"  # batches that were promised another time; only where any was promised one
    SHIFT = "minutes-moved"  # between the promised start and the new one, of all that move
    WORST_OFF = "worst-off-member"  # the lateness of the member who has most of it
    MAKESPAN = "makespan"  # from the first opening until the last canner is free
    IDLE = "idle-canners"  # canners that stand about between two loads of a day


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch that wants a place: whose it is, the loads it may be made in, and when its jars are due.

    One that was promised a time keeps it if it can, and the units of that promise.
    """

    id: UUID
    member_id: UUID
    chains: tuple[Chain, ...]
    release_min: int
    due_min: int  # LAST_MINUTE: nobody said
    weight: int = 1
    promised: Placed | None = None
    promised_units: tuple[UUID, ...] = ()  # for each of its needs


@dataclass(frozen=True, slots=True)
class Timed:
    """A batch with a place, and a unit for everything it needs."""

    batch: Batch
    chain: Chain
    placed: Placed
    claims: tuple[Claim, ...]

    @property
    def out_min(self) -> int:
        """When its last jars are lifted out."""
        return self.chain.hands_minutes + max(
            at.in_min + load.cycles[at.kind].out_after_minutes
            for load, at in zip(self.chain.loads, self.placed.loads, strict=True)
        )

    @property
    def free_min(self) -> int:
        """When the last of its canners is free again."""
        return max(
            at.in_min + load.cycles[at.kind].free_after_minutes
            for load, at in zip(self.chain.loads, self.placed.loads, strict=True)
        )

    @property
    def moved(self) -> bool:
        return self.batch.promised is not None and self.placed != self.batch.promised

    @property
    def shift_minutes(self) -> int:
        """How far its start is from the promised one."""
        return abs(self.placed.prep_min - self.batch.promised.prep_min) if self.batch.promised else 0

    @property
    def late_minutes(self) -> int:
        return max(0, self.out_min - self.batch.due_min)


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be planned: batches in the order of asking, with all their work within a time.

    Batches that have begun are in the kitchen already, for as long as they take.
    """

    kitchen: Kitchen
    cooks: Mapping[UUID, Cook]
    within: Span
    batches: tuple[Batch, ...]
    begun: tuple[Begun, ...] = ()
    shares: Shares | None = None  # None: nobody's share is limited

    @property
    def goals(self) -> tuple[Goal, ...]:
        promised = any(batch.promised for batch in self.batches)
        return tuple(goal for goal in Goal if goal not in (Goal.MOVED, Goal.SHIFT) or promised)
