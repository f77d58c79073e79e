"""What is asked of a plan, and what it says: batches, and batches with a place."""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from service.core.scheduling.bookings import Claim
from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.chains import Chain, Placed
from service.core.scheduling.spans import Span


@dataclass(frozen=True, slots=True)
class Batch:
    """A batch that wants a place: whose it is, the loads it may be made in, and when its jars are due."""

    id: UUID
    member_id: UUID
    chains: tuple[Chain, ...]
    release_min: int
    due_min: int
    weight: int = 1


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
    def late_minutes(self) -> int:
        return max(0, self.out_min - self.batch.due_min)


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be planned: batches in the order of asking, with all their work within a time."""

    kitchen: Kitchen
    cooks: Mapping[UUID, Cook]
    within: Span
    batches: tuple[Batch, ...]
