"""The rulebook holds every rule, once, and each under a statement that the catalogue has."""

import importlib
import pkgutil

import pytest

from service.core import rules
from service.core.rules.findings import Rule, Severity
from service.core.rules.rulebook import RULES
from service.published.loading import facts

MODULES = [
    importlib.import_module(f"{rules.__name__}.{module.name}") for module in pkgutil.iter_modules(rules.__path__)
]

# The 25 rules that matter most, ranked by the compilers of the catalogue: what a check can judge of each.
MATTER_MOST = (
    "low-acid-never-boiling",
    "steam-canner-acid-only",
    "tomato-acid-floor",
    "tomato-vinegar-floor",
    "tomato-acid-even-under-pressure",
    "process-source-required",
    "own-mixture-default",
    "recanning-bar",
    "process-time-floor",
    "altitude-required",
    "altitude-boiling-bands",
    "altitude-jelly-bands",
    "altitude-weighted-gauge",
    "altitude-dial-gauge",
    "acid-never-cut",
    "vinegar-to-water-ratio-fixed",
    "vinegar-strength-five",
    "vinegar-homemade-bar",
    "bottled-juice-where-safety",
    "key-lime-juice-excluded",
    "salsa-low-acid-no-increase",
    "salsa-no-new-low-acid",
    "vegetable-juice-cap",
    "spaghetti-sauce-veg-cap",
    "tomato-with-vegetables-pressure",
    "salsa-tomatoes-undrained",
    "salsa-acid-one-way",
    "citric-for-juice-only-where-tested",
    "fig-acid-floor",
    "asian-pear-acid-floor",
    "white-peach-bar",
    "elderberry-bar",
    "ripe-mango-bar",
    "melon-banana-bar",
    "fruit-swap-acid-class",
    "thickener-bar",
    "pasta-rice-bar",
    "pie-filling-starch",
    "dairy-bar",
    "egg-bar",
    "oil-pack-bar",
    "garlic-oil-limit",
    "pumpkin-puree-bar",
    "pureed-veg-meat-bar",
    "fruit-puree-bar",
    "mashed-dense-bar",
    "jar-size-max-tested",
    "half-gallon-juice-only",
    "salsa-jar-limit",
    "jar-size-between",
    "open-kettle-bar",
    "oven-and-other-heat-bar",
    "multi-cooker-bar",
    "dry-canning-bar",
    "paraffin-bar",
    "regular-pectin-sugar-floor",
    "low-sugar-spoilage",
    "pectin-type-must-match",
    "liquid-powder-not-interchangeable",
    "powder-pectin-order",
    "liquid-pectin-order",
    "no-double-batch",
    "jelly-juice-cap-added-pectin",
    "jelly-juice-cap-no-pectin",
    "no-half-batch-with-package",
    "honey-limit-added-pectin",
    "honey-limit-no-pectin",
    "corn-syrup-limit",
    "no-calorie-sweetener-in-regular",
    "vent-ten-minutes",
    "pressure-drop-restart",
    "natural-depressurise",
    "jar-sterilise-under-ten",
    "steam-canner-45-minutes",
    "headspace-out-of-range",
)


def test_no_rule_is_left_out() -> None:
    written = {value.id for module in MODULES for value in vars(module).values() if isinstance(value, Rule)}
    assert written == {rule.id for rule in RULES}


def test_no_rule_stands_in_it_twice() -> None:
    ids = [rule.id for rule in RULES]
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_a_rule_is_a_published_statement_that_a_recipe_can_be_judged_by(rule: Rule) -> None:
    statement = facts().statement[rule.id]
    assert statement.home == "recipe-check"
    assert rule.severity == Severity(statement.severity)
    assert rule.skipped_for_tested_formula == statement.skipped_for_tested_formula


def test_every_published_statement_has_a_home_and_none_of_a_recipe_is_left_unjudged() -> None:
    homes = {"recipe-check", "batch-day", "records-and-sale", "advice"}
    assert {statement.home for statement in facts().statements} == homes
    judged = [statement.id for statement in facts().statements if statement.home == "recipe-check"]
    assert sorted(judged) == sorted(rule.id for rule in RULES)


def test_every_statement_shows_what_is_right_and_what_is_not() -> None:
    for statement in facts().statements:
        assert statement.example_ok
        assert statement.example_bad
        assert statement.example_ok != statement.example_bad


@pytest.mark.parametrize("id", MATTER_MOST)
def test_what_matters_most_is_judged(id: str) -> None:
    assert id in {rule.id for rule in RULES}
