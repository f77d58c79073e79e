"""Names as cooks write them, and the published ingredient they mean."""

import pytest

from service.core.rules.recognition import recogniser
from service.published.loading import facts


def meant(name: str, form: str = "", *, spoonful: bool = False) -> str | None:
    found = recogniser(facts()).recognise(name, form, spoonful)
    return found.id if found else None


@pytest.mark.parametrize(
    ("name", "form", "id"),
    [
        pytest.param("apple", "", "apple", id="its own name"),
        pytest.param("Strawberries", "", "strawberry", id="a plural"),
        pytest.param("bell pepper, seeded", "", "pepper-sweet-colour-not-stated", id="what was done, after a comma"),
        pytest.param("crushed tomatoes", "", "tomato-red", id="what was done, before it"),
        pytest.param("distilled white vinegar", "", "vinegar-white-distilled", id="words in another order"),
        pytest.param("4-inch pickling cucumbers", "", "cucumber-pickling", id="a size"),
        pytest.param("jalapeños", "", "pepper-jalapeno", id="an accent"),
        pytest.param("Granny Smith apples", "", "apple", id="a variety beside its kind"),
        pytest.param("damsons", "", "plum", id="a variety alone"),
        pytest.param("scallions", "", "onion-green", id="a trade synonym"),
        pytest.param("peach", "white-flesh, halved", "peach-white", id="white flesh"),
        pytest.param("white-fleshed peaches", "", "peach-white", id="white-fleshed"),
        pytest.param("peach", "hard, underripe, yellow, diced", "peach-yellow", id="yellow flesh"),
        pytest.param("mango", "unripe, diced", "mango-green", id="unripe"),
        pytest.param("mango", "", "mango-ripe", id="a mango of no stated ripeness is taken as low-acid"),
        pytest.param("lemon juice", "bottled", "lemon-juice-bottled", id="bottled"),
        pytest.param("lemon juice", "freshly squeezed", "lemon-juice-fresh", id="squeezed"),
        pytest.param("lemon juice", "", "lemon-juice-kind-not-stated", id="of no stated kind"),
        pytest.param("tomato", "canned, diced, undrained", "tomato-canned", id="canned"),
        pytest.param("kidney bean", "canned, drained", "bean-kidney-canned", id="canned beans"),
        pytest.param("chickpeas", "", "chickpea-dry", id="a chickpea by the cup is dry unless said"),
        pytest.param("kosher salt", "", "salt-kosher-brand-unstated", id="kosher salt"),
        pytest.param("salt", "reduced-sodium", "salt-reduced-sodium", id="reduced-sodium salt"),
        pytest.param("powdered pectin", "", "pectin-powdered-regular", id="powdered means regular"),
        pytest.param("pectin", "", "pectin-kind-not-stated", id="plain pectin doesn't say"),
        pytest.param("basil", "dried leaves", "basil-dried", id="dried"),
        pytest.param("rhubarb", "red stalks, juice pressed", "rhubarb", id="pressing makes no other food"),
        pytest.param("pineapple", "canned, crushed", "pineapple-canned-in-juice", id="canned pineapple"),
    ],
)
def test_a_name_is_known(name: str, form: str, id: str) -> None:
    assert meant(name, form) == id


@pytest.mark.parametrize(
    "name",
    ["zorblax", "apple pie", "peach cobbler mix", "sugar beet pulp silage", "dragon sausage", "pickled widgets", ""],
)
def test_a_name_with_a_word_nobody_published_stays_unknown(name: str) -> None:
    assert meant(name) is None


@pytest.mark.parametrize("form", ["dried", "candied", "smoked", "pickled"])
def test_a_fruit_made_into_something_else_isnt_the_fruit(form: str) -> None:
    assert meant("peach", form) != meant("peach")


def test_a_spoonful_of_pepper_is_the_spice() -> None:
    assert meant("pepper", spoonful=True) == "pepper-black"
    assert meant("pepper", spoonful=False) == "pepper-kind-not-stated"


def test_every_published_name_means_an_ingredient() -> None:
    for ingredient in facts().ingredients:
        for name in (ingredient.name, *ingredient.aliases):
            assert recogniser(facts()).recognise(name, "", False) is not None, name


def test_every_ingredient_of_a_tested_recipe_is_known() -> None:
    for recipe in facts().tested_recipes:
        for one in recipe.ingredients:
            assert meant(one.name, one.form or "") is not None, f"{recipe.id}: {one.name}"
