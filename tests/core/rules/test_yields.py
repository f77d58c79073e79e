"""Worked sugar-and-fruit arithmetic, each example with its publication in `tests/data/gel_examples.jsonl`."""

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.rules import formula, yields

DATA = Path(__file__).parent.parent.parent / "data" / "gel_examples.jsonl"
EXAMPLES = [json.loads(line) for line in DATA.read_text(encoding="utf-8").splitlines()]
Example = dict[str, Any]


def exactly(value: float) -> Fraction:
    return Fraction(str(value))


def mix(example: Example) -> list[tuple[Bounds, Bounds]]:
    return [
        (Bounds.exactly(exactly(one["grams"])), Bounds.exactly(exactly(one["soluble_solids_fraction"])))
        for one in example["ingredients"]
    ]


def solids_of(example: Example) -> Fraction:
    share = formula.share(mix(example))
    assert share is not None
    assert share.exact
    return share.low


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: f"{example['id']} {example['title']}")
class TestAWorkedExample:
    def test_weighs_what_its_parts_weigh(self, example: Example) -> None:
        assert float(Bounds.total(grams for grams, _ in mix(example)).low) == pytest.approx(example["total_g"])

    def test_has_its_solids(self, example: Example) -> None:
        assert float(solids_of(example)) == pytest.approx(example["soluble_solids_before_boil"], abs=0.00006)

    def test_is_done_at_65_percent(self, example: Example) -> None:
        solids = solids_of(example) * exactly(example["total_g"])
        done = yields.grams_when_done(solids)
        assert float(done) == pytest.approx(example["mass_at_65_percent_g"], abs=0.06)
        volume = yields.millilitres(done, yields.DONE_SPREAD)
        assert float(volume) == pytest.approx(example["volume_at_65_percent_ml"], abs=0.6)
        jars = float(volume / JAR_ML["half-pint"])
        assert jars == pytest.approx(example["half_pints_nominal_at_65_percent"], abs=0.006)

    def test_fills_more_jars_before_it_boils(self, example: Example) -> None:
        volume = yields.millilitres(exactly(example["total_g"]), solids_of(example))
        jars = float(volume / JAR_ML["half-pint"])
        assert jars == pytest.approx(example["half_pints_nominal_without_boil_off"], abs=0.02)

    def test_lies_within_what_is_expected_of_it(self, example: Example) -> None:
        total = Bounds.exactly(exactly(example["total_g"]))
        expected = yields.spread_millilitres(total, Bounds.exactly(solids_of(example)))
        assert expected is not None
        for jars in ("half_pints_nominal_at_65_percent", "half_pints_nominal_without_boil_off"):
            near = Bounds(expected.low * Fraction("0.99"), (expected.high or 0) * Fraction("1.01"))
            if example[jars] >= 1 and solids_of(example) <= yields.DONE_SPREAD:
                assert near.contains(exactly(example[jars]) * JAR_ML["half-pint"])


grams = st.fractions(0, 5000, max_denominator=50)
shares = st.fractions(0, 1, max_denominator=50)


def ranges(values: st.SearchStrategy[Fraction]) -> st.SearchStrategy[Bounds]:
    return st.tuples(values, values).map(lambda pair: Bounds(min(pair), max(pair)))


@given(st.lists(st.tuples(ranges(grams), ranges(shares)), min_size=1, max_size=5), st.data())
def test_the_share_of_any_mix_within_the_ranges_lies_within_the_range(
    parts: list[tuple[Bounds, Bounds]], data: st.DataObject
) -> None:
    whole = formula.share(parts)
    picked = [(_within(weight, data), _within(share, data)) for weight, share in parts]
    total = sum((weight for weight, _ in picked), Fraction(0))
    if total and whole is not None:
        assert whole.contains(sum((weight * share for weight, share in picked), Fraction(0)) / total)


def _within(bounds: Bounds, data: st.DataObject) -> Fraction:
    assert bounds.high is not None
    return data.draw(st.fractions(bounds.low, bounds.high, max_denominator=2500))


@pytest.mark.parametrize(
    ("percent", "grams"),
    [
        *((0, "0.99823"), (10, "1.03814"), (20, "1.08096"), (30, "1.12698"), (40, "1.17645"), (50, "1.22957")),
        *((55, "1.25754"), (60, "1.28646"), (65, "1.31633"), (70, "1.34717"), (75, "1.37897"), (100, "1.37897")),
        *((5, "1.018185"), (45, "1.20301"), (Fraction(125, 2), "1.301395")),
    ],
)
def test_a_syrup_is_as_dense_as_printed_and_straight_between(percent: Fraction, grams: str) -> None:
    """Sucrose solutions at 20 C, NBS Circular 440, from memory."""
    assert yields.grams_per_ml(Fraction(percent, 100)) == Fraction(grams)


def test_the_printed_densities_follow_the_usual_formula_of_brewers() -> None:
    """Specific gravity = 1 + Brix / (258.6 - 227.1 Brix / 258.2), from memory; it holds for thin syrups only."""
    for brix in (10, 20, 30, 40):
        gravity = 1 + brix / (258.6 - 227.1 * brix / 258.2)
        assert abs(float(yields.grams_per_ml(Fraction(brix, 100))) - gravity * 0.99823) < 0.0006
