"""Answering "when could I have one of these?"."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.bookings import Claim, Piece, Wish, claims
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Obstacle, in_the_way, next_free_min, openings
from service.core.scheduling.spans import Span, around, at_minute, common, without

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
class Found:
    """Options, earliest first; if there are none, what each piece is blocked by."""

    options: tuple[Option, ...]
    blocked_by: tuple[Blocked, ...]


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


def search(
    pieces: Sequence[Piece],
    open_spans: tuple[Span, ...],
    within: Span,
    minutes: int,
    limit: int,
    trained_until_min: int,
) -> Found:
    """The first times for so many minutes; `pieces` and `open_spans` know the weeks after the searched time too."""
    of_id = {piece.resource.equipment_id: piece for piece in pieces}
    ahead = without(open_spans, (Span(0, within.starts_min),))
    trained = common(ahead, (Span(0, trained_until_min),))
    places = [(piece, trained if piece.needs_training else ahead) for piece in pieces]
    options = []
    for slot in openings(((piece.resource, common(usable, (within,))) for piece, usable in places), minutes, limit):
        wish = Wish(at_minute(slot.starts_min), at_minute(slot.ends_min))
        options.append(Option(wish.starts_at, wish.ends_at, claims(of_id[slot.equipment_id], wish)))
    if options:
        return Found(tuple(options), ())
    if not pieces:
        return Found((), (Blocked(None, Obstacle.NONE_HERE, None),))
    inside = common(ahead, (within,))
    return Found((), tuple(_blocked(piece, inside, usable, minutes) for piece, usable in places))


def _blocked(piece: Piece, inside: tuple[Span, ...], usable: tuple[Span, ...], minutes: int) -> Blocked:
    obstacle = in_the_way(piece.resource, inside, minutes)
    if obstacle is None:  # it would fit: off the grid, or for somebody with the sign-off
        obstacle = Obstacle.SIGN_OFF if piece.needs_training else Obstacle.TAKEN
    free_min = next_free_min(piece.resource, usable, minutes)
    next_free_at = None if free_min is None else at_minute(free_min)
    return Blocked(piece.resource.equipment_id, obstacle, next_free_at, piece.kind)
