"""From a body to a recipe, through the rulebook, to the answer."""

from functools import cache, lru_cache
from typing import Any

from prometheus_client import Counter
from pydantic_core import to_json

from service.checks import bodies
from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.lines import Line, Unread, from_object, read_line
from service.core.rules.case import Handling, JarCount, Part, ProcessSent, Recipe
from service.core.rules.check import Check, Judged, check
from service.core.rules.facts import Source
from service.core.rules.findings import Measured
from service.core.rules.processes import Option
from service.published.bodies import PublishedProcess, PublishedSource
from service.published.loading import facts
from service.web.metrics import VERDICTS

NOTICE = (
    "Advice from published figures, no certificate: local codes, licensed practice and a process authority come first. "
    "When in doubt, refrigerate or freeze; food that may be spoiled is never tasted."
)
PLACES = 6  # decimals on the wire; judged before any rounding


def check_recipe(body: bodies.RecipeCheckRequest, altitude_ft: int) -> bodies.CheckAnswer:
    """What the published figures say about this recipe at this altitude. Stores nothing."""
    return answer(check(recipe(body, altitude_ft), facts()))


def recipe(body: bodies.RecipeCheckRequest, altitude_ft: int) -> Recipe:
    """The recipe that was sent, its lines read."""
    handling, process = body.handling, body.process
    return Recipe(
        title=body.title,
        lines=tuple([_line(sent) for sent in body.ingredients]),
        altitude_ft=altitude_ft,
        family=body.family,
        product=body.product,
        steps=body.steps or None,  # a list of none says as little as none sent
        pack=body.pack,
        headspace_in=body.headspace_in,
        jars=None if body.jars is None else tuple([JarCount(jar.size, jar.count) for jar in body.jars]),
        process=None if process is None else ProcessSent(process.method, process.minutes, process.pressure_psi),
        tested_recipe=body.tested_recipe,
        handling=Handling() if handling is None else _handling(handling),
    )


def _handling(sent: bodies.HandlingSent) -> Handling:
    return Handling(**vars(sent) | {"skipped_steps": sent.skipped_steps or ()})


def _line(sent: str | bodies.IngredientSent) -> Line | Unread:
    if isinstance(sent, str):
        return read_line(sent)
    each = sent.per_jar
    per_jar = None if each is None else {"amount": each.amount, "unit": each.unit, "jar": each.jar}
    return from_object(sent.name, sent.amount, sent.amount_max, sent.unit, sent.form, bool(sent.optional), per_jar)


def answer(checked: Check) -> bodies.CheckAnswer:
    """A check as the answer that a route, a page or a store gets."""
    return bodies.CheckAnswer.model_validate(_fields(checked, [_process(option) for option in checked.options]))


def written(checked: Check) -> bytes:
    """The JSON of a check's answer, as its model would write it.

    To make the thirty models of an answer takes three times as long as to write their JSON, and most of that JSON are
    published processes, the same in every answer. That what is written here is what the models would write is tested
    with every tested recipe.
    """
    # No text holds the mark at which the processes go in: its quotes would be escaped.
    before, mark, after = to_json(_fields(checked, [])).partition(b'"options":[')
    return b"".join((before, mark, b",".join([_process_written(option) for option in checked.options]), after))


def _fields(checked: Check, processes: list[PublishedProcess]) -> dict[str, Any]:
    """The fields of an answer in their order, with these processes."""
    case, tested = checked.case, checked.case.tested
    _counted(checked.verdict.value).inc()
    return {
        "verdict": checked.verdict.value,
        "family": case.family,
        "product": case.product,
        "inferred": list(case.inferred),
        "findings": [_finding(judged) for judged in checked.findings],
        "notes": list(checked.notes),
        "formula": {
            "ingredients": [_ingredient(part) for part in case.parts],
            "total_grams": _interval(case.total_grams),
            "soluble_solids": _interval(case.soluble_solids),
            "fruit_to_sugar": _interval(case.fruit_to_sugar),
            "prepared_fruit_cups": _interval(case.prepared_fruit_cups),
        },
        "process": {"status": checked.status, "options": processes},
        "yield": _yield(checked),
        "tested_recipe": tested
        and {
            "id": tested.recipe.id,
            "title": tested.recipe.title,
            "differences": [difference.says for difference in tested.differences],
        },
        "rulebook": checked.rulebook,
        "notice": NOTICE,
    }


@cache
def _counted(verdict: str) -> Counter:
    return VERDICTS.labels(verdict)


@lru_cache(maxsize=2048)
def _process(option: Option) -> PublishedProcess:
    return PublishedProcess.of(option)


@lru_cache(maxsize=2048)
def _process_written(option: Option) -> bytes:
    return to_json(PublishedProcess.of(option))


@lru_cache(maxsize=1024)
def _source(source: Source) -> PublishedSource:
    return PublishedSource.of(source)


def _finding(judged: Judged) -> dict[str, Any]:
    finding = judged.finding
    return {
        "rule": judged.rule.id,
        "area": judged.area,
        "severity": judged.severity.value,
        "message": finding.message,
        "fix": finding.fix,
        "measured": _measured(finding.measured),
        "limit": _measured(finding.limit),
        "where": finding.where,
        "source": _source(judged.source),
    }


def _ingredient(part: Part) -> dict[str, Any]:
    return {
        "name": part.ingredient.name if part.ingredient else part.name,
        "as_written": part.as_written,
        "grams": _interval(part.grams),
        "role": part.role.value,
        "recognised": part.ingredient is not None,
    }


def _yield(checked: Check) -> dict[str, Any] | None:
    case = checked.case
    volume = case.yield_millilitres
    if volume is None:
        return None
    sizes = [size for size in dict.fromkeys(jar.size for jar in case.jars) if size in JAR_ML]
    jars = [{"size": size, "count": _interval(volume / JAR_ML[size])} for size in sizes]
    return {"millilitres": _interval(volume), "jars": jars}


def _interval(bounds: Bounds | None) -> dict[str, Any] | None:
    return None if bounds is None else _ends(bounds)


def _ends(bounds: Bounds) -> dict[str, Any]:
    low, high = bounds.floats
    least = round(low, PLACES)
    return {"low": least, "high": least if high is low else None if high is None else round(high, PLACES)}


def _measured(measured: Measured | None) -> dict[str, Any] | None:
    if measured is None:
        return None
    return {**_ends(measured.bounds), "unit": measured.unit}
