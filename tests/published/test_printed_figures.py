"""Every figure of every table against its second arrangement, and figures that two tables share against each other."""

import csv
import json
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml

from service.core.rules import facts as published
from service.published import loading
from service.published.cells import Row
from service.published.loading import facts
from tests.published import agreements, printed
from tests.published.printed import Figure

DATA = Path(loading.__file__).parent / "data"


def rows(name: str) -> Iterator[Row]:
    """The rows of a data file, as an editor shows them."""
    text = (DATA / name).read_text(encoding="utf-8")
    if name.endswith(".csv"):
        read: Iterable[dict[str, Any]] = csv.DictReader(text.splitlines(keepends=True))
    elif name.endswith(".jsonl"):
        read = map(json.loads, text.splitlines())
    else:
        (read,) = (entries for entries in yaml.safe_load(text).values() if isinstance(entries, list))
    for number, cells in enumerate(read, start=1):
        yield Row(name, number, cells)


TABLES: list[tuple[str, Callable[[Any], Iterator[Figure]], Iterable[Any]]] = [
    ("processes", printed.of_process, facts().processes),
    ("tested_recipes", printed.of_recipe, facts().tested_recipes),
    ("ingredients", printed.of_ingredient, list(rows("ingredients.csv"))),
    ("ingredients", printed.of_form, list(rows("ingredient_forms.csv"))),
    ("produce_yields", printed.of_produce, list(rows("produce_yields.csv"))),
    ("rules", printed.of_statement, list(rows("rules.jsonl"))),
    ("kitchen", printed.of_boiling_point, list(rows("boiling_points.csv"))),
    ("kitchen", printed.of_gauge_band, list(rows("gauge_bands.csv"))),
    ("kitchen", printed.of_canner_load, list(rows("canner_loads.yaml"))),
    ("kitchen", printed.of_jar_size, list(rows("jar_sizes.yaml"))),
]


@pytest.mark.parametrize("name", sorted({name for name, _, _ in TABLES}))
def test_every_figure_stands_the_same_in_both_arrangements(name: str) -> None:
    ours: dict[tuple[str, str], Fraction] = {}
    for figures, read in ((figures, read) for table, figures, read in TABLES if table == name):
        for what, whose, value in (figure for row in read for figure in figures(row)):
            assert (what, whose) not in ours
            ours[what, whose] = value
    theirs = printed.printed(name)
    assert {key: (value, theirs.get(key)) for key, value in ours.items() if value != theirs.get(key)} == {}
    assert set(theirs) == set(ours)


@pytest.mark.parametrize("recipe", facts().tested_recipes, ids=lambda recipe: recipe.id)
def test_the_sentence_of_a_tested_ingredient_says_its_amount(recipe: published.TestedRecipe) -> None:
    assert agreements.every_amount_is_said(recipe)


@pytest.mark.parametrize("recipe", facts().tested_recipes, ids=lambda recipe: recipe.id)
def test_the_process_printed_with_a_recipe_is_that_of_its_product(recipe: published.TestedRecipe) -> None:
    assert agreements.options_are_rows(recipe, facts())


def test_every_pressure_stands_among_those_of_its_gauge() -> None:
    assert all(agreements.pressures_stand_on_the_gauge(row, facts().gauge_bands) for row in facts().processes)


def test_a_pint_gets_half_the_acid_of_a_quart() -> None:
    assert all(map(agreements.acid_goes_by_the_jar, facts().processes))
