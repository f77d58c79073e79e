"""One recipe through the whole rulebook: the verdict, what was taken as published, and what nothing covers."""

from typing import Any

import pytest

from service.core.measures.lines import read_line
from service.core.rules.case import Handling, JarCount, ProcessSent, Recipe
from service.core.rules.check import Check, check
from service.core.rules.findings import Verdict
from service.published.loading import facts

SNAP_BEANS = {"title": "Snap beans", "product": "green-beans", "pack": "raw", "jars": {"quart": 7}}
BEANS_AT_LAST = ProcessSent("pressure-dial", 25, 11)


def judged(*lines: str, **sent: Any) -> Check:
    jars = sent.pop("jars", None)
    fields: dict[str, Any] = {"title": "A recipe", "altitude_ft": 500} | sent
    if jars is not None:
        fields["jars"] = tuple(JarCount(size, count) for size, count in jars.items())
    return check(Recipe(lines=tuple(read_line(line) for line in lines), **fields), facts())


def rules(found: Check) -> set[str]:
    return {judged.rule.id for judged in found.findings}


def test_a_plain_pack_is_covered_by_its_row_alone() -> None:
    found = judged("14 lb green beans", "1 tsp salt per quart", process=BEANS_AT_LAST, **SNAP_BEANS)
    assert found.verdict is Verdict.READY
    assert found.status == "published"
    assert {(option.figures.minutes, option.figures.pressure_psi) for option in found.options} == {
        (20, 11), (25, 11), (20, 10), (25, 10),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("line", "verdict"),
    [
        pytest.param("2 cups cream", Verdict.UNSAFE, id="dairy"),
        pytest.param("2 cups carrots", Verdict.UNTESTED, id="another vegetable"),
        pytest.param("1 cup zorblax", Verdict.UNTESTED, id="something nobody knows"),
        pytest.param("three handfuls of something", Verdict.UNTESTED, id="a line that can't be read"),
        pytest.param("1 can carrots", Verdict.UNSAFE, id="a can, which was canned before"),
        pytest.param("1/2 tsp dried thyme", Verdict.READY, id="a dried herb"),
    ],
)
def test_what_is_added_to_a_plain_pack_is_judged(line: str, verdict: Verdict) -> None:
    assert judged("14 lb green beans", line, process=BEANS_AT_LAST, **SNAP_BEANS).verdict is verdict


def test_a_salsa_of_ones_own_is_untested() -> None:
    found = judged(
        "8 cups chopped tomatoes", "3 cups bell peppers", "2 cups onions", "1 cup carrots",
        "1/2 cup bottled lime juice",
        title="Our own salsa", family="salsa", jars={"pint": 6}, process=ProcessSent("boiling-water", 15, None),
    )  # fmt: skip
    assert found.verdict is Verdict.UNTESTED
    assert found.status == "none"
    assert found.options == ()


def test_a_salsa_of_ones_own_may_be_kept_cold() -> None:
    found = judged(
        "8 cups chopped tomatoes", "3 cups bell peppers", "2 cups onions", "1 cup carrots",
        title="Our own salsa", family="salsa", process=ProcessSent("refrigerate", None, None),
    )  # fmt: skip
    assert found.verdict is Verdict.READY
    assert found.status == "not-canned"


def test_what_isnt_sent_is_taken_from_the_tested_recipe_and_named() -> None:
    found = judged(
        "4 cups crushed strawberries", "7 cups sugar", "1 pouch (3 oz) liquid pectin", title="Strawberry jam"
    )
    case = found.case
    assert found.verdict is Verdict.READY
    assert case.inferred == ("family", "product", "process", "jars", "pack", "headspace_in", "steps")
    assert (case.family, case.product, case.pack) == ("jam", "jam-or-jelly-with-pectin", "hot")
    assert case.jars == (JarCount("half-pint", 8),)
    assert case.process is not None
    assert case.process.method == "boiling-water"


def test_a_spread_with_less_sugar_is_revised_and_not_called_untested() -> None:
    found = judged(
        "4 cups crushed strawberries", "4 cups sugar", "1 pouch (3 oz) liquid pectin", title="Strawberry jam"
    )
    assert found.verdict is Verdict.REVISE
    assert "regular-pectin-sugar-floor" in rules(found)
    assert "own-mixture-default" not in rules(found)


def test_a_spread_that_is_changed_where_no_rule_says_how_to_mend_it_is_untested() -> None:
    lines = ("4 cups crushed strawberries", "7 cups sugar", "1 pouch (3 oz) liquid pectin", "1 cup chopped onions")
    found = judged(*lines, title="Strawberry jam")
    assert found.verdict is Verdict.UNTESTED


def test_the_options_are_those_of_the_altitude() -> None:
    lines = ("22 lb tomatoes", "2 tbsp bottled lemon juice per quart")
    low, high = (
        judged(*lines, title="Crushed tomatoes", altitude_ft=altitude, jars={"quart": 7}) for altitude in (500, 6500)
    )
    boiled = [
        {option.figures.minutes for option in one.options if option.process.method == "boiling-water"}
        for one in (low, high)
    ]
    assert boiled == [{35, 45}, {50, 60}]
    assert low.verdict is high.verdict is Verdict.READY


def test_above_the_last_printed_band_there_is_no_option() -> None:
    found = judged("14 lb green beans", altitude_ft=8500, process=ProcessSent("pressure-dial", 25, 14), **SNAP_BEANS)
    assert found.verdict is Verdict.UNSAFE
    assert {option.process.method for option in found.options} == {"pressure-weighted"}


@pytest.mark.parametrize(
    ("sent", "where"),
    [
        pytest.param({"product": "grandmothers-best"}, "#/product", id="a product nobody published"),
        pytest.param({"tested_recipe": "grandmothers-best"}, "#/tested_recipe", id="a tested recipe nobody published"),
    ],
)
def test_a_name_that_nobody_published_is_a_finding(sent: dict[str, Any], where: str) -> None:
    found = judged("14 lb green beans", title="Snap beans", jars={"quart": 7}, process=BEANS_AT_LAST, **sent)
    assert found.verdict is Verdict.UNTESTED
    assert where in {judged.finding.where for judged in found.findings}


def test_findings_come_worst_first() -> None:
    found = judged("4 cups crushed strawberries", "2 cups cream", "1 cup zorblax", title="Jam", jars={"quart": 3})
    order = ["unsafe", "untested", "spoilage", "set-failure", "quality", "paperwork"]
    ranks = [order.index(judged.severity) for judged in found.findings]
    assert ranks == sorted(ranks)


def test_canned_food_isnt_canned_again() -> None:
    found = judged("106 oz canned peaches", title="Peaches", family="fruit", jars={"half-pint": 12}, pack="hot",
                   process=ProcessSent("boiling-water", 20, None))  # fmt: skip
    assert "recanning-bar" in rules(found)


def test_handling_may_be_left_unsaid() -> None:
    said = judged("14 lb green beans", process=BEANS_AT_LAST, handling=Handling(covering_liquid=True), **SNAP_BEANS)
    unsaid = judged("14 lb green beans", process=BEANS_AT_LAST, **SNAP_BEANS)
    assert said.verdict is unsaid.verdict is Verdict.READY


def test_what_a_cook_would_also_take_is_judged_like_the_rest() -> None:
    found = judged("14 lb green beans or carrots", process=BEANS_AT_LAST, **SNAP_BEANS)
    assert found.verdict is Verdict.UNTESTED
    assert all(judged.finding.message.startswith("With carrots: ") for judged in found.findings)


def test_more_choices_than_can_be_judged_are_a_finding() -> None:
    spices = " or ".join(["dried thyme", "dried oregano", "black pepper"] * 6)
    found = judged("14 lb green beans", f"1 tsp {spices}", process=BEANS_AT_LAST, **SNAP_BEANS)
    assert found.verdict is Verdict.UNTESTED


ACID = "2 tbsp bottled lemon juice per quart"


@pytest.mark.parametrize(
    ("title", "lines", "verdict", "product"),
    [
        pytest.param("Green beans", ["14 lb green beans", "boiling water to cover"], "ready", "green-beans", id="hot"),
        pytest.param("Peaches", ["17 lb peaches", "light syrup to cover"], "ready", "peaches", id="syrup"),
        pytest.param("Plum jam", ["4 cups plum", "4 cups sugar", "water"], "untested", "jam-no-added-pectin", id="jam"),
        pytest.param(
            "Tomatoes packed in tomato juice", ["21 lb tomatoes, peeled", "3 qt tomato juice", ACID],
            "ready", "tomatoes-whole-in-tomato-juice", id="tomato juice",
        ),
        pytest.param("Crushed tomatoes", ["22 lb tomatoes", ACID], "ready", "tomatoes-crushed", id="nothing"),
        pytest.param(
            "Crushed tomatoes", ["22 lb tomatoes", "4 qt water", ACID], "untested", "tomatoes-crushed",
            id="water on what is printed without",
        ),
        pytest.param("Applesauce", ["21 lb apples", "1 cup apple juice"], "ready", "applesauce", id="against sticking"),
        pytest.param("Applesauce", ["21 lb apples", "10 cups apple juice"], "revise", "applesauce", id="a thin sauce"),
        pytest.param("Applesauce", ["21 lb apples", "10 cups water"], "revise", "applesauce", id="as thin with water"),
        pytest.param("Applesauce", ["21 lb apples", "a little water"], "untested", "applesauce", id="no telling"),
        pytest.param("Applesauce", ["1 lb apples", "20 cups water"], "untested", "applesauce", id="hardly any apple"),
        pytest.param("Fruit puree", ["1 qt crushed plums", "1 cup water"], "ready", "fruit-puree", id="puree"),
        pytest.param("Fruit puree", ["1 lb plums", "1 gallon water"], "untested", "fruit-puree", id="hardly any plum"),
        pytest.param(
            "Fruit puree", ["1 lb plums", "1 gallon light syrup"], "untested", "fruit-puree", id="as little in syrup"
        ),
        pytest.param("Apple juice", ["7 qt apple juice"], "ready", "apple-juice", id="juice"),
        pytest.param("Apple juice", ["7 qt apple juice", "1 cup water"], "untested", "apple-juice", id="watered juice"),
        pytest.param("Grape juice", ["24 lb grapes", "2 gallons water"], "ready", "grape-juice", id="grapes in water"),
        pytest.param("Grape juice", ["24 lb grapes", "water to cover"], "ready", "grape-juice", id="covered grapes"),
        pytest.param("Grape juice", ["1 lb grapes", "20 cups water"], "untested", "grape-juice", id="few grapes"),
        pytest.param("Grape juice", ["1 cup grape juice", "20 cups water"], "untested", "grape-juice", id="less juice"),
    ],
)  # fmt: skip
def test_the_liquid_of_a_plain_pack_is_what_is_printed_for_it(
    title: str, lines: list[str], verdict: str, product: str
) -> None:
    """Complete Guide to Home Canning, AIB 539 rev. 2015, Guides 2 to 4: covering liquids, and packs without any.

    How much thins a puree or juice is a working limit of ours; what the Guide puts in lies within it.
    """
    found = judged(*lines, title=title, jars={"quart": 7})
    assert found.verdict.value == verdict, [judged.finding.message for judged in found.findings]
    assert found.case.product == product


@pytest.mark.parametrize(
    ("title", "lines", "pack"),
    [
        pytest.param(
            "Chicken", ["20 lb chicken", "1 tsp salt per quart"], "chicken or rabbit with bones", id="chicken"
        ),
        pytest.param("Tomatoes", ["21 lb tomatoes", ACID], "tomatoes crushed", id="tomatoes"),
    ],
)
def test_where_several_rows_fit_the_cook_is_asked_which(title: str, lines: list[str], pack: str) -> None:
    found = judged(*lines, title=title, jars={"quart": 7})
    assert found.verdict is Verdict.UNTESTED
    assert [pack in judged.finding.message for judged in found.findings] == [True]


def test_a_bar_stands_while_the_cook_is_asked() -> None:
    found = judged("20 lb chicken", title="Chicken", process=ProcessSent("boiling-water", 180, None))
    assert found.verdict is Verdict.UNSAFE
    assert judged("20 lb chicken", "1 lb carrots", title="Chicken", jars={"quart": 7}).verdict is Verdict.UNSAFE


def test_jars_that_nobody_names_are_the_printed_ones() -> None:
    """Fermented dills print pints and quarts, and no yield (Complete Guide, Guide 6 p. 6-5)."""
    dills = facts().tested_recipe["fermented-dill-pickles"]
    found = judged(*(one.line for one in dills.ingredients), title=dills.title)
    assert (found.verdict, "jars" in found.case.inferred) == (Verdict.READY, True)


def test_a_smaller_pot_of_fruit_butter_is_as_good() -> None:
    found = judged("4 cups peach pulp, cooked, sieved", "2 cups sugar", title="Peach butter", jars={"half-pint": 4})
    assert found.verdict is Verdict.READY


def test_pepper_to_taste_is_the_spice() -> None:
    found = judged("14 lb green beans", "salt and pepper to taste", process=BEANS_AT_LAST, **SNAP_BEANS)
    assert found.verdict is Verdict.READY


def test_mustard_from_the_jar_is_no_dry_spice() -> None:
    found = judged("14 lb green beans", "1 cup prepared mustard", process=BEANS_AT_LAST, **SNAP_BEANS)
    assert found.verdict is Verdict.UNTESTED
    jam = facts().tested_recipe["apple-marmalade-no-pectin"]
    lines = [one.line for one in jam.ingredients]
    assert judged(*lines, title=jam.title).verdict is Verdict.READY
    assert judged(*lines, "1 cup prepared mustard", title=jam.title).verdict is Verdict.UNTESTED
