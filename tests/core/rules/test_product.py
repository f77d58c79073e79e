"""What a recipe makes: its family by its title and food, and the product whose rows may cover it."""

import pytest

from service.core.rules import product
from service.core.rules.case import Role
from tests.core.rules.cases import FACTS, case


@pytest.mark.parametrize(
    ("title", "lines", "family"),
    [
        ("Plum jam", ("4 cups plums", "4 cups sugar"), "jam"),
        ("Peach butter", ("4 cups peaches", "2 cups sugar"), "fruit-butter"),
        ("Pickled okra", ("4 lb okra", "4 cups vinegar (5%)"), "pickle"),
        ("Cherry pie filling", ("4 cups cherries", "1 cup sugar"), "pie-filling"),
        ("Sauerkraut", ("25 lb cabbage", "3/4 cup canning salt"), "ferment"),
        ("Chicken stock", ("4 qt chicken broth",), "soup"),
        ("Sunday's", ("4 lb okra", "1 lb tomatoes"), "vegetable"),
        ("Sunday's", ("1 lb okra", "4 lb tomatoes"), "tomato"),
        ("Sunday's", ("4 lb plums", "1 lb okra"), "fruit"),
        ("Sunday's", ("4 lb beef", "1 lb okra"), "meat"),
        ("Sunday's", ("2 cups water",), None),
    ],
)
def test_a_family_is_told_by_the_title_then_by_most_of_the_food(
    title: str, lines: tuple[str, ...], family: str | None
) -> None:
    assert case(*lines, title=title).family == family


def test_what_comes_first_is_most_where_no_weight_is_known() -> None:
    assert product.main_role(case("plums", "okra").parts) is Role.FRUIT
    assert product.main_role(case("2 cups water").parts) is Role.UNKNOWN


@pytest.mark.parametrize(
    ("title", "lines", "made"),
    [
        ("Plum jam", ("4 cups plums", "9 cups sugar", "1 pouch (3 oz) liquid pectin"), "jam-or-jelly-with-pectin"),
        ("Kiwi jam", ("4 cups kiwis", "9 cups sugar"), "jam-no-added-pectin"),
        ("Quince jelly", ("4 cups quince juice", "9 cups sugar"), "jelly-no-added-pectin"),
        ("Kiwi jam", ("4 cups kiwis", "9 cups sugar", "1 package (1 3/4 oz) low-sugar pectin"), None),
        ("Rhubarb", ("10 lb rhubarb", "2 cups sugar"), "rhubarb"),
        ("Green beans", ("14 lb green beans",), "green-beans"),
        ("Corn, cream style", ("20 lb corn, cream style",), "corn-cream-style"),
        ("Corn", ("20 lb whole kernel corn",), "corn-whole-kernel"),
        ("Ours", ("14 lb asparagus",), "asparagus"),
        ("Ours", ("14 lb eggplant",), None),
        ("Ours", ("12 lb blackberries", "9 cups water"), "berries"),
        ("Pear relish", ("14 lb pears", "4 cups vinegar (5%)"), None),
    ],
)
def test_a_product_is_told_by_title_and_food(title: str, lines: tuple[str, ...], made: str | None) -> None:
    assert case(*lines, title=title).product == made


def test_packs_of_one_food_are_all_named() -> None:
    corn = case("20 lb sweet corn").parts
    assert set(product.packs_of(corn, FACTS)) == {"corn-cream-style", "corn-whole-kernel"}
    assert product.packs_of(case("2 cups water").parts, FACTS) == []
    assert product.packs_of(case("20 lb sweet corn", "1 lb okra").parts, FACTS) == []


@pytest.mark.parametrize(
    ("line", "pack", "another"),
    [  # as printed, and in a form that heats otherwise (Complete Guide, Guides 2 to 5)
        ("4 lb carrots, peeled, sliced", "carrots", False),
        ("4 lb carrots, unpeeled", "carrots", True),
        ("4 lb carrots, pureed", "carrots", True),
        ("4 lb carrots, whole", "carrots", True),
        ("4 lb pumpkin, 1-inch cubes", "pumpkin-or-winter-squash-cubed", False),
        ("4 lb pumpkin, 2-inch cubes", "pumpkin-or-winter-squash-cubed", True),
        ("4 lb pumpkin, 1 1/2-inch cubes", "pumpkin-or-winter-squash-cubed", True),
        ("4 lb pumpkin, 1/2-inch cubes", "pumpkin-or-winter-squash-cubed", False),
        ("4 lb potatoes, 2-inch", "white-potatoes", False),
        ("4 lb potatoes, 3-inch", "white-potatoes", True),
        ("4 lb tomatoes, crushed", "tomatoes-crushed", False),
        ("4 lb tomatoes, whole", "tomatoes-crushed", True),
        ("4 lb plums, pureed", "plums", True),
        ("4 lb plums, pureed", "fruit-puree", False),
        ("4 lb peppers, stuffed", "peppers", True),
        ("4 lb chicken, ground", "chicken-or-rabbit-without-bones", True),
        ("1 tsp ground cinnamon", "chicken-or-rabbit-without-bones", False),
        ("4 lb nectarines, unpeeled", "nectarines", False),
    ],
)
def test_a_row_is_for_the_kind_and_size_that_was_printed(line: str, pack: str, another: bool) -> None:
    (part,) = case(line).parts
    assert product.is_another_kind(part.food, pack) is another
