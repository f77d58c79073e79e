"""Asking for free time over HTTP: every option can be booked as it stands, and nothing free says why."""

from typing import Any

import pytest

from tests.bookings.kitchen import at, book, booked, opened, piece
from tests.conftest import Client, Person


def search(client: Client, person: Person | None = None, **wish: Any) -> dict[str, Any]:
    body = {"equipment_kind": "canner", "minutes": 60, "not_before": at("14T10:00"), "not_after": at("15T02:00")} | wish
    answer = client.post("/v1/slot-searches", json=body, headers=(person or client.member).headers)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def starts(found: dict[str, Any]) -> list[str]:
    return [option["starts_at"] for option in found["options"]]


def test_the_first_times_are_offered_on_the_five_minute_grid(client: Client) -> None:
    opened(client)
    canner = piece(client)
    booked(client, client.other, canner, "14T15:02", "14T16:01")
    found = search(client, limit=3)
    assert starts(found) == [at("14T14:00"), at("14T16:05"), at("14T16:10")]
    assert found["blocked_by"] == []
    assert found["options"][0]["claims"] == [
        {
            "step": "process",
            "equipment_id": canner,
            "unit_fixed": True,
            "starts_at": at("14T14:00"),
            "ends_at": at("14T15:00"),
            "attended": False,
        }
    ]


def test_every_option_can_be_booked_as_it_stands(client: Client) -> None:
    opened(client)
    piece(client, kind="burner", name="Burner 1")
    for name, kind in (("Blue kettle", "boiling-water"), ("Dial canner", "pressure-dial")):
        piece(client, name=name, canner_kind=kind, needs_burner=True)
    for person in client.members:
        for _ in range(3):
            option = search(client, person, limit=1)["options"][0]
            claim = option["claims"][0]
            body = {key: claim[key] for key in ("equipment_id", "starts_at", "ends_at")} | {"purpose": "As offered"}
            answer = client.post("/v1/bookings", json=body, headers=person.headers)
            assert answer.status_code == 201, answer.text
            assert answer.json()["claims"] == option["claims"]


def test_only_the_kind_asked_for_is_offered(client: Client) -> None:
    opened(client)
    steam = piece(client, name="Steam canner", canner_kind="atmospheric-steam")
    piece(client)
    piece(client, kind="table", name="Long table")
    found = search(client, canner_kind="atmospheric-steam", limit=100)
    assert {claim["equipment_id"] for option in found["options"] for claim in option["claims"]} == {steam}


def test_nothing_free_says_what_stands_in_the_way_and_until_when(client: Client) -> None:
    opened(client)
    canner = piece(client)
    booked(client, client.other, canner, "14T14:00", "15T02:00")
    assert search(client) == {
        "options": [],
        "blocked_by": [
            {
                "equipment_id": canner,
                "equipment_kind": "canner",
                "obstacle": "slot-taken",
                "next_free_at": at("15T14:00"),
            }
        ],
    }


@pytest.mark.parametrize(
    ("wish", "obstacle"),
    [
        pytest.param({"not_after": at("14T14:30")}, "kitchen-closed", id="hardly open"),
        pytest.param({"canner_kind": "pressure-dial"}, "sign-off-missing", id="untrained"),
        pytest.param({"canner_kind": "atmospheric-steam"}, "out-of-service", id="out of service"),
        pytest.param({"equipment_kind": "rack"}, "none-here", id="the kitchen has none"),
    ],
)
def test_each_obstacle_is_named(client: Client, wish: dict[str, Any], obstacle: str) -> None:
    opened(client)
    piece(client)
    piece(client, name="Dial canner", canner_kind="pressure-dial")
    piece(client, name="Steam canner", canner_kind="atmospheric-steam", in_service=False)
    found = search(client, client.other, **wish)
    assert found["options"] == []
    assert obstacle in {each["obstacle"] for each in found["blocked_by"]}


def test_a_search_starts_now_at_the_earliest(client: Client) -> None:
    opened(client)
    piece(client)
    client.clock.pass_by(hours=5, seconds=1)
    assert starts(search(client, limit=1)) == [at("14T15:05")]
    assert starts(search(client, limit=1, not_before=None, not_after=None)) == [at("14T15:05")]


@pytest.mark.parametrize(
    ("wish", "code"),
    [
        pytest.param({"not_after": at("14T09:00")}, "ends-before-start", id="ends before it starts"),
        pytest.param({"not_before": at("12T09:00"), "not_after": at("13T09:00")}, "in-the-past", id="all in the past"),
        pytest.param({"not_after": "2199-12-31T00:00:00Z"}, "not-possible", id="longer than a season"),
        pytest.param({"minutes": 0}, "invalid-request", id="no minutes"),
        pytest.param({"minutes": 1441}, "invalid-request", id="more than a day"),
        pytest.param({"minutes": 60.5}, "invalid-request", id="half a minute"),
        pytest.param({"limit": 101}, "invalid-request", id="too many options"),
        pytest.param({"equipment_kind": "oven"}, "invalid-request", id="no such kind"),
        pytest.param({"not_before": "2027-06-14T10:00:00"}, "invalid-request", id="no offset"),
    ],
)
def test_a_search_that_makes_no_sense_is_refused(client: Client, wish: dict[str, Any], code: str) -> None:
    body = {"equipment_kind": "canner", "minutes": 60, "not_before": at("14T10:00")} | wish
    answer = client.post("/v1/slot-searches", json=body, headers=client.member.headers)
    assert (answer.status_code, answer.json()["code"]) == (422, code)


def test_an_option_is_gone_once_somebody_has_booked_it(client: Client) -> None:
    opened(client)
    canner = piece(client)
    (first,) = starts(search(client, limit=1))
    assert book(client, client.other, canner, "14T14:00", "14T15:00").status_code == 201
    assert first not in starts(search(client, limit=100))


def test_a_table_is_offered_around_the_members_own_work_and_a_canner_beside_it(client: Client) -> None:
    opened(client)
    piece(client)
    first, _ = (piece(client, kind="table", name=name) for name in ("Long table", "Small table"))
    booked(client, client.member, first, "14T14:00", "14T16:00")
    assert starts(search(client, client.member, equipment_kind="table", limit=1)) == [at("14T16:00")]
    assert starts(search(client, client.other, equipment_kind="table", limit=1)) == [at("14T14:00")]
    assert starts(search(client, client.member, limit=1)) == [at("14T14:00")]
    all_day = search(client, client.member, equipment_kind="table", not_after=at("14T16:00"))
    obstacles = {each["equipment_id"]: each["obstacle"] for each in all_day["blocked_by"]}
    assert obstacles.pop(first) == "slot-taken"
    assert list(obstacles.values()) == ["member-busy"]
