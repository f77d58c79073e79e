"""What slows heat into the jar. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import thickeners
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.thickeners import RULES
from tests.core.rules.cases import agrees, breaks, case, of_tested, passes, stands_in_the_catalogue, unclear

APPLE_PIE = "apple-pie-filling-1qt"


def soup(*lines: str) -> Case:
    return case(*lines, title="Soup", family="soup", product="soup", method="pressure-dial", jars={"pint": 8})


def pie(starch: str) -> Case:
    return of_tested(APPLE_PIE, change={"canning starch": starch})


EXAMPLES = [
    passes(thickeners.nothing_is_thickened, soup("4 qt broth", "2 lb carrots"), "broth canned thin"),
    passes(thickeners.nothing_is_thickened, of_tested("corn-relish"), "the flour of corn relish, as tested"),
    passes(thickeners.nothing_is_thickened, of_tested("plum-jam-liquid"), "pectin in a jam"),
    breaks(thickeners.nothing_is_thickened, of_tested("chile-con-carne", add=["1/2 cup flour"]), "flour in chili"),
    breaks(
        thickeners.nothing_is_thickened, of_tested("corn-relish", change={"flour": "1/2 cup flour"}), "twice the flour"
    ),
    unclear(thickeners.nothing_is_thickened, of_tested("chile-salsa", add=["cornstarch"]), "cornstarch of no amount"),
    passes(thickeners.pie_filling_takes_one_starch, of_tested(APPLE_PIE), "cook-type modified starch"),
    breaks(thickeners.pie_filling_takes_one_starch, pie("1/4 cup cornstarch"), "cornstarch"),
    breaks(thickeners.pie_filling_takes_one_starch, pie("1/4 cup instant modified starch"), "instant starch"),
    unclear(
        thickeners.pie_filling_takes_one_starch, pie("1/4 cup modified starch"), "modified starch of no stated type"
    ),
    passes(thickeners.pie_filling_has_no_more_starch, of_tested(APPLE_PIE), "as tested"),
    passes(thickeners.pie_filling_has_no_more_starch, pie("2 tbsp cook-type modified starch"), "less than tested"),
    breaks(thickeners.pie_filling_has_no_more_starch, pie("3/8 cup cook-type modified starch"), "half as much again"),
    unclear(thickeners.pie_filling_has_no_more_starch, pie("cook-type modified starch"), "starch of no amount"),
    passes(thickeners.grains_stay_out, soup("2 lb chicken", "2 qt broth", "1 lb carrots"), "soup without noodles"),
    passes(thickeners.grains_stay_out, soup("2 lb corn", "2 qt broth"), "corn"),
    breaks(thickeners.grains_stay_out, soup("2 lb chicken", "4 cups egg noodles", "2 qt broth"), "noodle soup"),
    unclear(thickeners.grains_stay_out, soup("2 lb chicken", "rice", "2 qt broth"), "rice of no amount"),
    passes(thickeners.nothing_is_coated, soup("5 lb stew beef, browned"), "meat browned uncoated"),
    breaks(thickeners.nothing_is_coated, soup("5 lb stew beef, floured"), "floured meat"),
    unclear(thickeners.nothing_is_coated, soup("5 lb meat balls, coated"), "a coating of nobody says what"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_thickeners(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_thickener_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_thickener_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}
