"""Calendars with one bit for each five minutes: what is free when, for as long as a step takes.

A whole fortnight is one integer, so "free for an hour from here" is a handful of shifts for every "here" at once.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from service.core.scheduling.slots import GRID_MINUTES
from service.core.scheduling.spans import Span


@dataclass(frozen=True, slots=True)
class Grid:
    """The five-minute slots of a time; slot 0 starts at a minute of the grid.

    With `minutes`, only so many of the first minutes of each slot count: where a stay ends within a slot, nothing after
    it has to be free.
    """

    starts_min: int
    slots: int
    minutes: int = GRID_MINUTES

    @classmethod
    def over(cls, time: Span, minutes: int = GRID_MINUTES) -> "Grid":
        starts_min = time.starts_min // GRID_MINUTES * GRID_MINUTES
        return cls(starts_min, -((starts_min - time.ends_min) // GRID_MINUTES), minutes)

    def covers(self, span: Span) -> bool:
        return self.starts_min <= span.starts_min and span.ends_min <= self.minute(self.slots)

    def slot(self, minute: int) -> int:
        return (minute - self.starts_min) // GRID_MINUTES

    def slot_from(self, minute: int) -> int:
        """The first slot that doesn't start before the minute."""
        return -((self.starts_min - minute) // GRID_MINUTES)

    def minute(self, slot: int) -> int:
        return self.starts_min + slot * GRID_MINUTES

    def touched(self, spans: Iterable[Span]) -> int:
        """Every slot that any minute of the spans falls in."""
        found = 0
        for span in spans:
            if span.minutes > 0:
                found |= self._between(
                    self.slot_from(span.starts_min - self.minutes + 1), self.slot_from(span.ends_min)
                )
        return found

    def inside(self, spans: Iterable[Span]) -> int:
        """Every slot that lies in one of the spans as a whole."""
        found = 0
        for span in spans:
            found |= self._between(self.slot_from(span.starts_min), self.slot(span.ends_min - self.minutes) + 1)
        return found

    def _between(self, low: int, high: int) -> int:
        low, high = max(low, 0), min(high, self.slots)
        return bits(low, high) if low < high else 0


def bits(low: int, high: int) -> int:
    """The slots from `low` up to, not with, `high`."""
    return ((1 << (high - low)) - 1) << low


def runs(free: int, slots: int) -> int:
    """The slots from which so many in a row are free."""
    have = 1
    while have < slots:
        step = min(have, slots - have)
        free &= free >> step
        have += step
    return free


def ahead(wanted: int, least: int, most: int) -> int:
    """The slots from which a wanted one lies between `least` and `most` slots ahead."""
    if most < least:
        return 0
    found, have, width = wanted >> least, 1, most - least + 1
    while have < width:
        step = min(have, width - have)
        found |= found >> step
        have += step
    return found


def first(wanted: int) -> int:
    """The first of the wanted slots; there is one."""
    return (wanted & -wanted).bit_length() - 1
