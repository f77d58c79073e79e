from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.core.measures.bounds import Bounds, in_common

PARTS = st.sampled_from([1, 2, 3, 8])
VALUES = st.builds(Fraction, st.integers(-1000, 1000), PARTS)
AMOUNTS = st.builds(Fraction, st.integers(0, 1000), PARTS)


@st.composite
def ranges(draw, values=VALUES):
    """A range with one value out of it, written as (range, value)."""
    low, value, high = sorted((draw(values), draw(values), draw(values)))
    return Bounds(low, high), value


@st.composite
def open_ranges(draw):
    low, value = sorted((draw(AMOUNTS), draw(AMOUNTS)))
    return Bounds(low, None), value


EITHER = ranges() | open_ranges()
NOT_NEGATIVE = ranges(AMOUNTS) | open_ranges()


@given(EITHER, EITHER)
def test_a_sum_holds_the_sum_of_any_two_values_within(one, other):
    assert (one[0] + other[0]).contains(one[1] + other[1])


@given(ranges(), ranges())
def test_a_product_holds_the_product_of_any_two_values_within(one, other):
    assert (one[0] * other[0]).contains(one[1] * other[1])


@given(NOT_NEGATIVE, NOT_NEGATIVE)
def test_a_product_without_an_upper_end_holds_what_can_be_reached(one, other):
    assert (one[0] * other[0]).contains(one[1] * other[1])


@given(NOT_NEGATIVE, NOT_NEGATIVE)
def test_a_quotient_opens_outward(one, other):
    assume(other[1] > 0)
    assert (one[0] / other[0]).contains(one[1] / other[1])


@given(ranges(), ranges(VALUES.filter(bool).map(abs)), st.sampled_from([1, -1]))
def test_a_quotient_of_any_signs_holds_the_quotient_of_any_two_values_within(one, other, sign):
    other = other[0] * sign, other[1] * sign
    assert (one[0] / other[0]).contains(one[1] / other[1])


@given(ranges(), ranges())
def test_a_sum_is_no_wider_than_it_must_be(one, other):
    both = one[0] + other[0]
    assert (both.low, both.high) == (one[0].low + other[0].low, one[0].high + other[0].high)


@given(EITHER, EITHER)
def test_a_union_holds_both_and_two_ranges_overlap_if_they_share_a_value(one, other):
    union = one[0].union(other[0])
    assert union.contains(one[0])
    assert union.contains(other[0])
    if one[0].contains(other[1]):
        assert one[0].overlaps(other[0])
        assert other[0].overlaps(one[0])


@given(ranges(), VALUES)
def test_scaling_by_a_number_is_multiplying_by_that_number_exactly(one, factor):
    assert one[0] * factor == one[0] * Bounds.exactly(factor) == factor * one[0]


@given(st.lists(ranges(), max_size=5))
def test_a_total_is_the_sum_of_its_parts(parts):
    total = Bounds.total(part for part, _ in parts)
    assert total.contains(sum(value for _, value in parts))
    assert total.low == sum(part.low for part, _ in parts)


def test_an_amount_that_runs_downward_is_refused():
    with pytest.raises(ValueError, match="above the high end"):
        Bounds(Fraction(2), Fraction(1))


@pytest.mark.parametrize("divisor", [Bounds.exactly(0), Bounds(Fraction(-1), Fraction(1)), Bounds(Fraction(-1), None)])
def test_dividing_by_what_may_be_zero_and_negative_is_refused(divisor):
    with pytest.raises(ZeroDivisionError):
        Bounds.exactly(1) / divisor


def test_something_negative_times_a_range_without_an_upper_end_is_refused():
    with pytest.raises(ValueError, match="zero or more"):
        Bounds.exactly(-1) * Bounds(Fraction(1), None)


def test_ranges_that_only_touch_overlap_and_ranges_apart_do_not():
    low, middle, high = (Bounds(Fraction(n), Fraction(n + 1)) for n in (0, 1, 3))
    assert low.overlaps(middle)
    assert not low.overlaps(high)
    assert not high.overlaps(low)
    assert not low.contains(Bounds(Fraction(0), None))


@given(EITHER, st.integers(1, 60))
def test_what_was_worked_out_in_a_longer_way_is_the_same_value(one, times):
    longer = one[0] * times / times
    assert longer == one[0]
    assert hash(longer) == hash(one[0])
    assert (longer.low, longer.high, repr(longer)) == (one[0].low, one[0].high, repr(one[0]))


def test_values_that_differ_in_either_end_are_two():
    half, whole = Fraction(1, 2), Fraction(1)
    assert len({Bounds(half, whole), Bounds(half, half), Bounds(half, None), Bounds(whole, None)}) == 4
    assert Bounds(half, half) != half


@given(EITHER, EITHER)
def test_one_range_ends_above_another_as_its_ends_say(one, other):
    one, other = one[0], other[0]
    assert one.ends_above(other) is (other.high is not None and (one.high is None or one.high > other.high))


@given(st.lists(EITHER, min_size=1, max_size=5))
def test_ends_in_one_small_part_stand_to_each_other_as_they_do(ranges):
    ranges = [each for each, _ in ranges]
    common = in_common(ranges)
    for each in ranges:
        low, high = each.in_parts(common)
        assert Fraction(low, common) == each.low
        assert (None if high is None else Fraction(high, common)) == each.high


@given(EITHER, EITHER)
def test_two_ranges_beside_each_other_are_in_the_same_parts(one, other):
    one, other = one[0], other[0]
    of_one, *ends = one.beside(other)
    exact = [None if end is None else Fraction(end, of_one) for end in ends]
    assert exact == [one.low, one.high, other.low, other.high]


@given(EITHER)
def test_the_floats_of_a_range_are_those_of_its_ends(amount):
    amount = amount[0] * Fraction(7, 3)
    assert amount.floats == (float(amount.low), None if amount.high is None else float(amount.high))


def test_the_ends_of_a_range_never_change():
    amount = Bounds.exactly(1)
    for end in ("low", "high"):
        with pytest.raises(AttributeError):
            setattr(amount, end, Fraction(2))
