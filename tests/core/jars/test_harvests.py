from datetime import timedelta
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from service.core.jars.harvests import Choice, Produce, left_over, pots
from service.core.measures.bounds import Bounds
from tests.core.jars.make import NOON

WEIGHTS = st.tuples(st.integers(0, 60), st.integers(0, 20)).map(lambda ends: Bounds(ends[0], ends[0] + ends[1]))
POTS = st.tuples(st.integers(1, 9), st.integers(0, 3)).map(lambda ends: Bounds(ends[0], ends[0] + ends[1]))


def produce(low: float, high: float | None = None, days: float = 3) -> Produce:
    return Produce(Bounds(Fraction(low), Fraction(low if high is None else high)), NOON + timedelta(days=days))


def choice(low: float = 3, high: float | None = None, jars: int = 8, held: int = 0, of: int = 0) -> Choice:
    return Choice({of: Bounds(Fraction(low), Fraction(low if high is None else high))}, jars, held)


def test_only_whole_pots_that_are_sure_are_made() -> None:
    # a bushel of plums is 56 lb in the national table; pots of 3 to 3.5 lb: 16 are sure
    assert pots([produce(56)], [choice(3, 3.5)]) == [0] * 16
    assert left_over([produce(56)], [choice(3, 3.5)], [0] * 16) == [Bounds(0, 8)]
    assert pots([produce(2)], [choice(3)]) == []


def test_what_the_pantry_has_least_of_is_made_first() -> None:
    made = pots([produce(9)], [choice(held=20), choice(held=0), choice(held=5)])
    assert sorted(made) == [1, 1, 2]
    assert pots([produce(3)], [choice(), choice()]) == [0]


def test_what_spoils_first_is_made_first() -> None:
    assert pots([produce(3, days=5), produce(3, days=1)], [choice(of=0), choice(of=1)]) == [1, 0]


def test_a_recipe_of_two_foods_needs_both() -> None:
    both = Choice({0: Bounds.exactly(3), 1: Bounds.exactly(1)}, 8)
    assert pots([produce(9), produce(2)], [both]) == [0, 0]
    assert left_over([produce(9), produce(2)], [both], [0, 0]) == [Bounds.exactly(3), Bounds.exactly(0)]


def test_a_recipe_that_takes_nothing_of_the_harvest_or_an_unknown_amount_is_not_made() -> None:
    assert pots([produce(9)], [Choice({}, 8), Choice({0: Bounds(Fraction(1), None)}, 8), choice(0)]) == []


@given(st.lists(WEIGHTS, min_size=1, max_size=3), st.lists(st.tuples(POTS, st.integers(0, 2)), max_size=4))
def test_no_more_is_cooked_than_was_surely_harvested(weights: list[Bounds], needs: list[tuple[Bounds, int]]) -> None:
    harvest = [Produce(weight, NOON) for weight in weights]
    choices = [Choice({of: need}, 8) for need, of in needs if of < len(harvest)]
    made = pots(harvest, choices)
    for place, each in enumerate(harvest):
        most = sum((choices[at].needs[place].high or 0 for at in made if place in choices[at].needs), Fraction(0))
        assert most <= each.pounds.low
        left = each.pounds.low - most
        assert len(made) == 60 or all((c.needs[place].high or 0) > left for c in choices if place in c.needs)
