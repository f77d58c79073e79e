"""Fair use over HTTP: set by a coordinator, kept to by everybody, gone past only for a reason that is recorded."""

from typing import Any

import pytest

from tests.bookings.kitchen import at, book, booked, opened, piece
from tests.conftest import Client, Person

PATH = "/v1/fair-use"


def limited(client: Client, by: Person | None = None, **limits: Any) -> None:
    headers = (by or client.coordinator).headers
    etag = client.get(PATH, headers=headers).headers["etag"]
    answer = client.put(PATH, json=limits, headers={**headers, "If-Match": etag})
    assert answer.status_code == 200, answer.text


def said(answer: Any) -> tuple[Any, ...]:
    document = answer.json()
    return answer.status_code, *(document.get(name) for name in ("code", "limit", "most", "season", "possible_at"))


def test_a_kitchen_that_set_nothing_has_no_limits(client: Client) -> None:
    assert client.get(PATH, headers=client.member.headers).json() == {
        "days_ahead": None,
        "open_bookings": None,
        "canner_minutes_a_week": None,
        "offer_minutes": 120,
        "seasons": [],
    }


def test_limits_are_set_read_and_replaced_by_version(client: Client) -> None:
    season = {
        "name": "Tomato weeks",
        "first_on": "2027-08-15",
        "last_on": "2027-09-30",
        "days_ahead": None,
        "open_bookings": 2,
        "canner_minutes_a_week": 300,
    }
    limits = {
        "days_ahead": 60,
        "open_bookings": 5,
        "canner_minutes_a_week": 720,
        "offer_minutes": 90,
        "seasons": [season],
    }
    headers = client.coordinator.headers
    first = client.put(PATH, json=limits, headers={**headers, "If-Match": '"1"'})
    assert (first.status_code, first.json(), first.headers["etag"]) == (200, limits, '"2"')
    read = client.get(PATH, headers=client.member.headers)
    assert (read.json(), read.headers["etag"]) == (limits, '"2"')
    assert client.put(PATH, json={}, headers={**headers, "If-Match": '"1"'}).status_code == 412
    assert client.put(PATH, json={}, headers=headers).status_code == 428
    assert client.put(PATH, json={}, headers={**client.trainer.headers, "If-Match": '"2"'}).status_code == 403
    limited(client, days_ahead=7)
    assert client.get(PATH, headers=client.member.headers).json()["seasons"] == []
    assert client.get(PATH, headers=client.stranger.headers).json()["days_ahead"] is None


def peak(first_on: str, last_on: str) -> dict[str, str]:
    return {"name": "Peak", "first_on": first_on, "last_on": last_on}


@pytest.mark.parametrize(
    ("limits", "code"),
    [
        pytest.param({"days_ahead": -1}, "invalid-request", id="less than nothing"),
        pytest.param({"open_bookings": 1.5}, "invalid-request", id="half a booking"),
        pytest.param({"offer_minutes": 0}, "invalid-request", id="no time to answer"),
        pytest.param({"seasons": [peak("2027-02-30", "2027-03-01")]}, "invalid-request", id="no such day"),
        pytest.param(
            {"seasons": [peak("2027-08-02", "2027-08-01")]}, "ends-before-start", id="a season that ends first"
        ),
        pytest.param({"seasons": [peak("2027-08-01", "2027-08-02")] * 2}, "not-possible", id="one season twice"),
    ],
)
def test_limits_that_make_no_sense_are_refused(client: Client, limits: dict[str, Any], code: str) -> None:
    answer = client.put(PATH, json=limits, headers={**client.coordinator.headers, "If-Match": '"1"'})
    assert (answer.status_code, answer.json()["code"]) == (422, code)


def test_each_limit_refuses_with_its_figure_and_the_time_it_is_possible(client: Client) -> None:
    opened(client)
    canner, table = piece(client), piece(client, kind="table", name="Long table")
    limited(client, days_ahead=7, open_bookings=2, canner_minutes_a_week=90)
    far = book(client, client.member, canner, "22T16:00", "22T17:00")
    assert said(far) == (409, "fair-use", "days-ahead", 7, None, at("15T06:00"))
    booked(client, client.member, canner, "14T16:00", "14T17:00")
    longer = book(client, client.member, canner, "15T16:00", "15T17:00")
    assert said(longer) == (409, "fair-use", "canner-minutes-a-week", 90, None, at("21T06:00"))
    made = booked(client, client.member, table, "15T16:00", "15T20:00")
    third = book(client, client.member, table, "16T16:00", "16T17:00")
    assert said(third) == (409, "fair-use", "open-bookings", 2, None, at("14T17:00"))
    booked(client, client.other, canner, "15T16:00", "15T17:00")
    client.post(f"/v1/bookings/{made['id']}/cancellation", headers=client.member.headers)
    booked(client, client.member, table, "16T16:00", "16T17:00")


def test_a_burner_that_comes_along_is_no_canner_time(client: Client) -> None:
    opened(client)
    piece(client, kind="burner", name="Burner 1")
    limited(client, canner_minutes_a_week=60)
    booked(client, client.member, piece(client, needs_burner=True))


def test_a_season_has_its_own_limits(client: Client) -> None:
    opened(client)
    canner = piece(client)
    limited(
        client,
        open_bookings=9,
        seasons=[{"name": "Berries", "first_on": "2027-06-20", "last_on": "2027-06-26", "open_bookings": 0}],
    )
    booked(client, client.member, canner, "20T00:00", "20T01:00")
    refused = book(client, client.member, canner, "20T16:00", "20T17:00")
    assert said(refused) == (409, "fair-use", "open-bookings", 0, "Berries", None)


def test_only_a_coordinator_goes_past_a_limit_and_the_reason_stays_with_the_booking(client: Client) -> None:
    opened(client)
    canner = piece(client)
    limited(client, open_bookings=0)
    for_somebody = {"member_id": str(client.member.id)}
    assert said(book(client, client.coordinator, canner, **for_somebody))[1] == "fair-use"
    because = {"beyond_limits_because": "Forty pounds of donated tomatoes"}
    assert said(book(client, client.member, canner, **because))[:2] == (403, "role-needed")
    made = booked(client, client.coordinator, canner, **for_somebody, **because)
    read = client.get(f"/v1/bookings/{made['id']}", headers=client.member.headers).json()
    assert read["beyond_limits_because"] == "Forty pounds of donated tomatoes"


def test_limits_of_another_kitchen_are_its_own(client: Client) -> None:
    opened(client)
    limited(client, by=client.stranger, open_bookings=0)
    booked(client, client.member, piece(client))
