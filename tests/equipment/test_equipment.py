"""What a kitchen has and when it is open, over HTTP."""

from typing import Any

import pytest

from tests.bookings.kitchen import EVERY_DAY, LOADS, opened, piece
from tests.conftest import Client


def test_equipment_comes_back_as_it_was_entered(client: Client) -> None:
    canner = piece(client)
    rack = piece(client, kind="rack", name="Left rack", places=72)
    found = client.get("/v1/equipment", headers=client.member.headers).json()
    assert [each["id"] for each in found["items"]] == [canner, rack]
    assert found["items"][0] == {
        "id": canner,
        "kind": "canner",
        "name": "Blue kettle",
        "canner_kind": "boiling-water",
        "capacity": LOADS,
        "places": 1,
        "needs_burner": False,
        "in_service": True,
    }
    assert found["items"][1]["places"] == 72
    assert client.get(f"/v1/equipment/{rack}", headers=client.member.headers).json() == found["items"][1]


def test_equipment_is_listed_in_pages(client: Client) -> None:
    ids = [piece(client, kind="burner", name=f"Burner {number}") for number in range(5)]
    first = client.get("/v1/equipment?limit=3", headers=client.member.headers).json()
    path = f"/v1/equipment?limit=3&cursor={first['next_cursor']}"
    second = client.get(path, headers=client.member.headers).json()
    assert [each["id"] for each in first["items"] + second["items"]] == ids
    assert second["next_cursor"] is None


def test_each_kitchen_sees_its_own(client: Client) -> None:
    canner = piece(client, by=client.stranger)
    assert client.get("/v1/equipment", headers=client.member.headers).json()["items"] == []
    assert client.get(f"/v1/equipment/{canner}", headers=client.member.headers).status_code == 404
    headers = {**client.coordinator.headers, "If-Match": '"1"'}
    assert client.patch(f"/v1/equipment/{canner}", json={"name": "Ours"}, headers=headers).status_code == 404


def test_a_change_needs_the_version_that_was_read(client: Client) -> None:
    path, headers = f"/v1/equipment/{piece(client)}", client.coordinator.headers
    etag = client.get(path, headers=headers).headers["etag"]
    assert client.patch(path, json={"name": "Red kettle"}, headers=headers).status_code == 428
    changed = client.patch(path, json={"name": "Red kettle"}, headers={**headers, "If-Match": etag})
    assert (changed.status_code, changed.json()["name"]) == (200, "Red kettle")
    assert client.patch(path, json={"name": "Green"}, headers={**headers, "If-Match": etag}).status_code == 412
    assert client.get(path, headers=headers).json()["name"] == "Red kettle"
    assert client.get(path, headers={**headers, "If-None-Match": changed.headers["etag"]}).status_code == 304


def test_only_a_coordinator_changes_equipment_and_hours(client: Client) -> None:
    path = f"/v1/equipment/{piece(client)}"
    for person in (client.member, client.trainer):
        headers = {**person.headers, "If-Match": '"1"'}
        assert client.post("/v1/equipment", json={"kind": "burner", "name": "B"}, headers=headers).status_code == 403
        assert client.patch(path, json={"name": "B"}, headers=headers).status_code == 403
        assert client.put("/v1/opening-hours", json={"openings": []}, headers=headers).status_code == 403


@pytest.mark.parametrize(
    ("values", "code"),
    [
        pytest.param({"kind": "canner"}, "not-possible", id="a canner of no kind"),
        pytest.param({"kind": "canner", "canner_kind": "pressure-dial"}, "not-possible", id="a canner of no capacity"),
        pytest.param({"kind": "burner", "capacity": {"pint": 1}}, "not-possible", id="a burner with jars"),
        pytest.param({"kind": "burner", "places": 2}, "not-possible", id="a burner with places"),
        pytest.param({"kind": "table", "needs_burner": True}, "not-possible", id="a table on a burner"),
        pytest.param(
            {"kind": "canner", "canner_kind": "boiling-water", "capacity": {"bucket": 1}}, "not-possible", id="buckets"
        ),
        pytest.param({"kind": "rack", "places": 0}, "invalid-request", id="a rack without places"),
        pytest.param({"kind": "rack", "places": "9"}, "invalid-request", id="a word for a number"),
        pytest.param({"kind": "oven"}, "invalid-request", id="an oven"),
        pytest.param({"kind": "burner", "name": ""}, "invalid-request", id="no name"),
        pytest.param(
            {"kind": "canner", "canner_kind": "boiling-water", "capacity": {"pint": -1}},
            "invalid-request",
            id="minus one",
        ),
    ],
)
def test_equipment_that_makes_no_sense_is_refused(client: Client, values: dict[str, Any], code: str) -> None:
    answer = client.post("/v1/equipment", json={"name": "It"} | values, headers=client.coordinator.headers)
    assert (answer.status_code, answer.json()["code"]) == (422, code)


def test_a_change_can_not_make_nonsense_of_equipment(client: Client) -> None:
    path = f"/v1/equipment/{piece(client, kind='burner', name='Burner 1')}"
    headers = {**client.coordinator.headers, "If-Match": '"1"'}
    assert client.patch(path, json={"needs_burner": True}, headers=headers).json()["code"] == "not-possible"
    assert client.get(path, headers=headers).headers["etag"] == '"1"'


def test_hours_are_set_for_the_whole_week(client: Client) -> None:
    empty = client.get("/v1/opening-hours", headers=client.member.headers)
    assert empty.json() == {"time_zone": "America/Denver", "openings": []}
    opened(client)
    opened(client, EVERY_DAY[5:])
    assert client.get("/v1/opening-hours", headers=client.member.headers).json()["openings"] == EVERY_DAY[5:]


def test_two_who_read_the_same_hours_cant_both_set_them(client: Client) -> None:
    headers = {**client.coordinator.headers, "If-Match": '"1"'}
    answers = [client.put("/v1/opening-hours", json={"openings": EVERY_DAY}, headers=headers) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 412]


@pytest.mark.parametrize(
    ("opening", "code"),
    [
        ({"weekday": "monday", "opens": "20:00", "closes": "08:00"}, "ends-before-start"),
        ({"weekday": "monday", "opens": "24:00", "closes": "24:00"}, "ends-before-start"),
        ({"weekday": "monday", "opens": "8:00", "closes": "20:00"}, "invalid-request"),
        ({"weekday": "monday", "opens": "08:60", "closes": "20:00"}, "invalid-request"),
        ({"weekday": "monday", "opens": "08:00", "closes": "24:01"}, "invalid-request"),
        ({"weekday": "monday", "opens": 480, "closes": "20:00"}, "invalid-request"),
        ({"weekday": "caturday", "opens": "08:00", "closes": "20:00"}, "invalid-request"),
    ],
)
def test_hours_that_make_no_sense_are_refused(client: Client, opening: dict[str, Any], code: str) -> None:
    headers = {**client.coordinator.headers, "If-Match": '"1"'}
    answer = client.put("/v1/opening-hours", json={"openings": [opening]}, headers=headers)
    assert (answer.status_code, answer.json()["code"]) == (422, code)
