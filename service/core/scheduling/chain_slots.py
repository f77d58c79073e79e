"""When a whole batch could be made: starts at which each of its steps finds a free place, earliest first."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import reduce
from heapq import merge
from itertools import groupby
from operator import or_
from uuid import UUID

from service.core.scheduling.bookings import Booked, Claim, Move, Piece
from service.core.scheduling.calendars import Grid, ahead, bits, first, runs
from service.core.scheduling.chains import (
    LONGEST_CLOSED_MINUTES,
    Canner,
    Chain,
    Need,
    Placed,
    PlacedLoad,
    hands,
    needs,
    rested_min,
)
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.pools import Pool, Racks, Rest, Stay, TooManyTriesError, Tries
from service.core.scheduling.slots import GRID_MINUTES, Busy, Kind, laid, whole
from service.core.scheduling.spans import Span, at_minute, without

MOST_TRIES_A_START = 10_000  # half a second's work
MOST_TRIES = 40_000
MOST_TRIES_A_SEAT = 40_000
REST_AHEAD_MINUTES = LONGEST_CLOSED_MINUTES + 1440  # how far after a batch's work its jars may rest
KNOWN_BEFORE_MINUTES = 1440  # who moves to another unit has to find it free from their own start on


@dataclass(frozen=True, slots=True)
class Kitchen:
    """All that a kitchen has, with what occupies it, and its hours, in the time that is looked at."""

    pieces: tuple[Piece, ...]
    open_spans: tuple[Span, ...]

    @property
    def hours(self) -> tuple[Span, ...]:
        """The open time without the closures."""
        closures = (busy.span for piece in self.pieces for busy in piece.resource.busy if busy.kind is Kind.CLOSURE)
        return without(self.open_spans, closures)

    @property
    def usable_spans(self) -> tuple[Span, ...]:
        """The hours from grid to grid, as a whole batch uses them."""
        found = (
            Span(-(-span.starts_min // GRID_MINUTES) * GRID_MINUTES, span.ends_min // GRID_MINUTES * GRID_MINUTES)
            for span in self.hours
        )
        return tuple(span for span in found if span.minutes > 0)

    @property
    def canners(self) -> tuple[Canner, ...]:
        """What its canners in service hold."""
        return tuple(
            Canner.of(piece.canner_kind, piece.capacity or {})
            for piece in self.pieces
            if piece.canner_kind and piece.resource.in_service
        )

    @property
    def rack_places(self) -> tuple[int, ...]:
        racks = (piece.resource for piece in self.pieces if piece.kind is EquipmentKind.RACK)
        return tuple(rack.lanes for rack in racks if rack.in_service)


@dataclass(frozen=True, slots=True)
class Cook:
    """The member whose batch it is: when their hands are wanted elsewhere, and how long their sign-off is good."""

    busy: tuple[Span, ...] = ()
    trained_until_min: int = 0


@dataclass(slots=True)
class Look:
    """How far a search has looked: which starts it gave up undecided, and from which on it didn't look."""

    undecided: set[int] = field(default_factory=set)
    looked_until_min: int | None = None  # None: as far as was asked

    @property
    def is_whole(self) -> bool:
        """Whether every start was decided: what wasn't found then isn't there."""
        return not self.undecided and self.looked_until_min is None

    def stopped(self, at_min: int) -> None:
        self.looked_until_min = min(at_min, self.looked_until_min or at_min)


@dataclass(frozen=True, slots=True)
class Seated:
    """A placed chain with a unit for everything it needs."""

    placed: Placed
    booked: Booked


def known(time: Span) -> Span:
    """What has to be read of a kitchen in which batches are looked for within a time."""
    return Span(time.starts_min - KNOWN_BEFORE_MINUTES, time.ends_min)


def looked_at(kitchen: Kitchen, time: Span) -> Span:
    """The time, from the start of the earliest stay that may move and reaches into it, or into one that does."""
    movable = [
        busy.span
        for piece in kitchen.pieces
        if piece.kind is not EquipmentKind.RACK
        for busy in piece.resource.busy
        if busy.movable and busy.span.starts_min < time.starts_min
    ]
    since_min = time.starts_min
    for span in sorted(movable, reverse=True):
        if span.starts_min >= time.starts_min - KNOWN_BEFORE_MINUTES and span.ends_min > since_min:
            since_min = span.starts_min
    return Span(since_min, time.ends_min)


class Calendar:
    """The free slots of a kitchen, for one member."""

    def __init__(self, kitchen: Kitchen, cook: Cook, time: Span, minutes: int = GRID_MINUTES) -> None:
        """Know the kitchen from the first work to the last jar at rest; of each slot so many minutes count."""
        self.grid = grid = Grid.over(time, minutes)
        self.open_spans = kitchen.usable_spans
        self.open = grid.inside(kitchen.hours)
        self.hands = bits(0, grid.slots) & ~grid.touched(cook.busy)
        self.tries = Tries(MOST_TRIES_A_SEAT)
        trained = self.open & grid.inside([Span(0, cook.trained_until_min)])

        def pool(kind: EquipmentKind) -> Pool:
            pieces = [piece for piece in kitchen.pieces if piece.kind is kind]
            usable = [trained if piece.needs_training else self.open for piece in pieces]
            return Pool(pieces, grid, usable, self.tries)

        self.pools = {kind: pool(kind) for kind in (EquipmentKind.BURNER, EquipmentKind.CANNER, EquipmentKind.TABLE)}
        self.racks = Racks([piece for piece in kitchen.pieces if piece.kind is EquipmentKind.RACK], grid)
        self.canner_sorts = [
            Canner.of(piece.canner_kind, piece.capacity or {})
            for piece in self.pools[EquipmentKind.CANNER].pieces
            if piece.canner_kind
        ]

    def free(self, piece: Piece, lanes: int) -> int:
        """The slots in which so many lanes of a piece are free, as things stand."""
        if piece.kind is EquipmentKind.RACK:
            racks = [each.resource.equipment_id for each in self.racks.pieces]
            is_there = piece.resource.equipment_id in racks
            return self.open & self.racks.room(racks.index(piece.resource.equipment_id), lanes) if is_there else 0
        pool = self.pools[piece.kind]
        return pool.free[[each.resource.equipment_id for each in pool.pieces].index(piece.resource.equipment_id)]

    def rests(self, jars: int, least_slots: int) -> int:
        """The slots from which jars have a place until the kitchen is open, after a rest of at least so many slots."""
        return reduce(
            or_, (self._rests(self.racks.room(rack, jars), least_slots) for rack in range(len(self.racks.pieces))), 0
        )

    def _rests(self, room: int, least_slots: int) -> int:
        found = runs(room, least_slots) & (self.open >> least_slots)  # it is open when they are ready
        closes = 0
        for span in self.open_spans:  # they are ready while it is closed, and wait for this opening
            opens = min(self.grid.slot(span.starts_min), self.grid.slots)
            if opens > 0 and opens - closes <= _slots(LONGEST_CLOSED_MINUTES):
                since = (bits(0, opens) & ~room).bit_length()
                low, high = max(since, closes - least_slots, 0), opens - least_slots
                found |= bits(low, high) if low < high else 0
            closes = max(self.grid.slot(span.ends_min), 0)
        return found


class Search:
    """The starts of one chain in one calendar, its work within a time."""

    def __init__(self, calendar: Calendar, chain: Chain, within: Span, look: Look | None = None) -> None:
        """Find what each step could do by itself, then keep only what the step after it can follow.

        What a search leaves undecided is noted in `look`.
        """
        self.calendar, self.chain, self._look = calendar, chain, look or Look()
        self._prep, self._wait, self._cook, self._hold = map(
            _slots,
            (chain.prep_minutes, chain.longest_wait_minutes, chain.cook_minutes, chain.longest_hold_minutes),
        )
        self._fill, self._stand, self._hand = map(
            _slots, (chain.fill_minutes, chain.longest_standing_minutes, chain.hands_minutes)
        )
        self._rest = self._hand + _slots(chain.rest_minutes)
        self._units = [
            {
                kind: tuple(
                    number
                    for number, canner in enumerate(calendar.canner_sorts)
                    if canner.kind is kind and load.fits(canner)
                )
                for kind in load.cycles
            }
            for load in chain.loads
        ]
        self._burners, self._canners, tables = calendar.pools.values()
        grid, hands_free, every_burner = calendar.grid, calendar.hands, range(len(self._burners.pieces))
        every_table = range(len(tables.pieces))
        last, at_rest = grid.slot(within.ends_min), self._at_rest()
        self._ins = [self._into(number, last, at_rest) for number in range(len(chain.loads))]
        fills = tables.starts(every_table, self._fill) & runs(hands_free, self._fill)
        self._fills: list[int] = []
        last_fills = fills
        if all(cycle.warm_minutes > chain.longest_standing_minutes for cycle in chain.loads[-1].cycles.values()):
            # The pot is on its burner still while the last canner warms on another.
            last_fills &= self._burners.at_least(2) >> (self._fill - 1)
        for number in reversed(range(len(chain.loads))):
            mask = fills if self._fills else last_fills
            mask &= ahead(reduce(or_, self._ins[number].values(), 0), self._fill, self._fill + self._stand)
            if self._fills:
                mask &= ahead(self._fills[0], self._fill, self._hold - self._fill)
            self._fills.insert(0, mask)
        self._cooks = runs(hands_free, self._cook) if chain.cook_attended else bits(0, grid.slots)
        filling = len(chain.loads) * self._fill
        cooks = (
            self._cooks
            & self._burners.starts(every_burner, self._cook + filling)
            & ahead(self._fills[0], self._cook, self._cook + self._hold - filling)
        )
        preps = tables.starts(every_table, self._prep) & runs(hands_free, self._prep)
        from_slot = max(-((grid.starts_min - within.starts_min) // GRID_MINUTES), 0)
        self._preps = preps & ahead(cooks, self._prep, self._prep + self._wait) >> from_slot << from_slot

    def _at_rest(self) -> int:
        """The slots at which any load may come out, if all of them are to stand on the racks between first and last.

        However the loads are placed, each is there from a while after any of them comes out until a while before the
        first of them may leave. Without this, racks too full for all of them are met only after all else was tried.
        """
        loads = self.chain.loads
        outs = [_slots(cycle.out_after_minutes) for load in loads for cycle in load.cycles.values()]
        apart = self._hold + self._stand - self._fill + max(outs) - min(outs)
        all_there = self._rest - 2 * apart
        if len(loads) == 1 or all_there <= 0:
            return bits(0, self.calendar.grid.slots)
        return self.calendar.racks.together((load.jars for load in loads), all_there) >> apart

    def _into(self, number: int, last: int, at_rest: int) -> dict[CannerKind, int]:
        """The slots at which the jars of a load could go into each kind of canner."""
        calendar, load = self.calendar, self.chain.loads[number]
        rests = calendar.rests(load.jars, self._rest) & at_rest
        lifting = runs(calendar.hands, self._hand)
        found = {}
        for kind, cycle in load.cycles.items():
            warm, out, free = map(_slots, (cycle.warm_minutes, cycle.out_after_minutes, cycle.free_after_minutes))
            canners = self._canners.starts(self._units[number][kind], warm + free)
            burners = self._burners.starts(range(len(self._burners.pieces)), warm + free)
            in_time = bits(0, max(last - free + 1, 0))
            found[kind] = (canners & burners) << warm & lifting & (lifting & rests) >> out & in_time
        return found

    def seated(self) -> Iterator[Seated]:
        """One way for each start that has any, earliest first."""
        left, minute, tries, own = self._preps, self.calendar.grid.minute, self.calendar.tries, 0
        while left:
            prep = first(left)
            if own >= MOST_TRIES:
                self._look.stopped(minute(prep))
                return
            left &= left - 1
            before = tries.done
            tries.most = before + MOST_TRIES_A_START
            try:
                found = self._from(prep)
            except TooManyTriesError:
                self._look.undecided.add(minute(prep))
                found = None
            own += tries.done - before
            if found:
                yield found

    def _from(self, prep: int) -> Seated | None:
        cooked = prep + self._prep + self._cook
        filling = len(self.chain.loads) * self._fill
        for fill in _each(self._fills[0], cooked, cooked + self._wait + self._hold - filling):
            # Of all times to cook before this fill the latest does: its burner is taken for the shortest time.
            cooks = self._cooks & bits(0, min(prep + self._prep + self._wait, fill - self._cook) + 1)
            cook = cooks.bit_length() - 1
            if cook < prep + self._prep or cook + self._cook + self._hold < fill + filling:
                continue
            own = bits(prep, prep + self._prep)
            if self.chain.cook_attended:
                own |= bits(cook, cook + self._cook)
            found = self._load((), fill, prep, cook, own)
            if found:
                return found
        return None

    def _load(self, before: tuple[PlacedLoad, ...], fill: int, prep: int, cook: int, own: int) -> Seated | None:
        """Place the next load at this fill, and all that follow it; `own` is when the member's hands are full."""
        number, filled = len(before), fill + self._fill
        if own & bits(fill, filled):
            return None
        own |= bits(fill, filled)
        for into in range(filled, filled + self._stand + 1):
            for kind, ins in self._ins[number].items():
                out = into + _slots(self.chain.loads[number].cycles[kind].out_after_minutes)
                handling = bits(into, into + self._hand) | bits(out, out + self._hand)
                if not ins >> into & 1 or own & handling:
                    continue
                self.calendar.tries.one_more()
                minute = self.calendar.grid.minute
                rested = rested_min(self.chain, minute(out), self.calendar.open_spans)
                assert rested is not None  # or the mask wouldn't have let it through
                loads = (*before, PlacedLoad(minute(fill), minute(into), kind, rested))
                placed = Placed(minute(prep), minute(cook), loads)
                if self._seats(placed) is None:
                    continue
                if len(loads) == len(self.chain.loads):
                    return self.seat(placed)
                left = len(self.chain.loads) - len(loads)
                for following in _each(
                    self._fills[number + 1], filled, cook + self._cook + self._hold - left * self._fill
                ):
                    found = self._load(loads, following, prep, cook, own | handling)
                    if found:
                        return found
        return None

    def seat(self, placed: Placed, wished: Sequence[UUID] = ()) -> Seated | None:
        """A unit for everything the placed chain needs, the wished ones where they are free."""
        self.calendar.tries.most = self.calendar.tries.done + MOST_TRIES_A_SEAT
        try:
            seats, handling = self._seats(placed, wished), hands(self.chain, placed)
        except TooManyTriesError:
            self._look.undecided.add(placed.prep_min)
            return None
        if seats is None or self.calendar.grid.touched(handling) & ~self.calendar.hands:
            return None
        ids, moves = seats
        return Seated(placed, Booked(self._claims(needs(self.chain, placed), ids), handling, moves))

    def _seats(self, placed: Placed, wished: Sequence[UUID] = ()) -> tuple[dict[int, UUID], tuple[Move, ...]] | None:
        """A unit for each thing that the loads placed so far need, and who moves for them."""
        calendar, grid = self.calendar, self.calendar.grid
        found = list(enumerate(needs(replace(self.chain, loads=self.chain.loads[: len(placed.loads)]), placed)))
        likely = dict(enumerate(wished))
        ids: dict[int, UUID] = {}
        moves: tuple[Move, ...] = ()

        def order(place: int, able: Iterable[int], pieces: Sequence[Piece]) -> tuple[int, ...]:
            if place not in likely:
                return tuple(able)
            return tuple(sorted(able, key=lambda unit: pieces[unit].resource.equipment_id != likely[place]))

        racks = calendar.racks.pieces  # first, as they are soonest looked at
        rests = {
            place: Rest(grid.slot(need.span.starts_min), grid.slot(need.span.ends_min), need.jars)
            for place, need in found
            if need.kind is EquipmentKind.RACK
        }
        chosen = calendar.racks.seats(
            tuple(rests.values()), [order(place, range(len(racks)), racks) for place in rests]
        )
        if chosen is None:
            return None
        ids |= {place: racks[rack].resource.equipment_id for place, rack in zip(rests, chosen, strict=True)}
        for kind, pool in calendar.pools.items():
            stays = {}
            for place, need in found:
                if need.kind is kind:
                    able: Iterable[int] = range(len(pool.pieces))
                    if kind is EquipmentKind.CANNER and need.load is not None:
                        able = self._units[need.load][placed.loads[need.load].kind]
                    stays[place] = Stay(grid.touched([need.span]), order(place, able, pool.pieces))
            seats = pool.seats(tuple(stays.values()))
            if seats is None:
                return None
            moves += seats.moves
            ids |= {
                place: pool.pieces[unit].resource.equipment_id for place, unit in zip(stays, seats.units, strict=True)
            }
        return ids, moves

    def _claims(self, found: Sequence[Need], ids: dict[int, UUID]) -> tuple[Claim, ...]:
        racks = {piece.resource.equipment_id: piece.resource for piece in self.calendar.racks.pieces}
        claims = []
        for place, need in enumerate(found):
            occupied: tuple[Busy, ...] = whole(need.span)
            if need.kind is EquipmentKind.RACK:
                rack = racks[ids[place]]
                occupied = laid(rack, need.jars, need.span)
                racks[ids[place]] = replace(rack, busy=(*rack.busy, *occupied))
            starts_at, ends_at = at_minute(need.span.starts_min), at_minute(need.span.ends_min)
            claims.append(Claim(need.step, ids[place], False, starts_at, ends_at, need.attended, occupied))
        return tuple(claims)


def seated(
    kitchen: Kitchen, cook: Cook, chains: Sequence[Chain], within: Span, look: Look | None = None
) -> Iterator[Seated]:
    """One way for each start at which any of the chains can be made, earliest first.

    Starts that are left undecided are noted in `look`: only where there are none, what isn't found isn't there.
    """
    if within.minutes <= 0:
        return
    time = Span(within.starts_min, within.ends_min + REST_AHEAD_MINUTES)
    calendar = Calendar(kitchen, cook, looked_at(kitchen, time))

    def start(each: Seated) -> int:
        return each.placed.prep_min

    found = merge(*(Search(calendar, chain, within, look).seated() for chain in chains), key=start)
    for _, same in groupby(found, start):
        yield next(same)


def _slots(minutes: int) -> int:
    return minutes // GRID_MINUTES


def _each(wanted: int, least: int, most: int) -> Iterator[int]:
    """The wanted slots from `least` to `most`, in order."""
    if least > most:
        return
    left = wanted & bits(least, most + 1)
    while left:
        yield first(left)
        left &= left - 1
