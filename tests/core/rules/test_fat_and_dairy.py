"""Milk, butter, eggs, oil and fat. Each rule's source stands in the published catalogue under the rule's id."""

from typing import Any

import pytest

from service.core.rules import fat_and_dairy
from service.core.rules.case import Case
from service.core.rules.fat_and_dairy import RULES
from service.core.rules.findings import Rule, Severity
from tests.core.rules.cases import agrees, breaks, case, notes, of_tested, passes, stands_in_the_catalogue, unclear

PEPPERS = "marinated-peppers"
JELLY = "strawberry-rhubarb-jelly-liquid"
COLD: dict[str, Any] = {"method": "refrigerate", "storage": "refrigerator"}


def other(*lines: str, title: str = "Something", **sent: Any) -> Case:
    return case(*lines, title=title, family="other", jars={"half-pint": 4}, **sent)


def beef(*lines: str) -> Case:
    return case(
        *lines,
        title="Beef",
        family="meat",
        product="meat-strips-cubes-or-chunks",
        method="pressure-dial",
        jars={"quart": 7},
    )


EXAMPLES = [
    passes(fat_and_dairy.dairy_stays_out, of_tested("meat-stock"), "stock without cream"),
    passes(fat_and_dairy.dairy_stays_out, of_tested(JELLY), "1/2 tsp butter against foam"),
    passes(fat_and_dairy.dairy_stays_out, other("2 cups cream", **COLD), "cream, refrigerated"),
    breaks(fat_and_dairy.dairy_stays_out, of_tested("meat-stock", add=["1 cup cream"]), "cream in stock"),
    unclear(fat_and_dairy.dairy_stays_out, of_tested("tomato-juice", add=["butter"]), "butter of no amount"),
    passes(fat_and_dairy.butter_is_not_canned, of_tested(JELLY), "a little butter in a jelly"),
    breaks(fat_and_dairy.butter_is_not_canned, other("2 lb butter, melted", "1 tsp salt"), "jars of melted butter"),
    unclear(fat_and_dairy.butter_is_not_canned, other("ghee"), "ghee of no amount"),
    passes(
        fat_and_dairy.eggs_stay_cold,
        case("12 eggs", "3 cups vinegar (5%)", title="Pickled eggs", family="pickle", **COLD),
        "pickled eggs, refrigerated",
    ),
    breaks(
        fat_and_dairy.eggs_stay_cold,
        case("12 eggs", "3 cups vinegar (5%)", title="Pickled eggs", family="pickle", storage="shelf"),
        "pickled eggs on the shelf",
    ),
    unclear(fat_and_dairy.eggs_stay_cold, other("egg yolks", "2 cups sugar"), "yolks of no amount"),
    passes(fat_and_dairy.nothing_is_packed_in_oil, of_tested("marinated-mushrooms"), "marinated mushrooms as tested"),
    passes(
        fat_and_dairy.nothing_is_packed_in_oil,
        case(
            "30 lb tomatoes",
            "1 cup onions, chopped",
            "1/4 cup vegetable oil",
            product="spaghetti-sauce-without-meat",
            family="tomato",
            method="pressure-dial",
        ),
        "1/4 cup of oil to 30 lb of tomatoes",
    ),
    breaks(
        fat_and_dairy.nothing_is_packed_in_oil,
        of_tested(PEPPERS, change={"olive oil": "3 cups olive oil"}),
        "three times the oil",
    ),
    breaks(
        fat_and_dairy.nothing_is_packed_in_oil,
        other("2 cups dried tomatoes", "2 cups olive oil"),
        "dried tomatoes in oil",
    ),
    unclear(fat_and_dairy.nothing_is_packed_in_oil, other("2 cups basil leaves", "olive oil"), "oil of no amount"),
    passes(
        fat_and_dairy.garlic_in_oil_stays_cold,
        other("1 cup garlic cloves", "2 cups olive oil", **COLD),
        "garlic oil, refrigerated",
    ),
    breaks(
        fat_and_dairy.garlic_in_oil_stays_cold,
        other("1 cup garlic cloves", "2 cups olive oil", storage="shelf"),
        "garlic oil on the shelf",
    ),
    unclear(
        fat_and_dairy.garlic_in_oil_stays_cold, other("garlic", "olive oil", storage="shelf"), "some garlic in oil"
    ),
    passes(
        fat_and_dairy.infused_oil_is_acidified,
        other("2/3 cup garlic, chopped", "2 cups water", "1 tbsp citric acid", "2 cups olive oil"),
        "garlic soaked in citric acid of 3 percent",
    ),
    breaks(
        fat_and_dairy.infused_oil_is_acidified,
        other("2/3 cup garlic, chopped", "1 cup vinegar (5%)", "2 cups olive oil"),
        "garlic dipped in vinegar",
    ),
    unclear(
        fat_and_dairy.infused_oil_is_acidified,
        other("2/3 cup garlic, chopped", "2 cups water", "citric acid", "2 cups olive oil"),
        "citric acid of no amount",
    ),
    passes(fat_and_dairy.marinated_peppers_keep_their_ratio, of_tested(PEPPERS), "4 lb to 1 to 2 to 1"),
    breaks(
        fat_and_dairy.marinated_peppers_keep_their_ratio,
        of_tested(PEPPERS, change={"lemon juice": "1/2 cup bottled lemon juice"}),
        "half of the lemon juice",
    ),
    breaks(
        fat_and_dairy.marinated_peppers_keep_their_ratio,
        of_tested(PEPPERS, change={"olive oil": "3 cups olive oil"}),
        "3 cups of oil",
    ),
    unclear(
        fat_and_dairy.marinated_peppers_keep_their_ratio,
        of_tested(PEPPERS, change={"white vinegar": "white vinegar (5%)"}),
        "vinegar of no amount",
    ),
    passes(fat_and_dairy.foam_takes_little_butter, of_tested(JELLY), "1/2 tsp"),
    breaks(fat_and_dairy.foam_takes_little_butter, of_tested(JELLY, change={"butter": "2 tbsp butter"}), "2 tbsp"),
    unclear(
        fat_and_dairy.foam_takes_little_butter, of_tested(JELLY, change={"butter": "butter"}), "butter of no amount"
    ),
    passes(fat_and_dairy.meat_has_no_added_fat, beef("14 lb beef, lean, cubed"), "lean cubes"),
    breaks(fat_and_dairy.meat_has_no_added_fat, beef("14 lb beef, cubed", "2 cups lard"), "lard poured on"),
    unclear(fat_and_dairy.meat_has_no_added_fat, beef("14 lb beef, cubed", "bacon fat"), "fat of no amount"),
    passes(fat_and_dairy.chocolate_sauce_is_not_canned, other("2 cups fudge sauce", **COLD), "fudge sauce, cold"),
    breaks(fat_and_dairy.chocolate_sauce_is_not_canned, other("2 cups fudge sauce"), "fudge sauce, canned"),
    unclear(fat_and_dairy.chocolate_sauce_is_not_canned, other("chocolate", "2 cups sugar"), "chocolate of no amount"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_fat_and_dairy(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_fat_and_dairy_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_fat_and_dairy_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_garlic_oil_in_the_refrigerator_is_said_to_keep_four_days() -> None:
    (note,) = notes(fat_and_dairy.garlic_in_oil_stays_cold, other("1 cup garlic cloves", "2 cups olive oil", **COLD))
    assert "4 days" in note
