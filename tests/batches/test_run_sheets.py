"""What stands on a run sheet, beside the printed page."""

from typing import Any

import pytest

from service.batches import bodies
from service.batches.run_sheets import may_go_in_again
from service.checks.bodies import RecipeCheckRequest
from service.checks.checking import check_recipe
from tests.batches.make import CRUSHED_TOMATOES, HORSERADISH, SNAP_BEANS, Day, ok
from tests.conftest import Client


def measured(sheet: dict[str, Any], word: str) -> dict[str, str]:
    step = next(step for step in sheet["steps"] if step["step"] == word)
    return {amount["name"]: amount["kitchen"] for amount in step["measured"]}


def test_amounts_per_jar_are_multiplied_by_the_jars_of_this_pot(client: Client) -> None:
    """Two tablespoons of lemon juice and a teaspoon of salt a quart: AIB 539 (2015), Guide 3."""
    sheet = Day(client, CRUSHED_TOMATOES).batch["run_sheet"]
    kitchen = {each["as_written"]: each["kitchen"] for each in sheet["gather"]["ingredients"]}
    assert list(kitchen.values()) == ["22 lb", "3/4 cup + 2 tbsp", "2 tbsp + 1 tsp"]
    assert (sheet["gather"]["jars"], sheet["gather"]["lids"]) == ({"quart": 7}, 7)
    (fill,) = sheet["fill"]
    assert (fill["jar_size"], fill["count"], fill["headspace_in"]) == ("quart", 7, 0.5)
    assert [each.split(" ", 2)[:2] for each in fill["in_each_jar"]] == [["2", "tbsp"], ["1", "tsp"]]
    tomatoes = sheet["gather"]["ingredients"][0]["grams"]
    assert tomatoes == {"low": 9979.0, "high": 9979.0}  # 22 lb of 453.59237 g: NIST Handbook 44


def test_other_jars_for_the_same_pot_take_as_much_acid_in_all_and_less_each(client: Client) -> None:
    pints = CRUSHED_TOMATOES | {
        "jars": [{"size": "pint", "count": 14}],
        "process": {"method": "boiling-water", "minutes": 45},
    }
    sheet = Day(client, pints).batch["run_sheet"]
    assert sheet["gather"]["ingredients"][1]["kitchen"] == "3/4 cup + 2 tbsp"
    assert sheet["fill"][0]["in_each_jar"][0].startswith("1 tbsp")
    assert [load["count"] for load in sheet["load_plan"]] == [9, 5]
    # AIB 539 (2015), Guide 3: crushed tomatoes, pints, 3,001 to 6,000 ft.
    assert sheet["processes"][0]["minutes"] == 45


def test_jam_is_made_in_its_own_order(client: Client) -> None:
    """Fruit and sugar boiled hard one minute, then off the heat the liquid pectin: AIB 539 (2015), Guide 7."""
    sheet = Day(client).batch["run_sheet"]
    says = {step["step"]: step["says"] for step in sheet["steps"]}
    assert says["boil-hard-1-min"] == "Boil hard, with a boil that stirring doesn't stop, for 1 minute."
    assert says["pectin"] == "Put in the pectin, after the sugar, off the heat."
    assert [step["minutes"] for step in sheet["steps"] if step["step"] == "boil-hard-1-min"] == [{"low": 1, "high": 1}]
    assert list(measured(sheet, "sugar").values()) == ["7 1/2 cups"]
    assert sheet["cool_down"] == ["Turn the heat off, take the lid off, wait 5 minutes, lift the jars straight up."]
    assert sheet["may_go_in_again"]


def test_pressure_is_vented_and_falls_by_itself(client: Client) -> None:
    """Venting: PNW 421. Cooling: Recommended Canners (Guide 1), Michigan State University Extension."""
    sheet = Day(client, SNAP_BEANS, kind="pressure-dial").batch["run_sheet"]
    assert "10 minutes" in sheet["venting"]
    assert "20 to 60 minutes" in sheet["cool_down"][0]
    assert "2 psi" in sheet["cautions"][0]
    assert sheet["processes"][0]["vent_minutes"] == 10
    # AIB 539 (2015), Guide 4: quarts, dial gauge, 4,001 to 6,000 ft.
    assert (sheet["processes"][0]["minutes"], sheet["processes"][0]["pressure_psi"]) == (25, 13)


def test_a_recipe_that_vents_longer_is_vented_longer(client: Client) -> None:
    longer = SNAP_BEANS | {"steps": ["vegetable", "boil", "fill", "vent-15-min", "process"]}
    day = Day(client, longer, kind="pressure-dial")
    assert "15 minutes" in day.batch["run_sheet"]["venting"]
    ok(day.load(7))
    ok(day.heat([0.0] * 12 + [13.0] * 26, unit="psi"))
    ok(day.out())
    assert [each["cause"] for each in day.now()["deviations"]] == ["vent-too-short"]


@pytest.mark.parametrize(
    ("product", "family", "line", "pack", "twice"),
    [
        pytest.param("green-beans", "vegetable", "14 lb green beans, cut", "hot", True, id="a hot pack"),
        pytest.param("winter-squash", "vegetable", "16 lb winter squash, cubed", "hot", False, id="squash is dense"),
        pytest.param("pie-filling-apple", "pie-filling", "6 qt sliced apples", "hot", False, id="pie filling is dense"),
        pytest.param("nothing-of-the-kind", "vegetable", "2 lb leaves", "raw", False, id="no hot pack is known"),
    ],
)
def test_dense_food_and_food_without_a_hot_pack_is_not_processed_twice(
    product: str, family: Any, line: str, pack: str, twice: bool
) -> None:
    """University of Nebraska-Lincoln Extension, "Saving home-canned food when jars do not seal"."""
    recipe = RecipeCheckRequest(title="A pot", family=family, product=product, ingredients=(line,), pack=pack)
    assert may_go_in_again(recipe, check_recipe(recipe, 4200)) == twice


def test_food_that_is_not_canned_goes_straight_into_the_cold(client: Client) -> None:
    day = Day(client, HORSERADISH, kind="burner")
    sheet = day.batch["run_sheet"]
    assert (sheet["cold"]["state"], sheet["processes"], sheet["load_plan"]) == ("refrigerator", [], [])
    assert (sheet["rest"], sheet["seal_check"], sheet["may_go_in_again"]) == (None, [], False)
    assert day.load(2, canner_id=day.canner_id).status_code == 422
    path = f"{day.path}/jars"
    bad = [
        {"jar_size": "pint", "count": 1, "state": "refrigerator"},
        {"jar_size": "half-pint", "count": 0, "state": "refrigerator"},
        {"jar_size": "half-pint", "count": 1, "state": "shelf"},
        {"jar_size": "half-pint", "count": 1, "state": "freezer", "at": day.at(-1)},
    ]
    assert [day.post(path, each).json()["code"] for each in bad] == [
        "not-possible", "invalid-request", "invalid-request", "not-at-that-time",
    ]  # fmt: skip
    assert day.now()["status"] == "running"
    put = day.post(path, {"jar_size": "half-pint", "count": 1, "state": "refrigerator", "at": day.at(60)})
    assert ok(put)["lots"][0]["state"] == "refrigerator"
    ok(day.post(path, {"jar_size": "half-pint", "count": 1, "state": "freezer", "at": day.at(61)}))
    assert day.holders() == {"refrigerator": 1, "freezer": 1}
    assert day.now()["status"] == "done"
    assert ok(client.get(f"/v1/bookings/{day.booking['id']}", headers=client.member.headers))["status"] == "done"
    assert not ok(day.ph(4.9))["on_hold"]  # kept cold its whole life: 21 CFR 114.80 doesn't ask
    ok(day.deviation("something-else", load=None))
    assert day.holders() == {"hold": 2}
    more = ok(day.post(path, {"jar_size": "half-pint", "count": 1, "state": "refrigerator", "at": day.at(62)}))
    assert [(lot["state"], lot["count"]) for lot in more["lots"]] == [("hold", 1)]
    assert day.holders() == {"hold": 3}
    ok(day.decide("release", evaluation="The recipe's own publisher answered in writing."))
    assert day.holders() == {"refrigerator": 2, "freezer": 1}


def test_canned_food_does_not_go_around_the_canner(client: Client) -> None:
    day = Day(client)
    answer = day.post(f"{day.path}/jars", {"jar_size": "half-pint", "count": 1, "state": "freezer"})
    assert (answer.status_code, answer.json()["code"]) == (422, "not-possible")


def test_a_run_sheet_that_was_written_with_fewer_fields_is_served_all_the_same(client: Client) -> None:
    new = ("gather", "fill", "cold", "may_go_in_again")
    sheet = {name: value for name, value in Day(client).batch["run_sheet"].items() if name not in new}
    sheet["steps"] = [{k: v for k, v in step.items() if k not in ("measured", "minutes")} for step in sheet["steps"]]
    sheet["processes"] = [{k: v for k, v in each.items() if k != "vent_minutes"} for each in sheet["processes"]]
    assert bodies.RunSheet.model_validate(sheet).gather is None
