"""Which allergens a label names: 21 U.S.C. 321 (qq), with sesame since 2023; from memory."""

import pytest

from service.core.jars.allergens import HOLDS, NINE, PLAIN, READ_THE_PACKAGE, Food, allergens
from service.published.loading import facts

INGREDIENTS = {each.id: each for each in facts().ingredients}


def of(*ids: str) -> tuple[str, ...]:
    found = (INGREDIENTS[each] for each in ids)
    return allergens([Food(each.name, each.id, each.kind, each.group) for each in found]).lines()


@pytest.mark.parametrize(
    ("ids", "says"),
    [
        pytest.param(("plum", "sugar-granulated"), "No ingredient is one of the 9 major allergens.", id="plain jam"),
        pytest.param(("plum", "butter", "walnut"), "Contains milk, tree nuts (walnut).", id="in the order of the nine"),
        pytest.param(("almond", "almond-extract"), "Contains tree nuts (almond).", id="each once"),
        pytest.param(
            ("soy-sauce",), "Contains soy. Also read the package of soy sauce.", id="soy sauce, with wheat or without"
        ),
        pytest.param(("sausage",), "Allergens: read the package of sausage.", id="bought ready"),
        pytest.param(("raisin",), "Allergens: read the package of raisin.", id="may be sulphited"),
    ],
)
def test_a_label_names_what_the_ingredients_are(ids: tuple[str, ...], says: str) -> None:
    first, shared = of(*ids)
    assert first == says
    assert "shared kitchen" in shared


def test_what_nobody_recognised_is_never_passed_over() -> None:
    first, _ = allergens([Food("grandmother's powder")]).lines()
    assert first == "Allergens: read the package of grandmother's powder."


def test_honey_is_not_for_infants() -> None:
    assert "Holds honey: not for infants under 1 year." in of("plum", "honey")


def test_every_published_ingredient_is_named_plain_or_sends_to_its_package() -> None:
    assert set(HOLDS) | READ_THE_PACKAGE | PLAIN <= set(INGREDIENTS)
    assert {each.partition(" (")[0] for each in HOLDS.values()} == set(NINE)
    silent = [each for each in INGREDIENTS.values() if len(of(each.id)) < 2]
    assert silent == []
