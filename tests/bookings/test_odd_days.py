"""Days of 23 and 25 hours, midnight, the year's end and a leap day, in kitchens west and east, over HTTP.

The expected moments were worked out by hand from the offsets of the IANA time zone database, written beside each: on
2027-03-14 America/Denver goes from UTC-7 to UTC-6 at 02:00 local time (09:00 UTC) and on 2027-11-07 back at 02:00
local time (08:00 UTC); Pacific/Auckland goes from UTC+12 to UTC+13 at 02:00 on 2027-09-26 (14:00 UTC the day before)
and back at 03:00 on 2027-04-04 (14:00 UTC the day before); Asia/Kathmandu is UTC+5:45 all year.
"""

from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from service.members.tables import Kitchen
from tests.bookings.kitchen import DAYS, booked, opened, piece, refused
from tests.conftest import Client

DENVER, AUCKLAND, KATHMANDU = "America/Denver", "Pacific/Auckland", "Asia/Kathmandu"


def in_zone(client: Client, zone: str, now: str, opens: str, closes: str) -> None:
    """A kitchen in a zone, open at these hours every day, and the moment it is there."""
    with Session(client.app.state.database.writer) as session:
        kitchen = session.exec(select(Kitchen).where(Kitchen.id == client.coordinator.kitchen_id)).one()
        kitchen.time_zone = zone
        session.add(kitchen)
        session.commit()
    client.clock.at = datetime.fromisoformat(now)
    opened(client, [{"weekday": day, "opens": opens, "closes": closes} for day in DAYS])


def search(client: Client, minutes: int, not_before: str, not_after: str, limit: int = 100) -> dict[str, Any]:
    wish = {"equipment_kind": "canner", "minutes": minutes, "not_before": not_before, "not_after": not_after}
    answer = client.post("/v1/slot-searches", json=wish | {"limit": limit}, headers=client.member.headers)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def starts(found: dict[str, Any]) -> list[str]:
    return [option["starts_at"] for option in found["options"]]


@pytest.mark.parametrize(
    ("zone", "now", "hours", "within", "first", "last_end"),
    [
        pytest.param(
            DENVER,
            "2027-03-13T12:00:00Z",
            ("00:00", "24:00"),
            ("2027-03-14T07:00:00Z", "2027-03-15T06:00:00Z"),  # midnight at UTC-7 to midnight at UTC-6: 23 hours
            "2027-03-14T07:00:00Z",
            "2027-03-15T06:00:00Z",
            id="23 hours in Denver",
        ),
        pytest.param(
            DENVER,
            "2027-11-06T12:00:00Z",
            ("08:00", "20:00"),
            ("2027-11-06T20:00:00Z", "2027-11-08T08:00:00Z"),
            "2027-11-06T20:00:00Z",  # 14:00 at UTC-6, before the change
            "2027-11-08T03:00:00Z",  # 20:00 at UTC-7, after it
            id="over the night of 25 hours in Denver",
        ),
        pytest.param(
            DENVER,
            "2027-03-13T12:00:00Z",
            ("02:00", "03:30"),
            ("2027-03-14T07:00:00Z", "2027-03-15T06:00:00Z"),
            "2027-03-14T09:00:00Z",  # the clocks skip 02:00 to 03:00: it opens as they do, at 03:00, UTC-6
            "2027-03-14T09:30:00Z",
            id="an hour the clocks skip",
        ),
        pytest.param(
            DENVER,
            "2027-11-06T12:00:00Z",
            ("01:00", "01:30"),
            ("2027-11-07T06:00:00Z", "2027-11-08T07:00:00Z"),
            "2027-11-07T07:00:00Z",  # the first 01:00, at UTC-6
            "2027-11-07T08:30:00Z",  # the second 01:30, at UTC-7
            id="an hour the clocks show twice",
        ),
        pytest.param(
            AUCKLAND,
            "2027-09-25T00:00:00Z",
            ("08:00", "20:00"),
            ("2027-09-25T10:00:00Z", "2027-09-26T12:00:00Z"),
            "2027-09-25T19:00:00Z",  # 08:00 at UTC+13 on the 26th
            "2027-09-26T07:00:00Z",  # 20:00
            id="23 hours in Auckland",
        ),
        pytest.param(
            AUCKLAND,
            "2027-04-03T00:00:00Z",
            ("00:00", "24:00"),
            ("2027-04-03T11:00:00Z", "2027-04-04T12:00:00Z"),  # midnight at UTC+13 to midnight at UTC+12: 25 hours
            "2027-04-03T11:00:00Z",
            "2027-04-04T12:00:00Z",
            id="25 hours in Auckland",
        ),
        pytest.param(
            KATHMANDU,
            "2027-12-31T00:00:00Z",
            ("08:00", "20:00"),
            ("2027-12-31T15:00:00Z", "2028-01-01T18:00:00Z"),
            "2028-01-01T02:15:00Z",  # 08:00 at UTC+5:45 on new year's day
            "2028-01-01T14:15:00Z",
            id="new year in Kathmandu",
        ),
        pytest.param(
            DENVER,
            "2028-02-28T00:00:00Z",
            ("08:00", "20:00"),
            ("2028-02-29T07:00:00Z", "2028-03-01T07:00:00Z"),
            "2028-02-29T15:00:00Z",
            "2028-03-01T03:00:00Z",
            id="a leap day in Denver",
        ),
    ],
)
def test_the_first_and_the_last_time_of_a_day_are_by_the_kitchens_own_clock(
    client: Client,
    zone: str,
    now: str,
    hours: tuple[str, str],
    within: tuple[str, str],
    first: str,
    last_end: str,
) -> None:
    in_zone(client, zone, now, *hours)
    canner = piece(client)
    assert starts(search(client, 30, *within, limit=1)) == [first]
    latest = datetime.fromisoformat(last_end) - timedelta(minutes=30)
    assert starts(search(client, 30, latest.isoformat(), within[1]))[0] == latest.isoformat().replace("+00:00", "Z")
    after = (latest + timedelta(minutes=5)).isoformat()
    assert starts(search(client, 30, after, within[1])) == []
    booked(client, client.member, canner, starts_at=latest.isoformat(), ends_at=last_end)
    over = {"starts_at": after, "ends_at": (latest + timedelta(minutes=35)).isoformat()}
    answer = client.post(
        "/v1/bookings", json={"equipment_id": canner, "purpose": "Late", **over}, headers=client.other.headers
    )
    assert answer.status_code == 409


@pytest.mark.parametrize(
    ("zone", "now", "starts_at", "ends_at", "real_hours"),
    [
        pytest.param(DENVER, "2027-03-13T12:00:00Z", "2027-03-14T07:00:00Z", "2027-03-15T06:00:00Z", 23, id="23"),
        pytest.param(AUCKLAND, "2027-09-24T12:00:00Z", "2027-09-25T12:00:00Z", "2027-09-26T11:00:00Z", 23, id="east"),
        pytest.param(DENVER, "2027-12-30T12:00:00Z", "2027-12-31T07:00:00Z", "2028-01-01T07:00:00Z", 24, id="new year"),
    ],
)
def test_a_whole_local_day_is_booked_in_real_hours(
    client: Client, zone: str, now: str, starts_at: str, ends_at: str, real_hours: int
) -> None:
    in_zone(client, zone, now, "00:00", "24:00")
    canner = piece(client)
    assert starts(search(client, real_hours * 60, starts_at, ends_at)) == [starts_at]
    made = booked(client, client.member, canner, starts_at=starts_at, ends_at=ends_at)
    length = datetime.fromisoformat(made["ends_at"]) - datetime.fromisoformat(made["starts_at"])
    assert length == timedelta(hours=real_hours)
    assert search(client, 5, starts_at, ends_at)["blocked_by"][0]["next_free_at"] == ends_at


def test_a_booking_over_midnight_holds_both_days(client: Client) -> None:
    in_zone(client, KATHMANDU, "2027-12-31T00:00:00Z", "00:00", "24:00")
    canner = piece(client)
    night = {"starts_at": "2027-12-31T17:15:00Z", "ends_at": "2027-12-31T19:15:00Z"}  # 23:00 to 01:00, UTC+5:45
    booked(client, client.member, canner, **night)
    answer = client.post(
        "/v1/bookings",
        json={"equipment_id": canner, "purpose": "New year", **night | {"starts_at": "2027-12-31T18:15:00Z"}},
        headers=client.other.headers,
    )
    assert refused(answer) == (409, "slot-taken", "2027-12-31T19:15:00Z")


@pytest.mark.parametrize(
    ("zone", "now", "local", "moments"),
    [
        pytest.param(
            DENVER,
            "2027-03-01T00:00:00Z",
            ("2027-03-14T00:00", "2027-03-15T00:00"),
            ("2027-03-14T07:00:00Z", "2027-03-15T06:00:00Z"),
            id="a day of 23 hours",
        ),
        pytest.param(
            DENVER,
            "2027-11-01T00:00:00Z",
            ("2027-11-07T00:00", "2027-11-08T00:00"),
            ("2027-11-07T06:00:00Z", "2027-11-08T07:00:00Z"),
            id="a day of 25 hours",
        ),
        pytest.param(
            AUCKLAND,
            "2027-12-01T00:00:00Z",
            ("2027-12-31T12:00", "2028-01-02T00:00"),
            ("2027-12-30T23:00:00Z", "2028-01-01T11:00:00Z"),
            id="over new year, far east",
        ),
        pytest.param(
            KATHMANDU,
            "2028-02-01T00:00:00Z",
            ("2028-02-29T00:00", "2028-03-01T00:00"),
            ("2028-02-28T18:15:00Z", "2028-02-29T18:15:00Z"),
            id="a leap day at a quarter to six",
        ),
    ],
)
def test_a_closure_by_the_clock_on_the_wall_closes_those_moments_and_no_more(
    client: Client, zone: str, now: str, local: tuple[str, str], moments: tuple[str, str]
) -> None:
    in_zone(client, zone, now, "00:00", "24:00")
    piece(client)
    closed = {"starts_local": local[0], "ends_local": local[1], "reason": "Holiday"}
    answer = client.post("/v1/closures", json=closed, headers=client.coordinator.headers)
    assert answer.status_code == 201, answer.text
    assert (answer.json()["starts_at"], answer.json()["ends_at"]) == moments
    before = (datetime.fromisoformat(moments[0]) - timedelta(minutes=30)).isoformat()
    assert starts(search(client, 30, before, moments[1])) == [before.replace("+00:00", "Z")]
    after = (datetime.fromisoformat(moments[1]) + timedelta(hours=1)).isoformat()
    assert starts(search(client, 30, moments[0], after))[0] == moments[1]


def test_a_local_time_the_clocks_skip_or_show_twice_is_no_end_of_a_closure(client: Client) -> None:
    in_zone(client, DENVER, "2027-03-01T00:00:00Z", "00:00", "24:00")
    for local, code in (("2027-03-14T02:30", "no-such-local-time"), ("2027-11-07T01:30", "not-possible")):
        closed = {"starts_local": "2027-03-13T00:00", "ends_local": local, "reason": "Night"}
        answer = client.post("/v1/closures", json=closed, headers=client.coordinator.headers)
        assert (answer.status_code, answer.json()["code"]) == (422, code)
        if code == "no-such-local-time":
            assert answer.json()["next_local_time"] == "2027-03-14T03:00:00-06:00"


@pytest.mark.parametrize(
    ("zone", "now", "starts_at", "ends_at"),
    [
        pytest.param(DENVER, "2027-11-06T12:00:00Z", "2027-11-07T07:30:00Z", "2027-11-07T09:30:00Z", id="25 hours"),
        pytest.param(AUCKLAND, "2027-09-25T00:00:00Z", "2027-09-25T13:00:00Z", "2027-09-25T15:00:00Z", id="23 hours"),
        pytest.param(KATHMANDU, "2027-12-31T00:00:00Z", "2027-12-31T17:15:00Z", "2027-12-31T19:15:00Z", id="new year"),
    ],
)
def test_an_outage_over_such_a_night_lasts_its_real_hours(
    client: Client, zone: str, now: str, starts_at: str, ends_at: str
) -> None:
    in_zone(client, zone, now, "00:00", "24:00")
    canner = piece(client)
    hit = booked(client, client.member, canner, starts_at=starts_at, ends_at=ends_at)
    outage = {"starts_at": starts_at, "ends_at": ends_at, "reason": "A gasket"}
    answer = client.post(f"/v1/equipment/{canner}/outages", json=outage, headers=client.coordinator.headers)
    assert [each["booking_id"] for each in answer.json()["displaced"]] == [hit["id"]]
    window = (datetime.fromisoformat(starts_at) - timedelta(hours=1)).isoformat(), "2028-01-01T00:00:00Z"
    found = starts(search(client, 60, window[0], (datetime.fromisoformat(ends_at) + timedelta(hours=1)).isoformat()))
    assert found == [window[0].replace("+00:00", "Z"), ends_at]
