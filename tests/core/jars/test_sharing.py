from fractions import Fraction
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.jars.movements import Kind, Movement, State
from service.core.jars.sharing import Share, Shared, dealt, share
from service.core.measures.jars import JAR_ML
from service.core.refusals import Refused
from tests.core.jars.make import ADA, BEN, LOT, place

CY = UUID(int=6)
JARS = st.dictionaries(st.sampled_from(list(JAR_ML)), st.integers(0, 60), min_size=1)
PARTS = st.lists(st.fractions(0, 50, max_denominator=12), min_size=1, max_size=9).filter(any)


def parts(*sizes: float) -> list[Fraction]:
    return [Fraction(size) for size in sizes]


@pytest.mark.parametrize(
    ("jars", "weights", "expected"),
    [
        pytest.param(6, (1, 1, 1), [2, 2, 2], id="nothing left over"),
        pytest.param(7, (1, 1, 1), [3, 2, 2], id="one left over goes to the one named first"),
        pytest.param(10, (3, 3, 1), [4, 4, 2], id="largest remainders: 4.29, 4.29 and 1.43"),
        pytest.param(7, (2.5, 1), [5, 2], id="hours and half hours"),
        pytest.param(3, (1, 0, 1), [2, 0, 1], id="no part, no jar"),
        pytest.param(0, (1, 2), [0, 0], id="no jars"),
        # 100 seats on votes of 47, 16, 15.8, 12, 6.1 and 3.1 thousand of 100: the usual worked example of largest
        # remainders, here with 10 seats: quota 10,000, seats 5, 2, 1, 1, 1, 0; from memory
        pytest.param(10, (47000, 16000, 15900, 12000, 6000, 3100), [5, 2, 1, 1, 1, 0], id="the textbook's ten seats"),
    ],
)
def test_jars_are_dealt_by_largest_remainder(jars: int, weights: tuple[float, ...], expected: list[int]) -> None:
    assert [deal.get("pint", 0) for deal in dealt({"pint": jars}, parts(*weights))] == expected


def test_who_came_off_short_with_one_size_comes_first_with_the_next() -> None:
    deals = dealt({"quart": 1, "pint": 1, "half-pint": 1}, parts(1, 1, 1))
    assert deals == [{"quart": 1}, {"pint": 1}, {"half-pint": 1}]


@given(JARS, PARTS)
def test_every_jar_is_dealt_and_nobody_is_a_whole_jar_off(jars: dict[str, int], weights: list[Fraction]) -> None:
    deals = dealt(jars, weights)
    assert deals == dealt(dict(reversed(jars.items())), weights)
    for size, count in jars.items():
        assert sum(deal.get(size, 0) for deal in deals) == count
        for deal, weight in zip(deals, weights, strict=True):
            assert abs(deal.get(size, 0) - count * weight / sum(weights)) < 1


@given(JARS, PARTS, st.integers(1, 1000))
def test_hours_or_minutes_make_no_difference(jars: dict[str, int], weights: list[Fraction], factor: int) -> None:
    assert dealt(jars, weights) == dealt(jars, [weight * factor for weight in weights])


def test_what_the_sharer_keeps_does_not_move() -> None:
    shares = [Share(ADA, part=Fraction(1)), Share(BEN, part=Fraction(1))]
    shared = share(LOT, ADA, State.SHELF, {"pint": 5}, shares, {place(): 6})
    assert shared == Shared(
        deals=({"pint": 3}, {"pint": 2}), moved=(Movement(Kind.SHARE, 2, place(), place(holder_id=BEN)),)
    )


@pytest.mark.parametrize(
    ("jars", "shares", "code"),
    [
        pytest.param({"pint": 7}, [Share(BEN, part=Fraction(1))], "too-few-jars", id="more than are there"),
        pytest.param(None, [Share(BEN, {"pint": 4}), Share(CY, {"pint": 3})], "too-few-jars", id="too many together"),
        pytest.param(None, [Share(BEN, {"quart": 1})], "too-few-jars", id="a size that isn't there"),
        pytest.param(None, [Share(BEN, {"pint": 1}), Share(BEN, {"pint": 1})], "not-possible", id="one member twice"),
        pytest.param({"pint": 1}, [Share(BEN, part=Fraction(0))], "not-possible", id="nobody has a part"),
        pytest.param({"pint": 1}, [Share(BEN)], "not-possible", id="a share of nothing"),
        pytest.param(None, [Share(BEN, part=Fraction(1))], "not-possible", id="a part of nothing said"),
        pytest.param({"pint": 1}, [Share(BEN, {"pint": 1}, Fraction(1))], "not-possible", id="both ways at once"),
    ],
)
def test_what_cannot_be_shared_is_refused(jars: dict[str, int] | None, shares: list[Share], code: str) -> None:
    refused = share(LOT, ADA, State.SHELF, jars, shares, {place(): 6})
    assert isinstance(refused, Refused)
    assert refused.code == code
