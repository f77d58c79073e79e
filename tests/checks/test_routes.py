"""Checking a recipe over HTTP: open to anyone, at the kitchen's altitude for a member, and nothing stored."""

import json
from typing import Any

import pytest

from tests.conftest import Client

CHECKS = "/v1/recipe-checks"
JAM: dict[str, Any] = {
    "title": "Damson jam",
    "family": "jam",
    "product": None,
    "ingredients": [
        "4 1/2 cups crushed damsons",
        {"name": "sugar", "amount": 7.5, "unit": "cup"},
        "1 pouch (3 oz) liquid pectin",
    ],
    "steps": ["fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin", "fill"],
    "pack": "hot",
    "headspace_in": 0.25,
    "jars": [{"size": "half-pint", "count": 8}],
    "process": {"method": "boiling-water", "minutes": 10, "pressure_psi": None},
    "altitude_ft": 2500,
    "tested_recipe": None,
    "handling": {"sterile_jars": True},
}


def test_anyone_may_check_a_recipe(client: Client) -> None:
    answer = client.post(CHECKS, json=JAM)
    assert answer.status_code == 200
    check = answer.json()
    assert check["verdict"] == "ready"
    assert check["product"] == "jam-or-jelly-with-pectin"
    assert check["inferred"] == ["product"]
    assert check["process"]["status"] == "published"
    assert {option["minutes"] for option in check["process"]["options"]} == {10}
    assert check["yield"]["jars"][0]["size"] == "half-pint"
    assert check["formula"]["total_grams"]["low"] < check["formula"]["total_grams"]["high"]
    assert check["tested_recipe"]["id"] == "plum-jam-liquid"
    assert check["rulebook"]
    assert check["notice"]


def test_less_sugar_is_revised_with_where_and_how_much_and_who_says_so(client: Client) -> None:
    ingredients = [JAM["ingredients"][0], "5 cups sugar", JAM["ingredients"][2]]
    check = client.post(CHECKS, json=JAM | {"ingredients": ingredients}).json()
    assert check["verdict"] == "revise"
    (finding,) = (one for one in check["findings"] if one["rule"] == "regular-pectin-sugar-floor")
    assert finding["severity"] == "set-failure"
    assert finding["where"] == "#/ingredients/1"
    assert finding["measured"]["low"] == pytest.approx(2 / 3, abs=1e-5)
    assert finding["source"]["title"]
    assert finding["fix"]


def test_a_stranger_says_the_altitude(client: Client) -> None:
    answer = client.post(CHECKS, json={name: value for name, value in JAM.items() if name != "altitude_ft"})
    assert answer.status_code == 422
    assert answer.json()["code"] == "altitude-needed"


def test_a_members_kitchen_stands_where_it_stands(client: Client) -> None:
    here = {name: value for name, value in JAM.items() if name != "altitude_ft"}
    assert client.post(CHECKS, json=here, headers=client.member.headers).json()["verdict"] == "ready"
    assert client.post(CHECKS, json=here | {"altitude_ft": 4200}, headers=client.member.headers).status_code == 200
    refused = client.post(CHECKS, json=here | {"altitude_ft": 300}, headers=client.member.headers)
    assert refused.status_code == 422
    assert refused.json()["code"] == "wrong-altitude"


def test_odd_content_is_judged_and_not_refused(client: Client) -> None:
    odd = JAM | {
        "ingredients": ["???", {"name": "moon dust", "amount": 1e5, "unit": "smidgen"}, "1 cup zorblax"],
        "product": "no-such-product",
        "steps": ["sing", "dance"],
        "pack": "loose",
        "jars": [{"size": "bathtub", "count": 1}],
        "process": {"method": "open-kettle", "minutes": None},
        "tested_recipe": "no-such-recipe",
        "handling": {"closure": "cork", "equipment": "a bucket", "storage": "attic"},
    }
    answer = client.post(CHECKS, json=odd)
    assert answer.status_code == 200
    assert answer.json()["verdict"] == "unsafe"


@pytest.mark.parametrize(
    ("change", "status"),
    [
        pytest.param({"ingredients": []}, 422, id="no ingredients"),
        pytest.param({"ingredients": ["1 cup sugar"] * 201}, 422, id="too many ingredients"),
        pytest.param({"ingredients": [{"name": "sugar", "amount": -1}]}, 422, id="a negative amount"),
        pytest.param({"ingredients": [{"name": "sugar", "amount": "5"}]}, 422, id="a number as text"),
        pytest.param({"ingredients": [7]}, 422, id="a number for a line"),
        pytest.param({"ingredients": ["1 cup \u0000 sugar"]}, 422, id="a control character"),
        pytest.param({"title": ""}, 422, id="no title"),
        pytest.param({"title": None}, 422, id="a title of nothing"),
        pytest.param({"altitude_ft": 1e9}, 422, id="an altitude in space"),
        pytest.param({"altitude_ft": 500.5}, 422, id="half a foot"),
        pytest.param({"altitude_ft": True}, 422, id="a flag for a number"),
        pytest.param({"jars": [{"size": "pint", "count": 0}]}, 422, id="no jars"),
        pytest.param({"process": {"method": "boiling-water", "minutes": 10.5}}, 422, id="half a minute"),
        pytest.param({"colour": "red"}, 422, id="a field we don't know"),
        pytest.param({"family": "pudding"}, 422, id="a family we don't know"),
        pytest.param({"title": "x" * 70_000}, 413, id="a body over 64 KiB"),
    ],
)
def test_what_isnt_a_recipe_is_refused(client: Client, change: dict[str, Any], status: int) -> None:
    answer = client.post(CHECKS, json=JAM | change)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "1e400000"])
def test_no_number_without_end_gets_in(client: Client, number: str) -> None:
    body = json.dumps(JAM).replace('"amount": 7.5', f'"amount": {number}')
    answer = client.post(CHECKS, content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code in (400, 422)


def test_many_recipes_are_answered_in_order_and_a_bad_one_spoils_no_other(client: Client) -> None:
    unsweetened = JAM | {"ingredients": [JAM["ingredients"][0], JAM["ingredients"][2]]}
    nowhere = {name: value for name, value in JAM.items() if name != "altitude_ft"}
    batch = {"recipes": [JAM, JAM | {"ingredients": []}, unsweetened, nowhere, {}, 5]}
    answer = client.post(f"{CHECKS}/batch", json=batch)
    assert answer.status_code == 200
    ready, shapeless, revised, no_altitude, empty, number = answer.json()["results"]
    assert ready["verdict"] == "ready"
    assert shapeless["problem"]["code"] == "invalid-request"
    assert shapeless["problem"]["errors"][0]["pointer"] == "#/ingredients"
    assert revised["verdict"] == "revise"
    assert no_altitude["problem"]["code"] == "altitude-needed"
    assert empty["problem"]["code"] == "invalid-request"
    assert [error["pointer"] for error in number["problem"]["errors"]] == ["#"]
    assert no_altitude["problem"].keys() == {"type", "title", "status", "code", "detail", "instance"}
    assert empty["problem"]["errors"][0].keys() == {"pointer", "code", "detail"}


def test_what_is_null_or_a_list_of_nothing_is_taken_as_not_sent(client: Client) -> None:
    sugar = {"name": "sugar", "amount": 7.5, "unit": "cup", "amount_max": None, "form": None, "per_jar": None}
    nothing = {"ingredients": [JAM["ingredients"][0], sugar | {"optional": None}, JAM["ingredients"][2]], "steps": []}
    check = client.post(CHECKS, json=JAM | nothing | {"handling": {"skipped_steps": None, "closure": None}}).json()
    assert (check["verdict"], check["inferred"]) == ("ready", ["product", "steps"])


def test_a_batch_holds_at_most_200_recipes(client: Client) -> None:
    assert client.post(f"{CHECKS}/batch", json={"recipes": [JAM] * 201}).status_code == 422
    assert client.post(f"{CHECKS}/batch", json={"recipes": []}).status_code == 422
