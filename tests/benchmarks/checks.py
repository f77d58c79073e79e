"""How fast recipes are checked: `python -m tests.benchmarks.checks [answers.json]`.

A 12-ingredient recipe goes through the whole rulebook in the pure core, as it was and in other amounts; 200 recipes,
each another tested recipe or another cell of one, go from JSON to answers as in one batch request. Nothing may rest on
having seen a recipe before: one row checks recipes whose names, forms and amounts are new in every round. Beside all of
them stands a floor measured in the same run: reading and validating the same JSON. What a machine can do cancels out in
"times the floor". Times are those of this process, so that other work on the machine doesn't count.
"""

import json
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from statistics import median
from time import process_time
from typing import Any

from service.checks.bodies import RecipeCheckRequest
from service.checks.checking import check_recipe, recipe
from service.core.rules.check import check
from service.core.rules.rulebook import RULES
from service.published.loading import facts
from tests.checks.tested_recipes import body_of, cells

INGREDIENTS = 12
BATCH = 200
ROUNDS = 40
BATCH_ROUNDS = 5


@dataclass(frozen=True)
class Measurement:
    """One thing that was timed, by the recipe."""

    name: str
    median_ms: float
    per_second: float
    times_the_floor: float


def main() -> None:
    figures = facts()
    sent = [(cell, json.dumps(body_of(cell))) for cell in cells()]
    twelves = {cell.recipe.id: text for cell, text in sent if len(cell.recipe.ingredients) == INGREDIENTS}
    texts = list(twelves.values())
    batch = [text for _, text in sent[:: len(sent) // BATCH]][:BATCH]
    recipes = [recipe(read(text), 0) for text in texts]
    varied = iter([[recipe(in_other_amounts(text, each), 0) for text in texts] for each in range(ROUNDS + 1)])
    unseen = iter([[recipe(never_seen(text, each), 0) for text in texts] for each in range(ROUNDS + 1)])

    check_floor = timed(lambda: [read(text) for text in texts], ROUNDS) / len(texts)
    one_check = timed(lambda: [check(each, figures) for each in recipes], ROUNDS) / len(texts)
    varied_check = timed(lambda: [check(each, figures) for each in next(varied)], ROUNDS) / len(texts)
    unseen_check = timed(lambda: [check(each, figures) for each in next(unseen)], ROUNDS) / len(texts)
    batch_floor = timed(lambda: [read(text) for text in batch], BATCH_ROUNDS) / BATCH
    whole_batch = timed(lambda: [answered(text) for text in batch], BATCH_ROUNDS) / BATCH

    measured = [
        measurement(f"read and validate {INGREDIENTS} ingredients", check_floor, check_floor),
        measurement(f"check {INGREDIENTS} ingredients, {len(RULES)} rules, pure core", one_check, check_floor),
        measurement("the same, in other amounts each time", varied_check, check_floor),
        measurement("the same, names and amounts never seen before", unseen_check, check_floor),
        measurement(f"read and validate, by {BATCH}", batch_floor, batch_floor),
        measurement(f"read, check and answer, by {BATCH}", whole_batch, batch_floor),
    ]
    print(f"{'':52} {'median ms':>10} {'per second':>11} {'x floor':>8}")
    for row in measured:
        print(f"{row.name:52} {row.median_ms:10.3f} {row.per_second:11.0f} {row.times_the_floor:8.1f}")
    for path in sys.argv[1:2]:
        Path(path).write_text(json.dumps([asdict(row) for row in measured], indent=2) + "\n", encoding="utf-8")


def read(text: str) -> RecipeCheckRequest:
    return RecipeCheckRequest.model_validate(json.loads(text))


def never_seen(text: str, number: int) -> RecipeCheckRequest:
    """The same recipe in other words and, within what rounds to the printed figures, in other amounts."""
    body = json.loads(text)
    for one in body["ingredients"]:
        one["name"] = f"{'very ' * (number % 7)}cleaned {one['name']}"
        one["form"] = f"{one['form'] or 'cleaned'}, as on page {number}"
        _change_amounts(one, number)
    return RecipeCheckRequest.model_validate(body)


def in_other_amounts(text: str, number: int) -> RecipeCheckRequest:
    """The same recipe in the published words, in amounts that round to the printed figures."""
    body = json.loads(text)
    for one in body["ingredients"]:
        _change_amounts(one, number)
    return RecipeCheckRequest.model_validate(body)


def _change_amounts(ingredient: Any, number: int) -> None:
    for amount in (ingredient, ingredient.get("per_jar") or {}):
        if amount.get("amount") is not None and ingredient.get("amount_max") is None:
            amount["amount"] = round(amount["amount"] * (1 + number / 10_000), 6)


def answered(text: str) -> bytes:
    body = read(text)
    return check_recipe(body, body.altitude_ft or 0).model_dump_json().encode()


def timed(work: Callable[[], object], rounds: int) -> float:
    """The median of the seconds that each round takes, after one that fills what is remembered."""
    work()
    taken = []
    for _ in range(rounds):
        started = process_time()
        work()
        taken.append(process_time() - started)
    return median(taken)


def measurement(name: str, seconds: float, floor_seconds: float) -> Measurement:
    return Measurement(name, round(seconds * 1000, 4), round(1 / seconds, 1), round(seconds / floor_seconds, 1))


if __name__ == "__main__":
    main()
