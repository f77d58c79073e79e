"""Recipes as rules see them: a test says only what it is about, everything else has one sensible default."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import pytest

from service.core.measures.lines import read_line
from service.core.rules.case import Case, Handling, JarCount, ProcessSent, Recipe
from service.core.rules.check import understood
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity
from service.published.loading import facts

FACTS = facts()


def case(
    *lines: str,
    title: str = "A recipe",
    family: str | None = None,
    product: str | None = None,
    tested: str | None = None,
    method: str | None = "boiling-water",
    minutes: int | None = None,
    psi: float | None = None,
    pack: str | None = None,
    jars: Mapping[str, int] | None = None,
    steps: Sequence[str] | None = None,
    altitude_ft: int = 0,
    headspace_in: float | None = None,
    **handling: Any,
) -> Case:
    """A recipe of one's own, from lines as a cook writes them; `jars` by size."""
    recipe = Recipe(
        title=title,
        lines=tuple(read_line(line) for line in lines),
        altitude_ft=altitude_ft,
        family=family,
        product=product,
        steps=None if steps is None else tuple(steps),
        pack=pack,
        headspace_in=headspace_in,
        jars=None if jars is None else tuple(JarCount(size, count) for size, count in jars.items()),
        process=None if method is None else ProcessSent(method, minutes, psi),
        tested_recipe=tested,
        handling=Handling(**handling),
    )
    return understood(recipe, FACTS)


def of_tested(
    id: str,
    *,
    change: Mapping[str, str] | None = None,
    add: Iterable[str] = (),
    without: Iterable[str] = (),
    **sent: Any,
) -> Case:
    """A tested recipe with some of its lines changed, added or left out; ingredients by their printed name."""
    recipe = FACTS.tested_recipe[id]
    changed = change or {}
    names = {ingredient.name for ingredient in recipe.ingredients}
    unknown = (set(changed) | set(without)) - names
    assert not unknown, f"{id} has no {unknown}"
    lines = [
        changed.get(ingredient.name, ingredient.line)
        for ingredient in recipe.ingredients
        if ingredient.name not in without
    ]
    said = {"title": recipe.title, "family": recipe.family, "product": recipe.product, "tested": id}
    first = recipe.options[0] if recipe.options else None
    if first is not None:
        said |= {"method": first.method, "pack": None if first.pack == "either" else first.pack}
    return case(*lines, *add, **(said | sent))


def answers(rule: Rule, judged: Case) -> list[Finding | Note]:
    """What a rule says, which is nothing where a check wouldn't ask it."""
    said = list(rule.judge(judged))
    assert not said or rule.scope.holds(judged), f"{rule.id} speaks outside of its scope"
    return said


def findings(rule: Rule, judged: Case) -> list[Finding]:
    return [answer for answer in answers(rule, judged) if isinstance(answer, Finding)]


def notes(rule: Rule, judged: Case) -> list[str]:
    return [answer.message for answer in answers(rule, judged) if isinstance(answer, Note)]


def written(measured: Measured | None) -> str:
    """An amount or a limit in words: "1/2 to 1 cup"."""
    if measured is None:
        return ""
    low, high = measured.bounds.low, measured.bounds.high
    amount = f"{low} or more" if high is None else f"{low}" if low == high else f"{low} to {high}"
    return f"{amount} {measured.unit}"


def passes(rule: Rule, judged: Case, says: str) -> Any:
    return pytest.param(rule, judged, None, id=f"{rule.id}: {says}")


def breaks(rule: Rule, judged: Case, says: str, severity: Severity | None = None) -> Any:
    return pytest.param(rule, judged, severity or rule.severity, id=f"{rule.id}: {says}")


def unclear(rule: Rule, judged: Case, says: str, severity: Severity | None = None) -> Any:
    """What can't be told is found, never passed over."""
    return breaks(rule, judged, f"{says}, which can't be told", severity)


def agrees(rule: Rule, judged: Case, severity: Severity | None) -> bool:
    """Whether the rule finds what was expected: nothing, or something of this severity."""
    found = {finding.severity or rule.severity for finding in findings(rule, judged)}
    return not found if severity is None else severity in found


def noted(rule: Rule, judged: Case, says: str) -> Any:
    """A permitted change is said and is no finding."""
    return pytest.param(rule, judged, True, id=f"{rule.id}: {says}")


def not_noted(rule: Rule, judged: Case, says: str) -> Any:
    """What goes beyond a permitted change isn't said to be allowed; other rules judge it."""
    return pytest.param(rule, judged, False, id=f"{rule.id}: {says}")


def stands_in_the_catalogue(rule: Rule) -> bool:
    """Whether the published catalogue, which names the source, has this rule with this severity for recipe checks."""
    statement = FACTS.statement.get(rule.id)
    return (
        statement is not None
        and statement.home == "recipe-check"
        and statement.severity == rule.severity.value
        and statement.source.title != ""
    )
