"""Acid that makes food safe. Each rule's source stands in the published catalogue under the rule's id."""

from typing import Any

import pytest

from service.core.rules import acid, proportions
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from tests.core.rules.cases import (
    agrees,
    breaks,
    case,
    findings,
    of_tested,
    passes,
    stands_in_the_catalogue,
    unclear,
)

QUARTS = {"quart": 7}
DILLS = "quick-dill-pickles"
SLICED_CUCUMBERS = "bread-and-butter-pickles"


def crushed(*acids: str, jars: dict[str, int] | None = None, method: str = "boiling-water") -> Case:
    return case(
        "22 lb tomatoes, crushed",
        *acids,
        title="Crushed tomatoes",
        product="tomatoes-crushed",
        family="tomato",
        jars=jars or QUARTS,
        method=method,
    )


def figs(*acids: str) -> Case:
    return case("16 lb figs", "9 cups water", *acids, title="Figs", product="figs", family="fruit", jars=QUARTS)


def asian_pears(*acids: str) -> Case:
    return case(
        "17 lb Asian pears",
        "9 cups water",
        *acids,
        title="Asian pears",
        product="asian-pears",
        family="fruit",
        jars=QUARTS,
    )


def pickle(*lines: str, steps: tuple[str, ...] | None = None, **handling: Any) -> Case:
    return case(*lines, title="My own pickle", family="pickle", jars={"pint": 6}, steps=steps, **handling)


def juice_blend(tomatoes: str, *vegetables: str) -> Case:
    return case(
        tomatoes,
        *vegetables,
        "2 tbsp bottled lemon juice per quart",
        title="Tomato-vegetable juice",
        product="tomato-vegetable-juice",
        family="tomato",
        jars=QUARTS,
    )


RULES = (*acid.RULES, *proportions.RULES)
EXAMPLES = [
    passes(acid.tomatoes_get_added_acid, crushed("2 tbsp bottled lemon juice per quart"), "2 tbsp a quart"),
    passes(acid.tomatoes_get_added_acid, crushed("14 tbsp bottled lemon juice"), "14 tbsp in 7 quarts, exactly enough"),
    passes(acid.tomatoes_get_added_acid, crushed("1/2 tsp citric acid per quart"), "1/2 tsp citric acid a quart"),
    passes(
        acid.tomatoes_get_added_acid,
        crushed("7 tbsp bottled lemon juice", "1 3/4 tsp citric acid"),
        "half of the juice and half of the citric acid",
    ),
    breaks(acid.tomatoes_get_added_acid, crushed("1 tbsp bottled lemon juice per quart"), "1 tbsp a quart"),
    breaks(acid.tomatoes_get_added_acid, crushed(), "no acid at all"),
    breaks(acid.tomatoes_get_added_acid, crushed("1 to 2 tbsp bottled lemon juice per quart"), "1 to 2 tbsp a quart"),
    unclear(acid.tomatoes_get_added_acid, crushed("bottled lemon juice"), "lemon juice of no stated amount"),
    passes(acid.tomatoes_with_vinegar_get_enough, crushed("4 tbsp vinegar (5%) per quart"), "4 tbsp vinegar a quart"),
    breaks(acid.tomatoes_with_vinegar_get_enough, crushed("2 tbsp vinegar (5%) per quart"), "2 tbsp vinegar a quart"),
    unclear(acid.tomatoes_with_vinegar_get_enough, crushed("vinegar (5%)"), "vinegar of no stated amount"),
    passes(
        acid.tomatoes_need_acid_under_pressure,
        crushed("2 tbsp bottled lemon juice per quart", method="pressure-dial"),
        "pressure with the acid",
    ),
    breaks(acid.tomatoes_need_acid_under_pressure, crushed(method="pressure-dial"), "pressure without acid"),
    unclear(
        acid.tomatoes_need_acid_under_pressure,
        crushed("bottled lemon juice", method="pressure-weighted"),
        "pressure with some juice",
    ),
    passes(
        acid.tablets_are_not_acid,
        crushed("7 canning tablets", "1/2 tsp citric acid per quart"),
        "tablets beside enough citric acid",
    ),
    breaks(acid.tablets_are_not_acid, crushed("7 canning tablets"), "tablets and no other acid"),
    unclear(acid.tablets_are_not_acid, crushed("7 canning tablets", "citric acid"), "tablets beside some citric acid"),
    passes(acid.figs_get_added_acid, figs("2 tbsp bottled lemon juice per quart"), "figs with 2 tbsp a quart"),
    breaks(acid.figs_get_added_acid, figs(), "figs without acid"),
    unclear(acid.figs_get_added_acid, figs("citric acid"), "figs with some citric acid"),
    passes(acid.asian_pears_get_added_acid, asian_pears("2 tbsp bottled lemon juice per quart"), "2 tbsp a quart"),
    breaks(acid.asian_pears_get_added_acid, asian_pears("1 tbsp bottled lemon juice per quart"), "1 tbsp a quart"),
    unclear(acid.asian_pears_get_added_acid, asian_pears("bottled lemon juice"), "some lemon juice"),
    passes(acid.juice_for_safety_is_bottled, of_tested("tomato-paste-salsa"), "salsa with bottled juice"),
    passes(acid.juice_for_safety_is_bottled, of_tested("peach-jam-powder"), "juice of no stated kind, for the set"),
    passes(
        acid.juice_for_safety_is_bottled,
        of_tested("peach-jam-powder", change={"lemon juice": "1/2 cup fresh lemon juice"}),
        "fresh juice in a jam of acid fruit",
    ),
    breaks(
        acid.juice_for_safety_is_bottled,
        of_tested("tomato-paste-salsa", change={"lemon juice": "2 cups freshly squeezed lemon juice"}),
        "fresh juice in salsa",
    ),
    unclear(
        acid.juice_for_safety_is_bottled,
        of_tested("tomato-paste-salsa", change={"lemon juice": "2 cups lemon juice"}),
        "juice of no stated kind in salsa",
    ),
    passes(
        acid.key_lime_juice_does_not_count,
        of_tested("choice-salsa", change={"lemon juice": "1 1/2 cups bottled lime juice"}),
        "bottled lime juice",
    ),
    breaks(
        acid.key_lime_juice_does_not_count,
        of_tested("choice-salsa", change={"lemon juice": "1 1/2 cups bottled key lime juice"}),
        "bottled key lime juice",
    ),
    unclear(
        acid.key_lime_juice_does_not_count,
        of_tested("choice-salsa", change={"lemon juice": "key lime juice"}),
        "key lime juice of no stated amount",
    ),
    passes(
        acid.juice_is_full_strength,
        of_tested("choice-salsa", change={"lemon juice": "1 1/2 cups bottled lemon juice, from concentrate"}),
        "bottled juice from concentrate",
    ),
    breaks(
        acid.juice_is_full_strength,
        of_tested("choice-salsa", change={"lemon juice": "1 1/2 cups lemonade concentrate"}),
        "lemonade counted as juice",
    ),
    unclear(
        acid.juice_is_full_strength,
        of_tested("choice-salsa", change={"lemon juice": "1 1/2 cups bottled lemon juice, diluted"}),
        "juice diluted by nobody says how much",
    ),
    passes(
        acid.citric_acid_stands_in_only_where_tested,
        crushed("1/2 tsp citric acid per quart"),
        "citric acid in plain tomatoes",
    ),
    breaks(
        acid.citric_acid_stands_in_only_where_tested,
        of_tested("tomato-paste-salsa", change={"lemon juice": "4 tsp citric acid"}),
        "citric acid for the juice of a salsa",
    ),
    unclear(
        acid.citric_acid_stands_in_only_where_tested,
        of_tested("tomato-paste-salsa", change={"lemon juice": "citric acid"}),
        "some citric acid for the juice of a salsa",
    ),
    passes(
        acid.ascorbic_acid_does_not_count,
        crushed("1/2 tsp citric acid per quart", "1 tsp ascorbic acid"),
        "ascorbic acid for colour beside citric acid",
    ),
    breaks(acid.ascorbic_acid_does_not_count, crushed("7 tsp ascorbic acid"), "ascorbic acid as the only acid"),
    unclear(acid.ascorbic_acid_does_not_count, crushed("ascorbic acid"), "some ascorbic acid as the only acid"),
    passes(acid.vinegar_is_five_percent, of_tested(DILLS), "5 percent"),
    passes(
        acid.vinegar_is_five_percent,
        of_tested(DILLS, change={"vinegar": "1 1/2 qt vinegar (4%)"}, method="refrigerate", storage="refrigerator"),
        "4 percent in refrigerator pickles",
    ),
    breaks(acid.vinegar_is_five_percent, of_tested(DILLS, change={"vinegar": "1 1/2 qt vinegar (4%)"}), "4 percent"),
    unclear(
        acid.vinegar_is_five_percent,
        of_tested(DILLS, change={"vinegar": "1 1/2 qt vinegar, diluted"}),
        "vinegar diluted by nobody says how much",
    ),
    passes(acid.vinegar_states_its_acidity, of_tested(DILLS), "bought, 5 percent"),
    breaks(
        acid.vinegar_states_its_acidity,
        of_tested(DILLS, change={"vinegar": "1 1/2 qt homemade vinegar"}),
        "homemade vinegar",
    ),
    unclear(
        acid.vinegar_states_its_acidity,
        of_tested(DILLS, change={"vinegar": "1 1/2 qt white vinegar"}),
        "vinegar of no stated acidity",
    ),
    passes(proportions.brine_keeps_its_proportion, of_tested(SLICED_CUCUMBERS), "as tested"),
    passes(
        proportions.brine_keeps_its_proportion,
        of_tested(SLICED_CUCUMBERS, change={"onion": "4 cups onions, sliced"}),
        "fewer onions",
    ),
    breaks(
        proportions.brine_keeps_its_proportion,
        of_tested("pickled-baby-carrots", change={"water": "3 cups water"}),
        "three times the water",
    ),
    breaks(
        proportions.brine_keeps_its_proportion,
        of_tested(SLICED_CUCUMBERS, change={"onion": "10 cups onions, sliced"}),
        "more onions",
    ),
    unclear(
        proportions.brine_keeps_its_proportion,
        of_tested("bread-and-butter-jicama", add=["water"]),
        "some water where the recipe has none",
    ),
    passes(proportions.acid_is_never_cut, of_tested(SLICED_CUCUMBERS), "the full measure"),
    passes(
        proportions.acid_is_never_cut,
        of_tested(SLICED_CUCUMBERS, change={"vinegar": "5 cups vinegar (5%)"}),
        "more vinegar than tested",
    ),
    passes(
        proportions.acid_is_never_cut,
        of_tested("apple-jelly-no-pectin", without=["lemon juice"]),
        "an optional acid left out",
    ),
    breaks(
        proportions.acid_is_never_cut,
        of_tested(SLICED_CUCUMBERS, change={"vinegar": "2 cups vinegar (5%)"}),
        "half of the vinegar",
    ),
    breaks(
        proportions.acid_is_never_cut,
        of_tested("peach-pie-filling-7qt", without=["lemon juice"]),
        "pie filling without its juice",
    ),
    breaks(
        proportions.acid_is_never_cut,
        of_tested("peach-jam-powder", without=["lemon juice"]),
        "juice that is there for the set",
        Severity.SET_FAILURE,
    ),
    unclear(
        proportions.acid_is_never_cut,
        of_tested(SLICED_CUCUMBERS, change={"vinegar": "vinegar (5%)"}),
        "vinegar of no amount",
    ),
    passes(proportions.lime_is_rinsed_out, of_tested("pickled-jalapeno-rings"), "rinsed and soaked three times"),
    breaks(
        proportions.lime_is_rinsed_out,
        of_tested("pickled-jalapeno-rings", skipped_steps=("rinse-3-times",)),
        "the rinse skipped",
    ),
    breaks(
        proportions.lime_is_rinsed_out,
        pickle(
            "4 lb cucumbers", "1 cup pickling lime", "6 cups vinegar (5%)", steps=("lime-soak-12-h", "rinse-1-times")
        ),
        "rinsed once",
    ),
    unclear(
        proportions.lime_is_rinsed_out,
        pickle("4 lb cucumbers", "1 cup pickling lime", "6 cups vinegar (5%)", steps=("vinegar", "fill")),
        "lime, and no step that rinses it out",
    ),
    passes(proportions.a_splash_of_acid_is_no_pickle, of_tested("three-bean-salad"), "a tested pickle"),
    breaks(
        proportions.a_splash_of_acid_is_no_pickle,
        case(
            "14 lb green beans", "2 tbsp vinegar (5%) per quart", product="green-beans", family="vegetable", jars=QUARTS
        ),
        "plain beans with 2 tbsp vinegar in boiling water",
    ),
    unclear(
        proportions.a_splash_of_acid_is_no_pickle,
        case("14 lb green beans", "vinegar (5%)", product="green-beans", family="vegetable", jars=QUARTS),
        "plain beans with some vinegar in boiling water",
    ),
    passes(proportions.tomatoes_with_vegetables_go_under_pressure, of_tested("blender-ketchup"), "a tested ketchup"),
    passes(
        proportions.tomatoes_with_vegetables_go_under_pressure,
        of_tested("tomatoes-with-okra"),
        "a tested pressure mixture",
    ),
    breaks(
        proportions.tomatoes_with_vegetables_go_under_pressure,
        crushed("7 cups onions, chopped", "2 tbsp bottled lemon juice per quart"),
        "a cup of onion a quart in boiling water",
    ),
    unclear(
        proportions.tomatoes_with_vegetables_go_under_pressure,
        crushed("onions", "2 tbsp bottled lemon juice per quart"),
        "some onions in boiling water",
    ),
    passes(
        proportions.juice_blend_has_few_vegetables,
        juice_blend("22 lb tomatoes", "3 cups celery"),
        "exactly 3 cups to 22 lb",
    ),
    breaks(
        proportions.juice_blend_has_few_vegetables, juice_blend("11 lb tomatoes", "3 cups celery"), "3 cups to 11 lb"
    ),
    unclear(proportions.juice_blend_has_few_vegetables, juice_blend("22 lb tomatoes", "celery"), "some celery"),
    passes(proportions.spaghetti_sauce_has_few_vegetables, of_tested("spaghetti-sauce-meat"), "as tested"),
    breaks(
        proportions.spaghetti_sauce_has_few_vegetables,
        of_tested("spaghetti-sauce-meat", change={"onion": "4 cups onions, chopped"}),
        "4 cups of onion",
    ),
    unclear(
        proportions.spaghetti_sauce_has_few_vegetables,
        case(
            "30 lb tomatoes", "onions", product="spaghetti-sauce-without-meat", family="tomato", method="pressure-dial"
        ),
        "some onions",
    ),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_acid(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_acid_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_acid_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_a_finding_says_how_much_acid_there_is_and_how_much_is_needed() -> None:
    (found,) = findings(acid.tomatoes_get_added_acid, crushed("1 tbsp bottled lemon juice per quart"))
    assert found.where == "#/ingredients/1"
    assert found.measured is not None
    assert found.limit is not None
    assert found.measured.bounds.low * 2 == found.limit.bounds.low == 1


@pytest.mark.parametrize(
    ("lines", "jars", "fix"),
    [
        pytest.param(
            ["22 lb tomatoes, crushed"], {"quart": 7},
            "Give each quart jar 2 tbsp bottled lemon juice or 1/2 tsp citric acid.", id="none",
        ),
        pytest.param(
            ["22 lb tomatoes, crushed", "1 tbsp bottled lemon juice per quart"], {"quart": 7},
            "Give each quart jar 1 tbsp more bottled lemon juice or 1/4 tsp more citric acid.", id="half",
        ),
        pytest.param(
            ["22 lb tomatoes, crushed", "2 tbsp vinegar (5%) per quart"], {"pint": 14},
            "Give each pint jar 1 1/2 tsp more bottled lemon juice or 1/8 tsp more citric acid or 1 tbsp more vinegar "
            "of 5 percent.",
            id="half, of vinegar",
        ),
    ],
)  # fmt: skip
def test_missing_acid_comes_back_as_what_each_jar_still_needs(lines: list[str], jars: dict[str, int], fix: str) -> None:
    judged = case(*lines, product="tomatoes-crushed", jars=jars)
    found = [finding for rule in acid.RULES if "floor" in rule.id for finding in findings(rule, judged)]
    assert [finding.fix for finding in found] == [fix]
