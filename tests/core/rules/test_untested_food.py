"""Foods without a process. Each rule's source stands in the published catalogue under the rule's id."""

from typing import Any

import pytest

from service.core.rules import untested_food
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.untested_food import RULES
from tests.core.rules.cases import agrees, breaks, case, notes, of_tested, passes, stands_in_the_catalogue, unclear

PRESSURE = "pressure-dial"


def canned(*lines: str, title: str = "A food", family: str | None = None, **sent: Any) -> Case:
    return case(*lines, title=title, family=family, jars={"pint": 9}, **sent)


def vegetable(*lines: str, title: str = "A vegetable") -> Case:
    return canned(*lines, title=title, family="vegetable", method=PRESSURE)


def soup(*lines: str, title: str = "Soup") -> Case:
    return canned(*lines, title=title, family="soup", product="soup", method=PRESSURE)


EXAMPLES = [
    passes(untested_food.pumpkin_is_only_cubed, of_tested("pumpkin-cubed"), "cubes"),
    breaks(
        untested_food.pumpkin_is_only_cubed,
        canned("8 cups pumpkin, cooked", "4 cups sugar", title="Pumpkin butter"),
        "pumpkin butter",
    ),
    breaks(
        untested_food.pumpkin_is_only_cubed,
        of_tested("pumpkin-cubed", change={"pumpkin": "16 lb pumpkin, pureed"}),
        "puree, under pressure",
    ),
    unclear(
        untested_food.pumpkin_is_only_cubed,
        canned("pumpkin", "2 cups sugar", title="Pumpkin jam"),
        "some pumpkin in a jam",
    ),
    passes(untested_food.summer_squash_is_not_canned_plain, of_tested("bread-and-butter-zucchini"), "a tested pickle"),
    passes(untested_food.summer_squash_is_not_canned_plain, of_tested("mixed-vegetables"), "tested mixed vegetables"),
    breaks(untested_food.summer_squash_is_not_canned_plain, vegetable("16 lb zucchini, cubed"), "plain zucchini"),
    unclear(untested_food.summer_squash_is_not_canned_plain, vegetable("zucchini"), "zucchini of no amount"),
    breaks(
        untested_food.summer_squash_is_not_canned_plain,
        soup("2 lb carrots", "2 lb zucchini", "2 qt broth"),
        "zucchini in a soup",
        Severity.UNTESTED,
    ),
    passes(untested_food.low_acid_fruit_is_not_pureed, of_tested("applesauce"), "apple sauce"),
    passes(untested_food.low_acid_fruit_is_not_pureed, of_tested("mango-sauce"), "mango sauce as tested"),
    breaks(
        untested_food.low_acid_fruit_is_not_pureed,
        canned("4 qt figs, pureed", family="fruit", product="fruit-puree"),
        "fig puree",
    ),
    unclear(
        untested_food.low_acid_fruit_is_not_pureed,
        canned("mango puree", family="fruit", product="fruit-puree"),
        "mango of no stated ripeness",
    ),
    passes(untested_food.white_peaches_are_not_canned, of_tested("peaches-halved"), "yellow peaches"),
    breaks(
        untested_food.white_peaches_are_not_canned,
        of_tested("peach-jam-powder", change={"peach": "3 3/4 cups crushed white peaches"}),
        "white peach jam",
    ),
    unclear(
        untested_food.white_peaches_are_not_canned,
        of_tested("nectarines-halved", change={"nectarine": "nectarines, white-flesh"}),
        "white-flesh nectarines of no amount",
    ),
    passes(
        untested_food.elderberries_are_not_canned,
        canned("4 cups elderberry juice", method="freeze", storage="freezer"),
        "juice, frozen",
    ),
    breaks(
        untested_food.elderberries_are_not_canned, canned("4 cups elderberry juice", "2 cups sugar"), "syrup, canned"
    ),
    unclear(untested_food.elderberries_are_not_canned, canned("elderberries", "2 cups sugar"), "berries of no amount"),
    passes(untested_food.ripe_mango_is_not_canned, of_tested("mango-salsa"), "unripe mango in a tested salsa"),
    breaks(
        untested_food.ripe_mango_is_not_canned, canned("6 lb ripe mangoes, sliced", "2 cups sugar"), "ripe mango slices"
    ),
    unclear(
        untested_food.ripe_mango_is_not_canned, canned("6 lb mangoes, sliced", "2 cups sugar"), "mango of no ripeness"
    ),
    passes(untested_food.melon_and_banana_are_not_canned, of_tested("cantaloupe-pickles"), "cantaloupe pickles"),
    breaks(untested_food.melon_and_banana_are_not_canned, canned("12 lb watermelon, cubed"), "watermelon cubes"),
    unclear(untested_food.melon_and_banana_are_not_canned, canned("bananas", "2 cups sugar"), "bananas of no amount"),
    passes(untested_food.vegetables_and_meat_are_not_pureed, of_tested("carrots"), "carrot pieces"),
    breaks(
        untested_food.vegetables_and_meat_are_not_pureed,
        of_tested("carrots", change={"carrot": "17 1/2 lb carrots, pureed"}),
        "carrot puree",
    ),
    unclear(
        untested_food.vegetables_and_meat_are_not_pureed,
        vegetable("carrots", title="Carrot baby food"),
        "carrots for baby food",
    ),
    passes(untested_food.cake_is_not_canned, of_tested("bread-and-butter-pickles"), "bread and butter pickles"),
    breaks(
        untested_food.cake_is_not_canned,
        canned("2 cups flour", "2 eggs", "1 tsp baking soda", "1 cup sugar", title="Cake in a jar", method="oven"),
        "cake baked in a jar",
    ),
    unclear(untested_food.cake_is_not_canned, canned("cake mix", title="Cake in a jar"), "a mix of nobody says what"),
    passes(untested_food.soup_is_clear, soup("2 lb carrots", "2 qt broth"), "vegetable soup"),
    breaks(untested_food.soup_is_clear, soup("2 lb mushrooms", "4 cups cream", "2 qt broth"), "cream in soup"),
    breaks(untested_food.soup_is_clear, soup("2 lb carrots, pureed", "2 qt broth"), "pureed soup"),
    unclear(
        untested_food.soup_is_clear, soup("2 lb mushrooms", title="Cream of mushroom soup"), "a cream soup by name"
    ),
    passes(untested_food.poor_candidates_are_pickled, of_tested("pickled-mixed-vegetables"), "cauliflower in a pickle"),
    breaks(untested_food.poor_candidates_are_pickled, vegetable("10 lb broccoli"), "plain broccoli"),
    unclear(untested_food.poor_candidates_are_pickled, vegetable("eggplant"), "eggplant of no amount"),
    passes(untested_food.dense_pastes_are_not_canned, of_tested("dried-beans"), "whole beans"),
    breaks(untested_food.dense_pastes_are_not_canned, canned("5 cups refried beans"), "refried beans"),
    breaks(untested_food.dense_pastes_are_not_canned, vegetable("10 lb potatoes, mashed"), "mashed potatoes"),
    unclear(untested_food.dense_pastes_are_not_canned, canned("hummus"), "hummus of no amount"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_untested_food(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_untested_food_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_untested_food_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_a_peach_of_no_stated_colour_is_asked_about() -> None:
    peaches = of_tested("peach-jam-powder")
    assert notes(untested_food.white_peaches_are_not_canned, peaches)
