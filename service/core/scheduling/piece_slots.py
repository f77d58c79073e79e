"""When a single piece of equipment could be had: the starts at which it is free for long enough, earliest first.

It goes by the same calendars as a whole batch. A stay of any number of minutes is so many whole slots and the first
minutes of one more, for which a second calendar counts no more than those.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import reduce
from operator import or_
from uuid import UUID

from service.core.scheduling.bookings import Piece
from service.core.scheduling.calendars import Grid, bits, first, runs
from service.core.scheduling.chain_slots import Calendar, Cook, Kitchen
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import GRID_MINUTES
from service.core.scheduling.spans import Span, common

HANDLED = frozenset({EquipmentKind.TABLE, EquipmentKind.BURNER})  # booked alone, they take the member's own hands


@dataclass(frozen=True, slots=True, order=True)
class Slot:
    starts_min: int
    equipment_id: UUID


@dataclass(frozen=True, slots=True)
class Stay:
    """So many minutes on a piece of equipment, and on so many of its lanes: places on a rack, or the one there is."""

    minutes: int
    lanes: int | None = None  # None: all of them


class PieceSearch:
    """The starts of one stay on any of a kitchen's pieces, within a time."""

    def __init__(self, kitchen: Kitchen, cook: Cook, stay: Stay, within: Span) -> None:
        """Make a calendar for the whole slots of the stay, and one for what is left of it."""
        here = replace(kitchen, open_spans=common(kitchen.open_spans, (within,)))
        whole, left = divmod(stay.minutes, GRID_MINUTES)
        self._kitchen, self._stay, self._grid = kitchen, stay, Grid.over(within)
        self._parts: list[tuple[Calendar, int, int]] = []  # with the slot of the stay it begins at, and how many
        if whole:
            self._parts.append((Calendar(here, cook, within), 0, whole))
        if left:
            self._parts.append((Calendar(here, cook, within, left), whole, 1))

    def starts(self, piece: Piece) -> int:
        """The slots at which the stay could begin on this piece, with a burner if it takes one along."""
        found = self._free(piece)
        if piece.needs_burner:
            burners = (each for each in self._kitchen.pieces if each.kind is EquipmentKind.BURNER)
            found &= reduce(or_, map(self._free, burners), 0)
        if piece.kind in HANDLED:
            found &= self._throughout(calendar.hands for calendar, _, _ in self._parts)
        return found

    def slots(self, pieces: Iterable[Piece]) -> Iterator[Slot]:
        """Every slot on any of these pieces, earliest first."""
        found = sorted((piece.resource.equipment_id, self.starts(piece)) for piece in pieces)
        left = reduce(or_, (starts for _, starts in found), 0)
        while left:
            slot = first(left)
            left &= left - 1
            yield from (
                Slot(self._grid.minute(slot), equipment_id) for equipment_id, starts in found if starts >> slot & 1
            )

    def _free(self, piece: Piece) -> int:
        lanes = piece.resource.lanes if self._stay.lanes is None else self._stay.lanes
        return self._throughout(calendar.free(piece, lanes) for calendar, _, _ in self._parts)

    def _throughout(self, free: Iterable[int]) -> int:
        found = bits(0, self._grid.slots)
        for each, (_, after, slots) in zip(free, self._parts, strict=True):
            found &= runs(each, slots) >> after
        return found
