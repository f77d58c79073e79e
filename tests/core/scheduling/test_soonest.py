"""The bound of how soon work could be done, beside the best that trying every start finds."""

from collections.abc import Sequence
from itertools import product

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from service.core.scheduling.soonest import Sort, Work, soonest
from tests.outside.plans import soonest_end

SLOTS = 9

works = st.builds(Work, since=st.integers(0, 3), slots=st.integers(0, 3), left=st.integers(0, 2))
units = st.lists(st.integers(0, 2), min_size=SLOTS, max_size=SLOTS)


def slow_end(free: Sequence[int], sorts: Sequence[Sort]) -> int | None:
    """The obvious way: every start of every work, and every slot."""
    placed = [(number, work) for number, sort in enumerate(sorts) for work in sort.works]
    best = None
    for starts in product(range(SLOTS + 1), repeat=len(placed)):
        times = [
            (number, range(start, start + work.slots)) for start, (number, work) in zip(starts, placed, strict=True)
        ]
        end = max(
            (time.stop + work.left for (_, time), (_, work) in zip(times, placed, strict=True)),
            default=0,
        )
        if (
            end <= SLOTS
            and all(start >= work.since for start, (_, work) in zip(starts, placed, strict=True))
            and all(
                sum(slot in time for _, time in times) <= free[slot]
                and all(
                    sum(slot in time for number, time in times if number == sort) <= sorts[sort].at_once[slot]
                    for sort in range(len(sorts))
                )
                for slot in range(SLOTS)
            )
        ):
            best = end if best is None else min(best, end)
    return best


@settings(max_examples=150)
@given(units, units, st.lists(works, max_size=2), st.lists(works, min_size=1, max_size=2))
def test_nothing_is_ever_done_before_the_bound(
    free: list[int], at_once: list[int], some: list[Work], others: list[Work]
) -> None:
    sorts = [Sort(free, tuple(some)), Sort(at_once, tuple(others))]
    bound, best = soonest(free, sorts), slow_end(free, sorts)
    event("not at all" if best is None else "as soon as that" if bound == best else "later")
    assert bound <= (SLOTS if best is None else best)


def test_two_units_with_three_works_take_two_turns_and_wait_for_the_night() -> None:
    work = Work(since=1, slots=2)
    assert soonest([2] * SLOTS, [Sort([2] * SLOTS, (work,) * 3)]) == 4  # six in pairs from the first slot on
    assert soonest([2, 2, 2, 0, 0, 0, 2, 2, 2], [Sort([2] * SLOTS, (work,) * 3)]) == 7
    assert soonest([2] * SLOTS, [Sort([1] * SLOTS, (work,) * 3)]) == 7  # one at a time of its sort
    assert soonest([2] * SLOTS, [Sort([2] * SLOTS, (Work(1, 2, 3),) * 3)]) == 7  # and three after the last


@pytest.mark.parametrize("seed", range(1, 7))
def test_no_kitchen_is_done_before_its_bound(seed: int) -> None:
    assert soonest_end(seed).faults == ()
