"""A recipe beside the nearest tested one: what is the same, and every way in which they differ."""

from fractions import Fraction

import pytest

from service.core.measures.lines import read_line
from service.core.rules import formula, nearest
from service.core.rules.case import Comparison, JarCount, Recipe
from service.core.rules.recognition import recogniser
from service.published.loading import facts

CHILE_SALSA = {
    "tomato": "5 lb tomatoes, peeled, cored, chopped",
    "pepper": "2 lb chile peppers, peeled, seeded, chopped",
    "onion": "1 lb onions, chopped",
    "vinegar": "1 cup vinegar (5%)",
    "salt": "3 tsp salt",
    "spice": "1/2 tsp pepper",
}
PLUM_JAM = ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"]


def beside(*lines: str, title: str = "A recipe", jars: tuple[JarCount, ...] | None = None, **sent: str) -> Comparison:
    recipe = Recipe(title, tuple(read_line(line) for line in lines), 0, jars=jars, **sent)
    parts = formula.parts(recipe.lines, jars, recogniser(facts()))
    found = nearest.compare(recipe, parts, facts())
    assert found is not None
    return found


def salsa(**changed: str) -> Comparison:
    return beside(*(line for line in (CHILE_SALSA | changed).values() if line), title="Salsa", family="salsa")


def kinds(found: Comparison) -> list[tuple[str, str]]:
    return [(one.kind, one.says) for one in found.differences]


def test_the_same_lines_are_the_same_formula() -> None:
    found = salsa()
    assert found.recipe.id == "chile-salsa"
    assert found.same_formula
    assert kinds(found) == []


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        pytest.param({"vinegar": "1/2 cup vinegar (5%)"}, "less", id="half the vinegar"),
        pytest.param({"onion": "2 lb onions, chopped"}, "more", id="twice the onions"),
        pytest.param({"vinegar": ""}, "missing", id="no vinegar"),
        pytest.param({"extra": "2 cups corn"}, "added", id="corn"),
        pytest.param({"vinegar": "1 cup bottled lemon juice"}, "swapped", id="lemon juice for vinegar"),
        pytest.param({"vinegar": "1 cup vinegar, 4 percent"}, "form", id="a weaker vinegar"),
        pytest.param({"vinegar": "1 cup vinegar"}, "form", id="a vinegar of no stated strength"),
        pytest.param({"tomato": "5 lb tomatoes, drained"}, "form", id="drained tomatoes"),
        pytest.param({"vinegar": "1 cup vinegar (5%) (optional)"}, "missing", id="vinegar that may be left out"),
    ],
)
def test_a_change_is_a_difference_of_its_kind(line: dict[str, str], kind: str) -> None:
    found = salsa(**line)
    assert found.recipe.id == "chile-salsa"
    assert not found.same_formula
    assert [one.kind for one in found.differences] == [kind]


def test_a_difference_carries_its_exact_ratio() -> None:
    (less,) = salsa(vinegar="2/3 cup vinegar (5%)").differences
    assert less.ratio is not None
    assert less.ratio.low == Fraction(2, 3)


@pytest.mark.parametrize("line", ["0.33 cup", "1/3 cup", "0.333333 cup", "16 tsp", "0.3333 cup"])
def test_a_third_is_a_third_however_it_is_written(line: str) -> None:
    pickles = facts().tested_recipe["quick-sweet-pickles"]
    lines = [one.line if one.name != "canning salt" else f"{line} canning salt" for one in pickles.ingredients]
    found = beside(*lines, title=pickles.title)
    assert found.recipe.id == pickles.id
    assert found.same_formula


@pytest.mark.parametrize("times", [2, 3, Fraction(1, 2), Fraction(3, 2)])
def test_one_factor_for_everything_is_the_scale(times: Fraction) -> None:
    lines = [f"{float(Fraction(amount) * times)} {rest}" for amount, rest in (
        ("5", "lb tomatoes"), ("2", "lb chile peppers"), ("1", "lb onions"), ("1", "cup vinegar (5%)"),
        ("3", "tsp salt"), ("0.5", "tsp pepper"),
    )]  # fmt: skip
    found = beside(*lines, title="Salsa", family="salsa")
    assert found.scale.low == times
    assert kinds(found) == []
    assert not found.same_formula


def test_what_doesnt_keep_up_with_the_scale_is_less() -> None:
    found = beside(
        "10 lb tomatoes", "4 lb chile peppers", "2 lb onions", "1 cup vinegar (5%)", "6 tsp salt", "1 tsp pepper",
        title="Salsa", family="salsa",
    )  # fmt: skip
    assert found.scale.low == 2
    assert [(one.kind, one.ratio and one.ratio.low) for one in found.differences] == [("less", Fraction(1, 2))]


def test_less_sugar_is_less_sugar_and_no_smaller_batch() -> None:
    found = beside(PLUM_JAM[0], "5 cups sugar", PLUM_JAM[2], title="Damson jam", family="jam")
    assert found.recipe.id == "plum-jam-liquid"
    assert kinds(found) == [("less", "2/3 of the sugar")]


def test_amounts_per_jar_compare_by_the_volume_of_the_jars() -> None:
    lines = ["22 lb tomatoes", "14 tbsp bottled lemon juice"]
    pints = beside(*lines, title="Crushed tomatoes", jars=(JarCount("pint", 14),))
    more = beside(*lines, title="Crushed tomatoes", jars=(JarCount("quart", 14),))
    assert pints.same_formula
    assert [one.kind for one in more.differences] == ["less"]


def test_a_canner_load_of_raw_produce_may_be_of_any_size() -> None:
    found = beside("9 lb tomatoes", "1/2 tsp citric acid per quart", title="Crushed tomatoes")
    assert found.recipe.id == "tomatoes-crushed"
    assert found.same_formula


def test_a_listed_alternative_stands_in_its_place() -> None:
    figs = beside("16 lb figs", "9 cups water", "1/2 tsp citric acid per quart", title="Figs in light syrup, acidified")
    assert figs.recipe.id == "figs-whole-acidified"
    assert figs.same_formula


def test_the_recipe_that_is_named_is_the_one_compared_with() -> None:
    found = beside(*PLUM_JAM, tested_recipe="cherry-jam-liquid")
    assert found.named
    assert found.recipe.id == "cherry-jam-liquid"


def test_nothing_tested_is_near_a_mixture_of_ones_own() -> None:
    recipe = Recipe("Mine", tuple(map(read_line, ("3 lb potatoes", "1 cup prunes", "2 cups beer"))), 0)
    parts = formula.parts(recipe.lines, None, recogniser(facts()))
    assert nearest.compare(recipe, parts, facts()) is None


@pytest.mark.parametrize("recipe", facts().tested_recipes, ids=lambda recipe: recipe.id)
def test_each_tested_recipe_is_nearest_to_itself(recipe: nearest.TestedRecipe) -> None:
    jars = (JarCount(recipe.yield_jar, 7),)
    found = beside(*(one.line for one in recipe.ingredients), title=recipe.title, jars=jars)
    assert found.recipe.id == recipe.id
    assert found.same_formula


@pytest.mark.parametrize(
    ("name", "last", "first", "kind"),
    [
        pytest.param("vinegar", "235.5 ml vinegar (5%)", "235.3 ml vinegar (5%)", "less", id="acid, by half a percent"),
        pytest.param("vinegar", "250 ml vinegar (5%)", "251 ml vinegar (5%)", "more", id="more acid, by six percent"),
        pytest.param("salt", "14.72 ml salt", "14.7 ml salt", "less", id="salt, by half a percent"),
        pytest.param("onion", "462 g onions, chopped", "463 g onions, chopped", "more", id="a vegetable, by two"),
        pytest.param("onion", "427 g onions, chopped", "426 g onions, chopped", "less", id="less of it, by six"),
        pytest.param(
            "tomato", "2132 g tomatoes, peeled, cored, chopped", "2131 g tomatoes, peeled, cored, chopped", "less",
            id="tomatoes, by six percent",
        ),
    ],
)  # fmt: skip
def test_metric_amounts_are_rounded_away_from_danger(name: str, last: str, first: str, kind: str) -> None:
    """1 cup is 236.588 ml, 1 lb 453.592 g (NIST Handbook 44); how far either is rounded is a working limit of ours."""
    assert kinds(salsa(**{name: last})) == []
    assert [one for one, _ in kinds(salsa(**{name: first}))] == [kind]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("3 3/4 cups sugar", "1/2 of the sugar"),
        ("3.8 cups sugar", "1/2 of the sugar"),
        ("3.65 cups sugar", "0.487 of the sugar"),
        ("7 cups sugar", "0.933 of the sugar"),
        ("7.6 cups sugar", "1.01 times the sugar"),
        ("15 cups sugar", "2 times the sugar"),
        ("8 3/4 cups sugar", "1 1/6 times the sugar"),
        ("0 cups sugar", "no sugar"),
        ("sugar", "no amount of sugar"),
    ],
)
def test_a_difference_is_said_in_fractions_that_a_cook_measures(line: str, says: str) -> None:
    assert [said for _, said in kinds(beside(PLUM_JAM[0], line, PLUM_JAM[2], tested_recipe="plum-jam-liquid"))] == [
        says
    ]


@pytest.mark.parametrize(
    ("lines", "same"),
    [
        (("1006 ml crushed plums", "7 1/2 cups sugar"), True),
        (("1005 ml crushed plums", "7 1/2 cups sugar"), False),
        (("4 1/2 cups crushed plums", "1716 ml sugar"), True),
        (("4 1/2 cups crushed plums", "1715 ml sugar"), False),
        (("4.49 cups crushed plums", "7.49 cups sugar"), True),
        (("4.45 cups crushed plums", "7.5 cups sugar"), False),
    ],
)
def test_an_amount_is_rounded_as_far_as_the_printed_one_is(lines: tuple[str, ...], same: bool) -> None:
    """4 1/2 and 7 1/2 cups are printed to halves: 1/18 and 1/30 of them (a working limit of ours)."""
    found = beside(*lines, PLUM_JAM[2], tested_recipe="plum-jam-liquid")
    assert (found.differences == ()) is same


@pytest.mark.parametrize(("cinnamon", "same"), [("0.125", True), ("0.123", True), ("0.122", False), ("0.13", False)])
def test_a_small_amount_is_rounded_by_its_share_and_not_by_its_last_digit(cinnamon: str, same: bool) -> None:
    sauce = facts().tested_recipe["mango-sauce"]
    lines = [f"{cinnamon} tsp ground cinnamon" if "cinnamon" in one.name else one.line for one in sauce.ingredients]
    assert (beside(*lines, tested_recipe=sauce.id).differences == ()) is same


@pytest.mark.parametrize("recipe", facts().tested_recipes, ids=lambda recipe: recipe.id)
def test_lines_in_another_order_are_the_same_recipe(recipe: nearest.TestedRecipe) -> None:
    lines = [one.line for one in reversed(recipe.ingredients)]
    found = beside(*lines, tested_recipe=recipe.id, jars=(JarCount(recipe.yield_jar, 7),))
    assert found.same_formula


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"vinegar": "1 cup vinegar, 4 percent"}, "vinegar of 4 percent"),
        ({"vinegar": "1 cup vinegar (4 to 6%)"}, "vinegar of 4 percent"),
        ({"vinegar": "1 cup vinegar, 40-grain"}, "vinegar of 4 percent"),
        ({"vinegar": "1 cup vinegar"}, "vinegar of no stated strength"),
        ({"vinegar": ""}, "no vinegar"),
        ({"vinegar": "1 cup vinegar (5%) (optional)"}, "vinegar may be left out"),
        ({"vinegar": "1 cup bottled lemon juice"}, "lemon juice instead of vinegar"),
        ({"tomato": "5 lb tomatoes, drained"}, "tomato drained"),
        ({"tomato": "5 lb tomatoes, pureed"}, "tomato pureed"),
        ({"tomato": "5 lb tomatoes, unpeeled"}, "tomato unpeeled"),
        ({"extra": "2 cups corn"}, "corn added"),
        ({"onion": "1 1/2 lb onions, chopped"}, "1 1/2 times the onion"),
        ({"onion": "onions, chopped"}, "no amount of onion"),
    ],
)
def test_a_difference_says_what_it_is(changed: dict[str, str], says: str) -> None:
    assert [said for _, said in kinds(salsa(**changed))] == [says]


@pytest.mark.parametrize("same", ["1 cup vinegar, 6 percent", "1 cup vinegar, 50-grain", "1 cup vinegar (5 to 6%)"])
def test_stronger_vinegar_is_the_printed_one(same: str) -> None:
    assert salsa(vinegar=same).same_formula


def test_juice_that_is_printed_bottled_is_said_to_be() -> None:
    lines = [one.line for one in facts().tested_recipe["choice-salsa"].ingredients]
    lines[2] = "1 1/2 cups lemon juice"
    assert kinds(beside(*lines, tested_recipe="choice-salsa")) == [("form", "lemon juice not said to be bottled")]


@pytest.mark.parametrize(
    ("lines", "scale"),
    [
        (("9 cups crushed plums", "15 cups sugar", "2 pouches (3 oz each) liquid pectin"), 2),
        (("9 cups crushed plums", "15 cups sugar", "1 pouch (3 oz) liquid pectin"), 2),
        (("9 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"), 1),
        (("4 1/2 cups crushed plums", "15 cups sugar", "2 pouches (3 oz each) liquid pectin"), 2),
        (("4.725 cups crushed plums", "7.875 cups sugar", "1.05 pouches (3 oz) liquid pectin"), Fraction(21, 20)),
        (("4.51 cups crushed plums", "7.52 cups sugar", "1 pouch (3 oz) liquid pectin"), 1),
    ],
)
def test_most_of_the_batch_decides_how_large_it_is(lines: tuple[str, ...], scale: Fraction) -> None:
    found = beside(*lines, tested_recipe="plum-jam-liquid").scale
    assert found.exact
    assert found.low == scale


@pytest.mark.parametrize(("dill", "same"), [("1 1/2 heads", True), ("1 1/2", False), ("1 1/2 sprigs", False)])
def test_heads_are_counted_beside_heads_alone(dill: str, same: bool) -> None:
    pickles = facts().tested_recipe["quick-dill-pickles"]
    lines = [f"{dill} fresh dill per pint" if one.name == "dill" else one.line for one in pickles.ingredients]
    assert (beside(*lines, tested_recipe=pickles.id, jars=(JarCount("pint", 7),)).differences == ()) is same


@pytest.mark.parametrize(
    ("changed", "weight"),
    [
        ({}, 0),
        ({"onion": ""}, 4),
        ({"extra": "2 cups corn"}, 4),
        ({"vinegar": "1 cup bottled lemon juice"}, 4),
        ({"onion": "2 lb onions, chopped"}, 2),
        ({"vinegar": "1 cup vinegar"}, 2),
        ({"spice": ""}, 1),
        ({"extra": "1 tsp dried thyme"}, 1),
        ({"salt": "6 tsp salt"}, 1),
        ({"onion": "", "spice": ""}, 5),
    ],
)
def test_a_missing_food_sets_a_recipe_further_apart_than_a_missing_spice(changed: dict[str, str], weight: int) -> None:
    assert nearest._weight_of(salsa(**changed).differences) == weight
