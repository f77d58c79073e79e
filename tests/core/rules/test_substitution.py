"""What may stand for what. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import substitution
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.substitution import RULES
from tests.core.rules.cases import (
    agrees,
    breaks,
    case,
    not_noted,
    noted,
    notes,
    of_tested,
    passes,
    stands_in_the_catalogue,
    unclear,
)

SALSA = "chile-salsa-2"


def salsa(*add: str, **change: str) -> Case:
    """A tested salsa of tomatoes, chile peppers, onions and a cup of vinegar."""
    return of_tested(SALSA, change={name.replace("_", " "): line for name, line in change.items()}, add=add)


def choice(tomatoes: str, *vegetables: str, juice: str = "1 1/2 cups bottled lemon juice") -> Case:
    return case(tomatoes, *vegetables, juice, title="Choice salsa", family="salsa", product="choice-salsa")


EXAMPLES = [
    passes(substitution.salsa_keeps_its_balance, salsa(onion="2 cups onions, chopped"), "fewer onions"),
    passes(
        substitution.salsa_keeps_its_balance, salsa(chile_pepper="6 cups jalapeno peppers, chopped"), "another pepper"
    ),
    breaks(substitution.salsa_keeps_its_balance, salsa(chile_pepper="9 cups chile peppers, chopped"), "more peppers"),
    breaks(substitution.salsa_keeps_its_balance, salsa(tomato="5 cups tomatoes, chopped"), "half of the tomatoes"),
    unclear(substitution.salsa_keeps_its_balance, salsa("onions, chopped"), "some onions on top"),
    passes(substitution.salsa_tomatoes_keep_their_juice, salsa(), "chopped tomatoes with their juice"),
    passes(substitution.salsa_tomatoes_keep_their_juice, of_tested("choice-salsa"), "seeded where print seeds them"),
    breaks(
        substitution.salsa_tomatoes_keep_their_juice,
        salsa(tomato="10 cups tomatoes, peeled, chopped, drained"),
        "drained tomatoes",
    ),
    breaks(
        substitution.salsa_tomatoes_keep_their_juice,
        of_tested(SALSA, steps=("peel", "drain", "combine", "boil", "fill", "process")),
        "a step that drains",
    ),
    unclear(
        substitution.salsa_tomatoes_keep_their_juice,
        case("tomatoes, seeded", "1 cup bottled lime juice", family="salsa"),
        "seeded tomatoes of no amount",
    ),
    passes(substitution.salsa_gets_no_new_low_acid_food, salsa(), "what the recipe lists"),
    breaks(substitution.salsa_gets_no_new_low_acid_food, salsa("1 cup black beans, cooked"), "black beans"),
    breaks(substitution.salsa_gets_no_new_low_acid_food, salsa("2 avocados"), "avocado"),
    unclear(substitution.salsa_gets_no_new_low_acid_food, salsa("corn kernels"), "some corn"),
    passes(
        substitution.salsa_acid_changes_one_way,
        salsa(vinegar="1 cup bottled lime juice"),
        "juice for vinegar, cup for cup",
    ),
    breaks(
        substitution.salsa_acid_changes_one_way,
        of_tested("tomato-paste-salsa", change={"lemon juice": "2 cups vinegar (5%)"}),
        "vinegar for juice",
    ),
    breaks(
        substitution.salsa_acid_changes_one_way, salsa(vinegar="1/2 cup bottled lime juice"), "half a cup for a cup"
    ),
    unclear(substitution.salsa_acid_changes_one_way, salsa(vinegar="bottled lime juice"), "some juice for vinegar"),
    passes(
        substitution.choice_salsa_stays_in_its_ratios,
        choice("6 cups tomatoes, chopped", "5 cups onions, chopped", "4 cups bell peppers, chopped"),
        "6 to 9 to 1 1/2, exactly on both bounds",
    ),
    breaks(
        substitution.choice_salsa_stays_in_its_ratios,
        choice("4 cups tomatoes, chopped", "6 cups onions, chopped", "5 cups bell peppers, chopped"),
        "4 to 11 to 1 1/2",
    ),
    unclear(
        substitution.choice_salsa_stays_in_its_ratios,
        choice("6 cups tomatoes, chopped", "onions, chopped"),
        "onions of no amount",
    ),
    passes(substitution.alcohol_is_no_acid, of_tested("pickled-beets"), "vinegar"),
    breaks(
        substitution.alcohol_is_no_acid,
        of_tested("pickled-beets", change={"vinegar": "4 cups red wine"}),
        "wine in place of vinegar",
    ),
    breaks(
        substitution.alcohol_is_no_acid,
        case("4 lb onions", "6 cups red wine", title="Pickled onions", family="pickle"),
        "onions in wine",
    ),
    unclear(
        substitution.alcohol_is_no_acid, of_tested("pickled-beets", change={"vinegar": "beer"}), "beer of no amount"
    ),
    passes(
        substitution.fruit_is_swapped_within_its_class,
        of_tested("blackberry-jam-liquid", change={"blackberry": "4 cups crushed raspberries"}),
        "raspberries for blackberries",
    ),
    passes(substitution.fruit_is_swapped_within_its_class, of_tested("fig-jam-liquid"), "figs where print lists them"),
    breaks(
        substitution.fruit_is_swapped_within_its_class,
        of_tested("berry-jam-no-pectin", change={"berry": "4 cups crushed elderberries"}),
        "elderberries for berries",
    ),
    unclear(
        substitution.fruit_is_swapped_within_its_class,
        of_tested("berry-jam-no-pectin", change={"berry": "4 cups mango, crushed"}),
        "mango of no stated ripeness",
    ),
]

NOTES = [
    noted(
        substitution.peppers_swap,
        of_tested("tomato-salsa-slicing", change={"jalapeno pepper": "1/2 cup serrano peppers, chopped"}),
        "any pepper for another",
    ),
    not_noted(substitution.peppers_swap, salsa("2 cups jalapeno peppers, chopped"), "peppers on top"),
    not_noted(substitution.peppers_swap, salsa(chile_pepper="jalapeno peppers"), "peppers of no amount"),
    noted(
        substitution.onions_swap,
        choice("6 cups tomatoes, seeded, chopped", "5 cups onions, chopped", "4 cups bell peppers, chopped"),
        "traded for peppers inside a combined total",
    ),
    not_noted(substitution.onions_swap, salsa(onion="8 cups onions, chopped"), "more onions"),
    not_noted(substitution.onions_swap, salsa(onion="scallions"), "scallions of no amount"),
    noted(substitution.green_tomatoes_swap, salsa(tomato="10 cups tomatillos, chopped"), "tomatillos for tomatoes"),
    not_noted(
        substitution.green_tomatoes_swap,
        of_tested("tomatillo-green-salsa", change={"tomatillo": "5 cups ripe tomatoes, chopped"}),
        "ripe tomatoes for tomatillos",
    ),
    not_noted(substitution.green_tomatoes_swap, salsa(tomato="tomatillos"), "tomatillos of no amount"),
    noted(substitution.paste_thickens, salsa("6 oz tomato paste"), "a small can of tomato paste"),
    not_noted(substitution.paste_thickens, salsa("24 oz tomato paste"), "four small cans of it"),
    not_noted(substitution.paste_thickens, salsa("tomato paste"), "tomato paste of no amount"),
    noted(
        substitution.fewer_vegetables_are_safe,
        of_tested("pepper-onion-relish", change={"onion": "3 cups onions, chopped"}),
        "half of the onions in a relish",
    ),
    not_noted(
        substitution.fewer_vegetables_are_safe,
        of_tested("pepper-onion-relish", change={"onion": "3 cups onions, chopped"}, add=["6 cups zucchini, chopped"]),
        "zucchini in place of the onions",
    ),
    not_noted(
        substitution.fewer_vegetables_are_safe,
        of_tested("pepper-onion-relish", change={"onion": "3 cups onions, chopped"}, add=["zucchini, chopped"]),
        "some zucchini in place of the onions",
    ),
    noted(substitution.spices_vary, salsa("1 tsp dried oregano"), "a dried herb more"),
    not_noted(substitution.spices_vary, salsa("1 cup fresh basil"), "a cup of fresh basil"),
    not_noted(substitution.spices_vary, salsa("1 tsp moon dust"), "something that isn't known as a spice"),
    noted(
        substitution.sugar_varies,
        of_tested("bread-and-butter-pickles", change={"sugar": "2 cups sugar"}),
        "less sugar in a quick pickle",
    ),
    not_noted(
        substitution.sugar_varies,
        of_tested("plum-jam-liquid", change={"sugar": "3 cups sugar"}),
        "less sugar in a jam",
    ),
    not_noted(
        substitution.sugar_varies,
        of_tested("bread-and-butter-pickles", change={"sugar": "2 tsp stevia"}),
        "a sweetener that isn't sugar",
    ),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_substitution(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize(("rule", "judged", "said"), NOTES)
def test_a_permitted_change_is_noted_within_its_bound(rule: Rule, judged: Case, said: bool) -> None:
    assert bool(notes(rule, judged)) is said
    assert agrees(rule, judged, None)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_substitution_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_substitution_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES + NOTES} == {rule.id for rule in RULES}
