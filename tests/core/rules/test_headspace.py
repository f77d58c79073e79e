"""Space between food and rim. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import headspace
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.headspace import RULES
from tests.core.rules.cases import agrees, breaks, case, findings, of_tested, passes, stands_in_the_catalogue


def own(line: str, family: str, inches: float | None, **sent: object) -> Case:
    """Food that no row covers: the general figures hold."""
    return case(line, family=family, product="no-row", headspace_in=inches, **sent)


def chicken(inches: float | None, *lines: str, pack: str = "hot") -> Case:
    return case("3 lb chicken", *lines, family="meat", product="no-row", headspace_in=inches, pack=pack)


def carrots(inches: float | None) -> Case:
    """The row prints 1 inch. Complete Guide to Home Canning, Guide 4."""
    return of_tested("carrots", headspace_in=inches)


EXAMPLES = [
    passes(headspace.jam_leaves_a_quarter_inch, own("4 cups crushed feijoas", "jam", 0.25), "1/4 inch"),
    passes(headspace.jam_leaves_a_quarter_inch, own("4 cups crushed feijoas", "jam", None), "not said: as published"),
    breaks(headspace.jam_leaves_a_quarter_inch, own("4 cups crushed feijoas", "jam", 1), "a whole inch"),
    passes(headspace.fruit_leaves_half_an_inch, own("4 lb feijoas", "fruit", 0.5), "1/2 inch"),
    breaks(headspace.fruit_leaves_half_an_inch, own("4 lb feijoas", "fruit", 0.125), "1/8 inch"),
    passes(headspace.low_acid_food_leaves_an_inch, own("4 lb sunchokes", "vegetable", 1), "1 inch"),
    breaks(headspace.low_acid_food_leaves_an_inch, own("4 lb sunchokes", "vegetable", 0.5), "1/2 inch"),
    passes(headspace.poultry_leaves_more, chicken(1.25), "1 1/4 inch"),
    breaks(headspace.poultry_leaves_more, chicken(0.5), "1/2 inch"),
    breaks(headspace.poultry_leaves_more, chicken(1.25, "2 cups water", pack="raw"), "liquid on a raw pack"),
    passes(headspace.headspace_is_the_published_one, carrots(1), "the printed inch"),
    passes(headspace.headspace_is_the_published_one, carrots(0.875), "1/8 inch less"),
    passes(headspace.headspace_is_the_published_one, carrots(None), "not said: as published"),
    breaks(headspace.headspace_is_the_published_one, carrots(0.87), "a hair more than 1/8 inch less"),
    breaks(headspace.headspace_is_the_published_one, carrots(3), "a jar two-thirds full"),
    passes(
        headspace.freezer_jam_has_room_to_swell,
        own("4 cups crushed feijoas", "jam", 0.5, storage="freezer"),
        "1/2 inch in the freezer",
    ),
    breaks(
        headspace.freezer_jam_has_room_to_swell,
        own("4 cups crushed feijoas", "jam", 0, storage="freezer"),
        "filled to the rim",
    ),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_headspace(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_headspace_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_headspace_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_a_row_of_its_own_goes_before_the_general_figure() -> None:
    """Grapes leave 1 inch, not the 1/2 inch of other fruit: Complete Guide to Home Canning, Guide 2."""
    grapes = of_tested("grapes-whole", headspace_in=1)
    assert not [found for rule in RULES for found in findings(rule, grapes)]


def test_inches_read_as_a_kitchen_says_them() -> None:
    (found,) = findings(headspace.poultry_leaves_more, chicken(0.5))
    assert "1 1/4 inch" in found.fix
