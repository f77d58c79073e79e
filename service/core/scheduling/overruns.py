"""A batch that has begun and takes longer than it was promised: a load that starts anew, a pot that isn't done.

It isn't planned again. What runs is held so much longer, and what is still to come comes so much later: on the same
equipment if that is free, else on another piece that does as well. Jars that rest already go on resting.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from service.core.refusals import Refused
from service.core.scheduling.bookings import Claim, Piece, Step
from service.core.scheduling.chain_slots import Kitchen
from service.core.scheduling.chains import Chain, rested_min
from service.core.scheduling.pools import laid, whole
from service.core.scheduling.slots import GRID_MINUTES, Busy, Kind
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
        """When its last jars were to be lifted out."""
        return max(minute_of(claim.starts_at) for claim in self.claims if claim.step is Step.REST) + (
            self.chain.hands_minutes
        )


@dataclass(frozen=True, slots=True)
class Begun:
    """A batch that has begun, as it was promised and as it goes on."""

    promised: Running
    claims: tuple[Claim, ...]
    hands: tuple[Span, ...]

    @property
    def out_min(self) -> int:
        return replace(self.promised, claims=self.claims).out_min


def running(
    booking_id: UUID, member_id: UUID, chain: Chain, claims: Sequence[Claim], hands: Sequence[Span], now: datetime
) -> Running:
    """The batch as it stands now; if all its work was to be over by now, the last of it goes on."""
    last_min = max(around(claim.starts_at, claim.ends_at).ends_min for claim in claims if claim.step is not Step.REST)
    return Running(booking_id, member_id, chain, tuple(claims), tuple(hands), min(minute_of(now), last_min - 1))


def minutes_over(batch: Running, out_at: datetime) -> int | Refused:
    """How much later its last jars come out, in whole steps of the grid."""
    late = around(out_at, out_at).ends_min - batch.out_min
    if late <= 0:
        promised = f"{at_minute(batch.out_min):%H:%M}"
        return Refused("not-possible", f"Its last jars were to be out at {promised} UTC: that is no later.")
    if late > MOST_MINUTES:
        return Refused("not-possible", f"A batch runs over by at most {MOST_MINUTES // 60} hours.")
    return -(-late // GRID_MINUTES) * GRID_MINUTES


def goes_on(batch: Running, minutes: int, kitchen: Kitchen) -> Begun | Refused:
    """What it holds when it takes so much longer, in a kitchen without it and without whoever makes room for it.

    What is left there is booked by itself, out of service, closed, or has begun as well: none of that makes room.
    """
    jars = iter(load.jars for load in batch.chain.loads)
    claims = []
    for claim in batch.claims:
        span = _longer(claim, batch, minutes, kitchen)
        if span is None:
            return Refused("kitchen-closed", "Nobody knows yet when the kitchen is open after its jars have rested.")
        places = next(jars) if claim.step is Step.REST else 1
        found = _held(claim, batch, places, span, kitchen)
        if isinstance(found, Refused):
            return found
        claims.append(found)
        kitchen = _with(kitchen, [found], batch.booking_id)
    return Begun(batch, tuple(claims), tuple(_shifted(hands, batch.since_min, minutes) for hands in batch.hands))


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


def _longer(claim: Claim, batch: Running, minutes: int, kitchen: Kitchen) -> Span | None:
    span = around(claim.starts_at, claim.ends_at)
    if claim.step is not Step.REST:
        return _shifted(span, batch.since_min, minutes)
    if span.starts_min <= batch.since_min:
        return span
    out_min = span.starts_min + minutes
    leaves_min = rested_min(batch.chain, out_min, kitchen.usable_spans)
    return None if leaves_min is None else Span(out_min, leaves_min)


def _shifted(span: Span, since_min: int, minutes: int) -> Span:
    """Over: as it was. Running: so much longer. To come: so much later."""
    if span.ends_min <= since_min:
        return span
    return Span(span.starts_min if span.starts_min <= since_min else span.starts_min + minutes, span.ends_min + minutes)


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
    found = laid(piece.resource, places, span)
    held = sum((each.lanes.high - each.lanes.low) * each.span.minutes for each in found)
    return found if held == places * span.minutes else ()


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
