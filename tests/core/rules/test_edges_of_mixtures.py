"""Acid, fat, salt, swaps and the size of a pot at the edge of what is published and just beside it.

The figures are those of the catalogue, under each rule's id; each first case differs from its last one in one thing.
"""

from dataclasses import replace
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from service.core.rules import acid, batch_size, fat_and_dairy, ingredients, proportions, substitution, thickeners
from service.core.rules.case import Case
from service.core.rules.findings import Rule
from tests.core.rules.cases import FACTS, case, findings, notes, of_tested, written
from tests.core.rules.test_acid import crushed, figs, pickle
from tests.core.rules.test_batch_size import POUCH, cherry_jam, jam, jelly, pear_butter
from tests.core.rules.test_edges import dills, limed, sauce
from tests.core.rules.test_ingredients import crock

DIAL = "pressure-dial"
Sides = tuple[Rule, Case, Case]  # a rule, the last case that it lets through, the first that it finds


def ours(*lines: str, family: str = "other", **sent: Any) -> Case:
    """Food that no row is printed for."""
    return case(*lines, title="Ours", family=family, **({"product": "no-row"} | sent))


def carrots(*added: str) -> Case:
    return of_tested("pickled-baby-carrots", add=added)


@cache
def infused(*soak: str) -> Case:
    return case("4 cups olive oil", "2 cups fresh garlic cloves", *soak, title="Garlic oil", family="other")


@cache
def marinated(
    lemon: str = "1 cup", vinegar: str = "2 cups", oil: str = "1 cup", onions: str = "1/2 cup", peppers: str = "4 lb"
) -> Case:
    lines = (
        f"{peppers} bell peppers, peeled", f"{lemon} bottled lemon juice", f"{vinegar} white vinegar (5%)",
        f"{oil} olive oil", f"{onions} onions, chopped",
    )  # fmt: skip
    return case(*lines, title="Ours", product="marinated-peppers", family="pickle")


@cache
def choice_salsa(tomatoes: str, vegetables: str, juice: str) -> Case:
    lines = (f"{tomatoes} tomatoes, chopped", f"{vegetables} onions, chopped", f"{juice} bottled lemon juice")
    return case(*lines, title="Ours", product="choice-salsa", family="salsa")


def own_crab(juice: str) -> Case:
    """Crab that no tested recipe is beside: its row alone says how much acid goes into each jar."""
    lines = ("8 lb crab meat", "2 qt water", juice)
    crab = case(*lines, product="king-or-dungeness-crab", method=DIAL, jars={"pint": 8})
    return replace(crab, tested=None)


def dill_pickles(soak: str, liquid: str) -> Case:
    """2 gallons of water to soak in and 2 quarts in the pickling liquid are printed."""
    recipe = FACTS.tested_recipe["quick-dill-pickles"]
    lines = [one.line for one in recipe.ingredients if one.name != "water"]
    waters = (f"{soak} water, for soaking brine", f"{liquid} water, for pickling liquid")
    return case(*waters, *lines, title=recipe.title, family="pickle", tested=recipe.id)


def kraut(salt: str, **sent: Any) -> Case:
    return case("25 lb cabbage", salt, title="Kraut", **({"product": "sauerkraut", "family": "ferment"} | sent))


def butter(times: str) -> Case:
    """Pear butter, this many times 8 cups of pulp to 4 cups of sugar."""
    amounts = [float(Fraction(times) * each) for each in (8, 4, 1, Fraction(1, 3), Fraction(1, 2))]
    lines = ("cups pear pulp, cooked, sieved", "cups granulated sugar", "tsp orange rind, grated", "cup orange juice")
    written_out = (f"{amount:.4f} {line}" for amount, line in zip(amounts, (*lines, "tsp nutmeg, ground"), strict=True))
    return case(*written_out, title="Pear butter", family="fruit-butter", tested="pear-butter")


def spread(*lines: str, **sent: Any) -> Case:
    return ours("4 cups crushed plums", "7 cups sugar", *lines, family="jam", **sent)


ACID: tuple[Sides, ...] = (
    (
        proportions.tomatoes_with_vegetables_go_under_pressure,
        case("14 lb green beans", product="green-beans", family="vegetable"),
        ours("14 lb tomatoes", "2 lb green beans", family="vegetable"),
    ),
    (
        proportions.tomatoes_with_vegetables_go_under_pressure,
        ours("14 lb tomatoes", "2 lb zucchini", family="vegetable", method=DIAL),
        ours("14 lb tomatoes", "2 lb zucchini", family="vegetable"),
    ),
    (
        acid.tomatoes_get_added_acid,
        ours("14 lb tomatoes", "2 lb zucchini", family="tomato"),
        ours("14 lb tomatoes", family="tomato"),
    ),
    (acid.tomatoes_get_added_acid, ours("14 lb tomatoes", family="salsa"), ours("14 lb tomatillos", family="tomato")),
    (acid.tomatoes_get_added_acid, ours("14 lb plums", family="tomato"), ours("14 lb tomatoes", family="tomato")),
    (
        acid.figs_get_added_acid,
        ours("4 cups crushed figs", "4 cups sugar", family="jam"),
        ours("4 lb figs", "2 cups peaches", family="fruit"),
    ),
    (
        acid.figs_get_added_acid,
        case("4 cups crushed figs", "4 cups sugar", title="Jam", family="jam", product="jam-no-added-pectin"),
        figs(),
    ),
    (proportions.brine_keeps_its_proportion, carrots(), of_tested("pickled-baby-carrots", change={"water": "water"})),
    (
        acid.juice_for_safety_is_bottled,
        of_tested("chile-salsa", add=["1 tbsp fresh lemon juice"]),
        of_tested("choice-salsa", change={"lemon juice": "1 1/2 cups fresh lemon juice"}, add=["1 tsp dried oregano"]),
    ),
    (proportions.lime_is_rinsed_out, limed("rinse-4-times"), limed("rinse-1-times")),
    (
        proportions.a_splash_of_acid_is_no_pickle,
        ours("4 lb sunchokes", "1 cup vinegar (5%)", family="pickle"),
        ours("4 lb sunchokes", "1 cup vinegar (5%)", family="vegetable"),
    ),
    (
        proportions.a_splash_of_acid_is_no_pickle,
        ours("4 lb sunchokes", "1 cup vinegar (5%)", family="other"),
        case("14 lb green beans", "1 cup vinegar (5%)", product="green-beans", family="other"),
    ),
    (
        proportions.acid_is_never_cut,
        case("8 lb crab meat", "2 qt water", "4 tbsp bottled lemon juice per pint", product="king-or-dungeness-crab"),
        case("8 lb crab meat", "2 qt water", "4 tbsp bottled lemon juice per quart", product="king-or-dungeness-crab"),
    ),
)
CRAB: tuple[Sides, ...] = (
    (proportions.brine_keeps_its_proportion, dill_pickles("4 gal", "2 qt"), dill_pickles("4 gal", "3 qt")),
    (acid.figs_get_added_acid, ours("4 lb plums", family="fruit"), ours("4 lb figs", family="fruit")),
    (
        proportions.brine_keeps_its_proportion,
        of_tested("chile-salsa", add=["2 cups water"]),
        of_tested("fermented-dill-pickles", add=["4 lb onions"]),
    ),
    *(
        (proportions.acid_is_never_cut, own_crab(last), own_crab(first))
        for last, first in (
            ("4 tbsp bottled lemon juice per pint", "3 7/8 tbsp bottled lemon juice per pint"),
            ("1 tsp citric acid per pint", "7/8 tsp citric acid per pint"),
            ("2 tbsp bottled lemon juice per half-pint", "1 7/8 tbsp bottled lemon juice per half-pint"),
            ("2 tbsp bottled lemon juice per half-pint", "4 tbsp vinegar (5%) per half-pint"),
        )
    ),
    (
        acid.tablets_are_not_acid,
        crushed("3 tbsp bottled lemon juice per quart", "7 canning tablets"),
        crushed("1 tbsp bottled lemon juice per quart", "7 canning tablets"),
    ),
)
FAT: tuple[Sides, ...] = (
    (fat_and_dairy.nothing_is_packed_in_oil, sauce("1/4 cup vegetable oil"), sauce("5 tbsp vegetable oil")),
    (fat_and_dairy.nothing_is_packed_in_oil, sauce("2 tbsp vegetable oil"), sauce("vegetable oil")),
    (
        fat_and_dairy.nothing_is_packed_in_oil,
        ours("4 lb peppers, sliced", family="vegetable"),
        ours("4 lb peppers, packed in oil", family="vegetable"),
    ),
    (
        fat_and_dairy.infused_oil_is_acidified,
        infused("1 tbsp citric acid", "2 cups water"),
        infused("1 tbsp citric acid", "2 1/4 cups water"),
    ),
    (
        fat_and_dairy.infused_oil_is_acidified,
        infused("2 tbsp citric acid", "2 cups water"),
        infused("7/8 tbsp citric acid", "2 cups water"),
    ),
    (fat_and_dairy.infused_oil_is_acidified, infused("1 tbsp citric acid"), infused("1 tbsp citric acid", "water")),
    (fat_and_dairy.infused_oil_is_acidified, infused("1 tbsp citric acid"), infused("0 tbsp citric acid")),
    *(
        (fat_and_dairy.marinated_peppers_keep_their_ratio, marinated(), first)
        for first in (
            marinated(lemon="7/8 cup"), marinated(vinegar="1 7/8 cups"), marinated(oil="1 1/8 cups"),
            marinated(onions="5/8 cup"), marinated(peppers="65 oz", oil="1 cup"), marinated(peppers="63 oz"),
        )
    ),
    (
        fat_and_dairy.marinated_peppers_keep_their_ratio,
        marinated(lemon="2 cups", vinegar="4 cups", oil="1/2 cup", onions="1/4 cup"),
        marinated(oil="some"),
    ),
    (fat_and_dairy.dairy_stays_out, spread("2 tbsp butter"), spread("2 1/8 tbsp butter")),
    (fat_and_dairy.dairy_stays_out, spread("1/2 tsp butter"), ours("4 lb carrots", "1/2 tsp butter")),
    (fat_and_dairy.dairy_stays_out, spread("1/2 tsp butter"), spread("1/2 tsp cream")),
    (fat_and_dairy.dairy_stays_out, spread("1/2 tsp butter"), spread("butter")),
    (fat_and_dairy.foam_takes_little_butter, spread("1/2 tsp butter"), spread("5/8 tsp butter")),
    (
        fat_and_dairy.foam_takes_little_butter,
        spread("1/4 tsp butter", "1/4 tsp ghee"),
        spread("1/2 tsp butter", "ghee"),
    ),
    (fat_and_dairy.butter_is_not_canned, ours("1 lb butter", "2 lb carrots"), ours("2 lb butter", "1 lb carrots")),
    (fat_and_dairy.butter_is_not_canned, ours("1 lb butter", "1 lb carrots"), ours("17 oz butter", "1 lb carrots")),
    (fat_and_dairy.butter_is_not_canned, spread("8 lb butter"), ours("8 lb butter", family="jam")),
    (fat_and_dairy.butter_is_not_canned, ours("4 lb carrots"), ours("4 lb butter", "1 tsp salt")),
    (
        fat_and_dairy.meat_has_no_added_fat,
        case("4 lb tuna", "1 cup olive oil", title="Tuna", family="fish", product="tuna", method=DIAL),
        ours("4 lb chicken, cubed", "1 cup olive oil", family="meat", method=DIAL),
    ),
    (
        fat_and_dairy.meat_has_no_added_fat,
        ours("4 lb beef, trimmed", family="meat", method=DIAL),
        ours("4 lb beef, untrimmed", family="meat", method=DIAL),
    ),
)  # fmt: skip
FAT_AND_SALT: tuple[Sides, ...] = (
    (
        fat_and_dairy.garlic_in_oil_stays_cold,
        infused("1 tbsp citric acid", "2 cups water"),
        infused("1 cup vinegar (5%)"),
    ),
    (fat_and_dairy.garlic_in_oil_stays_cold, sauce("1/4 cup vegetable oil"), infused()),
    (fat_and_dairy.dairy_stays_out, ours("1 cup peanut butter"), ours("1 cup clarified butter")),
    (
        fat_and_dairy.nothing_is_packed_in_oil,
        of_tested("tuna", change={"tuna": "4 lb tuna, in oil"}),
        ours("4 lb okra, packed in oil", family="vegetable"),
    ),
    (fat_and_dairy.garlic_in_oil_stays_cold, marinated(), infused()),
    (fat_and_dairy.foam_takes_little_butter, spread("1/4 tsp butter"), spread("1 tsp butter")),
    (
        fat_and_dairy.nothing_is_packed_in_oil,
        case("30 lb tomatoes", "1/4 cup oil", product="spaghetti-sauce-without-meat", family="tomato", method=DIAL),
        case("29 lb tomatoes", "1/4 cup oil", product="spaghetti-sauce-without-meat", family="tomato", method=DIAL),
    ),
    (
        fat_and_dairy.infused_oil_is_acidified,
        case("4 cups olive oil", "1 cup fresh rosemary", "1 tbsp citric acid", "2 cups water", title="Ours"),
        case("4 cups olive oil", "1 cup fresh thyme", "1 tbsp citric acid", "2 cups water", title="Ours"),
    ),
    (ingredients.kraut_has_its_salt, kraut("1 cup canning salt"), kraut("canning salt")),
    (
        ingredients.salt_is_canning_salt,
        crock(add=["1/2 cup pickling salt"]),
        crock(add=["1/2 cup sea salt"]),
    ),
    (
        ingredients.half_ferments_are_finished,
        crock(method="refrigerate", steps=("brine", "ferment-3-weeks")),
        crock(method="refrigerate", steps=("brine", "ferment-2-weeks")),
    ),
    (
        ingredients.half_ferments_are_finished,
        crock(storage="freezer", steps=("brine", "ferment-2-weeks")),
        crock(storage="refrigerator", steps=("brine", "fill")),
    ),
    (
        ingredients.half_ferments_are_finished,
        crock(steps=("brine", "ferment-2-weeks")),
        crock(storage="refrigerator", steps=("brine", "ferment-2-weeks")),
    ),
)  # fmt: skip
SWAPS: tuple[Sides, ...] = (
    (
        substitution.choice_salsa_stays_in_its_ratios,
        choice_salsa("6 cups", "9 cups", "1 1/2 cups"),
        choice_salsa("6 cups", "9 cups", "23 tbsp"),
    ),
    (
        substitution.choice_salsa_stays_in_its_ratios,
        choice_salsa("6 cups", "9 cups", "2 cups"),
        choice_salsa("6 cups", "9 1/8 cups", "2 cups"),
    ),
    (
        substitution.salsa_gets_no_new_low_acid_food,
        of_tested("chile-salsa", change={"onion": "2 lb onions, chopped"}),
        of_tested("chile-salsa", add=["2 cups corn"]),
    ),
    (
        substitution.salsa_keeps_its_balance,
        of_tested("corn-relish", add=["2 cups onions, chopped"]),
        of_tested("chile-salsa", change={"onion": "2 lb onions, chopped"}),
    ),
    (
        substitution.salsa_keeps_its_balance,
        ours("4 lb eggplant", "2 cups beer", family="salsa"),
        of_tested("chile-salsa", change={"tomato": "4 lb tomatoes, peeled, cored, chopped"}),
    ),
    (
        substitution.salsa_keeps_its_balance,
        of_tested("chile-salsa", change={"onion": "1/2 lb zucchini, chopped"}),
        of_tested("chile-salsa", change={"onion": "1 1/2 lb zucchini, chopped"}),
    ),
    (
        substitution.choice_salsa_stays_in_its_ratios,
        choice_salsa("6 cups", "4 cups", "2 cups"),
        choice_salsa("6 cups", "onions", "2 cups"),
    ),
    (
        substitution.salsa_gets_no_new_low_acid_food,
        of_tested("choice-salsa", add=["1 cup onions, diced"]),
        of_tested("choice-salsa", add=["1 cup corn"]),
    ),
    (
        substitution.salsa_gets_no_new_low_acid_food,
        of_tested("choice-salsa", change={"onion and pepper": "10 cups diced onions and peppers"}),
        of_tested("chile-salsa", add=["1 cup celery"]),
    ),
    (
        substitution.alcohol_is_no_acid,
        of_tested("chile-salsa", add=["1 cup white wine"]),
        of_tested("chile-salsa", change={"vinegar": "1 cup white wine"}),
    ),
    (
        substitution.alcohol_is_no_acid,
        of_tested("tomatoes-crushed", without=["lemon juice"], add=["1 cup white wine"]),
        of_tested("pickled-beets", without=["vinegar"], add=["4 cups white wine"]),
    ),
    (
        substitution.alcohol_is_no_acid,
        ours("4 lb plums", "1 cup white wine", family="fruit"),
        ours("4 lb cucumbers", "4 cups white wine", family="pickle"),
    ),
    (
        substitution.alcohol_is_no_acid,
        ours("4 lb cucumbers", "4 cups white wine", "4 cups vinegar (5%)", family="pickle"),
        ours("4 lb cucumbers", "4 cups white wine", family="relish"),
    ),
    (
        substitution.fruit_is_swapped_within_its_class,
        of_tested("plum-jam-liquid", change={"plum": "4 1/2 cups crushed apricots"}),
        of_tested("plum-jam-liquid", change={"plum": "4 1/2 cups crushed figs"}),
    ),
    (thickeners.nothing_is_thickened, spread("1 tbsp gelatin"), spread("2 tbsp flour")),
    (thickeners.nothing_is_thickened, spread("1 tbsp gelatin"), ours("4 lb chicken", "1 tbsp gelatin", family="meat")),
    (
        thickeners.nothing_is_thickened,
        ours("6 qt feijoas", "1 cup cook-type modified corn starch", family="pie-filling"),
        ours("6 qt feijoas", "1 cup cook-type modified corn starch", family="fruit"),
    ),
    (ingredients.kraut_has_its_salt, kraut("3/4 cup canning salt"), kraut("5/8 cup canning salt", family="other")),
    (
        ingredients.kraut_has_its_salt,
        kraut("1 tsp canning salt", product="no-row", family="pickle"),
        kraut("1 tsp canning salt", product="no-row", family="ferment"),
    ),
)
POTS: tuple[Sides, ...] = (
    (
        batch_size.gels_are_not_doubled,
        cherry_jam("4.08 cups", "5.1 cups", "1.02 packages (1 3/4 oz)"),
        cherry_jam("4.12 cups", "5.15 cups", "1.03 packages (1 3/4 oz)"),
    ),
    (
        batch_size.gels_are_not_halved,
        cherry_jam("3.92 cups", "4.9 cups", "0.98 package (1 3/4 oz)"),
        cherry_jam("3.88 cups", "4.85 cups", "0.97 package (1 3/4 oz)"),
    ),
    (
        batch_size.gels_are_not_doubled,
        jam("12 cups crushed feijoas"),
        cherry_jam("8 cups", "10 cups", "2 packages (1 3/4 oz)"),
    ),
    (
        batch_size.gels_are_not_doubled,
        of_tested("quick-sweet-pickles", change={"sugar": "7 cups granulated sugar"}),
        cherry_jam("6 cups", "7 1/2 cups", "1 1/2 packages (1 3/4 oz)"),
    ),
    (batch_size.butter_pots_are_small, butter("1.02"), butter("1.03")),
    (batch_size.jelly_pots_hold_six_cups, jelly("6 cups plum juice", POUCH), jelly("6 1/8 cups plum juice", POUCH)),
    *(
        (batch_size.jelly_pots_without_pectin_hold_six_to_eight_cups, jelly("6 cups quince juice"), jelly(first))
        for first in ("6 1/8 cups quince juice", "8 cups quince juice", "8 1/8 cups quince juice")
    ),
    (batch_size.jam_pots_hold_the_tested_fruit, jam("6 cups crushed feijoas"), jam("6 1/8 cups crushed feijoas")),
    (
        batch_size.butter_pots_are_small,
        case("4 cups pear pulp", "2 cups sugar", title="Ours", family="fruit-butter"),
        case("4 1/8 cups pear pulp", "2 cups sugar", title="Ours", family="fruit-butter"),
    ),
)  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "last", "first"),
    [
        pytest.param(*sides, id=f"{sides[0].id} {number}")
        for number, sides in enumerate((*ACID, *CRAB, *FAT, *FAT_AND_SALT, *SWAPS, *POTS))
    ],
)
def test_a_limit_lets_its_edge_through_and_nothing_beyond(rule: Rule, last: Case, first: Case) -> None:
    assert not findings(rule, last)
    assert findings(rule, first)


@pytest.mark.parametrize(
    ("rule", "judged", "measured", "limit"),
    [
        (proportions.spaghetti_sauce_has_few_vegetables, sauce("garlic"), "0 or more clove", "0 to 5 clove"),
        (acid.vinegar_is_five_percent, dills("1 1/2 qt vinegar, 49-grain"), "49/10 percent acidity",
        "5 or more percent acidity"),
        (acid.tomatoes_get_added_acid, crushed("1 to 1 1/2 tbsp bottled lemon juice per quart"),
         "1/2 to 3/4 of the required acid", "1 or more of the required acid"),
        (fat_and_dairy.foam_takes_little_butter, spread("1 tsp butter"), "1 tsp", "0 to 1/2 tsp"),
    ],
)  # fmt: skip
def test_a_finding_measures_what_it_found(rule: Rule, judged: Case, measured: str, limit: str) -> None:
    assert [(written(found.measured), written(found.limit)) for found in findings(rule, judged)] == [(measured, limit)]


@pytest.mark.parametrize(
    ("scale", "begins", "left"),
    [
        ("2", "Cook 2 pots", False),
        ("3", "Cook 3 pots", False),
        ("100/49", "Cook 2 pots", False),
        ("41/20", "Cook 2 pots", True),
        ("5/2", "Cook 2 pots", True),
        ("100/51", "Cook 2 pots", False),
        ("49/25", "Cook one pot as printed", True),
        ("3/2", "Cook one pot as printed", True),
        ("19/20", "Cook 0 pots", True),
    ],
)
def test_a_large_batch_is_cooked_in_printed_pots_and_the_rest_is_frozen(scale: str, begins: str, left: bool) -> None:
    """Ratios are kept to 2 percent, as the published rule on scaling has it."""
    tested = cherry_jam().tested
    assert tested is not None
    said = batch_size.split(Fraction(scale), tested)
    assert said.startswith(begins)
    assert ("reeze the rest of the fruit" in said) is left
    assert "4 cups pitted sour cherries" in said


@pytest.mark.parametrize(
    ("rule", "judged", "message", "fix"),
    [
        (
            batch_size.jelly_pots_hold_six_cups, jelly("9 cups plum juice", POUCH), "More than 6 cups of juice",
            "Divide the juice into 2 pots of 4 1/2 cups, each with its own sugar and pectin.",
        ),
        (
            batch_size.jelly_pots_hold_six_cups, jelly("13 cups plum juice", POUCH), "More than 6 cups of juice",
            "Divide the juice into 3 pots of 4 1/4 cups, each with its own sugar and pectin.",
        ),
        (
            batch_size.jelly_pots_without_pectin_hold_six_to_eight_cups, jelly("feijoa juice"),
            "How many cups of juice", "Measure the juice in cups, 4 to 6 to a pot.",
        ),
        (
            batch_size.jelly_pots_without_pectin_hold_six_to_eight_cups, jelly("8 1/8 cups quince juice"),
            "More than 8 cups of juice", "Divide the juice into 2 pots of 4 cups, each with its own sugar and pectin.",
        ),
        (
            batch_size.jam_pots_hold_the_tested_fruit, jam("13 cups crushed feijoas"), "More than 6 cups of prepared",
            "Divide the fruit into 3 pots of 4 1/4 cups, each with its own sugar and pectin.",
        ),
        (
            batch_size.butter_pots_are_small, case("5 cups pear pulp", "2 cups sugar", title="Ours",
            family="fruit-butter"),
            "More than 4 cups of pulp", "Cook 4 cups of pulp at a time, in a heavy wide pan.",
        ),
        (
            batch_size.butter_pots_are_small, case("pear pulp", "2 cups sugar", title="Ours", family="fruit-butter"),
            "How many cups of pulp", "Cook 4 cups of pulp at a time, in a heavy wide pan.",
        ),
        (
            batch_size.gels_are_not_doubled, cherry_jam("10 cups", "12 1/2 cups", "2 1/2 packages (1 3/4 oz)"),
            "This is 2.5 times the tested batch", "Cook 2 pots",
        ),
        (
            batch_size.gels_are_not_halved, cherry_jam("2 cups", "2 1/2 cups", "1/2 package (1 3/4 oz)"),
            "This is 0.5 times the tested batch", "Cook the full batch as printed: 4 cups pitted sour cherries",
        ),
        (batch_size.butter_pots_are_small, pear_butter(times=2), "A larger pot", "Cook 2 pots"),
        (
            batch_size.jam_pots_hold_the_tested_fruit, cherry_jam("5 cups"), "More sour cherry goes into the pot",
            "Take what is printed: 4 cups sour cherry, pitted, ground or finely chopped.",
        ),
        (
            batch_size.jam_pots_hold_the_tested_fruit, of_tested("cherry-jam-powder", add=["1 cup crushed plums"]),
            "More plum goes into the pot", "Leave it out; the tested recipe has none.",
        ),
        (
            acid.tomatoes_get_added_acid, crushed("1 to 2 tbsp bottled lemon juice per quart"),
            "It can't be told whether",
            "Give each quart jar 2 tbsp bottled lemon juice or 1/2 tsp citric acid.",
        ),
        (
            acid.tomatoes_get_added_acid, crushed("1 to 3 tbsp bottled lemon juice per quart"),
            "It can't be told whether",
            "Give each quart jar 2 tbsp bottled lemon juice or 1/2 tsp citric acid.",
        ),
        (
            acid.tomatoes_get_added_acid, crushed("1 to 1 1/2 tbsp bottled lemon juice per quart"),
            "Too little acid for these tomatoes: 75% of what", "Give each quart jar 1 tbsp more bottled lemon juice",
        ),
        (
            acid.tomatoes_get_added_acid, crushed("1 1/2 tbsp bottled lemon juice per quart"),
            "Too little acid for these tomatoes: 75% of what",
            "Give each quart jar 1 1/2 tsp more bottled lemon juice or 1/8 tsp more citric acid.",
        ),
        (
            acid.tomatoes_get_added_acid, crushed(jars={"half-gallon": 2, "bucket": 1, "pint": 3}),
            "No acid that counts",
            "Give each half gallon jar 1/4 cup bottled lemon juice or 1 tsp citric acid, "
            "each pint jar 1 tbsp bottled lemon juice or 1/4 tsp citric acid.",
        ),
        (
            acid.tomatoes_get_added_acid, ours("9 lb green tomatoes", "1 cup beer", family="tomato"),
            "No acid that counts",
            "Give each quart jar 2 tbsp bottled lemon juice or 1/2 tsp citric acid, "
            "each pint jar 1 tbsp bottled lemon juice or 1/4 tsp citric acid.",
        ),
        (
            acid.tomatoes_with_vinegar_get_enough, crushed("vinegar (5%)"), "It can't be told whether",
            "Give each quart jar 2 tbsp bottled lemon juice or 1/2 tsp citric acid or 1/4 cup vinegar of 5 percent.",
        ),
        (
            proportions.acid_is_never_cut, of_tested("chile-salsa", change={"vinegar": "1/2 cup vinegar (5%)"}),
            "Less vinegar than the tested recipe has.", "Put in all that is tested: 1 cup vinegar, 5 percent. If it",
        ),
        (
            proportions.acid_is_never_cut, of_tested("chile-salsa", without=["vinegar"]),
            "The tested recipe's vinegar is left out.", "Put in all that is tested: 1 cup vinegar, 5 percent. If it",
        ),
        (
            proportions.acid_is_never_cut, own_crab("1/2 tsp citric acid per pint"),
            "Too little acid for these jars: 50% of what makes them safe.",
            "Give each pint jar 2 tbsp more bottled lemon juice or 1/2 tsp more citric acid.",
        ),
        (proportions.brine_keeps_its_proportion, of_tested("pickled-baby-carrots", change={"water": "water"}),
         "How much water goes in isn't said.", "Say how much, as tested."),
        (fat_and_dairy.garlic_in_oil_stays_cold, infused(), "Fresh garlic or herbs in oil",
         "Refrigerate and use within 4 days, or freeze."),
    ],
)  # fmt: skip
def test_a_member_is_told_how_much_and_what_to_do(rule: Rule, judged: Case, message: str, fix: str) -> None:
    (found,) = findings(rule, judged)
    assert found.message.startswith(message)
    assert found.fix.startswith(fix)


@pytest.mark.parametrize(
    ("rule", "judged", "said"),
    [
        (fat_and_dairy.garlic_in_oil_stays_cold, {"storage": "refrigerator"}, True),
        (fat_and_dairy.garlic_in_oil_stays_cold, {"storage": "freezer"}, False),
    ],
)
def test_garlic_oil_keeps_four_days_in_the_refrigerator_alone(rule: Rule, judged: dict[str, str], said: bool) -> None:
    oil = case("4 cups olive oil", "2 cups fresh garlic cloves", title="Garlic oil", family="other", **judged)
    assert bool(notes(rule, oil)) is said


@pytest.mark.parametrize(
    ("judged", "said"),
    [
        (of_tested("mango-sauce"), False),
        (cherry_jam("8 cups", "10 cups", "2 packages (1 3/4 oz)"), False),
        (ours("4 lb eggplant", "2 cups beer"), False),
        (
            of_tested(
                "marinated-peppers",
                change={"onion": "3 cups onions, chopped", "pepper": "8 lb bell peppers, peeled",
                        "lemon juice": "2 cups bottled lemon juice", "white vinegar": "4 cups white vinegar (5%)",
                        "olive oil": "2 cups olive oil", "oregano": "2 tbsp oregano"},
            ),
            False,
        ),
    ],
)  # fmt: skip
def test_only_one_factor_for_everything_is_said_to_be_allowed(judged: Case, said: bool) -> None:
    assert bool(notes(batch_size.other_recipes_may_be_scaled, judged)) is said


@pytest.mark.parametrize(
    ("judged", "rule", "place"),
    [
        (
            pickle("4 lb cucumbers", "1 cup pickling lime", "1 tsp lye", "6 cups vinegar (5%)"),
            proportions.lime_is_rinsed_out,
            1,
        ),
        (spread("1/2 tsp butter", "1/2 tsp ghee"), fat_and_dairy.foam_takes_little_butter, 2),
        (infused("1 cup walnut oil"), fat_and_dairy.infused_oil_is_acidified, 0),
        (
            case("25 lb cabbage", "1 tsp canning salt", "1 tsp sea salt", product="sauerkraut", family="ferment"),
            ingredients.kraut_has_its_salt,
            1,
        ),
        (
            case("25 lb cabbage", "5 lb red cabbage", product="sauerkraut", family="ferment"),
            ingredients.kraut_has_its_salt,
            0,
        ),
    ],
)
def test_a_finding_names_the_first_of_what_it_is_about(judged: Case, rule: Rule, place: int) -> None:
    assert [found.where for found in findings(rule, judged)] == [f"#/ingredients/{place}"]


@pytest.mark.parametrize(
    ("fruit", "tested", "notes_of"),
    [
        ("4 1/2 cups crushed apricots", None, [
            "No tested recipe for this jam of apricot is published here; it is held against the nearest one, Plum jam "
            "with liquid pectin.",
        ]),
        ("4 1/2 cups crushed plums", None, []),
        ("4 1/2 cups crushed apricots", "plum-jam-liquid", []),
        ("4 1/2 cups crushed figs", "plum-jam-liquid", []),
    ],
)  # fmt: skip
def test_a_spread_of_another_fruit_says_which_recipe_it_is_held_against(
    fruit: str, tested: str | None, notes_of: list[str]
) -> None:
    jam = case(fruit, "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin", title="Jam", family="jam", tested=tested)
    assert notes(substitution.fruit_is_swapped_within_its_class, jam) == notes_of
