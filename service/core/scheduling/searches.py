"""Answering "when could I have one of these?"."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.bookings import Claim
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Obstacle
from service.core.scheduling.spans import Span, around

LONGEST_SEARCH = timedelta(days=92)
USUAL_SEARCH = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Option:
    """A time at which everything is free, with what a booking of it would claim."""

    starts_at: datetime
    ends_at: datetime
    claims: tuple[Claim, ...]


@dataclass(frozen=True, slots=True)
class Blocked:
    """What stands in the way, of one piece or of every piece of a kind, and when first nothing does any more."""

    equipment_id: UUID | None  # None: the kitchen has nothing of that kind, or any of its kind would do
    obstacle: Obstacle
    next_free_at: datetime | None
    equipment_kind: EquipmentKind | None = None  # None: it isn't a matter of equipment


@dataclass(frozen=True, slots=True)
class CutShort:
    """How far a search came that took too long: between its options there may be others."""

    looked_until: datetime | None  # starts from then on weren't looked at; None: as far as was asked
    undecided_starts: int  # of those before, so many were given up


@dataclass(frozen=True, slots=True)
class Found:
    """Options, earliest first; if there are none, what each piece is blocked by, unless the search was cut short."""

    options: tuple[Option, ...]
    blocked_by: tuple[Blocked, ...]
    cut_short: CutShort | None = None


def window(not_before: datetime | None, not_after: datetime | None, now: datetime) -> Span | Refused:
    """The time to search: from now at the earliest, two weeks if no end is named."""
    starts_at = max(not_before or now, now)
    ends_at = not_after or starts_at + USUAL_SEARCH
    if not_before is not None and ends_at <= not_before:
        return Refused("ends-before-start", "The search has to end after it starts.")
    if ends_at <= starts_at:
        return Refused("in-the-past", "Only time that lies ahead can be searched.")
    if ends_at - starts_at > LONGEST_SEARCH:
        return Refused("not-possible", f"A search covers at most {LONGEST_SEARCH.days} days.")
    first, last = around(starts_at, starts_at).ends_min, around(ends_at, ends_at).starts_min
    return Span(first, max(first, last))
