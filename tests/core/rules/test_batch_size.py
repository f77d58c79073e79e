"""One pot, one batch. Each rule's source stands in the published catalogue under the rule's id."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.rules import batch_size
from service.core.rules.batch_size import RULES
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from tests.core.rules.cases import (
    agrees,
    breaks,
    case,
    findings,
    notes,
    of_tested,
    passes,
    stands_in_the_catalogue,
    unclear,
)


def cherry_jam(cherries: str = "4 cups", sugar: str = "5 cups", pectin: str = "1 package (1 3/4 oz)") -> Case:
    """4 cups sour cherries, 1 box, 5 cups sugar. Complete Guide to Home Canning, Guide 7."""
    return of_tested(
        "cherry-jam-powder",
        change={
            "sour cherry": f"{cherries} pitted sour cherries, ground or finely chopped",
            "powdered pectin": f"{pectin} powdered pectin",
            "sugar": f"{sugar} granulated sugar",
        },
    )


def jelly(juice: str, *others: str) -> Case:
    return case(juice, "9 cups sugar", *others, title="My jelly", family="jelly")


def jam(fruit: str) -> Case:
    return case(fruit, "5 cups sugar", title="My jam", family="jam")


def pear_butter(times: int = 1) -> Case:
    return case(
        f"{8 * times} cups pear pulp, cooked, sieved",
        f"{4 * times} cups granulated sugar",
        f"{times} tsp orange rind, grated",
        f"{times}/3 cup orange juice",
        f"{times}/2 tsp nutmeg, ground",
        title="Pear butter",
        family="fruit-butter",
        tested="pear-butter",
    )


POUCH = "2 pouches (3 oz each) liquid pectin"

EXAMPLES = [
    passes(batch_size.gels_are_not_doubled, cherry_jam(), "one batch as printed"),
    breaks(batch_size.gels_are_not_doubled, cherry_jam("8 cups", "10 cups", "2 packages (1 3/4 oz)"), "doubled"),
    breaks(
        batch_size.gels_are_not_doubled,
        cherry_jam("6 cups", "7 1/2 cups", "1 package (2 5/8 oz)"),
        "half as much again",
    ),
    passes(batch_size.gels_are_not_halved, cherry_jam(), "one batch as printed"),
    breaks(batch_size.gels_are_not_halved, cherry_jam("2 cups", "2 1/2 cups", "1/2 package (1 3/4 oz)"), "halved"),
    passes(batch_size.jelly_pots_hold_six_cups, jelly("6 cups feijoa juice", POUCH), "6 cups of juice"),
    breaks(batch_size.jelly_pots_hold_six_cups, jelly("9 cups plum juice", POUCH), "9 cups of juice"),
    passes(batch_size.jelly_pots_without_pectin_hold_six_to_eight_cups, jelly("6 cups quince juice"), "6 cups"),
    breaks(
        batch_size.jelly_pots_without_pectin_hold_six_to_eight_cups,
        jelly("7 cups quince juice"),
        "7 cups",
        Severity.QUALITY,
    ),
    breaks(batch_size.jelly_pots_without_pectin_hold_six_to_eight_cups, jelly("12 cups quince juice"), "12 cups"),
    unclear(batch_size.jelly_pots_without_pectin_hold_six_to_eight_cups, jelly("feijoa juice"), "some juice"),
    passes(batch_size.jam_pots_hold_the_tested_fruit, jam("6 cups crushed feijoas"), "6 cups where none says more"),
    breaks(batch_size.jam_pots_hold_the_tested_fruit, jam("12 cups crushed feijoas"), "12 cups"),
    breaks(batch_size.jam_pots_hold_the_tested_fruit, cherry_jam("5 cups"), "more fruit than its tested recipe"),
    unclear(batch_size.jam_pots_hold_the_tested_fruit, jam("feijoas"), "some fruit"),
    passes(batch_size.butter_pots_are_small, pear_butter(), "8 cups as printed"),
    breaks(batch_size.butter_pots_are_small, pear_butter(times=2), "the printed pot doubled"),
    unclear(
        batch_size.butter_pots_are_small,
        case("feijoas", "4 cups sugar", title="My butter", family="fruit-butter"),
        "some fruit",
    ),
    passes(batch_size.other_recipes_may_be_scaled, of_tested("chile-salsa"), "a salsa as printed"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_batch_size(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_of_batches_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_rule_of_batches_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_a_doubled_batch_is_split_into_pots_as_printed() -> None:
    (found,) = findings(batch_size.gels_are_not_doubled, cherry_jam("8 cups", "10 cups", "2 packages (1 3/4 oz)"))
    assert found.fix.startswith("Cook 2 pots")
    assert "5 cups granulated sugar" in found.fix


@given(st.integers(min_value=2, max_value=9))
def test_a_gel_is_never_multiplied(times: int) -> None:
    judged = cherry_jam(f"{4 * times} cups", f"{5 * times} cups", f"{times} packages (1 3/4 oz)")
    assert findings(batch_size.gels_are_not_doubled, judged)


def test_what_isnt_gelled_may_be_scaled_by_one_factor() -> None:
    """Allowed where everything keeps its ratio: common practice, no source."""
    tripled = of_tested(
        "mango-sauce",
        change={
            "mango": "16 1/2 cups pureed mangoes, slightly underripe to just ripe",
            "honey": "18 tablespoons honey",
            "lemon juice": "12 tablespoons bottled lemon juice",
            "sugar": "2 1/4 cups granulated sugar",
            "ascorbic acid": "7 1/2 teaspoons ascorbic acid",
            "cinnamon": "3/8 teaspoon ground cinnamon",
            "nutmeg": "3/8 teaspoon ground nutmeg",
        },
    )
    assert notes(batch_size.other_recipes_may_be_scaled, tripled)
    assert not notes(batch_size.other_recipes_may_be_scaled, of_tested("mango-sauce"))
