"""Waiting for freed time: in order, held for a limited time, taken once, and never offered twice."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest

from tests.batches.make import ok, recipe
from tests.bookings.kitchen import at, book, booked, opened, piece
from tests.bookings.test_whole_batches import JARS, Kitchen
from tests.conftest import Client, Person

PATH = "/v1/waiting-list"


@pytest.fixture
def full(client: Client) -> dict[str, Any]:
    """A kitchen whose only canner is booked all day."""
    opened(client)
    return booked(client, client.coordinator, piece(client), "14T14:00", "15T02:00")


def waits(client: Client, person: Person, **more: Any) -> dict[str, Any]:
    wanted = {"equipment_kind": "canner", "minutes": 60, "not_before": at("14T14:00"), "not_after": at("15T02:00")}
    answer = client.post(PATH, json=wanted | {"purpose": "Plum jam"} | more, headers=person.headers)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def act(client: Client, person: Person, waiting: dict[str, Any], what: str) -> Any:
    return client.post(f"{PATH}/{waiting['id']}/{what}", headers=person.headers)


def seen(client: Client, person: Person, waiting: dict[str, Any]) -> tuple[Any, ...]:
    found = client.get(f"{PATH}/{waiting['id']}", headers=person.headers).json()
    return found["state"], found["position"]


def free(client: Client, booking: dict[str, Any]) -> None:
    path = f"/v1/bookings/{booking['id']}/cancellation"
    assert client.post(path, headers=client.coordinator.headers).status_code == 200


def queue(client: Client) -> tuple[dict[str, Any], dict[str, Any]]:
    """Ada, then Bo, for the whole day: what is freed suits one of them only."""
    first, second = (waits(client, person, minutes=720) for person in client.members)
    return first, second


def test_freed_time_is_held_for_the_first_who_takes_it(client: Client, full: dict[str, Any]) -> None:
    first, second = queue(client)
    assert (first["state"], first["position"], second["position"]) == ("waiting", 1, 2)
    free(client, full)
    assert seen(client, client.member, first) == ("offered", 1)
    assert seen(client, client.other, second) == ("waiting", 2)
    assert client.get("/v1/notices", headers=client.member.headers).json()["items"][0]["waiting_id"] == first["id"]
    canner = full["claims"][0]["equipment_id"]
    assert book(client, client.other, canner).json()["code"] == "slot-taken"
    answer = act(client, client.member, first, "acceptance")
    assert (answer.status_code, answer.json()["starts_at"]) == (201, at("14T14:00"))
    assert answer.json()["claims"][0]["equipment_id"] == canner
    assert seen(client, client.member, first) == ("booked", None)
    assert act(client, client.member, first, "acceptance").json()["code"] == "already-done"
    assert seen(client, client.other, second) == ("waiting", 1)


@pytest.mark.parametrize(("what", "then"), [("decline", "waiting"), ("cancellation", "left")])
def test_who_declines_or_leaves_lets_the_next_have_it(
    client: Client, full: dict[str, Any], what: str, then: str
) -> None:
    first, second = queue(client)
    free(client, full)
    assert act(client, client.member, first, what).status_code == 200
    assert seen(client, client.member, first)[0] == then
    assert seen(client, client.other, second)[0] == "offered"


def test_an_offer_ends_by_the_clock_and_passes_on(client: Client, full: dict[str, Any]) -> None:
    first, second = queue(client)
    free(client, full)
    client.clock.pass_by(minutes=120)
    assert act(client, client.member, first, "acceptance").status_code == 409
    assert seen(client, client.other, second)[0] == "offered"
    assert seen(client, client.member, first) == ("lapsed", None)
    told = client.get("/v1/audit-entries?limit=4", headers=client.coordinator.headers).json()["items"]
    assert [(each["act"], each["about"], each["member_id"]) for each in reversed(told)] == [
        ("offer_time", f"{PATH}/{first['id']}", None),
        ("cancel_booking", f"/v1/bookings/{full['id']}/cancellation", str(client.coordinator.id)),
        ("lapse_waiting", f"{PATH}/{first['id']}", None),
        ("offer_time", f"{PATH}/{second['id']}", None),
    ]


def test_an_offer_that_ended_is_in_nobodys_way(client: Client, full: dict[str, Any]) -> None:
    waits(client, client.member, minutes=720)
    free(client, full)
    client.clock.pass_by(minutes=120)
    booked(client, client.other, full["claims"][0]["equipment_id"])


def test_an_outage_takes_an_offer_back(client: Client, full: dict[str, Any]) -> None:
    first, _ = queue(client)
    free(client, full)
    path = f"/v1/equipment/{full['claims'][0]['equipment_id']}/outages"
    body = {"starts_at": at("14T16:00"), "ends_at": at("14T17:00"), "reason": "Gauge test"}
    assert client.post(path, json=body, headers=client.coordinator.headers).status_code == 201
    assert seen(client, client.member, first) == ("waiting", 1)


def test_of_two_who_accept_one_offer_at_once_one_does(client: Client, full: dict[str, Any]) -> None:
    first, _ = queue(client)
    free(client, full)
    barrier = Barrier(2)

    def accept(_: int) -> int:
        barrier.wait()
        return int(act(client, client.member, first, "acceptance").status_code)

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(accept, range(2))) == [201, 409]


def test_another_members_place_isnt_there(client: Client, full: dict[str, Any]) -> None:
    first = waits(client, client.member)
    for what in ("acceptance", "decline", "cancellation"):
        assert act(client, client.other, first, what).status_code == 404
    assert client.get(PATH, headers=client.other.headers).json()["items"] == []
    assert len(client.get(PATH, headers=client.coordinator.headers).json()["items"]) == 1


def test_time_held_for_somebody_is_free_again_by_the_clock_before_anybody_writes(
    client: Client, full: dict[str, Any]
) -> None:
    waits(client, client.member, minutes=720)
    free(client, full)

    def options() -> int:
        sent = {"equipment_kind": "canner", "minutes": 60, "not_before": at("14T14:00"), "not_after": at("15T02:00")}
        return len(client.post("/v1/slot-searches", json=sent, headers=client.other.headers).json()["options"])

    def kept_on_the_board() -> bool:
        page = client.get("/board?day=2027-06-14", headers=client.other.headers).text
        return page.count('class="bar kept"') > 1  # one stands in the key

    client.clock.pass_by(minutes=120, seconds=-1)
    assert (options(), kept_on_the_board()) == (0, True)
    client.clock.pass_by(seconds=1)
    assert (options(), kept_on_the_board()) == (10, False)


def test_who_leaves_the_kitchen_leaves_the_list_and_what_they_had_passes_on(client: Client) -> None:
    opened(client)
    booked(client, client.member, piece(client), "14T14:00", "15T02:00")
    gone, second = waits(client, client.member, minutes=600), waits(client, client.other, minutes=600)
    answer = client.post(f"/v1/members/{client.member.id}/departure", json={}, headers=client.coordinator.headers)
    assert answer.status_code == 200, answer.text
    assert seen(client, client.coordinator, gone) == ("left", None)
    assert seen(client, client.other, second) == ("offered", 1)


@pytest.mark.parametrize("again", range(3))
def test_an_offer_accepted_as_it_ends_goes_to_one_of_two(client: Client, full: dict[str, Any], again: int) -> None:
    first, second = queue(client)
    free(client, full)
    client.clock.pass_by(minutes=119, seconds=59)
    barrier = Barrier(2)

    def accept() -> int:
        barrier.wait()
        return int(act(client, client.member, first, "acceptance").status_code)

    def end() -> None:
        barrier.wait()
        client.clock.pass_by(seconds=1)
        seen(client, client.other, second)

    with ThreadPoolExecutor(2) as pool:
        accepted, ended = pool.submit(accept), pool.submit(end)
        ended.result()
    states = seen(client, client.coordinator, first)[0], seen(client, client.coordinator, second)[0]
    assert (accepted.result(), states) in [(201, ("booked", "waiting")), (409, ("lapsed", "offered"))]
    taken = client.get("/v1/bookings", headers=client.coordinator.headers).json()["items"]
    assert sum(each["status"] == "confirmed" for each in taken) == (accepted.result() == 201)


def batch_waits(kitchen: Kitchen, person: Person, recipe_id: str, **more: Any) -> dict[str, Any]:
    sent = {"recipe_id": recipe_id, "revision": 1, "jars": JARS, "not_before": at("14T14:00")}
    sent |= {"not_after": at("15T02:00")} | more
    return ok(kitchen.client.post(PATH, json=sent, headers=person.headers))


def test_a_freed_time_for_a_whole_batch_is_offered_to_the_first_it_fits_and_taken_as_it_stands(client: Client) -> None:
    kitchen = Kitchen(client)
    own = {"equipment_id": kitchen.canner, "starts_at": at("14T14:00"), "ends_at": at("15T02:00"), "purpose": "Stock"}
    blocking = ok(client.post("/v1/bookings", json=own, headers=client.coordinator.headers))
    before = kitchen.active()
    too_long = batch_waits(kitchen, client.member, kitchen.recipe, not_after=at("14T15:00"))
    first = batch_waits(kitchen, client.other, recipe(client, by=client.other), purpose="Plums")
    second = batch_waits(kitchen, client.member, kitchen.recipe, not_after=at("14T17:00"))
    assert [each["state"] for each in (too_long, first, second)] == ["waiting"] * 3
    free(client, blocking)
    found = ok(client.get(f"{PATH}/{first['id']}", headers=client.other.headers))
    assert (found["state"], found["offer"]["starts_at"]) == ("offered", at("14T14:00"))
    assert [claim["step"] for claim in found["offer"]["claims"]] == [
        "prep",
        "cook",
        "fill",
        "process",
        "process",
        "rest",
    ]
    assert found["offer"]["equipment_id"] is None
    assert seen(client, client.member, too_long) == ("waiting", 1)
    assert seen(client, client.member, second)[0] == "waiting"  # one canner: by then there is time for one batch
    assert kitchen.active() > before - 1
    taken = ok(act(client, client.other, found, "acceptance"))
    assert (taken["claims"], taken["purpose"], taken["jars"]) == (found["offer"]["claims"], "Plums", JARS)
    assert seen(client, client.other, first) == ("booked", None)
    free(client, taken)
    assert seen(client, client.member, second)[0] == "offered"
    held = kitchen.active()
    again = ok(act(client, client.member, second, "decline"))
    assert (again["state"], again["offer"]) == ("waiting", None)  # what meets the declined time isn't offered again
    assert kitchen.active() < held


def test_a_batch_that_never_could_be_made_isnt_waited_for(client: Client) -> None:
    kitchen = Kitchen(client)
    sent = {"recipe_id": kitchen.recipe, "revision": 1, "jars": [{"size": "half-pint", "count": 41}]}
    answer = client.post(PATH, json=sent, headers=client.member.headers)
    assert (answer.status_code, answer.json()["code"]) == (422, "does-not-fit")
    assert client.post(PATH, json=sent, headers=client.other.headers).status_code == 404
