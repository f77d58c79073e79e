"""Packs of one food with rows of their own are told apart by what title and lines say, or not taken at all."""

import pytest

from service.checks.bodies import RecipeCheckRequest
from service.checks.checking import check_recipe

ACID = "2 tbsp bottled lemon juice per quart"
SEA_LEVEL_QUARTS = [{"size": "quart", "count": 7}]


def answer(title: str, *lines: str):
    body = {"title": title, "ingredients": list(lines), "jars": SEA_LEVEL_QUARTS}
    return check_recipe(RecipeCheckRequest.model_validate(body), altitude_ft=0)


@pytest.mark.parametrize(
    ("title", "line", "product", "minutes"),
    [  # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 3: quarts in boiling water, 0 to 1,000 ft
        pytest.param("From the garden", "22 lb tomatoes, crushed", "tomatoes-crushed", 45, id="crushed, by its line"),
        pytest.param("Tomato juice", "23 lb tomatoes", "tomato-juice", 40, id="juice, by its title"),
        pytest.param("Tomato sauce", "46 lb tomatoes", "tomato-sauce", 40, id="sauce, by its title"),
    ],
)
def test_the_words_say_which_row_governs(title: str, line: str, product: str, minutes: int) -> None:
    checked = answer(title, line, ACID)
    assert (checked.verdict, checked.product) == ("ready", product)
    quarts = [option for option in checked.process.options if option.method == "boiling-water"]
    assert {option.minutes for option in quarts if "quart" in option.jar_sizes} == {minutes}


@pytest.mark.parametrize(
    "lines",
    [
        pytest.param(("23 lb tomatoes, quartered", ACID), id="tomatoes, which may become juice, sauce or crushed"),
        pytest.param(("21 lb peeled apples, cored", "1/2 cup water"), id="apples, which may become slices or sauce"),
    ],
)
def test_what_isnt_told_apart_is_asked_for(lines: tuple[str, ...]) -> None:
    assert answer("From the garden", *lines).verdict != "ready"


def test_a_tested_recipes_own_longer_time_is_the_only_one_shown() -> None:
    """A cranberry conserve printed with more minutes than the row of conserves (extension recipe, read in a copy)."""
    lines = ["1 orange, unpeeled, finely chopped", "1 c water", "3 c granulated sugar", "1 quart washed cranberries"]
    lines += ["½ c seedless raisins", "½ c nuts, chopped walnut or pecan"]
    body = {"title": "Cranberry conserve", "ingredients": lines, "jars": [{"size": "half-pint", "count": 4}]}
    checked = check_recipe(RecipeCheckRequest.model_validate(body), altitude_ft=0)
    shown = {
        option.minutes
        for option in checked.process.options
        if option.method == "boiling-water" and "half-pint" in option.jar_sizes
    }
    assert checked.verdict == "ready"
    assert len(shown) == 1
    assert min(shown) > 5


def test_food_measured_by_the_can_has_been_canned_before() -> None:
    checked = answer("Peaches", "4 cans (106 oz) peaches")
    assert (checked.verdict, checked.findings[0].rule) == ("unsafe", "recanning-bar")


def test_a_can_that_a_tested_recipe_lists_is_no_canning_again() -> None:
    """Pineapple jam with liquid pectin starts from canned fruit: USDA (AIB 539, 2015), Guide 7."""
    lines = [
        "1 can (20 oz) crushed pineapple",
        "3 tbsp lemon juice",
        "3 1/4 cups sugar",
        "1 pouch (3 oz) liquid pectin",
    ]
    body = {"title": "Pineapple jam", "ingredients": lines, "jars": [{"size": "half-pint", "count": 4}]}
    assert check_recipe(RecipeCheckRequest.model_validate(body), altitude_ft=0).verdict == "ready"


def test_whole_tomatoes_dont_take_the_shorter_time_of_crushed_ones() -> None:
    body = {"title": "Tomatoes", "ingredients": ["21 lb whole tomatoes", ACID], "jars": SEA_LEVEL_QUARTS}
    sent = RecipeCheckRequest.model_validate(body | {"product": "tomatoes-crushed"})
    assert check_recipe(sent, altitude_ft=0).verdict != "ready"


@pytest.mark.parametrize(
    ("place", "verdict"),
    [
        pytest.param("refrigerator", "ready", id="kept cold, so no process is needed"),
        pytest.param("next to the refrigerator", "unsafe", id="a shelf, whatever stands beside it"),
        pytest.param("pantry", "unsafe", id="a pantry"),
    ],
)
def test_only_a_cold_place_keeps_food_cold(place: str, verdict: str) -> None:
    body = {"title": "Snap beans", "ingredients": ["14 lb green beans"], "jars": SEA_LEVEL_QUARTS}
    body |= {"process": {"method": "boiling-water", "minutes": 25}, "handling": {"storage": place}}
    assert check_recipe(RecipeCheckRequest.model_validate(body), altitude_ft=0).verdict == verdict
