"""Which unit a stay gets, where several do the same.

A stay whose unit isn't fixed may be given another, so what counts is how many are free at a time; the numbers are
given out afterwards. With fixed stays in between that is a search; one that takes too long is given up, and says so.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import pairwise
from operator import and_, or_

from service.core.scheduling.bookings import Move, Piece
from service.core.scheduling.calendars import Grid, bits, first, runs
from service.core.scheduling.slots import Busy, levels


class TooManyTriesError(Exception):
    """A search is given up undecided: the answer may be yes or no."""


@dataclass(slots=True)
class Tries:
    """How much has been tried, and how much may be before a search is given up."""

    most: int
    done: int = 0

    def one_more(self) -> None:
        self.done += 1
        if self.done > self.most:
            raise TooManyTriesError


@dataclass(frozen=True, slots=True)
class Stay:
    """Slots on one of certain units, the likeliest first."""

    slots: int
    units: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Seats:
    """A unit for each stay, and the stays of others that make room."""

    units: tuple[int, ...]
    moves: tuple[Move, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)  # each is itself: to compare them by value takes most of a search
class _Loose:
    busy: Busy
    unit: int
    slots: int


class Pool:
    """Burners, tables or canners; units that hold the same are of one class."""

    def __init__(self, pieces: Sequence[Piece], grid: Grid, usable: Sequence[int], tries: Tries) -> None:
        """Take each piece with the slots it could be used in at all by whoever looks for one.

        Others that move keep their time, whatever the hours are by now and whoever is signed off.
        """
        self.pieces, self._tries, self._usable = pieces, tries, usable
        self._unfixed: list[int] = []
        self._loose: list[_Loose] = []
        self._held = 0  # by stays that may move, but not as far as can be seen here
        for number, piece in enumerate(pieces):
            if not piece.resource.in_service:
                self._unfixed.append(0)
                continue
            stays = [(each, grid.touched([each.span])) for each in piece.resource.busy]
            once = twice = 0
            for _, slots in stays:
                once, twice = once | slots, twice | once & slots
            fixed = 0
            for each, slots in stays:
                if each.movable and grid.covers(each.span) and not slots & twice:
                    self._loose.append(_Loose(each, number, slots))
                else:
                    fixed |= slots
                    if each.movable:  # it begins before what is known, or shares five minutes with its neighbour
                        self._held |= slots
            self._unfixed.append(bits(0, grid.slots) & ~fixed)
        self.free = [free & able for free, able in zip(self._without(self._loose), usable, strict=True)]
        self._known: dict[tuple[Stay, ...], Seats | None] = {}

    def same(self, unit: int) -> tuple[int, ...]:
        """The units of this unit's class, itself first."""
        others = (n for n, piece in enumerate(self.pieces) if n != unit and piece.does_as(self.pieces[unit]))
        return (unit, *others)

    def at_least(self, units: int) -> int:
        """The slots in which so many are free; whoever else moves, their number stays."""
        found = [-1] + [0] * units
        for free in self.free:
            for level in reversed(range(units)):
                found[level + 1] |= found[level] & free
        return found[units]

    def starts(self, units: Iterable[int], slots: int) -> int:
        """The slots from which a stay may begin: one unit is free throughout, or could be made so."""
        found = 0
        for unit in units:
            if self._loose:
                found |= runs(reduce(or_, (self.free[other] for other in self.same(unit))), slots)
            else:
                found |= runs(self.free[unit], slots)
        return found

    def seats(self, stays: tuple[Stay, ...]) -> Seats | None:
        """A unit for each stay: as things stand if possible, else with others moved.

        Raises `TooManyTriesError` where that stays undecided.
        """
        if stays not in self._known:
            self._known[stays] = self._seats(stays)
        return self._known[stays]

    def _seats(self, stays: tuple[Stay, ...]) -> Seats | None:
        found = _seat(stays, list(self.free), self._tries)
        if found is not None:
            return Seats(found)
        loose = self._involved(stays)
        if not loose:
            return None
        asked = set(loose)
        free = self._without(each for each in self._loose if each not in asked)
        ours = [replace(stay, units=tuple(self._able(stay))) for stay in stays]
        theirs = [Stay(each.slots, self.same(each.unit)) for each in loose]
        found = _seat((*ours, *theirs), free, self._tries)
        if found is None:
            if self._held & reduce(or_, (each.slots for each in (*ours, *theirs))):
                raise TooManyTriesError
            return None
        own, others = found[: len(stays)], found[len(stays) :]
        ids = [piece.resource.equipment_id for piece in self.pieces]
        return Seats(
            own,
            tuple(
                Move(each.busy.booking_id, each.busy.span, ids[each.unit], ids[unit])
                for each, unit in zip(loose, others, strict=True)
                if unit != each.unit and each.busy.booking_id
            ),
        )

    def _able(self, stay: Stay) -> Iterator[int]:
        return (unit for unit in stay.units if not stay.slots & ~self._usable[unit])

    def _without(self, loose: Iterable[_Loose]) -> list[int]:
        free = list(self._unfixed)
        for each in loose:
            free[each.unit] &= ~each.slots
        return free

    def _involved(self, stays: Iterable[Stay]) -> tuple[_Loose, ...]:
        """The movable stays that these meet, those that those meet, and so on."""
        reached, found = reduce(or_, (stay.slots for stay in stays)), set[_Loose]()
        while more := {each for each in self._loose if each not in found and each.slots & reached}:
            found |= more
            reached = reduce(or_, (each.slots for each in more), reached)
        return tuple(each for each in self._loose if each in found)


def _seat(stays: Sequence[Stay], free: list[int], tries: Tries) -> tuple[int, ...] | None:
    """A unit for each stay from what is free, trying in order of their starts and going back where one finds none.

    Units that are free alike from here on, for the same stays, do the same: only one of them is tried, and what failed
    once with as much left isn't tried again.
    """
    order = sorted(range(len(stays)), key=lambda number: stays[number].slots & -stays[number].slots)
    units = [-1] * len(stays)
    able = [sum(1 << number for number, stay in enumerate(stays) if unit in stay.units) for unit in range(len(free))]
    failed = set[tuple[int, tuple[tuple[int, int], ...]]]()

    def place(at: int) -> bool:
        if at == len(order):
            return True
        number = order[at]
        stay = stays[number]
        from_slot = first(stay.slots)
        left = [(able[unit], slots >> from_slot) for unit, slots in enumerate(free)]
        state = at, tuple(sorted(left))
        if state in failed:
            return False
        tries.one_more()
        tried = set[tuple[int, int]]()
        for unit in stay.units:
            if stay.slots & ~free[unit] or left[unit] in tried:
                continue
            tried.add(left[unit])
            free[unit] ^= stay.slots
            units[number] = unit
            if place(at + 1):
                return True
            free[unit] ^= stay.slots
        failed.add(state)
        return False

    return tuple(units) if place(0) else None


@dataclass(frozen=True, slots=True)
class Rest:
    """Jars on one of the racks, from slot to slot."""

    low: int
    high: int
    jars: int


class Racks:
    """Racks give a place to each jar; which places those are doesn't matter, only how many are free."""

    def __init__(self, pieces: Sequence[Piece], grid: Grid) -> None:
        """Take each rack with what stands on it."""
        self.pieces = [piece for piece in pieces if piece.resource.in_service]
        self._taken = [
            [(taken, grid.touched([time])) for time, taken in levels(piece.resource)] for piece in self.pieces
        ]
        self._all = bits(0, grid.slots)
        self._room: dict[tuple[int, int], int] = {}

    def room(self, rack: int, jars: int) -> int:
        """The slots in which so many more jars have a place."""
        key = rack, jars
        if key not in self._room:
            spare = self.pieces[rack].resource.lanes - jars
            full = (slots for level, slots in self._taken[rack] if level > spare)
            self._room[key] = self._all & ~reduce(or_, full, 0) if spare >= 0 else 0
        return self._room[key]

    def together(self, jars: Iterable[int], slots: int) -> int:
        """The slots from which loads of so many jars are all there for so long, each on one rack throughout."""
        ways = {(0,) * len(self.pieces)}  # jars on each rack
        for load in jars:
            ways = {
                (*way[:rack], way[rack] + load, *way[rack + 1 :])
                for way in ways
                for rack, piece in enumerate(self.pieces)
                if way[rack] + load <= piece.resource.lanes
            }
        rooms = (reduce(and_, (self.room(rack, count) for rack, count in enumerate(way)), self._all) for way in ways)
        return reduce(or_, (runs(room, slots) for room in rooms), 0)

    def seats(self, rests: tuple[Rest, ...], racks: Sequence[Sequence[int]]) -> tuple[int, ...] | None:
        """A rack for each rest, out of those named for it."""

        def place(chosen: tuple[int, ...]) -> tuple[int, ...] | None:
            if len(chosen) == len(rests):
                return chosen
            for rack in racks[len(chosen)]:
                both = [rest for rest, on in zip(rests, (*chosen, rack), strict=False) if on == rack]
                if self._holds(rack, both):
                    found = place((*chosen, rack))
                    if found is not None:
                        return found
            return None

        return place(())

    def _holds(self, rack: int, rests: Sequence[Rest]) -> bool:
        edges = sorted({edge for rest in rests for edge in (rest.low, rest.high)})
        for low, high in pairwise(edges):
            jars = sum(rest.jars for rest in rests if rest.low <= low and high <= rest.high)
            if jars and bits(low, high) & ~self.room(rack, jars):
                return False
        return True
