from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.measures.amounts import Amount, read_amount
from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_TEASPOON, UNITS
from service.core.measures.writing import amount, spoons_up


@pytest.mark.parametrize(
    ("low", "high", "unit", "said"),
    [
        pytest.param("9/2", None, "cup", "4 1/2 cups", id="a mixed fraction"),
        pytest.param("4", "9/2", "lb", "4 to 4 1/2 lb", id="a range"),
        pytest.param("7", None, "tsp", "2 tbsp + 1 tsp", id="spoons in the largest that hold them"),
        pytest.param("14", None, "tbsp", "3/4 cup + 2 tbsp", id="and cups"),
        pytest.param("1/8", None, "tsp", "1/8 tsp", id="the smallest spoon"),
        pytest.param("0", None, "tsp", "0 tsp", id="nothing"),
        pytest.param("3", "4", "tbsp", "3 to 4 tbsp", id="a range of spoons stays"),
        pytest.param("12", None, "each", "12", id="pieces"),
    ],
)
def test_an_amount_is_said_as_a_kitchen_says_it(low: str, high: str | None, unit: str, said: str) -> None:
    assert amount(Bounds(Fraction(low), Fraction(high or low)), UNITS[unit]) == said


@given(st.integers(1, 400), st.sampled_from(["tsp", "tbsp"]))
def test_spoons_in_other_measures_are_as_much(eighths: int, unit: str) -> None:
    said = amount(Bounds.exactly(Fraction(eighths, 8)), UNITS[unit])
    read = [read_amount(part) for part in said.split(" + ")]
    assert all(isinstance(each, Amount) for each in read)
    total = sum((each.base.low for each in read if isinstance(each, Amount)), Fraction(0))
    assert total == Fraction(eighths, 8) * UNITS[unit].factor


@pytest.mark.parametrize(
    ("teaspoons", "said"),
    [("1/2", "1/2 tsp"), ("1/16", "1/8 tsp"), ("2.6", "2 3/4 tsp"), ("6", "2 tbsp"), ("12", "1/4 cup")],
)
def test_what_is_needed_is_rounded_up(teaspoons: str, said: str) -> None:
    assert spoons_up(Fraction(teaspoons) * ML_PER_TEASPOON) == said
