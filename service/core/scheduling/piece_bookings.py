"""Finding times for a single piece of equipment, and booking one of them."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import islice
from uuid import UUID

from service.core.measures.jars import JAR_ML
from service.core.refusals import Refused
from service.core.scheduling.bookings import STEP_OF, Booked, Claim, Piece, Standing
from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.piece_slots import HANDLED, PieceSearch, Stay
from service.core.scheduling.searches import Blocked, Option
from service.core.scheduling.slots import GRID_MINUTES, Kind, Obstacle, Resource, laid
from service.core.scheduling.spans import LAST_MINUTE, Span, around, at_minute, minute_of

MOST_HOURS = 24
ANYBODY = Cook(trained_until_min=LAST_MINUTE)  # with hands free and every sign-off

_REFUSALS = {
    Obstacle.CLOSED: Refused("kitchen-closed", "The kitchen is closed for all or part of that time."),
    Obstacle.OUT_OF_SERVICE: Refused("out-of-service", "This piece of equipment is out of service then."),
    Obstacle.TAKEN: Refused("slot-taken", "Somebody has booked this piece of equipment for all or part of that time."),
    Obstacle.NO_BURNER: Refused(
        "slot-taken",
        "This canner takes a burner along, and none is free then.",
        {"equipment_id": None, "equipment_kind": EquipmentKind.BURNER},
    ),
}


@dataclass(frozen=True, slots=True)
class Wish:
    """A piece of equipment as somebody wants it."""

    equipment_id: UUID
    starts_at: datetime
    ends_at: datetime
    jars: Mapping[str, int] = field(default_factory=dict)
    standing: Standing | None = None  # None: no recipe is named
    acknowledged: bool = False
    in_the_past_too: bool = False

    @property
    def span(self) -> Span:
        return around(self.starts_at, self.ends_at)

    @property
    def decided_within(self) -> Span:
        """The time in which the kitchen has to be known to decide."""
        starts_min = self.span.starts_min
        return Span(starts_min, min(max(self.span.ends_min, starts_min), starts_min + MOST_HOURS * 60))

    def offered_within(self, now: datetime, ahead_minutes: int) -> Span:
        """The time in which another may be offered."""
        from_min = max(self.span.starts_min, around(now, now).ends_min)
        return Span(from_min, from_min + ahead_minutes)


def options(
    kitchen: Kitchen, cook: Cook, wanted: Collection[UUID], minutes: int, within: Span, limit: int
) -> tuple[Option, ...]:
    """The first times for so many minutes on any of the wanted pieces; each may be booked as it stands."""
    pieces = {piece.resource.equipment_id: piece for piece in kitchen.pieces}
    search = PieceSearch(kitchen, cook, Stay(minutes), within)
    found = []
    for slot in islice(search.slots(pieces[each] for each in wanted), limit):
        span = Span(slot.starts_min, slot.starts_min + minutes)
        claimed = _claims(kitchen, pieces[slot.equipment_id], span, pieces[slot.equipment_id].resource.lanes)
        found.append(Option(at_minute(span.starts_min), at_minute(span.ends_min), claimed))
    return tuple(found)


def blocked(
    kitchen: Kitchen, cook: Cook, wanted: Collection[UUID], minutes: int, within: Span, ahead_minutes: int
) -> tuple[Blocked, ...]:
    """What is in the way of each wanted piece, none of which has time, and its first time within so many minutes more.

    The kitchen is known until then.
    """
    if not wanted:
        return (Blocked(None, Obstacle.NONE_HERE, None),)
    later = Span(within.starts_min, within.ends_min + ahead_minutes)
    return tuple(
        Blocked(
            piece.resource.equipment_id,
            _obstacle(kitchen, cook, piece, Stay(minutes), within),
            _next_free_at(kitchen, cook, piece, Stay(minutes), later),
            piece.kind,
        )
        for piece in kitchen.pieces
        if piece.resource.equipment_id in wanted
    )


def book(wish: Wish, kitchen: Kitchen, cook: Cook, now: datetime) -> Booked | Refused:
    """What the booking claims, or why it can't be made; the kitchen is known within the time the wish is decided in.

    Two pots at once are the member's own affair: a time that they name may take their hands twice, but no such time is
    proposed.
    """
    piece = _wished(wish, kitchen)
    lanes = _lanes(piece, wish.jars)
    why = (
        _misshapen(wish, now)
        or _unfit(wish, piece)
        or _untrained(wish, piece, cook)
        or _in_the_way(kitchen, piece, lanes, wish.span)
    )
    if why is None:
        hands = (wish.span,) if piece.kind in HANDLED else ()
        return Booked(_claims(kitchen, piece, wish.span, lanes), hands)
    about = {"equipment_id": wish.equipment_id, "equipment_kind": piece.kind, "next_free_at": None}
    return replace(why, extra={**about, **why.extra})


def next_free_at(wish: Wish, kitchen: Kitchen, cook: Cook, within: Span) -> datetime | None:
    """When the wished piece is first free for as long, if it is within a time in which the kitchen is known."""
    minutes = wish.span.minutes if 0 < wish.span.minutes <= MOST_HOURS * 60 else GRID_MINUTES
    piece, anybody = _wished(wish, kitchen), replace(cook, trained_until_min=LAST_MINUTE)
    return _next_free_at(kitchen, anybody, piece, Stay(minutes, _lanes(piece, wish.jars)), within)


def _wished(wish: Wish, kitchen: Kitchen) -> Piece:
    return next(each for each in kitchen.pieces if each.resource.equipment_id == wish.equipment_id)


def _claims(kitchen: Kitchen, piece: Piece, span: Span, lanes: int) -> tuple[Claim, ...]:
    """The piece itself, and the burner it takes along."""
    starts_at, ends_at, step = at_minute(span.starts_min), at_minute(span.ends_min), STEP_OF[piece.kind]
    attended = piece.kind in HANDLED or piece.needs_training
    own = piece.resource
    found = [Claim(step, own.equipment_id, True, starts_at, ends_at, attended, laid(own, lanes, span))]
    if piece.needs_burner:
        burner = next(each for each in _burners(kitchen) if each.spare(span))
        found.append(Claim(step, burner.equipment_id, False, starts_at, ends_at, False, laid(burner, 1, span)))
    return tuple(found)


def _obstacle(kitchen: Kitchen, cook: Cook, piece: Piece, stay: Stay, within: Span) -> Obstacle:
    """The first thing that leaves no time for the stay, where each is added to those before it."""

    def fits(kinds: set[Kind], *, burner: bool = False, cook: Cook = ANYBODY) -> bool:
        here, alone = _only(kitchen, kinds), replace(piece, needs_burner=burner)
        return bool(PieceSearch(here, cook, stay, within).starts(alone))

    if not piece.resource.in_service:
        return Obstacle.OUT_OF_SERVICE
    if not fits({Kind.CLOSURE}):
        return Obstacle.CLOSED
    if not fits({Kind.CLOSURE, Kind.OUTAGE}):
        return Obstacle.OUT_OF_SERVICE
    if not fits(set(Kind)):
        return Obstacle.TAKEN
    if not fits(set(Kind), burner=piece.needs_burner):
        return Obstacle.NO_BURNER
    idle = fits(set(Kind), burner=piece.needs_burner, cook=replace(cook, busy=()))
    return Obstacle.HANDS if idle else Obstacle.SIGN_OFF


def _only(kitchen: Kitchen, kinds: set[Kind]) -> Kitchen:
    pieces = (
        replace(
            piece,
            resource=replace(piece.resource, busy=tuple(busy for busy in piece.resource.busy if busy.kind in kinds)),
        )
        for piece in kitchen.pieces
    )
    return replace(kitchen, pieces=tuple(pieces))


def _next_free_at(kitchen: Kitchen, cook: Cook, piece: Piece, stay: Stay, time: Span) -> datetime | None:
    slot = next(PieceSearch(kitchen, cook, stay, time).slots([piece]), None)
    return None if slot is None else at_minute(slot.starts_min)


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
    """What speaks against these jars or this recipe on this equipment at any time."""
    if wish.standing is not None and not wish.standing.allows_canning(acknowledged=wish.acknowledged):
        return Refused("not-ready", "The check of this revision doesn't say that it is ready to be canned.")
    if not wish.jars.keys() <= JAR_ML.keys():
        return Refused("not-possible", f"The jar sizes known here: {', '.join(JAR_ML)}.")
    if piece.kind is EquipmentKind.CANNER and not wish.jars.keys() <= (piece.capacity or {}).keys():
        sizes = [size for size in JAR_ML if size in (piece.capacity or {})]
        detail = f"This canner doesn't take jars of that size; it takes {', '.join(sizes)}."
        return Refused("does-not-fit", detail, {"jar_sizes": sizes})
    if piece.kind is EquipmentKind.RACK and sum(wish.jars.values()) > piece.resource.lanes:
        most = piece.resource.lanes
        return Refused("does-not-fit", f"The rack has {most} places, fewer than there are jars.", {"most": most})
    return None


def _untrained(wish: Wish, piece: Piece, cook: Cook) -> Refused | None:
    if not piece.needs_training or wish.span.ends_min <= cook.trained_until_min:
        return None
    return Refused("sign-off-missing", "A pressure canner needs a trainer's sign-off that is valid on that day.")


def _in_the_way(kitchen: Kitchen, piece: Piece, lanes: int, span: Span) -> Refused | None:
    """What keeps this very time from being had."""
    resource = piece.resource
    kinds = {busy.kind for busy in resource.busy if busy.span.overlaps(span)}
    if not resource.in_service:
        return _REFUSALS[Obstacle.OUT_OF_SERVICE]
    if Kind.CLOSURE in kinds or not any(each.holds(span) for each in kitchen.hours):
        return _REFUSALS[Obstacle.CLOSED]
    if Kind.OUTAGE in kinds:
        return _REFUSALS[Obstacle.OUT_OF_SERVICE]
    if resource.spare(span) < lanes:
        return _REFUSALS[Obstacle.TAKEN]
    if piece.needs_burner and not any(burner.spare(span) for burner in _burners(kitchen)):
        return _REFUSALS[Obstacle.NO_BURNER]
    return None


def _burners(kitchen: Kitchen) -> Iterator[Resource]:
    return (piece.resource for piece in kitchen.pieces if piece.kind is EquipmentKind.BURNER)


def _lanes(piece: Piece, jars: Mapping[str, int]) -> int:
    """A rack gives a place to each jar; without a count, and for any other equipment, the whole of it is taken."""
    by_the_jar = piece.kind is EquipmentKind.RACK and 0 < sum(jars.values()) <= piece.resource.lanes
    return sum(jars.values()) if by_the_jar else piece.resource.lanes
