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
