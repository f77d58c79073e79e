"""Calendar feeds: read back by two parsers that had no part in writing them, and for whom they are."""

import logging
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import recurring_ical_events
import vobject
from icalendar import Calendar
from sqlmodel import Session, select

from service.calendars.feeds import local
from service.calendars.tables import CalendarFeed
from tests.batches.make import ok
from tests.bookings.kitchen import at, booked, opened, piece

SQLITE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)  # enough where no query is in question


def feed(client, who=None, **new):
    person = who or client.member
    return ok(client.post("/v1/calendar-feeds", json=new, headers=person.headers))


def read(client, made):
    answer = client.get(made["path"])
    assert (answer.status_code, answer.headers["content-type"]) == (200, "text/calendar; charset=utf-8"), answer.text
    return answer.content


def events(content):
    """The events as vobject reads them, by what they are about."""
    calendar = vobject.readOne(content.decode())
    found = {}
    for each in calendar.contents.get("vevent", []):
        found.setdefault(each.summary.value, []).append(each)
    return found


def utc(event):
    return event.dtstart.value.astimezone(UTC), event.dtend.value.astimezone(UTC)


def moment(text):
    return datetime.fromisoformat(text)


@SQLITE
def test_a_members_feed_has_their_bookings_and_nobody_elses(client):
    opened(client)
    kettle = piece(client)
    mine = booked(client, client.member, kettle)
    booked(client, client.other, kettle, "14T18:00", "14T19:00", purpose="Somebody's beans")
    content = read(client, feed(client))
    (event,) = events(content)["Plum jam"]
    assert list(events(content)) == ["Plum jam"]
    assert utc(event) == (moment(mine["starts_at"]), moment(mine["ends_at"]))
    assert event.dtstart.params["X-VOBJ-ORIGINAL-TZID"] == ["America/Denver"]
    assert (event.uid.value, event.location.value, event.status.value) == (mine["id"], "Blue kettle", "CONFIRMED")
    assert b"\r\n" in content
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))  # RFC 5545, 3.1


@SQLITE
def test_a_round_trip_loses_nothing(client):
    opened(client)
    booked(client, client.member, piece(client), purpose="Pflaumen; süß, 100 % \\ „gut“\nzweite Zeile 🫙 " + "x" * 200)
    content = read(client, feed(client))
    again = vobject.readOne(vobject.readOne(content.decode()).serialize())
    assert again.vevent.summary.value == Calendar.from_ical(content).walk("VEVENT")[0]["SUMMARY"]
    assert again.vevent.summary.value.startswith("Pflaumen; süß, 100 % \\ „gut“\nzweite Zeile 🫙 xx")
    june = recurring_ical_events.of(Calendar.from_ical(content)).between((2027, 6, 1), (2027, 7, 1))
    assert [each["DTSTART"].dt for each in june] == [moment(at("14T16:00"))]


def test_feeds_of_equipment_and_kitchen_are_a_coordinators(client):
    opened(client)
    kettle, other = piece(client), piece(client, name="Speckled kettle")
    booked(client, client.member, kettle)
    booked(client, client.other, other)
    for shows in ({"shows": "kitchen"}, {"shows": "equipment", "equipment_id": kettle}):
        refused = client.post("/v1/calendar-feeds", json=shows, headers=client.member.headers)
        assert (refused.status_code, refused.json()["code"]) == (403, "role-needed")
    one = read(client, feed(client, client.coordinator, shows="equipment", equipment_id=kettle))
    assert list(events(one)) == ["Plum jam, Ada"]
    closed = {"starts_at": at("20T14:00"), "ends_at": at("20T20:00"), "reason": "Floor is painted"}
    ok(client.post("/v1/closures", json=closed, headers=client.coordinator.headers))
    whole = read(client, feed(client, client.coordinator, shows="kitchen"))
    assert set(events(whole)) == {"Plum jam, Ada", "Plum jam, Bo", "Closed: Floor is painted"}
    strangers = {"shows": "equipment", "equipment_id": kettle}
    assert client.post("/v1/calendar-feeds", json=strangers, headers=client.stranger.headers).status_code == 404
    nonsense = client.post("/v1/calendar-feeds", json={"shows": "equipment"}, headers=client.coordinator.headers)
    assert nonsense.json()["code"] == "not-possible"


def test_a_cancelled_or_displaced_booking_is_cancelled_with_a_higher_sequence(client):
    opened(client)
    kettle = piece(client)
    made = feed(client)
    first, second = booked(client, client.member, kettle), booked(client, client.member, kettle, "15T16:00", "15T17:00")
    before = events(read(client, made))["Plum jam"]
    assert [each.sequence.value for each in before] == ["0", "0"]
    ok(client.post(f"/v1/bookings/{first['id']}/cancellation", headers=client.member.headers))
    outage = {"starts_at": at("15T15:00"), "ends_at": at("15T18:00"), "reason": "Gasket"}
    ok(client.post(f"/v1/equipment/{kettle}/outages", json=outage, headers=client.coordinator.headers))
    after = {each.uid.value: each for found in events(read(client, made)).values() for each in found}
    assert set(after) == {each.uid.value for each in before} == {first["id"], second["id"]}
    assert {(each.status.value, each.sequence.value) for each in after.values()} == {("CANCELLED", "1")}


@SQLITE
def test_a_feed_is_read_again_only_when_it_changed(client):
    opened(client)
    kettle, made = piece(client), feed(client)
    etag = client.get(made["path"]).headers["etag"]
    client.clock.pass_by(minutes=7)
    assert client.get(made["path"], headers={"If-None-Match": etag}).status_code == 304
    booked(client, client.member, kettle)
    assert client.get(made["path"], headers={"If-None-Match": etag}).status_code == 200


def test_a_revoked_feed_is_gone_and_so_is_that_of_somebody_who_left(client):
    first, second, others = feed(client), feed(client), feed(client, client.other)
    path = f"/v1/calendar-feeds/{first['id']}/revocation"
    assert client.post(path, headers=client.other.headers).status_code == 404
    assert ok(client.post(path, headers=client.member.headers))["revoked_at"] == "2027-06-14T10:00:00Z"
    assert ok(client.post(path, headers=client.member.headers))["revoked_at"] == "2027-06-14T10:00:00Z"
    assert client.get(first["path"]).status_code == 404
    read(client, second)
    ok(client.post(f"/v1/members/{client.member.id}/departure", json={}, headers=client.coordinator.headers))
    assert client.get(second["path"]).status_code == 404
    ok(client.post(f"/v1/calendar-feeds/{others['id']}/revocation", headers=client.coordinator.headers))
    assert client.get(others["path"]).status_code == 404


@SQLITE
def test_the_secret_is_shown_once_kept_as_a_hash_and_never_logged(client, caplog):
    caplog.set_level(logging.DEBUG)
    headers = client.member.headers | {"Idempotency-Key": "my-feed"}
    answer = client.post("/v1/calendar-feeds", json={}, headers=headers)
    made = answer.json()
    secret = made["path"].removeprefix("/calendars/").removesuffix(".ics")
    read(client, made)
    assert len(secret) >= 43  # 32 random bytes
    assert answer.headers["cache-control"] == "no-store"
    assert secret not in answer.headers["location"]
    listed = client.get("/v1/calendar-feeds", headers=client.member.headers)
    assert [each["id"] for each in listed.json()["items"]] == [made["id"]]
    with Session(client.app.state.database.reader) as session:
        kept = " ".join(str(row) for row in session.exec(select(CalendarFeed)).all())
    ours = [record for record in caplog.records if not record.name.startswith("httpx")]  # the caller's own log
    assert any("/calendars/{secret}.ics" in record.getMessage() for record in ours)
    for text in (listed.text, kept, *(record.getMessage() for record in ours)):
        assert secret not in text
    for wrong in ("x", secret[:-1], secret + "x", secret.swapcase()):
        assert client.get(f"/calendars/{wrong}.ics").status_code == 404


@SQLITE
@pytest.mark.parametrize(
    ("starts", "ends"),
    [
        pytest.param("2027-03-14T08:30:00Z", "2027-03-14T10:30:00Z", id="over the hour that is skipped"),
        pytest.param("2027-11-07T07:30:00Z", "2027-11-07T09:30:00Z", id="over the hour that comes twice"),
        pytest.param("2027-11-07T07:30:00Z", "2027-11-07T07:45:00Z", id="in the first of the two"),
        pytest.param("2027-11-07T08:30:00Z", "2027-11-07T08:45:00Z", id="in the second of the two"),
    ],
)
def test_the_days_the_clocks_change_are_read_right(client, starts, ends):
    opened(client, [{"weekday": "sunday", "opens": "00:00", "closes": "24:00"}])
    new = {"equipment_id": piece(client), "starts_at": starts, "ends_at": ends, "purpose": "Night shift"}
    client.clock.at = moment(starts) - timedelta(days=3)
    ok(client.post("/v1/bookings", json=new, headers=client.member.headers))
    content = read(client, feed(client))
    (event,) = events(content)["Night shift"]
    (other,) = Calendar.from_ical(content).walk("VEVENT")
    assert utc(event) == (moment(starts), moment(ends))
    assert [other[key].dt.astimezone(UTC) for key in ("DTSTART", "DTEND")] == [moment(starts), moment(ends)]


@SQLITE
def test_the_zone_is_described_in_the_feed_itself(client):
    opened(client)
    booked(client, client.member, piece(client))
    zone = vobject.readOne(read(client, feed(client)).decode()).vtimezone
    denver = ZoneInfo("America/Denver")
    assert zone.tzid.value == "America/Denver"
    for day in (datetime(2027, 1, 15, 12, tzinfo=denver), datetime(2027, 7, 15, 12, tzinfo=denver)):
        assert zone.gettzinfo().utcoffset(day.replace(tzinfo=None)) == day.utcoffset()


def test_the_second_of_two_times_is_said_in_utc():
    zone = ZoneInfo("America/Denver")
    first, second = datetime(2027, 11, 7, 7, 30, tzinfo=UTC), datetime(2027, 11, 7, 8, 30, tzinfo=UTC)
    assert (local(first, zone).tzinfo, local(second, zone).tzinfo) == (zone, UTC)
    assert local(second, zone) == second
