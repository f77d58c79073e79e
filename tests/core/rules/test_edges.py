"""Published limits at their edge and just beside it. The figures are those of the catalogue, under each rule's id."""

import pytest

from service.core.rules import acid, ingredients, pectin, proportions, spreads, sweeteners, thickeners, untested_food
from service.core.rules.case import Case
from service.core.rules.findings import Rule
from tests.core.rules.cases import case, findings, notes, of_tested
from tests.core.rules.test_acid import asian_pears, crushed, figs, juice_blend, pickle
from tests.core.rules.test_ingredients import COLD, crock, kraut, mushrooms
from tests.core.rules.test_sugar_and_pectin import (
    POUCH,
    berry_jam,
    cherry_jam,
    jelly,
    own,
    peach_jam,
    plum_jam,
    plum_with,
    remade,
)

CHOICE = "choice-salsa"
Sides = tuple[Rule, Case, Case]  # a rule, the last case that it lets through, the first that it finds


def sauce(*lines: str) -> Case:
    product = "spaghetti-sauce-without-meat"
    return case("30 lb tomatoes, peeled", *lines, product=product, family="tomato", method="pressure-dial")


def small_sauce(*lines: str) -> Case:
    product = "spaghetti-sauce-without-meat"
    return case("15 lb tomatoes, peeled", *lines, product=product, family="tomato", method="pressure-dial")


def crab(juice: str) -> Case:
    return case("8 lb crab meat", "2 qt water", juice, product="king-or-dungeness-crab", method="pressure-dial")


def choice(juice: str) -> Case:
    return of_tested(CHOICE, change={"lemon juice": juice})


def limed(*steps: str) -> Case:
    return pickle("4 lb cucumbers", "1 cup pickling lime", "6 cups vinegar (5%)", steps=("lime-soak-12-h", *steps))


def dills(vinegar: str) -> Case:
    return of_tested("quick-dill-pickles", change={"vinegar": vinegar})


def honey_jam(cups: str, jars: int) -> Case:
    return plum_jam("5 cups granulated sugar", f"{cups} honey", jars={"half-pint": jars})


def boiled(*steps: str) -> Case:
    return cherry_jam(steps=("fruit", "pectin", "boil", "sugar", *steps, "fill", "process"))


ACID: tuple[Sides, ...] = (
    (
        acid.tomatoes_get_added_acid,
        crushed("1/2 tsp citric acid per quart"),
        crushed("3/8 tsp citric acid per quart"),
    ),
    (
        acid.tomatoes_get_added_acid,
        crushed("1 tbsp bottled lemon juice per pint", jars={"pint": 14}),
        crushed("2 3/4 tsp bottled lemon juice per pint", jars={"pint": 14}),
    ),
    (
        acid.tomatoes_get_added_acid,
        crushed("1 tbsp bottled lemon juice per quart", "1/4 tsp citric acid per quart"),
        crushed("1 tbsp bottled lemon juice per quart", "1/8 tsp citric acid per quart"),
    ),
    (
        acid.tomatoes_with_vinegar_get_enough,
        crushed("4 tbsp vinegar (5%) per quart"),
        crushed("3 3/4 tbsp vinegar (5%) per quart"),
    ),
    (acid.figs_get_added_acid, figs("1/2 tsp citric acid per quart"), figs("3/8 tsp citric acid per quart")),
    (
        acid.figs_get_added_acid,
        figs("2 tbsp bottled lemon juice per quart"),
        figs("1 3/4 tbsp bottled lemon juice per quart"),
    ),
    (acid.figs_get_added_acid, figs("14 tbsp bottled lemon juice"), figs("1/2 cup vinegar (5%) per quart")),
    (
        acid.asian_pears_get_added_acid,
        asian_pears("2 tbsp bottled lemon juice per quart"),
        asian_pears("1 tsp citric acid per quart"),
    ),
    (
        acid.juice_is_full_strength,
        choice("1 1/2 cups bottled lemon juice, 4.5%"),
        choice("1 1/2 cups bottled lemon juice, 4.4%"),
    ),
    (acid.vinegar_is_five_percent, dills("1 1/2 qt vinegar, 50-grain"), dills("1 1/2 qt vinegar, 49-grain")),
    (acid.vinegar_is_five_percent, dills("1 1/2 qt vinegar (5 to 6%)"), dills("1 1/2 qt vinegar (4.9 to 6%)")),
    (acid.vinegar_states_its_acidity, dills("1 1/2 qt vinegar, 50-grain"), dills("1 1/2 qt scrap vinegar (5%)")),
    (proportions.lime_is_rinsed_out, limed("rinse-3-times"), limed("rinse-2-times")),
    (proportions.lime_is_rinsed_out, limed("rinse-2-times", "rinse-1-times"), limed("rinse-1-times", "rinse-1-times")),
    (
        proportions.juice_blend_has_few_vegetables,
        juice_blend("22 lb tomatoes", "2 cups celery", "1 cup onions, chopped"),
        juice_blend("22 lb tomatoes", "2 cups celery", "1 1/8 cups onions, chopped"),
    ),
    (
        proportions.juice_blend_has_few_vegetables,
        juice_blend("44 lb tomatoes", "6 cups celery"),
        juice_blend("43 lb tomatoes", "6 cups celery"),
    ),
    *(
        (proportions.spaghetti_sauce_has_few_vegetables, sauce(at), sauce(over))
        for at, over in (
            ("1 cup onions, chopped", "1 1/8 cups onions, chopped"),
            ("1 cup celery, chopped", "1 1/8 cups celery, chopped"),
            ("1 cup green peppers, chopped", "1 1/8 cups green peppers, chopped"),
            ("1/4 cup vegetable oil", "5 tbsp vegetable oil"),
            ("5 cloves garlic", "6 cloves garlic"),
            ("1 lb fresh mushrooms, sliced", "17 oz fresh mushrooms, sliced"),
        )
    ),
    (
        proportions.spaghetti_sauce_has_few_vegetables,
        sauce("1/2 cup celery, chopped", "1/2 cup green peppers, chopped"),
        sauce("3/4 cup celery, chopped", "1/2 cup green peppers, chopped"),
    ),
    (
        proportions.spaghetti_sauce_has_few_vegetables,
        small_sauce("1/2 cup onions, chopped"),
        small_sauce("1 cup onions, chopped"),
    ),
    (
        proportions.acid_is_never_cut,
        crab("4 tbsp bottled lemon juice per pint"),
        crab("3 1/2 tbsp bottled lemon juice per pint"),
    ),
    (
        acid.citric_acid_stands_in_only_where_tested,
        of_tested("tomatoes-crushed", change={"lemon juice": "1/2 tsp citric acid per quart"}),
        of_tested("chile-salsa", change={"vinegar": "4 tsp citric acid"}),
    ),
    (proportions.spaghetti_sauce_has_few_vegetables, sauce("1 tsp dried oregano"), sauce("1 cup carrots, chopped")),
    (
        proportions.tomatoes_with_vegetables_go_under_pressure,
        case("4 cups tomatoes", "4 cups onions, chopped", "1 cup sugar", title="Marmalade", family="marmalade"),
        case("4 cups tomatoes", "4 cups onions, chopped", "1 cup sugar", title="Sauce", family="tomato"),
    ),
    (
        proportions.tomatoes_with_vegetables_go_under_pressure,
        case("4 cups tomatoes", "4 cups onions, chopped", title="Chutney", family="chutney"),
        case("4 cups tomatoes", "4 cups onions, chopped", title="Sauce", family="tomato"),
    ),
    (
        acid.juice_for_safety_is_bottled,
        crushed("1 tbsp bottled lemon juice per quart", "1 tbsp bottled lemon juice per quart"),
        crushed("1 tbsp bottled lemon juice per quart", "1 tbsp fresh lemon juice per quart"),
    ),
    (
        proportions.a_splash_of_acid_is_no_pickle,
        case("14 lb green beans", "1 cup vinegar (5%)", product="green-beans", method="pressure-dial"),
        case("14 lb green beans", "1 cup vinegar (5%)", product="green-beans", method="atmospheric-steam"),
    ),
)
FERMENTS: tuple[Sides, ...] = (
    *(
        (ingredients.kraut_ferments_at_room_temperature, kraut("3/4 cup canning salt", ferment_temp_f=last),
         kraut("3/4 cup canning salt", ferment_temp_f=first))
        for last, first in ((60, 59.5), (75, 75.5))
    ),
    *(
        (ingredients.ferments_stay_cool, crock(ferment_temp_f=last), crock(ferment_temp_f=first))
        for last, first in ((55, 54.5), (80, 80.5))
    ),
    (
        ingredients.kraut_has_its_salt,
        kraut("12 tbsp canning salt", "25 lb cabbage"),
        kraut("12 tbsp canning salt", "25 1/4 lb cabbage"),
    ),
    (
        ingredients.kraut_has_its_salt,
        kraut("225 g canning salt", "10 kg cabbage"),
        kraut("224 g canning salt", "10 kg cabbage"),
    ),
    *(
        (ingredients.half_ferments_are_finished, crock(**COLD, steps=("brine", last)),
         crock(**COLD, steps=("brine", first)))
        for last, first in (
            ("ferment-21-days", "ferment-20-days"),
            ("ferment-3-weeks", "ferment-2-weeks"),
            ("ferment-3-to-4-weeks", "ferment-2-to-4-weeks"),
            ("ferment-1-month", "ferment-1-week"),
        )
    ),
    (
        ingredients.half_ferments_are_finished,
        kraut("3/4 cup canning salt", **COLD, steps=("salt", "ferment-1-week")),
        crock(**COLD, steps=("brine", "ferment-1-week")),
    ),
    (ingredients.salt_is_canning_salt, crock("300 g kosher salt"), crock("1 cup kosher salt")),
    (ingredients.salt_is_canning_salt, crock("1/2 cup pickling salt"), crock("1/2 cup sea salt")),
    (ingredients.wild_mushrooms_are_not_canned, mushrooms("14 lb mushrooms"), mushrooms("14 lb wild mushrooms")),
    (ingredients.wild_mushrooms_are_not_canned, mushrooms("14 lb button mushrooms"), mushrooms("14 lb porcini")),
    (
        ingredients.elderberries_are_heated,
        case("4 cups raw elderberries", title="Elderberry syrup", steps=("boil", "fill"), **COLD),
        case("4 cups elderberries", title="Elderberry syrup", steps=("crush", "fill"), **COLD),
    ),
    (
        ingredients.elderberries_are_heated,
        case("4 cups cooked elderberries", title="Elderberry syrup", **COLD),
        case("4 cups raw elderberries", title="Elderberry syrup", method="boiling-water"),
    ),
)  # fmt: skip
SPREADS: tuple[Sides, ...] = (
    *(
        (pectin.added_pectin_boils_one_minute, cherry_jam(boil_minutes=last), cherry_jam(boil_minutes=first))
        for last, first in ((1.5, 1.6), (0.84, 0.8))
    ),
    (pectin.added_pectin_boils_one_minute, boiled("boil-hard-60-sec"), boiled("boil-hard-2-min")),
    (pectin.added_pectin_boils_one_minute, boiled("boil-hard-50-to-90-sec"), boiled("boil-hard-50-to-91-sec")),
    (sweeteners.honey_with_pectin_is_limited, honey_jam("1 cup", 8), honey_jam("1 1/8 cups", 8)),
    (sweeteners.honey_with_pectin_is_limited, honey_jam("3/4 cup", 6), honey_jam("7/8 cup", 6)),
    (sweeteners.honey_with_pectin_is_limited, honey_jam("1 cup", 7), honey_jam("1 cup", 6)),
    (
        sweeteners.honey_without_pectin_is_limited,
        berry_jam("2 cups granulated sugar", "2 cups honey"),
        berry_jam("2 cups granulated sugar", "2 1/8 cups honey"),
    ),
    (
        sweeteners.corn_syrup_is_limited,
        plum_jam("5 1/2 cups granulated sugar", "2 cups light corn syrup"),
        plum_jam("5 1/2 cups granulated sugar", "2 1/8 cups light corn syrup"),
    ),
    (
        sweeteners.corn_syrup_is_limited,
        berry_jam("3 cups granulated sugar", "1 cup light corn syrup"),
        berry_jam("3 cups granulated sugar", "1 1/8 cups light corn syrup"),
    ),
    (
        sweeteners.corn_syrup_is_limited,
        own("4 cups whole strawberries", "2 cups sugar", "2 cups light corn syrup", family="preserve"),
        own("4 cups whole strawberries", "2 cups sugar", "2 1/8 cups light corn syrup", family="preserve"),
    ),
    (
        sweeteners.corn_syrup_is_limited,
        own("4 cups crushed plums", "2 cups sugar", "2 cups light corn syrup", "1 package (1 3/4 oz) powdered pectin"),
        own(
            "4 cups crushed plums", "2 cups sugar", "9/4 cups light corn syrup", "1 package (1 3/4 oz) powdered pectin"
        ),
    ),
    (
        sweeteners.corn_syrup_is_limited,
        plum_jam("6 1/2 cups granulated sugar", "1 cup light corn syrup"),
        plum_jam("6 1/2 cups granulated sugar", "1 cup dark corn syrup"),
    ),
    (
        sweeteners.jelly_without_pectin_keeps_its_ratio,
        jelly("3 cups apple juice", "2 cups sugar"),
        jelly("3 cups apple juice", "1 7/8 cups sugar"),
    ),
    (
        sweeteners.jelly_without_pectin_keeps_its_ratio,
        jelly("4 cups apple juice", "4 cups sugar"),
        jelly("4 cups apple juice", "4 1/8 cups sugar"),
    ),
    (spreads.gels_are_not_over_acid, peach_jam("3/8 cup lemon juice"), peach_jam("7/16 cup lemon juice")),
    (
        spreads.spreads_keep_their_acid,
        own("4 1/2 cups crushed apricots", "1 cup honey", "2 tbsp bottled lemon juice"),
        own("4 3/4 cups crushed apricots", "1 cup honey", "2 tbsp bottled lemon juice"),
    ),
    (
        spreads.spreads_keep_their_acid,
        own("6 cups crushed peaches", "4 cups raisins", "2 tbsp bottled lemon juice"),
        own("6 1/4 cups crushed peaches", "4 cups raisins", "2 tbsp bottled lemon juice"),
    ),
    (
        sweeteners.liquid_sweeteners_replace_juice,
        of_tested(
            "plum-jelly-liquid",
            change={"plum juice": "3 3/4 cups plum juice, strained", "sugar": "6 1/2 cups granulated sugar"},
            add=["1 cup honey"],
        ),
        of_tested(
            "plum-jelly-liquid",
            change={"plum juice": "3 7/8 cups plum juice, strained", "sugar": "6 1/2 cups granulated sugar"},
            add=["1 cup honey"],
        ),
    ),
    *(
        (
            spreads.spreads_are_not_overcooked,
            of_tested("plum-jelly-no-pectin", steps=("juice", "sugar", f"boil-to-{last}F-over-boiling", "fill")),
            of_tested("plum-jelly-no-pectin", steps=("juice", "sugar", f"boil-to-{first}F-over-boiling", "fill")),
        )
        for last, first in ((9, 10),)
    ),
    (
        spreads.spreads_are_not_overcooked,
        boiled("boil-hard-45-sec", "boil-hard-45-sec"),
        boiled("boil-hard-45-sec", "boil-hard-46-sec"),
    ),
    (spreads.soft_jelly_is_remade_as_listed, remade(), remade(lemon="5 tsp bottled lemon juice")),
    (spreads.soft_jelly_is_remade_as_listed, remade("3 cups jelly"), remade("4 1/4 cups jelly")),
    (
        spreads.regular_pectin_needs_acid,
        own("4 cups crushed figs", "7 cups sugar", "1/2 cup bottled lemon juice", POUCH),
        own("4 cups crushed figs", "7 cups sugar", POUCH),
    ),
)
PLUMS, POWDER = "4 cups crushed plums", "1 package (1 3/4 oz) powdered pectin"
LOW_SUGAR = "1 package (1 3/4 oz) low-sugar pectin"
SETTING: tuple[Sides, ...] = (
    (
        pectin.pectin_is_the_tested_kind,
        case(PLUMS, "4 cups honey", title="Ours", family="jam", product="jam-no-added-pectin"),
        case(PLUMS, "4 cups honey", POWDER, title="Ours", family="jam", product="jam-no-added-pectin"),
    ),
    (
        pectin.pectin_is_the_tested_kind,
        case("9 cups crushed feijoas", "4 cups honey", POWDER, family="jam", product="jam-or-jelly-with-pectin"),
        case("9 cups crushed feijoas", "4 cups honey", family="jam", product="jam-or-jelly-with-pectin"),
    ),
    (pectin.pectin_is_the_tested_kind, plum_with(POWDER), plum_with("2 pouches (3 oz each) liquid pectin")),
    (pectin.pectin_is_the_tested_kind, plum_jam(), plum_with("2 tsp calcium-set pectin")),
    (pectin.liquid_stays_liquid, plum_with(LOW_SUGAR), plum_with(POWDER)),
    (
        pectin.liquid_stays_liquid,
        plum_jam("3 cups granulated sugar"),
        of_tested("cherry-jam-powder", change={"powdered pectin": POUCH}),
    ),
    (
        sweeteners.liquid_sweeteners_replace_juice,
        of_tested("peach-butter", add=["1 cup honey", POWDER]),
        of_tested("plum-jelly-liquid", add=["1 cup honey"]),
    ),
    (
        pectin.liquid_goes_in_after_the_sugar_boil,
        plum_jam(steps=("fruit", "sugar", "boil", "pectin", "boil-hard-1-min", "fill")),
        plum_jam(steps=("fruit", "sugar", "boil-hard-1-min", "pectin", "boil-hard-1-min", "fill")),
    ),
    (
        pectin.liquid_goes_in_after_the_sugar_boil,
        plum_jam(steps=("fruit", "sugar", "boil-hard-1-min", "pectin", "fill", "process")),
        plum_jam(steps=("fruit", "boil-hard-1-min", "sugar", "pectin", "fill", "process")),
    ),
    (
        pectin.powder_goes_in_before_sugar,
        boiled("boil-hard-1-min"),
        cherry_jam(steps=("fruit", "boil", "pectin", "sugar", "boil-hard-1-min", "fill")),
    ),
    (
        pectin.added_pectin_boils_one_minute,
        plum_jam(steps=("fruit", "sugar", "boil-hard-1-min", "pectin", "skim", "fill")),
        plum_jam(steps=("fruit", "sugar", "boil-hard-3-min", "pectin", "skim", "fill")),
    ),
    (pectin.added_pectin_boils_one_minute, plum_with(LOW_SUGAR, boil_minutes=5), plum_jam(boil_minutes=5)),
    (
        sweeteners.sugar_is_not_replaced_by_sweetener,
        own(PLUMS, "1 cup sucralose", LOW_SUGAR),
        own(PLUMS, "1 cup sucralose", POWDER),
    ),
    (
        sweeteners.sweetener_spreads_stay_cold,
        own(PLUMS, "1 cup sugar", "1 tsp stevia", POWDER),
        own(PLUMS, "1 tsp stevia", POWDER),
    ),
    (
        sweeteners.sweetener_spreads_stay_cold,
        own(PLUMS, "1 tsp stevia", POWDER, **COLD),
        own(PLUMS, "1 tsp stevia", POWDER),
    ),
    (
        pectin.calcium_set_pectin_gets_calcium,
        own(PLUMS, "1 cup sugar", "2 tsp calcium-set pectin", "4 tsp calcium water"),
        own(PLUMS, "1 cup sugar", "2 tsp calcium-set pectin", "4 tsp lemon juice"),
    ),
    (
        spreads.regular_pectin_needs_acid,
        own("4 cups crushed figs", "1 orange", "7 cups sugar", POUCH),
        own("4 cups crushed figs", "7 cups sugar", POUCH),
    ),
    (
        spreads.regular_pectin_needs_acid,
        own("2 cups crushed figs", "2 cups crushed plums", "7 cups sugar", POUCH),
        own("2 cups crushed figs", "2 cups mashed bananas", "7 cups sugar", POUCH),
    ),
    (
        spreads.regular_pectin_needs_acid,
        own("4 cups crushed figs", "7 cups sugar", LOW_SUGAR),
        own("4 cups crushed figs", "7 cups sugar", POWDER),
    ),
    (
        spreads.spreads_reach_their_solids,
        own("4 cups crushed feijoas", "1 cup sugar", "1 cup chopped walnuts", family="conserve"),
        own("4 cups crushed feijoas", "1 cup sugar"),
    ),
    (
        spreads.spreads_reach_their_solids,
        own("4 cups crushed feijoas", "2 1/2 cups sugar"),
        own("4 cups crushed feijoas", "2 1/2 cups sugar", POUCH),
    ),
    (
        spreads.fruit_is_not_overripe,
        own("4 cups crushed plums, thawed", "7 cups sugar", POUCH),
        own("4 cups crushed feijoas, thawed", "4 cups sugar"),
    ),
    (
        spreads.fruit_is_not_overripe,
        own(PLUMS, "7 cups sugar", POUCH),
        own("4 cups crushed plums, overripe", "7 cups sugar", POUCH),
    ),
    (
        spreads.jelly_without_pectin_needs_rich_fruit,
        jelly("4 cups quince juice", "3 cups sugar"),
        jelly("4 cups bottled apple juice", "3 cups sugar"),
    ),
    (
        spreads.sugar_in_the_fruit_counts,
        own("4 cups crushed strawberries", "7 cups sugar"),
        own("4 cups crushed strawberries, in syrup", "7 cups sugar"),
    ),
    (
        spreads.sugar_is_not_raised,
        plum_jam("6 1/2 cups granulated sugar", "1 cup honey"),
        plum_jam("7 1/2 cups granulated sugar", "1 cup honey"),
    ),
    (
        spreads.sugar_is_not_raised,
        plum_jam(),
        of_tested("plum-jam-liquid", change={"plum": "3 cups crushed plums"}),
    ),
    (
        spreads.fruit_is_measured_prepared,
        of_tested("plum-jam-liquid"),
        of_tested("plum-jam-liquid", change={"plum": "4 1/2 cups pureed plums"}),
    ),
    (
        spreads.fruit_is_measured_prepared,
        own("4 lb feijoas", "7 cups sugar"),
        own("4 cups feijoas", "7 cups sugar"),
    ),
    (pectin.cut_sugar_keeps_badly, berry_jam("4 cups granulated sugar"), berry_jam("3 7/8 cups granulated sugar")),
    (
        pectin.cut_sugar_keeps_badly,
        berry_jam("2 cups granulated sugar", "2 cups honey"),
        berry_jam("2 cups granulated sugar", "1 3/4 cups honey"),
    ),
    (
        pectin.regular_pectin_gets_its_sugar,
        plum_jam("6 1/2 cups granulated sugar", "1 cup honey"),
        plum_jam("6 1/2 cups granulated sugar", "1 cup sucralose"),
    ),
    (
        spreads.soft_jelly_is_remade_as_listed,
        case(
            "4 cups jelly", "3/4 cup sugar", "2 tbsp bottled lemon juice", "2 tbsp liquid pectin",
            title="Remade jelly", product="remade-soft-jelly", family="jelly",
        ),
        case(
            "4 cups jelly", "1/2 cup sugar", "2 tbsp bottled lemon juice", "2 tbsp liquid pectin",
            title="Remade jelly", product="remade-soft-jelly", family="jelly",
        ),
    ),
    (
        spreads.elderberry_spreads_follow_a_tested_recipe,
        own("1000 g elderberries", "750 g sugar", **COLD),
        own("1000 g elderberries", "750 g sugar"),
    ),
    (sweeteners.gelatin_spreads_stay_cold, own(PLUMS, "1 tbsp gelatin", **COLD), own(PLUMS, "1 tbsp gelatin")),
)  # fmt: skip
FOODS: tuple[Sides, ...] = (
    (
        untested_food.pumpkin_is_only_cubed,
        case("16 lb butternut squash, cubed", title="Squash", family="vegetable", method="pressure-dial"),
        case("16 lb butternut squash, mashed", title="Squash", family="vegetable", method="pressure-dial"),
    ),
    (
        untested_food.pumpkin_is_only_cubed,
        case("16 lb pumpkin, cubed", title="Pumpkin", family="vegetable", steps=("peel", "cube", "boil")),
        case("16 lb pumpkin, cubed", title="Pumpkin", family="vegetable", steps=("peel", "boil", "strain")),
    ),
    (
        untested_food.pumpkin_is_only_cubed,
        case("16 lb pumpkin, cubed", title="Pumpkin", family="vegetable"),
        case("16 lb pumpkin, cubed", "2 cups sugar", title="Pumpkin pie filling"),
    ),
    (
        untested_food.low_acid_fruit_is_not_pureed,
        case("16 lb figs", title="Figs", family="fruit", product="figs"),
        case("16 lb figs", title="Fig butter", family="fruit-butter"),
    ),
    (
        untested_food.low_acid_fruit_is_not_pureed,
        case("4 cups figs, pureed", "4 cups sugar", title="Fig jam", family="jam"),
        case("4 cups figs, pureed", "4 cups sugar", title="Fig sauce", family="fruit"),
    ),
    (
        untested_food.ripe_mango_is_not_canned,
        of_tested("mango-sauce"),
        case("6 lb ripe mangoes, sliced", "1/2 cup bottled lemon juice", title="Mango"),
    ),
    (
        untested_food.soup_is_clear,
        case("2 lb carrots", "1 cup cream", title="Ours", family="vegetable"),
        case("2 lb carrots", "1 cup cream", title="Ours", family="soup"),
    ),
    (
        untested_food.poor_candidates_are_pickled,
        case("5 lb carrots", title="Carrots", family="vegetable", method="pressure-dial"),
        case("5 lb lettuce", title="Lettuce", family="vegetable", method="pressure-dial"),
    ),
    (
        thickeners.nothing_is_thickened,
        of_tested("apple-pie-filling-1qt"),
        of_tested("apple-pie-filling-1qt", add=["2 tbsp flour"]),
    ),
    (
        untested_food.elderberries_are_not_canned,
        case("4 cups elderberry juice", title="Elderberry syrup", **COLD),
        case("4 cups elderberry juice", title="Elderberry syrup"),
    ),
    (
        untested_food.melon_and_banana_are_not_canned,
        of_tested("cantaloupe-pickles"),
        case("5 lb cantaloupe", "2 cups sugar", title="Cantaloupe", family="fruit"),
    ),
    (
        untested_food.cake_is_not_canned,
        case("2 cups flour", "4 cups milk", title="White sauce"),
        case("2 cups flour", "4 cups milk", title="Banana bread"),
    ),
    (
        untested_food.poor_candidates_are_pickled,
        case("5 lb kohlrabi, cubed", title="Kohlrabi", family="vegetable", method="pressure-dial"),
        case("5 lb cabbage, chopped", title="Cabbage", family="vegetable", method="pressure-dial"),
    ),
    (
        untested_food.poor_candidates_are_pickled,
        case("5 lb cucumbers", "6 cups vinegar (5%)", title="Pickle", family="pickle"),
        case("5 lb cucumbers", title="Pickle", family="pickle"),
    ),
    (
        untested_food.soup_is_clear,
        case("2 lb carrots", "2 qt broth", title="Vegetable soup"),
        case("2 lb carrots", "2 tbsp flour", "2 qt broth", title="Vegetable chowder"),
    ),
    (
        untested_food.dense_pastes_are_not_canned,
        case("10 lb sweet potatoes, cubed", title="Sweet potatoes", family="vegetable"),
        case("10 lb sweet potatoes, cubed", title="Sweet potatoes", family="vegetable", steps=("boil", "mash")),
    ),
    (
        thickeners.pie_filling_has_no_more_starch,
        of_tested("apple-pie-filling-1qt"),
        of_tested(
            "apple-pie-filling-1qt",
            change={"canning starch": "5 tbsp canning starch, cook-type modified corn starch"},
        ),
    ),
    (
        thickeners.grains_stay_out,
        case("4 lb hominy", title="Hominy", family="vegetable", method="pressure-dial"),
        case("4 lb carrots", "1 cup quinoa", title="Carrots", family="vegetable", method="pressure-dial"),
    ),
    (
        thickeners.nothing_is_coated,
        case("4 lb chicken, cubed", title="Chicken", family="meat", method="pressure-dial"),
        case("4 lb chicken, breaded", title="Chicken", family="meat", method="pressure-dial"),
    ),
)


@pytest.mark.parametrize(
    ("rule", "last", "first"),
    [
        pytest.param(*sides, id=f"{sides[0].id} {number}")
        for number, sides in enumerate((*ACID, *FERMENTS, *SPREADS, *SETTING, *FOODS))
    ],
)
def test_a_limit_lets_its_edge_through_and_nothing_beyond(rule: Rule, last: Case, first: Case) -> None:
    assert not findings(rule, last)
    assert findings(rule, first)


def test_only_a_peach_of_no_stated_colour_is_asked_about() -> None:
    assert not notes(untested_food.white_peaches_are_not_canned, of_tested("peaches-halved"))
    assert notes(untested_food.white_peaches_are_not_canned, of_tested("peach-jam-powder"))


@pytest.mark.parametrize(
    ("rule", "judged", "place"),
    [
        (ingredients.kraut_has_its_salt, case("25 lb cabbage", product="sauerkraut", family="ferment"), 0),
        (
            proportions.juice_blend_has_few_vegetables,
            juice_blend("22 lb tomatoes", "2 cups celery", "2 cups carrots"),
            1,
        ),
        (acid.tomatoes_get_added_acid, crushed("1 tsp salt", "1 tbsp bottled lemon juice per quart"), 2),
        (proportions.spaghetti_sauce_has_few_vegetables, sauce("1 cup onions, chopped", "6 cloves garlic"), 2),
        (sweeteners.corn_syrup_is_limited, berry_jam("1 cup granulated sugar", "3 cups light corn syrup"), 2),
    ],
)
def test_a_finding_names_the_first_of_what_it_is_about(rule: Rule, judged: Case, place: int) -> None:
    assert [found.where for found in findings(rule, judged)] == [f"#/ingredients/{place}"]


@pytest.mark.parametrize(("temp_f", "word"), [(55, "cold"), (59, "cold"), (76, "warm"), (82, "warm")])
def test_a_crock_is_said_to_be_too_cold_or_too_warm(temp_f: float, word: str) -> None:
    judged = kraut("3/4 cup canning salt", ferment_temp_f=temp_f)
    (found,) = findings(ingredients.kraut_ferments_at_room_temperature, judged)
    assert word in found.message


@pytest.mark.parametrize(
    ("rule", "judged", "words"),
    [
        (acid.vinegar_states_its_acidity, dills("1 1/2 qt homemade vinegar (5%)"), "Homemade vinegar varies"),
        (acid.vinegar_states_its_acidity, dills("1 1/2 qt white vinegar"), "isn't stated"),
        (acid.juice_for_safety_is_bottled, crushed("2 tbsp fresh lemon juice per quart"), "Fresh juice varies"),
        (acid.juice_for_safety_is_bottled, crushed("2 tbsp lemon juice per quart"), "isn't stated"),
        (
            proportions.brine_keeps_its_proportion,
            of_tested("pickled-baby-carrots", change={"water": "3 cups water"}),
            "More water than tested",
        ),
        (
            proportions.brine_keeps_its_proportion,
            of_tested("bread-and-butter-pickles", change={"onion": "10 cups onions, sliced"}),
            "More onion than tested",
        ),
        (acid.tomatoes_get_added_acid, crushed(), "No acid that counts"),
        (acid.tomatoes_get_added_acid, crushed("bottled lemon juice"), "can't be told"),
        (acid.tomatoes_get_added_acid, crushed("1 tbsp bottled lemon juice per quart"), "50% of what"),
        (pectin.regular_pectin_gets_its_sugar, plum_jam("3 cups granulated sugar"), "There is 40% of the sugar"),
        (pectin.regular_pectin_gets_its_sugar, plum_jam("sugar, to taste"), "missing or isn't measured"),
        (sweeteners.honey_with_pectin_is_limited, honey_jam("2 cups", 8), "most generous"),
        (sweeteners.honey_with_pectin_is_limited, honey_jam("3 cups", 8), "more honey than"),
        (
            sweeteners.corn_syrup_is_limited,
            plum_jam("6 1/2 cups sugar", "1 cup dark corn syrup"),
            "Only light corn syrup",
        ),
        (sweeteners.corn_syrup_is_limited, plum_jam("2 1/2 cups sugar", "5 cups light corn syrup"), "more syrup than"),
        (pectin.added_pectin_boils_one_minute, cherry_jam(boil_minutes=3), "longer breaks the pectin down"),
        (spreads.fruit_is_measured_prepared, own("4 cups feijoas", "7 cups sugar"), "how it was measured"),
        (
            spreads.fruit_is_measured_prepared,
            of_tested("plum-jam-liquid", change={"plum": "4 1/2 cups pureed plums"}),
            "Pureed fruit isn't crushed",
        ),
    ],
)
def test_a_message_says_what_was_found(rule: Rule, judged: Case, words: str) -> None:
    assert any(words in found.message for found in findings(rule, judged))
