"""A published tested recipe as the body of a check, in any of its cells, and as a published warning would change it."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from service.core.measures.jars import JAR_ML
from service.core.rules.facts import BandFigures, Process, TestedIngredient, TestedRecipe
from service.published.loading import facts

Body = dict[str, Any]

WARNINGS = Path(__file__).parent.parent / "data" / "published_warnings.jsonl"
NO_YIELD_PRINTED = 6  # jars


@dataclass(frozen=True)
class Cell:
    """A tested recipe in one of its processes, jar sizes and altitude bands, tried at the top of the band."""

    recipe: TestedRecipe
    option: Process
    jar: str
    figures: BandFigures | None  # None: kept cold

    @property
    def altitude_ft(self) -> int:
        if self.figures is None:
            return 0
        band = self.figures.band
        return band.low_ft if band.high_ft is None else band.high_ft

    def __str__(self) -> str:
        return f"{self.recipe.id} {self.option.method} {self.option.pack} {self.jar} {self.altitude_ft} ft"


def cells() -> Iterator[Cell]:
    for recipe in facts().tested_recipes:
        yield from cells_of(recipe)


def cells_of(recipe: TestedRecipe) -> Iterator[Cell]:
    for option in recipe.options:
        for jar in option.jar_sizes:
            for figures in option.bands or (None,):
                yield Cell(recipe, option, jar, figures)


def body_of(cell: Cell, *, as_lines: bool = False) -> Body:
    """The unchanged recipe, sent as fields or as the lines a cook would write."""
    recipe, option = cell.recipe, cell.option
    jars = jars_of(recipe, cell.jar, option.jar_sizes)
    sent = [one.line if as_lines else ingredient(one, jars) for one in recipe.ingredients]
    body: Body = {
        "title": recipe.title,
        "family": recipe.family,
        "ingredients": sent,
        "steps": list(recipe.steps),
        "pack": option.pack,
        "headspace_in": None if recipe.headspace_in is None else float(recipe.headspace_in),
        "jars": [jars],
        "process": {"method": option.method, "minutes": None, "pressure_psi": None},
        "altitude_ft": cell.altitude_ft,
    }
    if recipe.product is not None:
        body["product"] = recipe.product
    if cell.figures is not None:
        body["process"]["minutes"] = cell.figures.minutes
        body["process"]["pressure_psi"] = cell.figures.pressure_psi
        if any(figures.sterile_jars for figures in option.bands):
            body["handling"] = {"sterile_jars": True}
    return body


def jars_of(recipe: TestedRecipe, jar: str, sizes: tuple[str, ...]) -> Body:
    """The yield's jars; in another size as many as the batch fills, rounded down."""
    count = int(recipe.yield_count.low) if recipe.yield_count else NO_YIELD_PRINTED
    if recipe.yield_jar in sizes and jar != recipe.yield_jar:
        count = max(1, int(count * JAR_ML[recipe.yield_jar] / JAR_ML[jar]))
    return {"size": jar, "count": count}


def ingredient(one: TestedIngredient, jars: Body) -> Body:
    sent: Body = {"name": one.name, "unit": one.unit, "form": one.form, "optional": one.optional}
    if one.amount is not None:
        sent["amount"] = number(one.amount.low)
        if one.amount.high is not None and not one.amount.exact:
            sent["amount_max"] = number(one.amount.high)
    if one.per_jar is not None:
        each = one.per_jar.amount * JAR_ML[jars["size"]] / JAR_ML[one.per_jar.jar_size]
        sent |= {"amount": number(each * jars["count"]), "unit": one.per_jar.unit}
        sent["per_jar"] = {"amount": number(each), "unit": one.per_jar.unit, "jar": jars["size"]}
    return sent


def number(value: Fraction) -> float:
    """As the tables print it: six decimals."""
    return round(float(value), 6)


@cache
def warnings() -> tuple[Body, ...]:
    with WARNINGS.open(encoding="utf-8") as lines:
        return tuple(json.loads(line) for line in lines)


def warnings_to_try() -> list[Body]:
    return [warning for warning in warnings() if warning.get("testable", True)]


FIELDS = {
    "seal": "closure",
    "temp_f": "water_temp_f",
    "skip_step": "skipped_steps",
    "pressure_drop": "interrupted",
    "boil_stopped": "interrupted",
    "restart": "restarted",
}
HANDLING = frozenset(
    ["sterile_jars", "storage", "cooling", "vent_minutes", "boil_minutes", "ferment_temp_f", "equipment", "liquid"]
) | frozenset(FIELDS)
METHODS = {"dial-gauge": "pressure-dial", "weighted-gauge": "pressure-weighted"}


def body_warned_of(warning: Body) -> Body:
    """The body a warning is about: its own, or a tested recipe with the one change it names."""
    if "body" in warning:
        own: Body = json.loads(json.dumps(warning["body"]))
        return own
    recipe = facts().tested_recipe[warning["edit_of"]]
    edit = warning["edit"]
    first = next(
        (option for option in recipe.options if recipe.yield_jar in option.jar_sizes and option.pack == recipe.pack),
        recipe.options[0],
    )
    jar = edit.get("jar") or (recipe.yield_jar if recipe.yield_jar in first.jar_sizes else first.jar_sizes[0])
    figures = first.bands[0] if first.bands else None
    body = body_of(Cell(recipe, first, jar, figures))
    body["altitude_ft"] = 0
    for name, value in edit.items():
        _edit(body, name, value)
    body["jars"] = [jars_of(recipe, jar, (recipe.yield_jar,))] if "scale" not in edit else body["jars"]
    return body


def _edit(body: Body, name: str, value: Any) -> None:
    ingredients: list[Body] = body["ingredients"]
    if name == "drop":
        body["ingredients"] = [one for one in ingredients if one["name"] != value]
    elif name == "add":
        ingredients.append(dict(value))
    elif name == "form":
        for one in ingredients:
            one["form"] = value.get(one["name"], one["form"])
    elif name == "replace":
        body["ingredients"] = [dict(value[one["name"]]) if one["name"] in value else one for one in ingredients]
    elif name == "set":
        for one in ingredients:
            if one["name"] in value:
                one.pop("per_jar", None)
                one.pop("amount_max", None)
                one |= value[one["name"]]
    elif name == "scale":
        for one in ingredients:
            for field in ("amount", "amount_max"):
                if field in one:
                    one[field] *= value
        for jars in body["jars"]:
            jars["count"] = max(1, int(jars["count"] * value))
    elif name == "order":
        body["steps"] = list(value)
    elif name == "method":
        body["process"]["method"] = METHODS.get(value, value)
    elif name in ("minutes", "psi"):
        body["process"]["minutes" if name == "minutes" else "pressure_psi"] = value
    elif name in HANDLING:
        handling = body.setdefault("handling", {})
        if name == "liquid":
            handling["covering_liquid"] = value != "none"
        elif name == "skip_step":
            handling["skipped_steps"] = [value]
        else:
            handling[FIELDS.get(name, name)] = value
    elif name != "jar":  # counted by the caller
        body[name] = value
