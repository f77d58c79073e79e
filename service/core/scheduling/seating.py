"""Batches placed in one kitchen one after another, each beside those before it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from service.core.scheduling.bookings import Move, Piece, Step
from service.core.scheduling.chain_slots import REST_AHEAD_MINUTES, Calendar, Cook, Kitchen, Search, Seated, looked_at
from service.core.scheduling.chains import Canner, Chain, Need, Placed, needs
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.fair_use import Shares, use_of
from service.core.scheduling.slots import Busy
from service.core.scheduling.spans import Span, at_minute
from service.core.scheduling.timetables import Batch, Order, Timed

NO_UNIT = UUID(int=0)  # any


@dataclass(frozen=True, slots=True)
class Unit(Canner):
    """One canner, or any of those that do the same."""

    unit: UUID = NO_UNIT


class Seating:
    """A kitchen that fills with batches; bookings that may get another unit make room for the next."""

    def __init__(self, kitchen: Kitchen, cooks: Mapping[UUID, Cook], *, movable: bool) -> None:
        """Start with what is booked already, and with when each member's hands are wanted elsewhere.

        Batches seated here are movable as well, or keep the unit they were given first, which is found much sooner.
        """
        self.kitchen = kitchen
        self.movable = movable
        self.cooks = dict(cooks)
        self.moves: tuple[Move, ...] = ()  # of bookings that were there before
        self._timed: dict[UUID, Timed] = {}

    @property
    def timed(self) -> tuple[Timed, ...]:
        return tuple(self._timed.values())

    def earliest(self, batch: Batch, within: Span, shares: Shares | None = None) -> bool:
        """Place a batch as early as it can be and as its member's share allows, if it can."""
        from_min = max(within.starts_min, batch.release_min)
        while from_min < within.ends_min:
            time = Span(from_min, within.ends_min)
            known = Span(time.starts_min, time.ends_min + REST_AHEAD_MINUTES)
            calendar = Calendar(self.kitchen, self.cooks[batch.member_id], looked_at(self.kitchen, known))
            firsts = ((chain, next(Search(calendar, chain, time).seated(), None)) for chain in batch.chains)
            found = [(chain, first) for chain, first in firsts if first]
            if not found:
                return False
            chain, first = min(found, key=lambda each: each[1].placed.prep_min)
            if shares is None or not self._more_than_fair(batch, first, shares):
                self._take(batch, chain, first)
                return True
            from_min = shares.tomorrow_min(first.placed.prep_min)  # a limit is that of a day
        return False

    def _more_than_fair(self, batch: Batch, found: Seated, shares: Shares) -> bool:
        canners = {piece.resource.equipment_id for piece in self.kitchen.pieces if piece.canner_kind}
        theirs = (each for each in self.timed if each.batch.member_id == batch.member_id and not each.batch.promised)
        uses = [use_of(claims, canners) for claims in (found.booked.claims, *(each.claims for each in theirs))]
        return shares.refused(batch.member_id, uses) is not None

    def seat(self, batch: Batch, chain: Chain, placed: Placed, wished: Sequence[UUID]) -> bool:
        """Give a batch units at times that were chosen, the wished ones where they are free."""
        last_min = max(need.span.ends_min for need in needs(chain, placed))
        time = Span(placed.prep_min, last_min)
        calendar = Calendar(self.kitchen, self.cooks[batch.member_id], looked_at(self.kitchen, time))
        search = Search(calendar, chain, time)
        found = search.seat(placed, wished)
        if found is None:
            return False
        self._take(batch, chain, found)
        return True

    def keep(self, batch: Batch) -> bool:
        """Leave a batch when and where it was promised, if all of that is free."""
        promised, chain = batch.promised, batch.chains[0]
        if promised is None or not self._all_free(chain, promised, batch.promised_units):
            return False
        return self.seat(batch, chain, promised, batch.promised_units)

    def _all_free(self, chain: Chain, placed: Placed, units: Sequence[UUID]) -> bool:
        """Whether nothing but jars on a rack is where these units are wanted."""
        pieces = {piece.resource.equipment_id: piece.resource for piece in self.kitchen.pieces}
        return len(units) == len(needs(chain, placed)) and all(
            unit in pieces
            and pieces[unit].in_service
            and (
                need.kind is EquipmentKind.RACK or not any(busy.span.overlaps(need.span) for busy in pieces[unit].busy)
            )
            for need, unit in zip(needs(chain, placed), units, strict=True)
        )

    def likely(self, chain: Chain, placed: Placed, canners: Sequence[Unit], racks: Sequence[UUID | None]) -> list[UUID]:
        """For each thing the batch needs a free unit of the sort that was chosen, where that was chosen."""
        return [self._unit(need, canners, racks) for need in needs(chain, placed)]

    def _unit(self, need: Need, canners: Sequence[Unit], racks: Sequence[UUID | None]) -> UUID:
        if need.kind is EquipmentKind.RACK and need.load is not None:
            return racks[need.load] or NO_UNIT
        if need.kind is not EquipmentKind.CANNER or need.load is None:
            return NO_UNIT
        chosen = canners[need.load]
        if chosen.unit != NO_UNIT:
            return chosen.unit
        free = (
            piece.resource.equipment_id
            for piece in self.kitchen.pieces
            if sort_of(piece) == Canner(chosen.kind, chosen.capacity)
            and not any(busy.span.overlaps(need.span) for busy in piece.resource.busy)
        )
        return next(free, NO_UNIT)

    def _take(self, batch: Batch, chain: Chain, found: Seated) -> None:
        for move in found.booked.moves:
            self._move(move)
        added = {claim.equipment_id: list[Busy]() for claim in found.booked.claims}
        for claim in found.booked.claims:
            added[claim.equipment_id] += [
                replace(place, booking_id=batch.id, movable=self.movable and claim.step is not Step.REST)
                for place in claim.places
            ]
        self.kitchen = _with(self.kitchen, added)
        cook = self.cooks[batch.member_id]
        self.cooks[batch.member_id] = replace(cook, busy=(*cook.busy, *found.booked.hands))
        self._timed[batch.id] = Timed(batch, chain, found.placed, found.booked.claims)

    def _move(self, move: Move) -> None:
        """Give a stay another unit: in the kitchen, and in what the batch claims or what others have to be told."""
        moved: list[Busy] = []
        pieces = []
        for piece in self.kitchen.pieces:
            stays = [busy for busy in piece.resource.busy if _is(move, piece, busy)]
            moved += stays
            left = tuple(busy for busy in piece.resource.busy if busy not in stays)
            pieces.append(replace(piece, resource=replace(piece.resource, busy=left)) if stays else piece)
        self.kitchen = _with(replace(self.kitchen, pieces=tuple(pieces)), {move.to_id: moved})
        ours = self._timed.get(move.booking_id)
        if ours:
            span = (at_minute(move.span.starts_min), at_minute(move.span.ends_min))
            claims = tuple(
                replace(claim, equipment_id=move.to_id)
                if claim.equipment_id == move.from_id and (claim.starts_at, claim.ends_at) == span
                else claim
                for claim in ours.claims
            )
            self._timed[move.booking_id] = replace(ours, claims=claims)
        else:
            before = next(
                (
                    each
                    for each in self.moves
                    if (each.booking_id, each.span, each.to_id) == (move.booking_id, move.span, move.from_id)
                ),
                None,
            )
            others = tuple(each for each in self.moves if each is not before)
            net = replace(move, from_id=before.from_id) if before else move
            self.moves = others if net.from_id == net.to_id else (*others, net)


def sort_of(piece: Piece) -> Canner | None:
    return Canner.of(piece.canner_kind, piece.capacity or {}) if piece.canner_kind else None


def greedy(order: Order, queue: Iterable[Batch]) -> Seating:
    """What was promised and can be kept; then every batch as early as it can be, in this order, if it can at all.

    Whoever can stay where they are does, before the others look for another unit at the same time.
    """
    seating, batches = Seating(order.kitchen, order.cooks, movable=False), tuple(queue)
    kept = {batch.id for batch in batches if seating.keep(batch)}
    kept |= {
        batch.id
        for batch in batches
        if batch.promised
        and batch.id not in kept
        and seating.seat(batch, batch.chains[0], batch.promised, batch.promised_units)
    }
    for batch in batches:
        if batch.id not in kept:
            seating.earliest(batch, order.within, None if batch.promised else order.shares)
    return seating


def _is(move: Move, piece: Piece, busy: Busy) -> bool:
    return piece.resource.equipment_id == move.from_id and busy.booking_id == move.booking_id and busy.span == move.span


def _with(kitchen: Kitchen, added: Mapping[UUID, Sequence[Busy]]) -> Kitchen:
    pieces = tuple(
        replace(piece, resource=replace(piece.resource, busy=(*piece.resource.busy, *more)))
        if (more := added.get(piece.resource.equipment_id))
        else piece
        for piece in kitchen.pieces
    )
    return replace(kitchen, pieces=pieces)
