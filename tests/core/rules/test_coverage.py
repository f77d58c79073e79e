"""What a published process covers, what it doesn't, and what a member is told instead of "ready"."""

from dataclasses import replace
from typing import Any

import pytest

from service.core.rules import coverage
from service.core.rules.case import Case
from service.core.rules.findings import Severity
from tests.core.rules.cases import case, findings, of_tested
from tests.core.rules.test_batch_size import cherry_jam, pear_butter

NO_TABLE = "No published process or tested recipe covers this food."
COLD = "Keep it in the refrigerator or freezer, or follow a tested recipe."
ACID = "2 tbsp bottled lemon juice per quart"


def ours(*lines: str, **sent: Any) -> Case:
    return case(*lines, title="Ours", **sent)


def beans(*added: str) -> Case:
    return case("14 lb green beans", *added, title="Green beans", product="green-beans")


@pytest.mark.parametrize(
    ("judged", "covered"),
    [
        *((of_tested("applesauce", add=[line]), covered) for line, covered in (
            ("1 tsp vegetable oil", True), ("1 1/8 tsp vegetable oil", False), ("vegetable oil", False),
            ("1/4 cup bottled lemon juice", True), ("2 cups carrots", False), ("1 tsp ascorbic acid", True),
        )),
        *((of_tested("peaches-halved", add=[line]), covered) for line, covered in (
            ("4 cups apple juice", True), ("1/4 cup bottled lemon juice", True), ("1 cup honey", True),
            ("2 cups carrots", False), ("1/4 cup cider vinegar (5%)", False),
        )),
        *((beans(line), covered) for line, covered in (
            ("1/4 cup bottled lemon juice", False), ("4 cups apple juice", False), ("1 cup honey", False),
            ("1 tbsp mustard seed", True), ("1 tbsp prepared mustard", False), ("2 qt water", True), ("salt", True),
            ("1 tsp ascorbic acid", True), ("2 cups carrots", False),
        )),
        (beans("1 tsp ascorbic acid", "2 qt water", "1 tsp salt", "2 cups carrots"), False),
        (case("22 lb tomatoes", ACID, "4 qt water", title="Crushed tomatoes", product="tomatoes-crushed"), False),
        (case("22 lb tomatoes", ACID, title="Crushed tomatoes", product="tomatoes-crushed"), True),
        (case("22 lb tomatoes, whole", ACID, title="Crushed tomatoes", product="tomatoes-crushed"), False),
        (case("2 qt water", "1 tsp salt", title="Green beans", product="green-beans"), False),
        (case("2 qt broth", title="Stock", product="meat-stock"), True),
        (case("8 cups crushed plums", "4 cups sugar", title="Ours", product="no-row"), False),
        (of_tested("chile-salsa"), True),
        (of_tested("chile-salsa", add=["2 cups corn"]), False),
        (of_tested("chile-salsa", product="choice-salsa"), False),
        (of_tested("apple-spread-gelatin-refrigerated", storage="refrigerator"), True),
        (of_tested("apple-spread-gelatin-refrigerated", method="boiling-water", storage="shelf"), False),
    ],
)  # fmt: skip
def test_a_process_covers_its_own_food_packed_as_printed(judged: Case, covered: bool) -> None:
    assert coverage.is_covered(judged) is covered


@pytest.mark.parametrize(
    ("judged", "found"),
    [
        (beans("2 cups carrots"), [("Carrot has no place in this plain pack.", COLD)]),
        (beans("2 cups carrots", "1 cup honey"), [
            ("Carrot has no place in this plain pack.", COLD), ("Honey has no place in this plain pack.", COLD),
        ]),
        (beans(), []),
        (of_tested("chile-salsa", add=["2 cups corn"]), [("Not as tested: corn added.", "Follow the tested recipe, or "
                                                          "keep it cold.")]),
        (of_tested("chile-salsa", add=["2 cups corn"], storage="refrigerator"), []),
        (of_tested("chile-salsa", add=["2 cups zorblax"]), []),
        (ours("4 cups crushed plums", "4 cups sugar", family="jam", product="no-row"), [
            (NO_TABLE, "Follow the closest one that is published, Plum jam with liquid pectin, or keep this one in the "
             "refrigerator or freezer."),
        ]),
        (ours("6 oranges, sliced", "8 cups sugar", family="marmalade"), [
            (NO_TABLE, "Follow the closest one that is published, Three-citrus marmalade, no added pectin, or keep "
             "this one in the refrigerator or freezer."),
        ]),
        (ours("4 lb tomatoes", "2 lb onions", family="salsa", product="no-row"), [
            (NO_TABLE, "Follow the closest one that is published, Chile salsa (hot tomato-pepper sauce), or keep this "
             "one in the refrigerator or freezer."),
        ]),
        (ours("4 lb zucchini", "2 lb onions", family="pickle", product="no-row"), [
            (NO_TABLE, "Follow the closest one that is published, Pickled bread-and-butter zucchini, or keep this one "
             "in the refrigerator or freezer."),
        ]),
        (ours("4 lb okra", "2 lb carrots", family="vegetable", product="no-row"), [(NO_TABLE, COLD)]),
        (ours("4 cups crushed kiwis", "4 cups sugar", family="jam"), [(NO_TABLE, COLD)]),
        (ours("14 lb chicken", family="other"), []),
    ],
)  # fmt: skip
def test_what_nothing_covers_is_said_with_the_closest_that_is_published(
    judged: Case, found: list[tuple[str, str]]
) -> None:
    said = [(one.message, one.fix) for one in findings(coverage.mixtures_follow_a_tested_recipe, judged)]
    assert said == found


@pytest.mark.parametrize(
    ("pectin", "title"),
    [
        ("1 pouch (3 oz) liquid pectin", "Peach jam with liquid pectin"),
        ("1 package (1 3/4 oz) powdered pectin", "Peach jam with powdered pectin"),
        ("1 tbsp bottled lemon juice", "Peach jam"),
    ],
)
def test_the_closest_spread_is_the_one_with_this_pectin(pectin: str, title: str) -> None:
    judged = ours("4 cups crushed peaches", "2 cups walnuts", "7 cups sugar", pectin, family="jam", product="no-row")
    (found,) = findings(coverage.mixtures_follow_a_tested_recipe, replace(judged, tested=None))
    assert f"the closest one that is published, {title}" in found.fix


@pytest.mark.parametrize(
    ("judged", "messages"),
    [
        (cherry_jam(), []),
        (pear_butter(), []),
        (cherry_jam("8 cups", "10 cups", "2 packages (1 3/4 oz)"), ["Not the tested batch."]),
        (cherry_jam("2 cups", "2 1/2 cups", "1/2 package (1 3/4 oz)"), ["Not the tested batch."]),
        (pear_butter(times=2), ["Not the tested batch."]),
        (
            case(
                "4 cups pear pulp, cooked, sieved", "2 cups granulated sugar", "1/2 tsp orange rind, grated",
                "1/6 cup orange juice", "1/4 tsp nutmeg, ground", title="Pear butter", tested="pear-butter",
            ),
            [],
        ),
        (cherry_jam(sugar="4 cups"), ["Not as tested: 4/5 of the sugar."]),
        (of_tested("cherry-jam-powder", change={"sugar": "4 cups granulated sugar"}, storage="freezer"), []),
        (ours("4 cups crushed kiwis", "4 cups sugar", family="jam"), []),
        (of_tested("chile-salsa", change={"onion": "1/2 lb onions, chopped"}), []),
    ],
)  # fmt: skip
def test_a_spread_that_is_changed_is_not_the_tested_one(judged: Case, messages: list[str]) -> None:
    assert [found.message for found in coverage.changes_to_the_set(judged)] == messages


KNOWN = coverage.everything_is_known
COVERED = {"product": "green-beans", "title": "Green beans"}


@pytest.mark.parametrize(
    ("judged", "messages"),
    [
        (beans(), []),
        (beans("salt"), []),
        (case("14 lb green beans", "water", **COVERED), []),
        (case("14 lb green beans", "boiling water to cover", **COVERED), []),
        (case("green beans", **COVERED), ["Say how much goes in. (green bean)"]),
        (case("14 lb green beans", "honey", **COVERED), ["Say how much goes in. (honey)"]),
        (case("14 lb green beans", "1 cup zorblax", **COVERED),
         ["This ingredient isn't one that we have figures for. (zorblax)"]),
        (case("14 lb green beans, bananas", **COVERED), [
            "“bananas” looks like a second ingredient.", "What “bananas” does to this food isn't known here.",
        ]),
        (case("14 lb green beans, cut, trimmed", **COVERED), []),
        (case("14 lb green beans", skipped_steps=("peel",), **COVERED), ["The step “peel” is left out."]),
        (case("14 lb green beans", skipped_steps=("peel",), storage="freezer", **COVERED), []),
        (ours("14 lb chicken", family="other"), [
            "More than one published process fits this food: chicken or rabbit without bones, chicken or rabbit with "
            "bones.",
        ]),
        (ours("4 lb carrots", family="other"), []),
        (ours("4 lb okra", product="no-row"), ["No process is published for a product of this name."]),
        (of_tested("chile-salsa", tested="no-such"), ["There is no tested recipe of this name."]),
        (case("22 lb tomatoes", ACID, title="Crushed tomatoes", product="tomato-juice"),
         ["The title speaks of tomatoes crushed, and the product is another, with a time of its own."]),
    ],
)  # fmt: skip
def test_what_is_not_known_is_asked_about(judged: Case, messages: list[str]) -> None:
    assert [found.message for found in findings(KNOWN, judged)] == messages


@pytest.mark.parametrize(
    ("line", "canned"),
    [
        ("14 lb green beans", False),
        ("14 lb green beans, canned", True),
        ("3 cans green beans", True),
        ("14 lb green beans, from a jar", True),
        ("4 cups canned beans", True),
        ("1 can water", False),
    ],
)
def test_food_from_a_can_is_known_by_its_words_or_its_measure(line: str, canned: bool) -> None:
    judged = case(line, title="Beans", family="vegetable", product="no-row")
    assert bool(findings(coverage.canned_food_is_not_canned_again, judged)) is canned


@pytest.mark.parametrize(
    ("line", "thin"),
    [("1 cup water", False), ("6 cups water", True), ("1 cup apple juice", False), ("water", True)],
)
def test_sauce_takes_no_more_liquid_than_keeps_it_from_sticking(line: str, thin: bool) -> None:
    judged = of_tested("applesauce", add=[line])
    found = [one for one in findings(coverage.mixtures_follow_a_tested_recipe, judged) if "thin sauce" in one.message]
    assert bool(found) is thin
    assert all(one.severity is Severity.QUALITY for one in found)


@pytest.mark.parametrize(
    ("judged", "canned"),
    [
        (of_tested("tomato-paste-salsa"), False),
        (of_tested("tomato-paste-salsa", change={"tomato paste": "4 cans (6 oz each) tomato paste"}), False),
        (of_tested("three-bean-salad", change={"kidney bean": "1 1/2 cups canned kidney beans, drained"}), False),
        (of_tested("three-bean-salad", change={"green bean": "1 1/2 cups canned green beans"}), True),
        (of_tested("three-bean-salad", add=["1 can (15 oz) corn"]), True),
    ],
)
def test_what_is_printed_canned_may_come_from_a_can(judged: Case, canned: bool) -> None:
    assert bool(findings(coverage.canned_food_is_not_canned_again, judged)) is canned


@pytest.mark.parametrize(
    ("judged", "same"),
    [
        (cherry_jam(), True),
        (cherry_jam("8 cups", "10 cups", "2 packages (1 3/4 oz)"), False),
        (cherry_jam("2 cups", "2 1/2 cups", "1/2 package (1 3/4 oz)"), False),
        (cherry_jam(sugar="4 cups"), False),
        (of_tested("cherry-jam-powder", add=["1/4 tsp ground cinnamon"]), True),
        (of_tested("cherry-jam-powder", add=["1/4 cup bottled lemon juice"]), False),
        (of_tested("cherry-jam-powder", add=["1 cup chopped walnuts"]), False),
        (ours("4 cups crushed kiwis", "4 cups sugar", family="jam"), False),
    ],
)
def test_a_spread_sets_as_tested_only_if_nothing_of_the_set_is_changed(judged: Case, same: bool) -> None:
    assert coverage.sets_as_tested(judged) is same
