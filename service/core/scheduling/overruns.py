"""A batch that has begun and takes longer than it was promised: a load that starts anew, a pot that isn't done.

It isn't planned again. What runs is held so much longer, and what is still to come comes so much later: on the same
equipment if that is free, else on another piece that does as well. Jars that rest already go on resting.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.bookings import Claim, Piece, Step
from service.core.scheduling.chain_slots import Kitchen
from service.core.scheduling.chains import (
    STEPS_A_LOAD,
    STEPS_BEFORE_LOADS,
    Chain,
    Placed,
    PlacedLoad,
    hands,
    misplaced,
    rested_min,
)
from service.core.scheduling.slots import GRID_MINUTES, Busy, Kind, laid, whole
from service.core.scheduling.spans import Span, around, at_minute, minute_of

MOST_MINUTES = 12 * 60


@dataclass(frozen=True, slots=True)
class Running:
    """A batch that has begun, as it was promised; `since_min` is the minute that parts what began from what didn't."""

    booking_id: UUID
    member_id: UUID
    chain: Chain
    claims: tuple[Claim, ...]
    hands: tuple[Span, ...]
    since_min: int

    @property
    def out_min(self) -> int:
        """When its last jars were to be lifted out: a canner is cleaned after that."""
        cycle = next(iter(self.chain.loads[0].cycles.values()))
        cleaning = cycle.free_after_minutes - cycle.out_after_minutes - self.chain.hands_minutes
        canners = self.claims[STEPS_BEFORE_LOADS + 1 :: STEPS_A_LOAD]
        return max(minute_of(claim.ends_at) for claim in canners) - cleaning


@dataclass(frozen=True, slots=True)
class Begun:
    """A batch that has begun, as it was promised and as it goes on, so much later."""

    promised: Running
    claims: tuple[Claim, ...]
    hands: tuple[Span, ...]
    runs_over: bool  # by itself; else it makes way for one that does, if anything has changed for it
    out_min: int

    @property
    def changed(self) -> bool:
        return _times(self.claims) != _times(self.promised.claims)


def running(
    booking_id: UUID, member_id: UUID, chain: Chain, claims: Sequence[Claim], hands: Sequence[Span], now: datetime
) -> Running:
    """The batch as it stands now; if all its work was to be over by now, the last of it goes on."""
    last_min = max(around(claim.starts_at, claim.ends_at).ends_min for claim in claims if claim.step is not Step.REST)
    return Running(booking_id, member_id, chain, tuple(claims), tuple(hands), min(minute_of(now), last_min - 1))


def minutes_over(batch: Running, out_at: datetime) -> int | Refused:
    """How much later its last jars come out, in whole steps of the grid; none if they come out as promised."""
    late = max(0, around(out_at, out_at).ends_min - batch.out_min)
    if late > MOST_MINUTES:
        return Refused("not-possible", f"A batch runs over by at most {MOST_MINUTES // 60} hours.")
    return -(-late // GRID_MINUTES) * GRID_MINUTES


def all_go_on(batches: Sequence[tuple[Running, int]], kitchen: Kitchen) -> tuple[Begun, ...] | Refused:
    """What batches that have begun hold, each with the minutes it runs over, in a kitchen without them.

    Those that don't run over make way where they have to: with steps that are still to come on other equipment, or as
    little later as the waits of a batch allow. What else is in the kitchen is booked by itself, out of service or
    closed; none of that makes room.
    """
    found: list[Begun] = []
    queue = sorted(batches, key=lambda each: (not each[1], each[0].claims[0].starts_at))
    for batch, minutes in (each for each in queue if each[1]):
        one = goes_on(batch, minutes, kitchen)
        if isinstance(one, Refused):
            return _about(one, batch)
        found.append(one)
        kitchen = beside(kitchen, one)
    others = [batch for batch, minutes in queue if not minutes]
    for batch in tuple(others):  # whoever can goes on as promised, before the others look for something else
        as_promised = _moved(batch, len(batch.claims), 0, kitchen)
        if isinstance(as_promised, Begun) and not as_promised.changed:
            found.append(as_promised)
            kitchen = beside(kitchen, as_promised)
            others.remove(batch)
    for place, batch in enumerate(others):
        reserved = kitchen
        for other in others[place + 1 :]:
            reserved = _with(
                reserved, [replace(each, places=_whole(each)) for each in _at_work(other)], other.booking_id
            )
        one = _makes_way(batch, reserved)
        if isinstance(one, Refused):
            return _about(one, batch)
        found.append(one)
        kitchen = beside(kitchen, one)
    return tuple(found)


def _about(refused: Refused, batch: Running) -> Refused:
    return replace(refused, extra={**refused.extra, "running_booking_id": batch.booking_id})


def _at_work(batch: Running) -> list[Claim]:
    """What it uses now, whatever becomes of its next steps."""
    return [
        claim
        for claim in batch.claims
        if claim.step is not Step.REST and minute_of(claim.starts_at) <= batch.since_min < minute_of(claim.ends_at)
    ]


def _whole(claim: Claim) -> tuple[Busy, ...]:
    return whole(around(claim.starts_at, claim.ends_at))


def goes_on(batch: Running, minutes: int, kitchen: Kitchen) -> Begun | Refused:
    """What a batch holds that takes so much longer: any of its running steps may be the one that does."""

    def span(place: int, claim: Claim) -> Span | None:
        if claim.step is Step.REST:
            return _rest(batch, place, minutes, kitchen, longer=True)
        return _shifted(around(claim.starts_at, claim.ends_at), batch.since_min, minutes, longer=True)

    claims = _claims(batch, kitchen, span)
    if isinstance(claims, Refused):
        return claims
    handling = tuple(_shifted(each, batch.since_min, minutes, longer=True) for each in batch.hands)
    return Begun(batch, claims, handling, True, batch.out_min + minutes)


def _makes_way(batch: Running, kitchen: Kitchen) -> Begun | Refused:
    """What a batch that keeps its own pace holds: as promised if that is free, else as little later as can be.

    The fewest of its last steps move, within the waits that a batch may have.
    """
    as_promised = _moved(batch, len(batch.claims), 0, kitchen)
    if isinstance(as_promised, Begun):
        return as_promised
    loads = range(len(batch.claims) - STEPS_A_LOAD, 0, -STEPS_A_LOAD)
    for minutes in range(0, batch.chain.longest_hold_minutes + 1, GRID_MINUTES):
        for first in (*loads, 1, 0):
            one = _moved(batch, first, minutes, kitchen)
            if isinstance(one, Begun):
                return one
    return as_promised


def _moved(batch: Running, first: int, minutes: int, kitchen: Kitchen) -> Begun | Refused:
    """The batch with its claims from the first on so much later, as far as they are still to come."""

    def span(place: int, claim: Claim) -> Span | None:
        if claim.step is Step.REST:
            return _rest(batch, place, minutes if place >= first else 0, kitchen, longer=False)
        known, since_min = around(claim.starts_at, claim.ends_at), batch.since_min
        if claim.step is Step.COOK and (known.starts_min <= since_min or first > 1):  # a pot is kept on its burner
            return Span(known.starts_min, known.ends_min + minutes) if known.ends_min > since_min else known
        warms_up = claim.step is Step.PROCESS and not _is_filled(batch, place)
        return _shifted(known, since_min, minutes, longer=warms_up) if place >= first else known

    claims = _claims(batch, kitchen, span)
    if isinstance(claims, Refused) or not minutes:
        return claims if isinstance(claims, Refused) else Begun(batch, claims, batch.hands, False, batch.out_min)
    placed = _placed(batch, claims, kitchen)
    waits = misplaced(batch.chain, placed) if placed else "A canner that doesn't do for it."
    if placed is None or waits:
        return Refused("slot-taken", f"A batch that has begun can't wait so long. {waits}")
    out_min = replace(batch, claims=claims).out_min
    return Begun(batch, claims, hands(batch.chain, placed), False, out_min)


def _is_filled(batch: Running, place: int) -> bool:
    """Whether the jars of this claim's load were filled before now."""
    fill = batch.claims[place - (place - STEPS_BEFORE_LOADS) % STEPS_A_LOAD]
    return around(fill.starts_at, fill.ends_at).ends_min <= batch.since_min


def _placed(batch: Running, claims: Sequence[Claim], kitchen: Kitchen) -> Placed | None:
    kinds = {piece.resource.equipment_id: piece.canner_kind for piece in kitchen.pieces}
    loads = []
    for number, load in enumerate(batch.chain.loads):
        fill, canner, _, resting = claims[STEPS_BEFORE_LOADS + number * STEPS_A_LOAD :][:STEPS_A_LOAD]
        kind = kinds[canner.equipment_id]
        if kind is None or kind not in load.cycles:
            return None
        in_min = minute_of(canner.ends_at) - load.cycles[kind].free_after_minutes
        loads.append(PlacedLoad(minute_of(fill.starts_at), in_min, kind, minute_of(resting.ends_at)))
    return Placed(minute_of(claims[0].starts_at), minute_of(claims[1].starts_at), tuple(loads))


def _claims(batch: Running, kitchen: Kitchen, span: Callable[[int, Claim], Span | None]) -> tuple[Claim, ...] | Refused:
    """Each claim for its new time, beside those before it."""
    jars = iter(load.jars for load in batch.chain.loads)
    found: list[Claim] = []
    for place, claim in enumerate(batch.claims):
        time = span(place, claim)
        if time is None:
            return Refused("kitchen-closed", "Nobody knows yet when the kitchen is open after its jars have rested.")
        places = next(jars) if claim.step is Step.REST else 1
        one = _held(claim, batch, places, time, _with(kitchen, found, batch.booking_id))
        if isinstance(one, Refused):
            return one
        found.append(one)
    return tuple(found)


def beside(kitchen: Kitchen, begun: Begun) -> Kitchen:
    """The kitchen with a batch that goes on in it."""
    return _with(kitchen, begun.claims, begun.promised.booking_id)


def disturbed(begun: Begun) -> str | None:
    """What is wrong with how a batch goes on: what has begun stays where and when it was, and nothing is cut short."""
    before = begun.promised
    if [claim.step for claim in before.claims] != [claim.step for claim in begun.claims]:
        return "A batch that has begun has other steps."
    for was, now in zip(before.claims, begun.claims, strict=True):
        began = minute_of(was.starts_at) <= before.since_min
        if began and (was.equipment_id, was.starts_at) != (now.equipment_id, now.starts_at):
            return "A step that has begun is moved."
        if now.starts_at < was.starts_at or (was.step is not Step.REST and now.ends_at < was.ends_at):
            return "A batch that has begun is to be earlier."
        if was.step is not Step.REST and now.ends_at - now.starts_at < was.ends_at - was.starts_at:
            return "A step of a batch that has begun is cut short."
    return None


def _rest(batch: Running, place: int, minutes: int, kitchen: Kitchen, *, longer: bool) -> Span | None:
    """Jars that are in a canner which may run over come out when it was promised, or later: a place waits for them."""
    claim, canner = batch.claims[place], batch.claims[place - 2]
    span = around(claim.starts_at, claim.ends_at)
    in_it = minute_of(canner.starts_at) <= batch.since_min and _is_filled(batch, place)
    if span.starts_min <= batch.since_min or not minutes or (in_it and not longer):
        return span
    leaves_min = rested_min(batch.chain, span.starts_min + minutes, kitchen.usable_spans)
    if leaves_min is None:
        return None
    return Span(span.starts_min if in_it else span.starts_min + minutes, max(span.ends_min, leaves_min))


def _shifted(span: Span, since_min: int, minutes: int, *, longer: bool) -> Span:
    """Over: as it was. Running: so much longer, if it is that. To come: so much later."""
    if span.ends_min <= since_min or (span.starts_min <= since_min and not longer):
        return span
    return Span(span.starts_min if span.starts_min <= since_min else span.starts_min + minutes, span.ends_min + minutes)


def _times(claims: Sequence[Claim]) -> list[tuple[UUID, datetime, datetime]]:
    return [(claim.equipment_id, claim.starts_at, claim.ends_at) for claim in claims]


def _held(claim: Claim, batch: Running, places: int, span: Span, kitchen: Kitchen) -> Claim | Refused:
    """The claim for its new time, on its own piece; a step that is still to come may get another that does as well."""
    own = next(piece for piece in kitchen.pieces if piece.resource.equipment_id == claim.equipment_id)
    began = minute_of(claim.starts_at) <= batch.since_min
    others = () if began else tuple(each for each in kitchen.pieces if each is not own and each.does_as(own))
    for piece in (own, *others):
        held = whole(span) if span.ends_min <= batch.since_min else _room(piece, places, span)
        if held:
            times = (at_minute(span.starts_min), at_minute(span.ends_min))
            unit = piece.resource.equipment_id
            return Claim(claim.step, unit, claim.unit_fixed, *times, claim.attended, held)
    return _in_the_way(own, span)


def _room(piece: Piece, places: int, span: Span) -> tuple[Busy, ...]:
    """So many places for all of the time; none if there are fewer."""
    return laid(piece.resource, places, span) if piece.resource.spare(span) >= places else ()


def _in_the_way(piece: Piece, span: Span) -> Refused:
    about: dict[str, object] = {"equipment_id": piece.resource.equipment_id, "next_free_at": None}
    busy = [each for each in piece.resource.busy if each.span.overlaps(span)]
    if any(each.kind is Kind.OUTAGE for each in busy) or not piece.resource.in_service:
        return Refused("out-of-service", "A batch that runs over needs equipment that is out of service then.", about)
    if any(each.kind is Kind.CLOSURE for each in busy):
        return Refused("kitchen-closed", "A batch that runs over needs the kitchen while it is closed.", about)
    about["booking_id"] = next((each.booking_id for each in busy if each.booking_id), None)
    detail = "What a batch that runs over needs is booked by itself then, or by a batch that this plan can't move."
    return Refused("slot-taken", f"{detail} Cancel that booking, or plan a longer time.", about)


def _with(kitchen: Kitchen, claims: Sequence[Claim], booking_id: UUID) -> Kitchen:
    added: dict[UUID, tuple[Busy, ...]] = {}
    for claim in claims:
        held = (replace(each, booking_id=booking_id) for each in claim.places)
        added[claim.equipment_id] = (*added.get(claim.equipment_id, ()), *held)
    pieces = (
        replace(piece, resource=replace(piece.resource, busy=(*piece.resource.busy, *more)))
        if (more := added.get(piece.resource.equipment_id))
        else piece
        for piece in kitchen.pieces
    )
    return replace(kitchen, pieces=tuple(pieces))
