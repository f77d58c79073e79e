"""The published figures a second time, in another arrangement: by figure instead of by row.

A figure is what it is (`minutes at 0-1000 ft`), whose it is (`apples-sliced-hot-bw`) and its value. The second
arrangement stands in `tests/data/printed/`; each file names the publications.
"""

import re
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from service.core.rules.facts import BandFigures, PerJarAmount, Process, TestedRecipe
from service.published.cells import Row

PRINTED = Path(__file__).parents[1] / "data" / "printed"
Figure = tuple[str, str, Fraction]


@cache
def printed(name: str) -> Mapping[tuple[str, str], Fraction]:
    """The second arrangement of one table: (figure, whose) -> value."""
    text = (PRINTED / f"{name}.toml").read_text(encoding="utf-8")
    arranged = tomllib.loads(text, parse_float=Fraction)
    return {(what, whose): Fraction(value) for what, each in arranged.items() for whose, value in each.items()}


def of_process(row: Process) -> Iterator[Figure]:
    yield from _bands(row, row.id)
    if row.headspace_in is not None:
        yield "inches of headspace", row.id, row.headspace_in
    for acid in row.acids:
        for jar, amount in acid.per_jar.items():
            yield f"{acid.unit} of {acid.name} in a {jar}", row.id, amount


def _bands(row: Process, whose: str) -> Iterator[Figure]:
    under_pressure = {figures.minutes for figures in row.bands if figures.pressure_psi is not None}
    for minutes in under_pressure:
        yield "minutes under pressure", whose, Fraction(minutes)
    for figures in row.bands:
        if figures.pressure_psi is None:
            yield f"minutes at {_feet(figures)} ft", whose, Fraction(figures.minutes)
        else:
            yield f"psi at {_feet(figures)} ft", whose, Fraction(figures.pressure_psi)


def _feet(figures: BandFigures) -> str:
    band = figures.band
    return f"{band.low_ft}+" if band.high_ft is None else f"{band.low_ft}-{band.high_ft}"


def of_recipe(recipe: TestedRecipe) -> Iterator[Figure]:
    seen: Counter[str] = Counter()
    for one in recipe.ingredients:
        seen[one.name] += 1
        name = one.name if seen[one.name] == 1 else f"{one.name} ({seen[one.name]})"
        unit = one.unit or "as many"
        if one.amount is not None:
            yield f"{unit} of {name}", recipe.id, one.amount.low
            if not one.amount.exact and one.amount.high is not None:
                yield f"at most {unit} of {name}", recipe.id, one.amount.high
        yield from _per_jar(one.per_jar, name, recipe.id)
        for other in one.alternatives:
            instead = f"{other.name} in place of {name}"
            if other.amount is not None:
                yield f"{other.unit} of {instead}", recipe.id, other.amount.low
            yield from _per_jar(other.per_jar, instead, recipe.id)
    if recipe.headspace_in is not None:
        yield "inches of headspace", recipe.id, recipe.headspace_in
    for what, bounds in (("jars", recipe.yield_count), ("cups of prepared fruit", recipe.prepared_fruit_cups)):
        if bounds is not None:
            yield what, recipe.id, bounds.low
            if not bounds.exact and bounds.high is not None:
                yield f"{what} at most", recipe.id, bounds.high
    for number, figure in enumerate(re.findall(r"\d+", " ".join(recipe.steps)), start=1):
        yield f"figure of a step, number {number}", recipe.id, Fraction(figure)
    for option in recipe.options:
        whose = f"{recipe.id}, {option.method}, {option.pack}, {' '.join(option.jar_sizes)}"
        seen[whose] += 1
        yield from _bands(option, whose if seen[whose] == 1 else f"{whose} ({seen[whose]})")


def _per_jar(each: PerJarAmount | None, name: str, whose: str) -> Iterator[Figure]:
    if each is not None:
        yield f"{each.unit} of {name} in a {each.jar_size}", whose, each.amount


INGREDIENT = {
    "ph_low": "lowest pH",
    "ph_high": "highest pH",
    "solids_pct_low": "lowest percent of soluble solids",
    "solids_pct_high": "highest percent of soluble solids",
    "acid_pct_low": "lowest percent of acid",
    "acid_pct_high": "highest percent of acid",
}
FORM = {
    "grams_per_cup": "grams in a cup",
    "cup_low": "fewest grams in a cup",
    "cup_high": "most grams in a cup",
    "grams_per_tbsp": "grams in a tablespoon",
    "grams_per_tsp": "grams in a teaspoon",
    "grams_each": "grams of one",
    "refuse_pct": "percent of refuse",
    "water_pct": "percent of water",
}


def _cells(row: Row, names: Mapping[str, str], whose: str) -> Iterator[Figure]:
    for cell, what in names.items():
        value = row.fraction(cell)
        if value is not None:
            yield what, whose, value


def of_ingredient(row: Row) -> Iterator[Figure]:
    yield from _cells(row, INGREDIENT, row.text("id"))


def of_form(row: Row) -> Iterator[Figure]:
    yield from _cells(row, FORM, f"{row.text('ingredient')}, {row.text('form')}")


def of_produce(row: Row) -> Iterator[Figure]:
    whose = ", ".join(filter(None, (row.text(name) for name in ("produce", "form", "basis"))))
    amounts = [name for name, value in row.cells.items() if re.fullmatch(r"\d+(\.\d+)?", value)]
    yield from _cells(row, {name: name.replace("_", " ") for name in amounts}, whose)


def of_statement(row: Row) -> Iterator[Figure]:
    figures: Mapping[str, Any] = row.cells["figures"]
    inner = row.within(figures)
    yield from _cells(inner, {name: name.replace("_", " ") for name in figures}, row.text("id"))


def of_boiling_point(row: Row) -> Iterator[Figure]:
    what = "boiling water" if row.text("what") == "boiling" else "a jelly"
    whose = f"{row.text('source')}, {row.text('altitude_ft')} ft"
    yield from _cells(row, {"fahrenheit": f"degrees F of {what}"}, whose)


def of_gauge_band(row: Row) -> Iterator[Figure]:
    whose = f"{row.text('gauge')}, {row.text('pressure_psi')} psi, from {row.text('low_ft')} ft"
    yield from _cells(row, {"high_ft": "highest feet of a gauge pressure"}, whose)


def of_canner_load(row: Row) -> Iterator[Figure]:
    whose = ", ".join(row.text(name) for name in ("canner_kind", "canner_size", "jar_size"))
    yield from _cells(row, {"jars_low": "fewest jars in a canner", "jars_high": "most jars in a canner"}, whose)


def of_jar_size(row: Row) -> Iterator[Figure]:
    yield from _cells(row, {"us_fluid_ounces": "fluid ounces of a jar"}, row.text("name"))
