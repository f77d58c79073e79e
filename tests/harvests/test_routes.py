from datetime import timedelta
from itertools import pairwise
from typing import Any
from uuid import uuid4

from service.web.types import write_timestamp
from tests.batches.make import PLUM_JAM, ok, recipe
from tests.bookings.test_whole_batches import Kitchen
from tests.conftest import Client, Person
from tests.pantry.make import lot


def plan(client: Client, *recipes: str, by: Person | None = None, **produce: Any) -> Any:
    harvest = {"name": "plums", "amount": 12, "unit": "lb", "use_by": "2027-06-18"} | produce
    body = {"produce": [harvest], "recipes": list(recipes)}
    return client.post("/v1/harvest-plans", json=body, headers=(by or client.member).headers)


def test_a_harvest_becomes_whole_pots_with_times_supplies_and_a_rest(client: Client) -> None:
    kitchen = Kitchen(client)
    found = ok(plan(client, kitchen.recipe, amount=6))
    (batch,) = found["batches"]
    pots = batch["pots"]
    assert pots >= 1
    assert batch["jars"] == found["jars"] == [{"size": "half-pint", "count": {"low": 8 * pots, "high": 8 * pots}}]
    bought = {each["role"]: each for each in found["supplies"]}
    assert {"sweetener", "pectin", "jar", "lid"} <= set(bought)
    assert "fruit" not in bought
    assert bought["sweetener"]["each_pot"] == "7 1/2 cups sugar"
    # USDA Complete Guide to Home Canning, Guide 7: 7 1/2 cups of sugar in a pot; a cup of it weighs 200 g in USDA SR
    assert bought["sweetener"]["grams"]["low"] <= 1500 * pots <= bought["sweetener"]["grams"]["high"]
    assert bought["lid"]["count"] == {"low": 8 * pots, "high": 8 * pots}
    assert len(found["slots"]) == pots
    first = found["slots"][0]
    booked = {"recipe_id": kitchen.recipe, "revision": 1, "jars": [{"size": "half-pint", "count": 8}]}
    sent = booked | {"claims": first["claims"]}
    assert client.post("/v1/bookings", json=sent, headers=client.member.headers).status_code == 201
    (rest,) = found["wont_fit"]
    assert (rest["why"], rest["pots"]) == ("too-little-for-a-pot", 0)
    assert any(each.startswith("Freeze") for each in rest["what_to_do"])


def test_pots_follow_one_another(client: Client) -> None:
    slots = ok(plan(client, Kitchen(client).recipe))["slots"]
    assert len(slots) > 1
    for before, after in pairwise(slots):
        assert max(claim["ends_at"] for claim in before["claims"] if claim["attended"]) <= after["starts_at"]


def test_what_spoils_before_there_is_time_is_said(client: Client) -> None:
    kitchen = Kitchen(client)
    soon = write_timestamp(client.clock.at + timedelta(minutes=20))
    found = ok(plan(client, kitchen.recipe, use_by=soon))
    assert (found["batches"], found["slots"], found["supplies"]) == ([], [], [])
    (rest,) = found["wont_fit"]
    assert (rest["why"], rest["pounds"]) == ("no-time-before-it-spoils", {"low": 12, "high": 12})
    assert rest["pots"] >= 1
    past = ok(plan(client, kitchen.recipe, use_by="2027-06-01"))["wont_fit"]
    assert [each["why"] for each in past] == ["no-time-before-it-spoils"]


def test_bushels_have_their_published_weight_and_pieces_have_none(client: Client) -> None:
    kitchen = Kitchen(client)

    def rest(**produce: Any) -> dict[str, Any]:
        return dict(ok(plan(client, kitchen.recipe, use_by="2027-06-01", **produce))["wont_fit"][0])

    # USDA Complete Guide to Home Canning: a bushel of plums weighs 56 pounds
    assert rest(amount=2, unit="bushel")["pounds"] == {"low": 112, "high": 112}
    # a crate of 24 quarts of strawberries weighs 36 pounds, by the same table
    assert rest(name="strawberries", amount=1, unit="crate")["pounds"] == {"low": 36, "high": 36}
    # a bushel of peaches weighs 48 pounds in the national table and 50 in Georgia's
    assert rest(name="peaches", amount=1, unit="bushel")["pounds"] == {"low": 48, "high": 50}
    assert rest(name="peaches", amount=1, unit="bushel")["why"] == "no-recipe-takes-it"
    for unknown in ({"unit": "piece"}, {"name": "medlars", "unit": "bushel"}):
        found = rest(**unknown)
        assert (found["why"], found["pounds"]) == ("weight-not-known", None)


def test_the_recipe_the_pantry_has_least_of_comes_first(client: Client) -> None:
    kitchen = Kitchen(client)
    spiced = recipe(client, PLUM_JAM | {"title": "Plum jam in pints"})
    lot(client, {"half-pint": 30}, title="Plum jam")
    found = ok(plan(client, kitchen.recipe, spiced, amount=4))
    assert [batch["recipe_id"] for batch in found["batches"]] == [spiced]


def test_what_is_no_harvest_is_refused(client: Client) -> None:
    kitchen = Kitchen(client)
    refused = [
        (plan(client, str(uuid4())), 404),
        (plan(client, kitchen.recipe, by=client.other), 404),
        (plan(client, kitchen.recipe, by=client.stranger), 404),
        (plan(client), 422),
        (plan(client, kitchen.recipe, amount=0), 422),
        (plan(client, kitchen.recipe, amount=-1), 422),
        (plan(client, kitchen.recipe, unit="handful"), 422),
        (plan(client, kitchen.recipe, use_by="soon"), 422),
        (plan(client, kitchen.recipe, use_by="2027-02-30"), 422),
        (plan(client, kitchen.recipe, use_by=1), 422),
        (plan(client, kitchen.recipe, name=""), 422),
        (client.post("/v1/harvest-plans", json={}), 401),
    ]
    assert [answer.status_code for answer, _ in refused] == [status for _, status in refused]
    assert plan(client, kitchen.recipe, by=client.coordinator).status_code == 200
