"""What makes a spread set and keep. Each rule's source stands in the published catalogue under the rule's id."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.rules import pectin, spreads, sweeteners
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from tests.core.rules.cases import agrees, breaks, case, findings, of_tested, passes, stands_in_the_catalogue, unclear

POWDER = "1 package (1 3/4 oz) powdered pectin"
POUCH = "1 pouch (3 oz) liquid pectin"
LOW_SUGAR = "1 package (1 3/4 oz) low-sugar pectin"
CALCIUM_SET = "2 tsp calcium-set pectin"


def plum_jam(sugar_line: str = "7 1/2 cups granulated sugar", *more: str, **sent: object) -> Case:
    """4 1/2 cups crushed plums, 7 1/2 cups sugar, 1 pouch. Complete Guide to Home Canning, Guide 7."""
    return of_tested("plum-jam-liquid", change={"sugar": sugar_line}, add=more, **({"minutes": 5} | sent))


def plum_with(pectin: str, **sent: object) -> Case:
    return of_tested("plum-jam-liquid", change={"liquid pectin": pectin}, **({"minutes": 5} | sent))


def cherry_jam(**sent: object) -> Case:
    """Powder: 4 cups sour cherries, 5 cups sugar. Complete Guide, Guide 7."""
    return of_tested("cherry-jam-powder", **({"minutes": 5} | sent))


def berry_jam(*lines: str) -> Case:
    return case(
        "4 cups crushed berries", *lines, title="Berry jam", tested="berry-jam-no-pectin", family="jam", minutes=5
    )


def peach_jam(lemon: str | None = "1/4 cup lemon juice") -> Case:
    if lemon is None:
        return of_tested("peach-jam-liquid", without=["lemon juice"])
    return of_tested("peach-jam-liquid", change={"lemon juice": lemon})


def jelly(juice: str, sugar_line: str) -> Case:
    return case(juice, sugar_line, title="Jelly", family="jelly", minutes=5)


def own(*lines: str, family: str = "jam", **sent: object) -> Case:
    """A spread that no tested recipe is near."""
    return case(*lines, title="Ours", family=family, product="no-row", **sent)


def remade(jelly_line: str = "4 cups jelly", lemon: str = "2 tbsp bottled lemon juice") -> Case:
    lines = (jelly_line, "1/4 cup sugar", "1/2 cup water", lemon, "4 tsp bulk pectin")
    return case(*lines, title="Remade jelly", product="remade-soft-jelly", family="jelly", minutes=5)


SPREAD = ("peach-pineapple-spread-low-sugar", "grape-spread-gelatin-refrigerated")
ALL_AT_ONCE = ("fruit", "sugar", "pectin", "boil-hard-1-min", "skim", "fill", "process")
NO_PECTIN_STEP = ("fruit", "sugar", "boil-hard-1-min", "fill", "process")
FIVE_MINUTES = ("fruit", "pectin", "boil", "sugar", "boil-hard-5-min", "skim", "fill", "process")
NO_MINUTES = ("fruit", "pectin", "boil", "sugar", "boil", "skim", "fill", "process")
TWICE = ("fruit", "pectin", "boil", "sugar", "boil-hard-1-min", "boil-hard-1-min", "fill", "process")
JELLY_ORDER = ("fruit", "sugar", "boil", "pectin", "boil-hard-1-min", "skim", "fill", "process")

RULES = (*pectin.RULES, *sweeteners.RULES, *spreads.RULES)
EXAMPLES = [
    passes(pectin.regular_pectin_gets_its_sugar, plum_jam(), "all the sugar"),
    breaks(pectin.regular_pectin_gets_its_sugar, plum_jam("7 cups granulated sugar"), "half a cup short"),
    breaks(pectin.regular_pectin_gets_its_sugar, plum_jam("3 cups granulated sugar"), "less than half"),
    unclear(pectin.regular_pectin_gets_its_sugar, plum_jam("sugar, to taste"), "sugar to taste"),
    passes(pectin.cut_sugar_keeps_badly, plum_jam(), "all the sugar"),
    passes(pectin.cut_sugar_keeps_badly, of_tested(SPREAD[0], minutes=15), "a tested spread of little sugar"),
    passes(pectin.cut_sugar_keeps_badly, plum_jam("3 cups granulated sugar", storage="freezer"), "little, but frozen"),
    breaks(pectin.cut_sugar_keeps_badly, berry_jam("2 cups granulated sugar"), "half the sugar, no pectin"),
    unclear(pectin.cut_sugar_keeps_badly, berry_jam("sugar"), "some sugar"),
    passes(pectin.pectin_is_the_tested_kind, plum_jam(), "the pectin that is named"),
    breaks(pectin.pectin_is_the_tested_kind, plum_with(LOW_SUGAR), "low-sugar pectin for regular"),
    breaks(pectin.pectin_is_the_tested_kind, plum_with("1/2 pouch (3 oz) liquid pectin"), "half the pouch"),
    breaks(
        pectin.pectin_is_the_tested_kind, of_tested("cherry-jelly-powder", without=["powdered pectin"]), "none at all"
    ),
    unclear(pectin.pectin_is_the_tested_kind, plum_with("1 package (1 3/4 oz) pectin"), "which pectin"),
    passes(pectin.liquid_stays_liquid, plum_jam(), "the pouch that is named"),
    breaks(pectin.liquid_stays_liquid, plum_with(POWDER), "powder for liquid"),
    breaks(
        pectin.liquid_stays_liquid,
        of_tested("cherry-jam-powder", change={"powdered pectin": POUCH}),
        "liquid for powder",
    ),
    passes(pectin.powder_goes_in_before_sugar, cherry_jam(), "powder, boil, sugar, boil"),
    breaks(pectin.powder_goes_in_before_sugar, cherry_jam(steps=ALL_AT_ONCE), "sugar before powder"),
    unclear(pectin.powder_goes_in_before_sugar, cherry_jam(steps=NO_PECTIN_STEP), "when the powder goes in"),
    passes(pectin.liquid_goes_in_after_the_sugar_boil, plum_jam(), "off the heat after the boil"),
    passes(pectin.liquid_goes_in_after_the_sugar_boil, plum_jam(steps=JELLY_ORDER), "the order of jellies"),
    passes(
        pectin.liquid_goes_in_after_the_sugar_boil, of_tested("grape-jelly-frozen-juice-liquid"), "juice after pectin"
    ),
    breaks(pectin.liquid_goes_in_after_the_sugar_boil, plum_jam(steps=ALL_AT_ONCE), "pectin before the boil"),
    unclear(pectin.liquid_goes_in_after_the_sugar_boil, plum_jam(steps=NO_PECTIN_STEP), "when the pectin goes in"),
    passes(pectin.added_pectin_boils_one_minute, cherry_jam(boil_minutes=1), "one minute by the clock"),
    passes(pectin.added_pectin_boils_one_minute, of_tested("golden-pepper-jelly-liquid"), "10 minutes before pectin"),
    breaks(pectin.added_pectin_boils_one_minute, cherry_jam(boil_minutes=3), "three minutes to be safe"),
    breaks(pectin.added_pectin_boils_one_minute, cherry_jam(boil_minutes=0.5), "half a minute"),
    breaks(pectin.added_pectin_boils_one_minute, cherry_jam(steps=FIVE_MINUTES), "five minutes in the steps"),
    unclear(pectin.added_pectin_boils_one_minute, cherry_jam(steps=NO_MINUTES), "a boil of no stated length"),
    passes(
        pectin.calcium_set_pectin_gets_calcium,
        own("4 cups crushed plums", "1 cup sugar", CALCIUM_SET, "2 tsp calcium water"),
        "with its calcium water",
    ),
    breaks(
        pectin.calcium_set_pectin_gets_calcium, own("4 cups crushed plums", "1 cup sugar", CALCIUM_SET), "without it"
    ),
    passes(pectin.low_sugar_pectin_has_its_own_recipe, plum_jam(), "regular pectin"),
    breaks(pectin.low_sugar_pectin_has_its_own_recipe, plum_with(LOW_SUGAR), "in a regular recipe"),
    passes(sweeteners.sugar_is_not_replaced_by_sweetener, of_tested(SPREAD[1]), "a tested spread that lists it"),
    breaks(sweeteners.sugar_is_not_replaced_by_sweetener, plum_jam("7 1/2 cups sucralose"), "sucralose for sugar"),
    passes(sweeteners.sweetener_spreads_stay_cold, of_tested(SPREAD[1]), "kept in the refrigerator"),
    breaks(sweeteners.sweetener_spreads_stay_cold, plum_jam("1/2 cup stevia"), "stevia on a shelf"),
    passes(sweeteners.gelatin_spreads_stay_cold, of_tested(SPREAD[1]), "kept in the refrigerator"),
    breaks(
        sweeteners.gelatin_spreads_stay_cold,
        of_tested(SPREAD[1], method="boiling-water", minutes=10),
        "canned 10 minutes",
    ),
    passes(sweeteners.honey_with_pectin_is_limited, plum_jam("6 1/2 cups granulated sugar", "1 cup honey"), "1 cup"),
    breaks(
        sweeteners.honey_with_pectin_is_limited,
        plum_jam("5 1/2 cups granulated sugar", "2 cups honey"),
        "2 cups, the most anybody allows",
        Severity.QUALITY,
    ),
    breaks(sweeteners.honey_with_pectin_is_limited, plum_jam("7 1/2 cups honey"), "honey alone"),
    unclear(sweeteners.honey_with_pectin_is_limited, plum_jam("7 cups granulated sugar", "honey"), "some honey"),
    passes(sweeteners.honey_without_pectin_is_limited, berry_jam("2 cups granulated sugar", "2 cups honey"), "half"),
    breaks(sweeteners.honey_without_pectin_is_limited, berry_jam("4 cups honey"), "honey alone"),
    unclear(sweeteners.honey_without_pectin_is_limited, berry_jam("4 cups granulated sugar", "honey"), "some honey"),
    passes(
        sweeteners.corn_syrup_is_limited, plum_jam("5 1/2 cups granulated sugar", "2 cups light corn syrup"), "2 cups"
    ),
    breaks(
        sweeteners.corn_syrup_is_limited, plum_jam("3 1/2 cups granulated sugar", "4 cups light corn syrup"), "4 cups"
    ),
    breaks(
        sweeteners.corn_syrup_is_limited,
        berry_jam("2 cups granulated sugar", "2 cups light corn syrup"),
        "half, no pectin",
    ),
    unclear(sweeteners.corn_syrup_is_limited, plum_jam("5 cups granulated sugar", "light corn syrup"), "some syrup"),
    passes(
        sweeteners.liquid_sweeteners_replace_juice,
        of_tested(
            "plum-jelly-liquid",
            change={"plum juice": "3 3/4 cups plum juice, strained", "sugar": "6 1/2 cups granulated sugar"},
            add=["1 cup honey"],
        ),
        "1/4 cup less juice for 1 cup of honey",
    ),
    breaks(
        sweeteners.liquid_sweeteners_replace_juice,
        of_tested("plum-jelly-liquid", change={"sugar": "5 1/2 cups granulated sugar"}, add=["2 cups honey"]),
        "2 cups of honey, juice unchanged",
    ),
    unclear(
        sweeteners.liquid_sweeteners_replace_juice,
        of_tested("plum-jelly-liquid", change={"sugar": "6 cups granulated sugar"}, add=["honey"]),
        "some honey",
    ),
    passes(sweeteners.jelly_without_pectin_keeps_its_ratio, jelly("4 cups apple juice", "3 cups sugar"), "3 cups to 4"),
    breaks(sweeteners.jelly_without_pectin_keeps_its_ratio, jelly("4 cups apple juice", "6 cups sugar"), "6 cups to 4"),
    unclear(sweeteners.jelly_without_pectin_keeps_its_ratio, jelly("apple juice", "6 cups sugar"), "some juice"),
    passes(
        spreads.jelly_without_pectin_needs_rich_fruit, jelly("4 cups quince juice", "3 cups sugar"), "juice of quinces"
    ),
    breaks(
        spreads.jelly_without_pectin_needs_rich_fruit, jelly("4 cups peach juice", "3 cups sugar"), "juice of peaches"
    ),
    passes(spreads.regular_pectin_needs_acid, peach_jam(), "peaches with lemon juice"),
    breaks(spreads.regular_pectin_needs_acid, own("4 cups crushed figs", "7 cups sugar", POUCH), "figs without"),
    passes(spreads.spreads_reach_their_solids, plum_jam(), "sugar enough"),
    breaks(spreads.spreads_reach_their_solids, plum_jam("2 cups granulated sugar"), "far too thin"),
    unclear(spreads.spreads_reach_their_solids, own("feijoas", "4 cups sugar"), "some fruit"),
    passes(spreads.fruit_is_not_overripe, plum_jam(), "ripe fruit"),
    breaks(
        spreads.fruit_is_not_overripe,
        of_tested("plum-jelly-no-pectin", change={"plum juice": "4 cups plum juice, from overripe fruit"}),
        "overripe plums",
    ),
    passes(spreads.spreads_keep_their_acid, peach_jam(), "the lemon juice listed"),
    breaks(spreads.spreads_keep_their_acid, peach_jam(None), "peaches without it"),
    breaks(spreads.spreads_keep_their_acid, peach_jam("1 tbsp lemon juice"), "a quarter of it"),
    unclear(spreads.spreads_keep_their_acid, peach_jam("lemon juice"), "some lemon juice"),
    passes(spreads.gels_are_not_over_acid, peach_jam("3/8 cup lemon juice"), "one and a half times"),
    breaks(spreads.gels_are_not_over_acid, peach_jam("2 cups lemon juice"), "eight times"),
    unclear(spreads.gels_are_not_over_acid, plum_jam("7 1/2 cups granulated sugar", "lemon juice"), "some lemon juice"),
    passes(
        spreads.sugar_in_the_fruit_counts,
        own("4 cups crushed strawberries, unsweetened", "7 cups sugar"),
        "unsweetened",
    ),
    breaks(
        spreads.sugar_in_the_fruit_counts, own("4 cups crushed strawberries, sweetened", "7 cups sugar"), "sweetened"
    ),
    passes(spreads.sugar_is_not_raised, plum_jam(), "the sugar as printed"),
    breaks(spreads.sugar_is_not_raised, plum_jam("9 cups granulated sugar"), "a fifth more"),
    passes(spreads.fruit_is_measured_prepared, own("4 cups crushed feijoas", "7 cups sugar"), "crushed"),
    breaks(spreads.fruit_is_measured_prepared, own("4 cups whole feijoas", "7 cups sugar"), "whole"),
    unclear(spreads.fruit_is_measured_prepared, own("4 cups feijoas", "7 cups sugar"), "how they were measured"),
    passes(spreads.spreads_are_not_overcooked, cherry_jam(), "one boil"),
    breaks(spreads.spreads_are_not_overcooked, cherry_jam(steps=TWICE), "boiled hard twice"),
    breaks(
        spreads.spreads_are_not_overcooked,
        of_tested("plum-jelly-no-pectin", steps=("juice", "sugar", "boil-to-18F-over-boiling", "fill", "process")),
        "boiled to 230 F at sea level",
    ),
    passes(spreads.soft_jelly_is_remade_as_listed, remade(), "4 cups with what is listed"),
    breaks(spreads.soft_jelly_is_remade_as_listed, remade("10 cups jelly"), "10 cups in a pot"),
    breaks(spreads.soft_jelly_is_remade_as_listed, remade(lemon="1 tbsp bottled lemon juice"), "half the lemon juice"),
    unclear(spreads.soft_jelly_is_remade_as_listed, remade("jelly"), "how much jelly"),
    passes(spreads.elderberry_spreads_follow_a_tested_recipe, plum_jam(), "plums"),
    breaks(
        spreads.elderberry_spreads_follow_a_tested_recipe,
        own("1000 g elderberries", "750 g sugar"),
        "a recipe of one's own",
    ),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_sugar_and_pectin(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_of_sugar_and_pectin_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_rule_of_sugar_and_pectin_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_less_sugar_in_peach_jam_points_to_the_tested_spread_of_little_sugar() -> None:
    """Peach-pineapple spread: Complete Guide to Home Canning, Guide 7."""
    cut = of_tested("peach-jam-powder", change={"sugar": "3 cups granulated sugar"})
    (found,) = findings(pectin.regular_pectin_gets_its_sugar, cut)
    assert "60%" in found.message
    assert "each-pineapple" in found.fix


@given(st.integers(min_value=1, max_value=99))
def test_any_sugar_below_the_tested_is_found(percent: int) -> None:
    """No published tolerance exists."""
    assert findings(pectin.regular_pectin_gets_its_sugar, plum_jam(f"{7.5 * percent / 100:.3f} cups granulated sugar"))
