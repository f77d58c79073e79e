"""What a finding shows of each example: where, how bad, amount and limit; and which rules judge cold food.

Figures of limits are those of the published statements (`tests/core/rules/test_figures_beside_rules.py`); every line
was read against its statement in `service/published/data/rules.jsonl`: severity, amount and limit. An example with
several findings stands on several lines.
"""

import csv
import importlib
import pkgutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from service.core.rules.case import Case
from service.core.rules.findings import Rule
from service.published.loading import facts
from tests.core import rules as examples
from tests.core.rules.cases import findings, written

SHOWN = Path(__file__).parents[2] / "data" / "what_findings_show.csv"

# A spread has to set and a ferment to sour in the cold too, and no powder, pot or salt is better there.
COLD_AREAS = frozenset({"sugar-and-pectin", "batch-size"})
COLD_RULES = frozenset(
    {"ferment-over-hot", "ferment-salt-fixed", "ferment-temperature", "kraut-salt-ratio"}
    | {"canning-powder-not-a-process", "canning-salt-type", "reactive-metal-bar"}
)


def every_example() -> Iterator[tuple[str, Rule, Case]]:
    """The examples of each rule in the modules beside this one, under the name that their test shows."""
    for module in pkgutil.iter_modules(examples.__path__):
        if module.name not in (Path(__file__).stem, "cases"):
            for value in vars(importlib.import_module(f"{examples.__name__}.{module.name}")).values():
                for example in value if isinstance(value, list) else ():
                    match getattr(example, "values", None):
                        case (Rule() as rule, Case() as judged, *_):
                            yield str(example.id), rule, judged


EXAMPLES = {name: (rule, judged) for name, rule, judged in every_example()}


def shown(rule: Rule, judged: Case) -> list[tuple[str, str, str, str]]:
    return [
        (found.severity or rule.severity, found.where or "", written(found.measured), written(found.limit))
        for found in findings(rule, judged)
    ]


def expected() -> dict[str, list[tuple[str, str, str, str]]]:
    lines: dict[str, list[tuple[str, str, str, str]]] = {}
    with SHOWN.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            lines.setdefault(row["example"], []).append((row["severity"], row["where"], row["found"], row["limit"]))
    return lines


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_finding_shows_where_and_how_much(name: str) -> None:
    assert shown(*EXAMPLES[name]) == expected().get(name, [])


def test_no_line_is_about_an_example_that_is_gone() -> None:
    assert set(expected()) <= set(EXAMPLES)


@pytest.mark.parametrize("name", [name for name, (_, judged) in EXAMPLES.items() if judged.on_the_shelf])
def test_food_that_is_kept_cold_is_judged_by_few_rules(name: str) -> None:
    rule, judged = EXAMPLES[name]
    cold = findings(rule, replace(judged, storage="refrigerator"))
    assert not cold or rule.id in COLD_RULES or facts().statement[rule.id].area in COLD_AREAS
