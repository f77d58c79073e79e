"""Whether any check would notice a wrong figure: `python -m tests.outside.nudged`.

Every numeric figure of every data file is nudged once up and once down, alone, and the checks of its table are asked:
the loader, the statements that two tables make of one thing, the figures that stand beside a rule in code, and the
second arrangement of the published figures. They are the checks of `tests/published` and `tests/core/rules`, asked for
one row. A figure that none of them notices is printed, and the command ends with 1.
"""

import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from iapws.iapws97 import _TSat_P

from service.core.measures import altitude
from service.published import rows as readers
from service.published.cells import BadFigure, Row
from service.published.loading import facts
from tests.core.rules import test_figures_beside_rules as beside
from tests.published import agreements, printed
from tests.published.test_printed_figures import rows

# Words about a figure or of a name, no figures of their own.
PROSE = frozenset(
    {
        "container",
        "uga_container",
        "notes",
        "title",
        "where",
        "source",
        "source_note",
        "url",
        "publisher",
        "published_as",
        "cups_form",
        "cups_basis",
    }
    | {"id", "key", "name", "aliases", "product", "produce", "ingredient", "form", "each", "reason", "instead"}
    | {"exception", "says", "fix", "exceptions", "example_ok", "example_bad", "basis", "starch", "package", "ph_item"}
    | {"canner_size", "amount_basis", "acid_kind", "acidity_basis", "alternatives_note"}
)
WHOLE = frozenset(
    {"minutes", "pressure_psi", "jars_low", "jars_high", "yield_count", "yield_count_max", "steps", "us_fluid_ounces"}
)
STEPS = {"fahrenheit": Fraction(1, 2), "headspace_in": Fraction(1, 8), "ph_low": Fraction(1, 10)}
STEPS |= {"ph_high": Fraction(1, 10)}
SHARE = Fraction(5, 100)  # of any other figure
NUMBER = re.compile(r"\d+ \d+/\d+|\d+/\d+|\d*\.\d+|\d+|[¼½¾⅓⅔⅛⅜⅝⅞]")

Cells = Mapping[str, Any]
Check = Callable[[Row], bool]  # whether the row still agrees


def text_of(value: Fraction) -> str:
    """As a table prints it, exactly."""
    if value.denominator == 1:
        return str(value.numerator)
    decimal = repr(float(value))
    return decimal if "e" not in decimal and Fraction(decimal) == value else f"{value.numerator}/{value.denominator}"


def nudged_figures(text: str, name: str) -> Iterator[tuple[str, str]]:
    """Which figure of the cell, and the cell with that one a little more or less."""
    for number, found in enumerate(NUMBER.finditer(text), start=1):
        figure = sum((printed_fraction(part) for part in found[0].split()), Fraction(0))
        step = STEPS.get(name, Fraction(1) if name in WHOLE or not figure else figure * SHARE)
        for way, value in (("up", figure + step), ("down", figure - step)):
            if value >= 0:
                yield f"{number} {way}", f"{text[: found.start()]}{text_of(value)}{text[found.end() :]}"


def printed_fraction(text: str) -> Fraction:
    return FRACTIONS[text] if text in FRACTIONS else Fraction(text)


FRACTIONS = {"¼": Fraction(1, 4), "½": Fraction(1, 2), "¾": Fraction(3, 4), "⅓": Fraction(1, 3), "⅔": Fraction(2, 3)}
FRACTIONS |= {"⅛": Fraction(1, 8), "⅜": Fraction(3, 8), "⅝": Fraction(5, 8), "⅞": Fraction(7, 8)}


def nudges(value: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """Where a figure of these cells stands, and the cells with it nudged."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if key not in PROSE:
                for where, changed in nudges(inner, key if name != "figures" else ""):
                    yield f"{key} {where}", {**value, key: changed}
    elif isinstance(value, list):
        for at, inner in enumerate(value):
            for where, changed in nudges(inner, name):
                yield f"{at + 1} {where}", [*value[:at], changed, *value[at + 1 :]]
    elif isinstance(value, str) and name == "line":
        yield from list(nudged_figures(value, name))[:2]  # the amount comes first
    elif isinstance(value, str):
        yield from nudged_figures(value, name)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        for where, changed in nudged_figures(str(value), name):
            yield where, int(changed) if isinstance(value, int) and changed.isdigit() else float(Fraction(changed))


def moved_edges(cells: Cells) -> Iterator[tuple[str, Cells]]:
    """A process whose bands all agree, but meet at another altitude than printed."""
    for edge in sorted(
        {found for name in ("minutes", "pressure_psi") for found in re.findall(r"-(\d+):", cells[name])}
    ):
        for way, step in (("up", 100), ("down", -100)):
            there = {edge: str(int(edge) + step), str(int(edge) + 1): str(int(edge) + step + 1)}
            moved = {
                name: re.sub(r"\d{3,}", lambda found, there=there: there.get(found[0], found[0]), cells[name])
                for name in ("minutes", "pressure_psi", "steam", "sterile_jars")
            }
            yield f"edge at {edge} ft {way}", {**cells, **moved}


@dataclass(frozen=True)
class Table:
    """How a row of one data file is read, and what is asked of it, in this order."""

    file: str
    read: Callable[[Row], Any]
    checks: tuple[tuple[str, Check], ...]


SOURCES: readers.Sources = {
    row.text("key"): (row.text("title"), row.text("publisher"), row.text("url") or None) for row in rows("sources.csv")
}
SIZES = frozenset(size.name for size in facts().jar_sizes)


def process(row: Row) -> Any:
    return readers.read_process(row, facts().covers, SIZES, readers.read_source(row, SOURCES))


def recipe(row: Row) -> Any:
    return readers.read_tested_recipe(row, facts().covers, SIZES, SOURCES)


def ingredient(row: Row) -> Any:
    return readers.read_ingredient(row, (), SOURCES)


def stands_in(name: str, figures: Callable[[Any], Iterator[printed.Figure]], read: Callable[[Row], Any]) -> Check:
    """Whether the row has the figures of the second arrangement: no other value, none missing, none more."""
    known: dict[str, set[printed.Figure]] = {}
    for (what, whose), value in printed.printed(name).items():
        known.setdefault(whose, set()).add((what, whose, value))

    def agrees(row: Row) -> bool:
        found: dict[str, set[printed.Figure]] = {}
        for figure in figures(read(row)):
            found.setdefault(figure[1], set()).add(figure)
        return all(known.get(whose) == each for whose, each in found.items())

    return agrees


def itself(row: Row) -> Row:
    return row


def computed(row: Row) -> bool:
    """Whether water boils there by the steam table of another library: a computed figure to its last decimal."""
    if row.text("what") != "boiling":
        return True
    pascals = altitude.air_pressure_pa(float(row.text("altitude_ft")))
    fahrenheit = (_TSat_P(pascals / 1e6) - 273.15) * 9 / 5 + 32
    return abs(float(row.text("fahrenheit")) - fahrenheit) <= (0.006 if row.text("evidence") == "computed" else 0.5)


TABLES = (
    Table(
        "processes.csv",
        process,
        (
            (
                "pressures of its gauge",
                lambda row: agreements.pressures_stand_on_the_gauge(process(row), facts().gauge_bands),
            ),
            ("acid by the jar", lambda row: agreements.acid_goes_by_the_jar(process(row))),
            ("second arrangement", stands_in("processes", printed.of_process, process)),
        ),
    ),
    Table(
        "tested_recipes.jsonl",
        recipe,
        (
            ("its own sentence", lambda row: agreements.every_amount_is_said(recipe(row))),
            ("row of its product", lambda row: agreements.options_are_rows(recipe(row), facts())),
            ("second arrangement", stands_in("tested_recipes", printed.of_recipe, recipe)),
        ),
    ),
    Table(
        "ingredients.csv",
        ingredient,
        (("second arrangement", stands_in("ingredients", printed.of_ingredient, itself)),),
    ),
    Table(
        "ingredient_forms.csv",
        lambda row: readers.read_form(row, SOURCES),
        (("second arrangement", stands_in("ingredients", printed.of_form, itself)),),
    ),
    Table(
        "produce_yields.csv",
        lambda row: readers.read_produce_yield(row, SOURCES),
        (("second arrangement", stands_in("produce_yields", printed.of_produce, itself)),),
    ),
    Table(
        "rules.jsonl",
        lambda row: readers.read_statement(row, SOURCES),
        (
            ("figure beside the rule", beside.stands_beside_its_rule),
            ("second arrangement", stands_in("rules", printed.of_statement, itself)),
        ),
    ),
    Table(
        "boiling_points.csv",
        lambda row: readers.read_boiling_point(row, SOURCES),
        (
            ("steam table library", computed),
            ("second arrangement", stands_in("kitchen", printed.of_boiling_point, itself)),
        ),
    ),
    Table(
        "gauge_bands.csv",
        lambda row: readers.read_gauge_band(row, SOURCES),
        (("second arrangement", stands_in("kitchen", printed.of_gauge_band, itself)),),
    ),
    Table(
        "canner_loads.yaml",
        lambda row: readers.read_canner_load(row, SIZES, SOURCES),
        (("second arrangement", stands_in("kitchen", printed.of_canner_load, itself)),),
    ),
    Table(
        "jar_sizes.yaml",
        readers.read_jar_size,
        (("second arrangement", stands_in("kitchen", printed.of_jar_size, itself)),),
    ),
    Table("covers.csv", itself, ()),
    Table("no_process.csv", lambda row: readers.read_no_process(row, SOURCES), ()),
)


def noticed_by(table: Table, row: Row) -> str | None:
    """The first check that fails for this row."""
    try:
        table.read(row)
        return next((name for name, agrees in table.checks if not agrees(row)), None)
    except BadFigure:
        return "loader"


def main() -> int:
    totals: Counter[str] = Counter()
    for table in TABLES:
        counts: Counter[str] = Counter()
        for row in rows(table.file):
            assert noticed_by(table, row) is None, f"{table.file}, row {row.number} disagrees as it stands"
            edges = moved_edges(row.cells) if table.file == "processes.csv" else iter(())
            for where, cells in (*nudges(row.cells), *edges):
                name = noticed_by(table, row.within(cells))
                if name is None:
                    print(f"{table.file}, row {row.number}: {where} is noticed by nothing")
                counts[name or "nothing"] += 1
        totals += counts
        print(f"{table.file:22} {counts.total():6} nudges: {dict(counts.most_common())}", flush=True)
    print(f"{'together':22} {totals.total():6} nudges: {dict(totals.most_common())}")
    return 1 if totals["nothing"] else 0


if __name__ == "__main__":
    sys.exit(main())
