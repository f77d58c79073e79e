"""Which statement lets a change of a tested recipe through, and the change beside it that none lets through.

The statements are those of the published catalogue, named by their id; None: a mixture of one's own.
"""

from typing import Any

import pytest

from service.core.rules.permitted import allowance, is_too_much_spice, not_allowed
from tests.core.rules.cases import case, of_tested

SALSA, LEMON_SALSA, PASTE = "chile-salsa", "tomato-paste-salsa", "salsa-thicken"
RELISH, BEETS, CROCK = "corn-relish", "pickled-beets", "fermented-dill-pickles"


def changed(id: str, name: str, line: str) -> tuple[str, dict[str, Any]]:
    return id, {"change": {name: line}}


def added(id: str, *lines: str, **sent: Any) -> tuple[str, dict[str, Any]]:
    return id, {"add": lines, **sent}


def left_out(id: str, *names: str) -> tuple[str, dict[str, Any]]:
    return id, {"without": names}


ALLOWED: tuple[tuple[tuple[str, dict[str, Any]], str | None], ...] = (
    (left_out(SALSA, "salt"), "salt-optional"),
    (changed(SALSA, "salt", "2 tsp kosher salt"), "salt-optional"),
    (changed(SALSA, "salt", "6 tsp salt"), None),
    (changed(CROCK, "salt", "1/4 cup canning salt"), None),
    (added(SALSA, "1 tsp dried thyme"), "dry-spice-change"),
    (added(SALSA, "2 tbsp prepared mustard"), None),
    (added(SALSA, "1/4 cup raisins"), None),
    (changed(BEETS, "sugar", "1 cup granulated sugar"), "canning-liquid-sugar-ok"),
    (added(SALSA, "1 tbsp sugar"), "canning-liquid-sugar-ok"),
    (added(SALSA, "1 tbsp sucralose"), None),
    (added(CROCK, "1 cup sugar"), None),
    (changed("peach-pie-filling-7qt", "sugar", "3 cups granulated sugar"), None),
    (changed(LEMON_SALSA, "jalapeno pepper", "6 serrano peppers, seeded, finely chopped"), "salsa-pepper-swap"),
    (changed("choice-salsa", "onion and pepper", "8 cups diced onions"), "salsa-onion-swap"),
    (changed("choice-salsa", "onion and pepper", "9 1/2 cups diced onions"), None),
    (changed("tomato-salsa-slicing", "slicing tomato", "4 cups chopped tomatillos"), "salsa-tomato-swap"),
    (changed("tomato-salsa-slicing", "slicing tomato", "3 cups chopped tomatillos"), None),
    (changed("tomatillo-green-salsa", "tomatillo", "5 cups chopped red tomatoes"), None),
    (added(SALSA, "6 oz tomato paste"), PASTE),
    (added(SALSA, "7 oz tomato paste"), None),
    (added(SALSA, "tomato paste"), None),
    (added("pickle-relish", "6 oz tomato paste"), None),
    (changed(SALSA, "onion", "1/2 lb chopped onions"), "salsa-onion-swap"),
    (changed(RELISH, "celery", "1 cup chopped celery"), "low-acid-cut-ok"),
    (changed("marinated-mushrooms", "lemon juice", "1/2 cup bottled lime juice"), "acid-never-cut"),
    (changed("marinated-mushrooms", "lemon juice", "7/16 cup bottled lime juice"), None),
    (changed(LEMON_SALSA, "lemon juice", "3 cups bottled lemon juice"), "acid-never-cut"),
    (changed(LEMON_SALSA, "lemon juice", "1 3/4 cups bottled lime juice"), None),
    (changed(LEMON_SALSA, "lemon juice", "2 cups vinegar (5%)"), None),
    (added(BEETS, "1 cup vinegar (5%)"), "acid-never-cut"),
    (added("plum-jam-liquid", "1/4 cup bottled lemon juice"), "fruit-swap-acid-class"),
    (changed(SALSA, "vinegar", "1 cup bottled lemon juice"), "salsa-acid-one-way"),
    (changed(SALSA, "vinegar", "7/8 cup bottled lemon juice"), None),
    (changed(BEETS, "vinegar", "4 cups bottled lemon juice"), None),
    (changed(BEETS, "water", "1 cup water"), "vinegar-to-water-ratio-fixed"),
    (left_out(BEETS, "water"), "vinegar-to-water-ratio-fixed"),
    (changed(BEETS, "water", "3 cups water"), None),
    (added(BEETS, "1 cup pickling lime"), "lime-and-lye-reset"),
    (added(SALSA, "1 cup pickling lime"), None),
    (added(SALSA, "1/4 tsp ascorbic acid"), "lime-and-lye-reset"),
    (added("peach-jam-powder", "1 cup chopped walnuts"), None),
    (changed("marinated-mushrooms", "olive oil", "1 cup olive oil"), "thickener-bar"),
    (changed("marinated-mushrooms", "olive oil", "3 cups olive oil"), None),
    (left_out("apple-pie-filling-1qt", "canning starch"), "thickener-bar"),
    (changed("plum-jam-liquid", "plum", "4 1/2 cups crushed apricots"), "fruit-swap-acid-class"),
    (changed("plum-jam-liquid", "plum", "4 1/2 cups crushed figs"), None),
    (left_out("plum-jam-liquid", "plum"), None),
    (added("ground-meat", "6 cloves garlic", jars={"quart": 6}), "meat-seasoning-small"),
    (added("ground-meat", "7 cloves garlic", jars={"quart": 6}), None),
    (added("ground-meat", "2 tbsp chopped onions per quart", jars={"quart": 6}), "meat-seasoning-small"),
    (added("ground-meat", "2 1/4 tbsp chopped onions per quart", jars={"quart": 6}), None),
    (added("ground-meat", "1 tbsp chopped celery per quart", jars={"quart": 6}), None),
    (added("carrots", "6 cloves garlic", jars={"quart": 6}), None),
)


@pytest.mark.parametrize(
    ("edit", "statement"), [pytest.param(*row, id=f"{number} {row[0][0]}") for number, row in enumerate(ALLOWED)]
)
def test_a_change_is_let_through_by_its_statement_alone(
    edit: tuple[str, dict[str, Any]], statement: str | None
) -> None:
    id, sent = edit
    judged = of_tested(id, **sent)
    assert judged.tested is not None
    assert {allowance(judged, found) for found in judged.tested.differences} == {statement}


@pytest.mark.parametrize(
    ("vinegar", "juice", "enough"),
    [
        ("1/2 cup", "1/2 cup", True),
        ("1/2 cup", "7/16 cup", False),
        ("1/4 cup", "3/4 cup", True),
        ("1/4 to 1/2 cup", "3/4 cup", True),
        ("1/4 to 1/2 cup", "1/2 cup", False),
        ("1/2 cup", "1/4 to 1/2 cup", False),
    ],
)
def test_juice_makes_up_for_all_the_vinegar_that_is_missing(vinegar: str, juice: str, enough: bool) -> None:
    """Cup for cup, in a salsa printed with 1 cup of vinegar."""
    judged = of_tested(SALSA, change={"vinegar": f"{vinegar} vinegar (5%)"}, add=[f"{juice} bottled lemon juice"])
    assert (not_allowed(judged) == ()) is enough


@pytest.mark.parametrize(
    ("spice", "jars", "much"),
    [
        ("28 tbsp chili powder", {"quart": 7}, False),
        ("28 1/4 tbsp chili powder", {"quart": 7}, True),
        ("4 tbsp chili powder per quart", {"quart": 7}, False),
        ("4 1/4 tbsp chili powder per quart", {"quart": 7}, True),
        ("28 tbsp chili powder", {"quart": 6}, True),
        ("4 cinnamon sticks", {"quart": 7}, False),
        ("chili powder", {"quart": 7}, False),
        ("4 oz chili powder", None, False),
        ("4 1/4 oz chili powder", None, True),
        ("8 cups carrots", {"quart": 1}, False),
    ],
)
def test_a_seasoning_is_a_little_to_the_quart_or_to_the_pot(
    spice: str, jars: dict[str, int] | None, much: bool
) -> None:
    """4 tbsp to the quart, 4 oz where no jars are said: working limits of ours."""
    judged = case("4 lb sunchokes", spice, title="Ours", product="no-row", jars=jars)
    assert is_too_much_spice(judged, judged.parts[1]) is much
