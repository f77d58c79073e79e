"""Finding times for a whole batch, and booking one of them: all of it or nothing."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice, takewhile
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.bookings import Booked, Claim, Piece, Standing
from service.core.scheduling.chain_slots import (
    REST_AHEAD_MINUTES,
    Calendar,
    Cook,
    Kitchen,
    Look,
    Search,
    Seated,
    known,
    looked_at,
    seated,
)
from service.core.scheduling.chains import (
    STEPS_A_LOAD,
    STEPS_BEFORE_LOADS,
    Canner,
    Chain,
    Need,
    Placed,
    PlacedLoad,
    misplaced,
    needs,
    rested_min,
)
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.hindrances import hindrances
from service.core.scheduling.searches import Blocked, CutShort, Found, Option
from service.core.scheduling.slots import GRID_MINUTES, Obstacle
from service.core.scheduling.spans import Span, around, at_minute, minute_of

DETAILS = {
    Obstacle.CLOSED: "The kitchen is closed for part of that time.",
    Obstacle.SIGN_OFF: "A pressure canner needs a trainer's sign-off that is valid on that day.",
    Obstacle.OUT_OF_SERVICE: "Equipment that the batch needs is out of service then.",
    Obstacle.TAKEN: "Somebody has booked equipment that the batch needs then.",
    Obstacle.HANDS: "The member's hands are wanted elsewhere for part of that time.",
    Obstacle.NONE_HERE: "The kitchen has too little of what the batch needs at a time.",
    Obstacle.TOO_SHORT: "The batch takes longer than that.",
}


@dataclass(frozen=True, slots=True)
class Wish:
    """A batch as somebody wants it, with the claims as they were offered."""

    chains: Sequence[Chain]
    claims: Sequence[Claim]
    standing: Standing
    acknowledged: bool = False
    in_the_past_too: bool = False


def options(
    kitchen: Kitchen, cook: Cook, chains: Sequence[Chain], within: Span, started_by_min: int, limit: int
) -> Found:
    """The first starts of a batch before this minute, whose last canner is free again within the time."""
    look = Look()
    starts = takewhile(lambda each: each.placed.prep_min < started_by_min, seated(kitchen, cook, chains, within, look))
    found = tuple(islice(starts, limit))
    last_min = found[-1].placed.prep_min if len(found) == limit else started_by_min
    claimed = (each.booked.claims for each in found)
    return Found(
        tuple(Option(claims[0].starts_at, max(claim.ends_at for claim in claims), claims) for claims in claimed),
        (),
        _cut_short(look, {each.placed.prep_min for each in found}, last_min),
    )


def blocked(
    kitchen: Kitchen, cook: Cook, chains: Sequence[Chain], within: Span, next_free_at: datetime | None
) -> tuple[Blocked, ...]:
    """What is in the way of a batch for which there is no start within the time; `next_free_at` goes with each of them.

    Nothing is said to be there too little of while that is undecided.
    """

    def fits(kitchen: Kitchen, cook: Cook) -> bool:
        look = Look()
        return next(seated(kitchen, cook, chains, within, look), None) is not None or not look.is_whole

    return tuple(
        Blocked(_only(kitchen, each.kind), each.obstacle, next_free_at, each.kind)
        for each in hindrances(kitchen, cook, fits)
    )


def _cut_short(look: Look, found: Collection[int], last_min: int) -> CutShort | None:
    """What of a search up to a start stayed undecided, if anything did."""
    undecided = sum(start < last_min and start not in found for start in look.undecided)
    stopped_min = look.looked_until_min
    if stopped_min is not None and stopped_min >= last_min:
        stopped_min = None
    if not undecided and stopped_min is None:
        return None
    return CutShort(None if stopped_min is None else at_minute(stopped_min), undecided)


def windows(claims: Sequence[Claim], now: datetime, ahead_minutes: int) -> tuple[Span, ...]:
    """What has to be known to decide, and the time in which another may be offered."""
    decided = decided_within(claims)
    from_min = max(minute_of(min(claim.starts_at for claim in claims)), minute_of(now))
    return decided, known(Span(from_min, from_min + ahead_minutes + REST_AHEAD_MINUTES))


def decided_within(claims: Sequence[Claim]) -> Span:
    """The time in which the kitchen has to be known to decide: the claimed time, and whether it is open at its end."""
    claimed = around(min(claim.starts_at for claim in claims), max(claim.ends_at for claim in claims))
    known_until_min = min(claimed.ends_min, claimed.starts_min + REST_AHEAD_MINUTES) + GRID_MINUTES
    return known(Span(claimed.starts_min, known_until_min))


def offered_within(claims: Sequence[Claim], now: datetime, ahead_minutes: int) -> Span:
    """The time in which another start may be offered."""
    from_min = max(minute_of(claims[0].starts_at), around(now, now).ends_min)
    return Span(from_min, from_min + ahead_minutes)


def book(wish: Wish, kitchen: Kitchen, cook: Cook, now: datetime, ahead_minutes: int) -> Booked | Refused:
    """What the booking claims, or why it can't be made; claims that aren't those of the batch are no booking of it."""
    if not wish.standing.allows_canning(acknowledged=wish.acknowledged):
        return Refused("not-ready", "The check of this revision doesn't say that it is ready to be canned.")
    found = recognised(wish, {piece.resource.equipment_id: piece for piece in kitchen.pieces})
    if isinstance(found, Refused):
        return found
    chain, placed = found
    if placed.prep_min < minute_of(now) and not wish.in_the_past_too:
        return Refused("in-the-past", "This time has already begun; only a coordinator can enter it afterwards.")
    wished = [claim.equipment_id for claim in wish.claims]
    last_min = max(need.span.ends_min for need in needs(chain, placed))

    look = Look()

    def seat(kitchen: Kitchen, cook: Cook) -> Seated | None:
        within = Span(placed.prep_min, last_min)
        return Search(Calendar(kitchen, cook, looked_at(kitchen, within)), chain, within, look).seat(placed, wished)

    answer = seat(kitchen, cook) if _rests_end_as_kitchen_opens(chain, placed, kitchen) else None
    if answer is not None:
        return answer.booked
    if not look.is_whole:
        return Refused("not-now", "It took too long to find a unit for every step; another option may be quicker.")
    in_the_way = hindrances(kitchen, cook, lambda kitchen, cook: seat(kitchen, cook) is not None)[0]
    obstacle = in_the_way.obstacle if seat(kitchen, cook) is None else Obstacle.CLOSED
    next_free_at = _next_free_at(kitchen, cook, wish.chains, offered_within(wish.claims, now, ahead_minutes))
    about = {"equipment_kind": in_the_way.kind, "equipment_id": _only(kitchen, in_the_way.kind)}
    code = "does-not-fit" if obstacle in (Obstacle.NONE_HERE, Obstacle.TOO_SHORT) else obstacle
    return Refused(code, DETAILS[obstacle], {**about, "next_free_at": next_free_at})


def recognised(wish: Wish, pieces: Mapping[UUID, Piece]) -> tuple[Chain, Placed] | Refused:
    """The chain that these claims are, step by step."""
    why = "These are not the steps of this batch."
    for chain in wish.chains:
        if len(wish.claims) != STEPS_BEFORE_LOADS + STEPS_A_LOAD * len(chain.loads):
            continue
        placed = _placed(chain, wish.claims, pieces)
        wrong = _wrong(chain, placed, wish.claims, pieces) if placed else why
        if placed and wrong is None:
            return chain, placed
        why = wrong or why
    return Refused("not-possible", f"{why} Search again, and book an option as it was offered.")


def made_in(chains: Sequence[Chain], claims: Sequence[Claim], pieces: Mapping[UUID, Piece]) -> Chain | None:
    """The chain whose loads go into the claimed canners, whatever the times are by now."""
    sorts = [
        Canner.of(piece.canner_kind, piece.capacity or {})
        for claim in claims
        if (piece := pieces.get(claim.equipment_id)) and piece.canner_kind
    ]
    return next(
        (
            chain
            for chain in chains
            if len(claims) == STEPS_BEFORE_LOADS + STEPS_A_LOAD * len(chain.loads)
            and len(sorts) == len(chain.loads)
            and all(load.fits(sort) for load, sort in zip(chain.loads, sorts, strict=True))
        ),
        None,
    )


def _placed(chain: Chain, claims: Sequence[Claim], pieces: Mapping[UUID, Piece]) -> Placed | None:
    prep, cook, *rest = claims
    loads = []
    for number, load in enumerate(chain.loads):
        fill, canner, _, resting = rest[number * STEPS_A_LOAD : (number + 1) * STEPS_A_LOAD]
        piece = pieces.get(canner.equipment_id)
        cycle = load.cycles.get(piece.canner_kind) if piece and piece.canner_kind else None
        if piece is None or piece.canner_kind is None or cycle is None:
            return None
        in_min = minute_of(canner.starts_at) + cycle.warm_minutes
        loads.append(PlacedLoad(minute_of(fill.starts_at), in_min, piece.canner_kind, minute_of(resting.ends_at)))
    return Placed(minute_of(prep.starts_at), minute_of(cook.starts_at), tuple(loads))


def _wrong(chain: Chain, placed: Placed, claims: Sequence[Claim], pieces: Mapping[UUID, Piece]) -> str | None:
    starts = [placed.prep_min, placed.cook_min, *(at for load in placed.loads for at in (load.fill_min, load.in_min))]
    if any(start % GRID_MINUTES for start in starts):
        return f"Steps start on a grid of {GRID_MINUTES} minutes."
    out_of_order = misplaced(chain, placed)
    if out_of_order:
        return out_of_order
    for number, (claim, need) in enumerate(zip(claims, needs(chain, placed), strict=True), 1):
        if not _answers(claim, need, chain, pieces.get(claim.equipment_id)):
            times = f"{at_minute(need.span.starts_min):%H:%M} to {at_minute(need.span.ends_min):%H:%M} UTC"
            return f"Claim {number} has to be {need.step} on a {need.kind} that does for it, {times}."
    return None


def _answers(claim: Claim, need: Need, chain: Chain, piece: Piece | None) -> bool:
    """Whether a claim is what is needed, to the minute, on equipment that does for it."""
    if piece is None or piece.kind is not need.kind:
        return False
    if piece.canner_kind and need.load is not None:
        load = chain.loads[need.load]
        if not load.fits(Canner.of(piece.canner_kind, piece.capacity or {})):
            return False
    spans = (at_minute(need.span.starts_min), at_minute(need.span.ends_min))
    said = (claim.step, claim.starts_at, claim.ends_at, claim.attended, claim.unit_fixed)
    return said == (need.step, *spans, need.attended, False)


def _rests_end_as_kitchen_opens(chain: Chain, placed: Placed, kitchen: Kitchen) -> bool:
    open_spans = kitchen.usable_spans
    return all(
        at.rested_min == rested_min(chain, at.in_min + load.cycles[at.kind].out_after_minutes, open_spans)
        for load, at in zip(chain.loads, placed.loads, strict=True)
    )


def _next_free_at(kitchen: Kitchen, cook: Cook, chains: Sequence[Chain], time: Span) -> datetime | None:
    following = next(seated(kitchen, cook, chains, time), None)
    return None if following is None else at_minute(following.placed.prep_min)


def _only(kitchen: Kitchen, kind: EquipmentKind | None) -> UUID | None:
    """The one piece of a kind, where there is only one."""
    found = [piece.resource.equipment_id for piece in kitchen.pieces if piece.kind is kind]
    return found[0] if len(found) == 1 else None
