"""What makes a spread set, at the edge of what is published and just beside it, and what a member is told of it.

The figures are those of the catalogue, under each rule's id, and of the tested recipes (Complete Guide, Guide 7).
"""

from dataclasses import replace

import pytest

from service.core.rules import pectin, spreads, sweeteners
from service.core.rules.case import Case
from service.core.rules.findings import Rule
from tests.core.rules.cases import case, findings, of_tested
from tests.core.rules.test_sugar_and_pectin import (
    ALL_AT_ONCE,
    LOW_SUGAR,
    NO_MINUTES,
    POUCH,
    POWDER,
    berry_jam,
    cherry_jam,
    jelly,
    own,
    peach_jam,
    plum_jam,
    plum_with,
)

Sides = tuple[Rule, Case, Case]  # a rule, the last case that it lets through, the first that it finds
PLUMS = "4 cups crushed plums"
COOKED = ("fruit", "pectin", "boil", "sugar")


def remade(
    jelly: str = "4 cups", sugar: str = "1/4 cup", water: str = "1/2 cup", lemon: str = "2 tbsp", pectin: str = "4 tsp"
) -> Case:
    """For 4 cups: 1/4 cup sugar, 1/2 cup water, 2 tbsp lemon juice, 4 tsp powdered pectin."""
    lines = (
        f"{jelly} jelly", f"{sugar} sugar", f"{water} water", f"{lemon} bottled lemon juice", f"{pectin} bulk pectin",
    )  # fmt: skip
    return case(*lines, title="Remade jelly", product="remade-soft-jelly", family="jelly")


def remade_with_liquid(sugar: str = "3/4 cup", lemon: str = "2 tbsp", pectin: str = "2 tbsp") -> Case:
    """For 4 cups: 3/4 cup sugar, 2 tbsp lemon juice, 2 tbsp liquid pectin."""
    lines = ("4 cups jelly", f"{sugar} sugar", f"{lemon} bottled lemon juice", f"{pectin} liquid pectin")
    return case(*lines, title="Remade jelly", product="remade-soft-jelly", family="jelly")


def of_product(product: str, *pectin: str) -> Case:
    """A spread that nothing tested is beside, sent under this product's name."""
    return replace(own(PLUMS, "7 cups sugar", *pectin), product=product, tested=None)


def plums_in_jelly(juice: str) -> Case:
    change = {"plum juice": f"{juice} plum juice, strained", "sugar": "6 1/2 cups granulated sugar"}
    return of_tested("plum-jelly-liquid", change=change, add=["1 cup honey"])


def apricots(lemon: str, fruit: str = "4 1/2 cups crushed apricots") -> Case:
    return replace(own(fruit, "4 cups sugar", f"{lemon} bottled lemon juice"), tested=None)


def low_sugar(sugar: str) -> Case:
    return of_tested("plum-jam-liquid", change={"liquid pectin": LOW_SUGAR, "sugar": f"{sugar} granulated sugar"})


SPREADS: tuple[Sides, ...] = (
    (sweeteners.liquid_sweeteners_replace_juice, plums_in_jelly("887 ml"), plums_in_jelly("887.5 ml")),
    (
        pectin.powder_goes_in_before_sugar,
        cherry_jam(steps=("fruit", "pectin", "boil", "sugar", "boil", "sugar", "boil-hard-1-min", "fill")),
        cherry_jam(steps=("fruit", "pectin", "sugar", "boil", "sugar", "boil-hard-1-min", "fill")),
    ),
    (pectin.regular_pectin_gets_its_sugar, berry_jam("2 cups granulated sugar"), plum_jam("2 cups granulated sugar")),
    (
        spreads.fruit_is_not_overripe,
        own("4 cups crushed feijoas, thawed", "7 cups sugar", POUCH),
        own("4 cups crushed feijoas, thawed", "7 cups sugar"),
    ),
    (spreads.soft_jelly_is_remade_as_listed, remade(water="118.3 ml"), remade(water="118.2 ml")),
    (
        pectin.liquid_goes_in_after_the_sugar_boil,
        cherry_jam(steps=ALL_AT_ONCE),
        plum_jam(steps=ALL_AT_ONCE),
    ),
    (pectin.powder_goes_in_before_sugar, plum_jam(steps=ALL_AT_ONCE), cherry_jam(steps=ALL_AT_ONCE)),
    (spreads.spreads_keep_their_acid, peach_jam("1/4 cup bottled lime juice"), peach_jam("3 tbsp bottled lime juice")),
    (spreads.spreads_keep_their_acid, peach_jam("1/2 cup bottled lime juice"), peach_jam("bottled lime juice")),
    (spreads.gels_are_not_over_acid, peach_jam("5/16 cup lemon juice"), peach_jam("7/16 cup lemon juice")),
    (spreads.gels_are_not_over_acid, peach_jam("3/8 cup lemon juice"), peach_jam("25/64 cup lemon juice")),
    (
        sweeteners.jelly_without_pectin_keeps_its_ratio,
        jelly("1 cup quince juice", "2/3 cup sugar"),
        jelly("1 cup quince juice", "5/8 cup sugar"),
    ),
    (
        sweeteners.jelly_without_pectin_keeps_its_ratio,
        jelly("1 cup quince juice", "1 cup sugar"),
        jelly("1 cup quince juice", "17 tbsp sugar"),
    ),
    (
        sweeteners.jelly_without_pectin_keeps_its_ratio,
        jelly("4 cups quince juice", "3 cups sugar"),
        jelly("0 cups quince juice", "3 cups sugar"),
    ),
    (
        pectin.pectin_is_the_tested_kind,
        of_product("jam-no-added-pectin"),
        of_product("jam-no-added-pectin", POWDER),
    ),
    (
        pectin.pectin_is_the_tested_kind,
        of_product("jam-or-jelly-with-pectin", POWDER),
        of_product("jam-or-jelly-with-pectin"),
    ),
    (pectin.pectin_is_the_tested_kind, of_product("no-row"), of_product("jelly-no-added-pectin", POUCH)),
    (
        pectin.regular_pectin_gets_its_sugar,
        plum_jam("6 1/2 cups granulated sugar", "1 1/2 cups honey"),
        plum_jam("6 1/2 cups granulated sugar", "7/8 cup honey"),
    ),
    (
        pectin.regular_pectin_gets_its_sugar,
        replace(own(PLUMS, "7 cups sugar", POWDER), tested=None),
        replace(own(PLUMS, POWDER), tested=None),
    ),
    (
        pectin.cut_sugar_keeps_badly,
        of_tested("quick-sweet-pickles", change={"sugar": "2 cups granulated sugar"}),
        berry_jam("2 cups granulated sugar"),
    ),
    (pectin.cut_sugar_keeps_badly, low_sugar("3 cups"), plum_jam("3 cups granulated sugar")),
    (spreads.spreads_are_not_overcooked, cherry_jam(steps=(*COOKED, "boil-hard-5-min", "fill")),
     cherry_jam(steps=(*COOKED, "boil-hard-1-min", "boil-hard-31-sec", "fill"))),
    (spreads.spreads_are_not_overcooked, cherry_jam(steps=(*COOKED, "boil-hard-1-min", "boil-hard-30-sec", "fill")),
     cherry_jam(steps=(*COOKED, "boil-hard-1-min", "boil-hard-1-min", "fill"))),
    (spreads.spreads_are_not_overcooked, berry_jam("4 cups granulated sugar"),
     case("4 cups crushed berries", "4 cups sugar", title="Jam", family="jam", steps=("boil-to-10F-over-boiling",))),
    (spreads.spreads_are_not_overcooked,
     case("4 cups crushed berries", "4 cups sugar", title="Jam", family="jam", steps=("boil-to-9F-over-boiling",)),
     case("4 cups crushed berries", "4 cups sugar", title="Jam", family="jam", steps=("boil-to-12F-over-boiling",))),
    (pectin.added_pectin_boils_one_minute,
     cherry_jam(steps=(*COOKED, "boil-hard-1-min", "boil-hard-5-min", "fill")),
     cherry_jam(steps=(*COOKED, "boil-hard-5-min", "boil-hard-1-min", "fill"))),
    (spreads.spreads_keep_their_acid, apricots("2 tbsp"), apricots("1 7/8 tbsp")),
    (spreads.spreads_keep_their_acid, apricots("3 tbsp"), apricots("2 tbsp", "5 cups crushed apricots")),
    (
        spreads.spreads_keep_their_acid,
        apricots("2 tbsp", "6 cups crushed peaches"),
        apricots("2 tbsp", "6 1/8 cups crushed peaches"),
    ),
    (pectin.liquid_stays_liquid, berry_jam("4 cups granulated sugar", POWDER), plum_with(POWDER)),
    (sweeteners.liquid_sweeteners_replace_juice, plums_in_jelly("3 1/4 cups"), plums_in_jelly("3 7/8 cups")),
    *((spreads.soft_jelly_is_remade_as_listed, remade(), first) for first in (
        remade(sugar="3/16 cup"), remade(water="7/16 cup"), remade(lemon="1 7/8 tbsp"), remade(pectin="3 7/8 tsp"),
        remade(jelly="4 1/8 cups"), remade(sugar="some"),
    )),
    (
        spreads.soft_jelly_is_remade_as_listed,
        remade("6 cups", "3/8 cup", "3/4 cup", "3 tbsp", "6 tsp"),
        remade("6 1/8 cups", "1 cup", "1 cup", "1/2 cup", "12 tsp"),
    ),
    *((spreads.soft_jelly_is_remade_as_listed, remade_with_liquid(), first) for first in (
        remade_with_liquid(sugar="11/16 cup"), remade_with_liquid(lemon="1 7/8 tbsp"),
        remade_with_liquid(pectin="1 7/8 tbsp"),
    )),
)  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "last", "first"),
    [pytest.param(*sides, id=f"{sides[0].id} {number}") for number, sides in enumerate(SPREADS)],
)
def test_a_limit_lets_its_edge_through_and_nothing_beyond(rule: Rule, last: Case, first: Case) -> None:
    assert not findings(rule, last)
    assert findings(rule, first)


def test_remade_jelly_needs_as_much_of_everything_as_there_is_jelly() -> None:
    found = findings(spreads.soft_jelly_is_remade_as_listed, remade("6 cups"))
    assert [str(one.limit.bounds.low) for one in found if one.limit] == ["3/8", "3/4", "3/16", "1/8"]
    assert [str(one.measured.bounds.low) for one in found if one.measured] == ["1/4", "1/2", "1/8", "1/12"]


@pytest.mark.parametrize(
    ("rule", "judged", "message", "fix"),
    [
        (
            pectin.pectin_is_the_tested_kind, plum_with(LOW_SUGAR),
            "The tested recipe takes liquid pectin; here is low-sugar pectin.", "Use the pectin that the recipe names",
        ),
        (
            pectin.liquid_stays_liquid, plum_with(POWDER),
            "The tested recipe takes liquid pectin, and regular powdered pectin can't stand for it",
            "Use liquid pectin, or a tested recipe for regular powdered pectin.",
        ),
        (
            pectin.liquid_stays_liquid, of_tested("cherry-jam-powder", change={"powdered pectin": POUCH}),
            "The tested recipe takes regular powdered pectin, and liquid pectin can't stand for it",
            "Use regular powdered pectin, or a tested recipe for liquid pectin.",
        ),
        (
            pectin.regular_pectin_gets_its_sugar, of_tested("plum-jam-liquid", without=["sugar"]),
            "The sugar of the tested recipe is missing or isn't measured.", "Put in what is printed (7 1/2 cups sugar",
        ),
        (
            pectin.regular_pectin_gets_its_sugar, plum_jam("6 cups granulated sugar"),
            "There is 80% of the sugar in the tested recipe.", "Put in what is printed (7 1/2 cups sugar",
        ),
        (
            pectin.added_pectin_boils_one_minute, cherry_jam(steps=NO_MINUTES),
            "How long pectin and sugar boil together isn't said.", "Boil hard 1 minute",
        ),
        (
            pectin.added_pectin_boils_one_minute, cherry_jam(boil_minutes=2), "The full rolling boil lasts 1 minute",
            "Boil hard 1 minute",
        ),
        (
            sweeteners.jelly_without_pectin_keeps_its_ratio, jelly("4 cups quince juice", "6 cups sugar"),
            "This isn't the sugar that juice sets with by itself.", "Use 3/4 cup of sugar for a cup of juice",
        ),
        (
            sweeteners.jelly_without_pectin_keeps_its_ratio, jelly("quince juice", "6 cups sugar"),
            "How much sugar there is to a cup of juice can't be told.", "Use 3/4 cup of sugar for a cup of juice",
        ),
        (
            spreads.spreads_keep_their_acid, apricots("1 tbsp"), "This fruit is low in acid",
            "Add 2 tablespoons of lemon juice for each 4.5 cups of crushed fruit.",
        ),
        (
            spreads.spreads_keep_their_acid, apricots("1 tbsp", "6 cups crushed peaches"), "This fruit is low in acid",
            "Add 2 tablespoons of lemon juice for each 6 cups of crushed fruit.",
        ),
        (
            sweeteners.honey_with_pectin_is_limited,
            plum_jam("6 cups granulated sugar", "1 1/2 cups honey", jars={"half-pint": 8}),
            "This is as much honey as the most generous publication allows", "Use 1 cup of honey, 2 at the very most",
        ),
        (
            sweeteners.honey_with_pectin_is_limited,
            plum_jam("5 cups granulated sugar", "2 1/2 cups honey", jars={"half-pint": 8}),
            "This is more honey than regular pectin sets with.", "Use 1 cup of honey, 2 at the very most",
        ),
        (
            sweeteners.honey_with_pectin_is_limited,
            plum_jam("6 1/2 cups granulated sugar", "1 cup honey", jars={"half-pint": 6}),
            "This is as much honey as the most generous publication allows",
            "Use 3/4 cup of honey, 1 at the very most",
        ),
        (
            sweeteners.corn_syrup_is_limited, berry_jam("2 cups granulated sugar", "2 cups light corn syrup"),
            "This is more syrup than the spread sets with.", "Use light corn syrup for 1/4 of the sugar at most",
        ),
        (
            sweeteners.corn_syrup_is_limited, plum_jam("3 1/2 cups granulated sugar", "4 cups light corn syrup"),
            "This is more syrup than the spread sets with.", "Use light corn syrup for 2 cups at most",
        ),
    ],
)  # fmt: skip
def test_a_member_is_told_what_is_wrong_and_what_to_do(rule: Rule, judged: Case, message: str, fix: str) -> None:
    (found,) = findings(rule, judged)
    assert found.message.startswith(message)
    assert found.fix.startswith(fix)


@pytest.mark.parametrize(
    ("rule", "judged", "place"),
    [
        (
            spreads.regular_pectin_needs_acid,
            own("2 cups crushed figs", "2 cups mashed bananas", "7 cups sugar", POUCH),
            0,
        ),
        (sweeteners.corn_syrup_is_limited, berry_jam("1 cup light corn syrup", "2 cups light corn syrup"), 1),
    ],
)
def test_a_finding_names_the_first_of_what_it_is_about(rule: Rule, judged: Case, place: int) -> None:
    assert [found.where for found in findings(rule, judged)] == [f"#/ingredients/{place}"]
