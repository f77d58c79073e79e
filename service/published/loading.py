"""The one loader of the published figures.

Every data file is read once, at start, and every row is checked: a figure that can't be one stops the service with the
file and the row, rather than reaching a jar.
"""

import csv
import json
from collections.abc import Iterable, Iterator
from dataclasses import fields
from functools import lru_cache
from importlib import resources
from importlib.resources.abc import Traversable

import yaml

from service.core.rules.facts import Facts, IngredientForm
from service.core.scheduling.figures import Figures
from service.published import rows
from service.published.cells import BadFigure, Row

__all__ = ["RULEBOOK", "BadFigure", "facts", "kitchen_figures", "load", "load_kitchen_figures"]

RULEBOOK = "2026.1"
DATA = resources.files("service.published") / "data"


@lru_cache(maxsize=1)
def facts() -> Facts:
    """The published figures, read once."""
    return load()


@lru_cache(maxsize=1)
def kitchen_figures() -> dict[str, rows.KitchenFigure]:
    """How long the steps of a batch take, by name, read once."""
    return load_kitchen_figures()


def load_kitchen_figures(folder: Traversable = DATA) -> dict[str, rows.KitchenFigure]:
    """Read and check the figures of kitchens, every one there is; raises BadFigure naming the file and the row."""
    sources, table = _sources(folder), list(_unique(_table(folder, "kitchen_figures.csv"), "name"))
    found = {row.text("name"): rows.read_kitchen_figure(row, sources) for row in table}
    missing = {each.name for each in fields(Figures)} - found.keys()
    if missing:
        raise BadFigure(f"kitchen_figures.csv: {', '.join(sorted(missing))} is missing")
    return found


def load(folder: Traversable = DATA) -> Facts:
    """Read and check every data file of the rules; raises BadFigure naming the file and the row."""
    sources = _sources(folder)
    jar_sizes = tuple(rows.read_jar_size(row) for row in _unique(_entries(folder, "jar_sizes.yaml", "sizes"), "name"))
    sizes = frozenset(size.name for size in jar_sizes)
    cover_rows = list(_unique(_table(folder, "covers.csv"), "product"))
    covers = {row.text("product"): row.word("covers", rows.COVERS) for row in cover_rows}
    processes = tuple(
        rows.read_process(row, covers, sizes, rows.read_source(row, sources))
        for row in _unique(_table(folder, "processes.csv"), "id")
    )
    forms: dict[str, list[IngredientForm]] = {}
    form_rows = list(_table(folder, "ingredient_forms.csv"))
    for row in form_rows:
        forms.setdefault(row.required("ingredient"), []).append(rows.read_form(row, sources))
    ingredient_rows = list(_unique(_table(folder, "ingredients.csv"), "id"))
    ingredients = tuple(
        rows.read_ingredient(row, tuple(forms.get(row.text("id"), ())), sources) for row in ingredient_rows
    )
    _refuse_orphans(form_rows, "ingredient", {ingredient.id for ingredient in ingredients})
    _refuse_shared_names(ingredient_rows)
    _refuse_orphans(cover_rows, "product", {process.product for process in processes})
    return Facts(
        rulebook=RULEBOOK,
        processes=processes,
        ingredients=ingredients,
        tested_recipes=tuple(
            rows.read_tested_recipe(row, covers, sizes, sources)
            for row in _unique(_lines(folder, "tested_recipes.jsonl"), "id")
        ),
        jar_sizes=jar_sizes,
        no_process=tuple(rows.read_no_process(row, sources) for row in _unique(_table(folder, "no_process.csv"), "id")),
        statements=tuple(rows.read_statement(row, sources) for row in _unique(_lines(folder, "rules.jsonl"), "id")),
        covers=covers,
        boiling_points=tuple(rows.read_boiling_point(row, sources) for row in _table(folder, "boiling_points.csv")),
        gauge_bands=tuple(rows.read_gauge_band(row, sources) for row in _table(folder, "gauge_bands.csv")),
        canner_loads=tuple(
            rows.read_canner_load(row, sizes, sources) for row in _entries(folder, "canner_loads.yaml", "loads")
        ),
        produce_yields=tuple(rows.read_produce_yield(row, sources) for row in _table(folder, "produce_yields.csv")),
    )


def _sources(folder: Traversable) -> rows.Sources:
    sources: rows.Sources = {}
    for row in _unique(_table(folder, "sources.csv"), "key"):
        sources[row.text("key")] = (row.required("title"), row.text("publisher"), row.text("url") or None)
    return sources


def _table(folder: Traversable, name: str) -> Iterator[Row]:
    with (folder / name).open(encoding="utf-8") as file:
        for number, cells in enumerate(csv.DictReader(file, restkey="", strict=True), start=2):
            row = Row(name, number, cells)
            if "" in cells or None in cells.values():
                raise row.bad("the row has not as many cells as the heading")
            yield row


def _lines(folder: Traversable, name: str) -> Iterator[Row]:
    with (folder / name).open(encoding="utf-8") as file:
        for number, line in enumerate(file, start=1):
            try:
                cells = json.loads(line)
            except ValueError:
                raise BadFigure(f"{name}, row {number}: the line is not JSON") from None
            if not isinstance(cells, dict):
                raise BadFigure(f"{name}, row {number}: the line is not an object")
            yield Row(name, number, cells)


def _entries(folder: Traversable, name: str, key: str) -> Iterator[Row]:
    with (folder / name).open(encoding="utf-8") as file:
        # the C reader: the other one takes longer than all other files together
        document = yaml.load(file, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))  # noqa: S506
    for number, cells in enumerate(document[key], start=1):
        yield Row(name, number, cells)


def _unique(read: Iterable[Row], name: str) -> Iterator[Row]:
    seen: set[str] = set()
    for row in read:
        key = row.required(name)
        if key in seen:
            raise row.bad(f"{name} stands twice: {key}")
        seen.add(key)
        yield row


def _refuse_orphans(read: Iterable[Row], name: str, known: set[str]) -> None:
    for row in read:
        if row.text(name) not in known:
            raise row.bad(f"{name} is not known: {row.text(name)}")


def _refuse_shared_names(read: Iterable[Row]) -> None:
    """A name that two ingredients share would let one stand for the other unseen."""
    owner: dict[str, str] = {}
    for row in read:
        for name in {word.casefold() for word in (row.text("name"), *row.text("aliases").split(";")) if word}:
            if name in owner:
                raise row.bad(f"the name {name} belongs to {owner[name]} as well")
            owner[name] = row.text("id")
