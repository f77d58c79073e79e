"""How soon units that are alike could be done with their work, whatever the order: a bound for any timetable.

In a slot no more of them work than are free, than there is work that can have begun, and than there is work that can
still be unfinished if all is to be done in time. What they get done so by an end is the most there is, so that all ends
at which that is less than what has to be done are too soon. The same is asked of the work that begins late, alone.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Work:
    """One unit for so many slots, not before a slot; after it other work takes so many slots more at the least."""

    since: int
    slots: int
    left: int = 0


@dataclass(frozen=True, slots=True)
class Sort:
    """Work of which no more is done at a time than so many in each slot."""

    at_once: Sequence[int]
    works: tuple[Work, ...]

    def late(self, since: int) -> "Sort":
        return Sort(self.at_once, tuple(work for work in self.works if work.since >= since))


def soonest(free: Sequence[int], sorts: Sequence[Sort]) -> int:
    """The first slot at which all of the work could be over, and what comes after it, with so many units free.

    At the most the number of slots that are known.
    """
    works = [work for sort in sorts for work in sort.works]
    found = min(max((work.since + work.slots + work.left for work in works), default=0), len(free))
    for since in sorted({work.since for work in works}):
        done = _most_done(free, [sort.late(since) for sort in sorts])
        needed = sum(work.slots for work in works if work.since >= since)
        if done(found) < needed:  # most subsets say nothing new
            found = bisect_left(range(len(free)), needed, lo=found, key=done)
    return found


def _most_done(free: Sequence[int], sorts: Sequence[Sort]) -> Callable[[int], int]:
    """How much of the work can be done by an end: units times slots."""
    begun = [sorted(work.since for work in sort.works) for sort in sorts]
    after = [sorted(work.left for work in sort.works) for sort in sorts]

    def done(end: int) -> int:
        return sum(
            min(
                free[slot],
                sum(
                    min(sort.at_once[slot], bisect_right(since, slot), bisect_left(left, end - slot))
                    for sort, since, left in zip(sorts, begun, after, strict=True)
                ),
            )
            for slot in range(end)
            if free[slot] > 0
        )

    return done
