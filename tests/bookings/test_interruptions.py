"""Outages, closures and equipment taken out of service: they displace bookings, and say whose."""

from typing import Any

import pytest
from sqlalchemy import text
from sqlmodel import Session, select

from service.core.scheduling.spans import Span
from service.equipment import store
from service.equipment.tables import Occupancy
from tests.bookings.kitchen import at, book, booked, opened, piece, refused
from tests.conftest import Client, Person


def outage(client: Client, canner: str, starts: str, ends: str, reason: str = "Gauge test") -> dict[str, Any]:
    body = {"starts_at": at(starts), "ends_at": at(ends), "reason": reason}
    answer = client.post(f"/v1/equipment/{canner}/outages", json=body, headers=client.coordinator.headers)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def closure(client: Client, starts: str, ends: str) -> dict[str, Any]:
    body = {"starts_at": at(starts), "ends_at": at(ends), "reason": "Stocktaking"}
    answer = client.post("/v1/closures", json=body, headers=client.coordinator.headers)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def status_of(client: Client, booking: dict[str, Any]) -> str:
    answer = client.get(f"/v1/bookings/{booking['id']}", headers=client.coordinator.headers)
    return str(answer.json()["status"])


def told(client: Client) -> list[str]:
    return [item["message"] for item in client.get("/v1/notices", headers=client.member.headers).json()["items"]]


def test_an_outage_displaces_what_is_in_its_way_and_says_whose(client: Client) -> None:
    opened(client)
    canner, other = piece(client), piece(client, name="Red kettle")
    before = booked(client, client.member, canner, "14T15:00", "14T16:00")
    hit = booked(client, client.member, canner, "14T16:00", "14T17:00")
    after = booked(client, client.other, canner, "14T18:00", "14T19:00")
    elsewhere = booked(client, client.other, other, "14T16:00", "14T17:00")
    found = outage(client, canner, "14T16:30", "14T18:00")
    assert found["displaced"] == [
        {
            "booking_id": hit["id"],
            "member_id": str(client.member.id),
            "member_name": "Ada",
            "starts_at": hit["starts_at"],
            "ends_at": hit["ends_at"],
            "purpose": hit["purpose"],
        }
    ]
    assert [status_of(client, each) for each in (before, hit, after, elsewhere)] == [
        "confirmed",
        "displaced",
        "confirmed",
        "confirmed",
    ]
    assert told(client) == ["Your booking was displaced. Blue kettle is out of service: Gauge test"]
    assert client.get("/v1/notices", headers=client.other.headers).json()["items"] == []
    assert refused(book(client, client.other, canner, "14T17:00", "14T18:00")) == (
        409,
        "out-of-service",
        at("14T19:00"),
    )
    booked(client, client.other, canner, "14T16:00", "14T16:30")


def test_a_displaced_booking_gives_back_the_burner_too_and_may_be_cancelled(client: Client) -> None:
    opened(client)
    burner = piece(client, kind="burner", name="Burner 1")
    canner = piece(client, needs_burner=True)
    made = booked(client, client.member, canner)
    outage(client, canner, "14T16:00", "14T17:00")
    booked(client, client.other, burner)
    answer = client.post(f"/v1/bookings/{made['id']}/cancellation", headers=client.member.headers)
    assert (answer.status_code, answer.json()["status"]) == (200, "cancelled")
    assert book(client, client.member, burner).status_code == 409


def test_a_closure_displaces_across_the_kitchen_and_ends_when_it_is_taken_back(client: Client) -> None:
    opened(client)
    canner, table = piece(client), piece(client, kind="table", name="Long table")
    hits = [booked(client, client.member, canner), booked(client, client.other, table)]
    found = closure(client, "14T16:30", "17T00:00")
    assert sorted(each["booking_id"] for each in found["displaced"]) == sorted(each["id"] for each in hits)
    answer = book(client, client.member, canner, "15T16:00", "15T17:00")
    assert refused(answer) == (409, "kitchen-closed", at("17T00:00"))
    path = f"/v1/closures/{found['id']}"
    listed = client.get("/v1/closures", headers=client.member.headers).json()["items"]
    assert [each["id"] for each in listed] == [found["id"]]
    etag = client.get(path, headers=client.member.headers).headers["etag"]
    coordinator = client.coordinator.headers
    assert client.delete(path, headers=coordinator).status_code == 428
    assert client.delete(path, headers={**coordinator, "If-Match": '"9"'}).status_code == 412
    assert client.delete(path, headers={**coordinator, "If-Match": etag}).status_code == 204
    assert client.get(path, headers=client.member.headers).status_code == 404
    assert [status_of(client, each) for each in hits] == ["displaced", "displaced"]
    booked(client, client.member, canner, "15T16:00", "15T17:00")


def test_outages_and_closures_may_lie_over_each_other(client: Client) -> None:
    opened(client)
    canner = piece(client)
    outage(client, canner, "14T15:00", "14T18:00")
    found = closure(client, "14T17:00", "14T20:00")
    outage(client, canner, "14T16:00", "14T21:00")
    path, headers = f"/v1/closures/{found['id']}", client.coordinator.headers
    assert client.delete(path, headers={**headers, "If-Match": '"1"'}).status_code == 204
    assert refused(book(client, client.member, canner, "14T17:30", "14T18:30")) == (
        409,
        "out-of-service",
        at("14T21:00"),
    )
    booked(client, client.member, canner, "14T14:00", "14T15:00")


def test_an_outage_that_began_earlier_leaves_alone_what_is_over(client: Client) -> None:
    opened(client)
    canner = piece(client)
    over = booked(client, client.member, canner, "14T14:00", "14T15:00")
    running = booked(client, client.member, canner, "14T15:00", "14T17:00")
    client.clock.pass_by(hours=6, seconds=10)
    found = outage(client, canner, "14T14:30", "14T18:00")
    assert [each["booking_id"] for each in found["displaced"]] == [running["id"]]
    assert status_of(client, over) == "confirmed"


def test_new_equipment_is_closed_when_the_kitchen_is(client: Client) -> None:
    opened(client)
    closure(client, "14T16:00", "14T18:00")
    assert refused(book(client, client.member, piece(client))) == (409, "kitchen-closed", at("14T18:00"))


def test_a_closure_by_the_kitchens_clock_knows_the_time_that_is_skipped(client: Client) -> None:
    """America/Denver goes forward on 12 March 2028 at 02:00 (IANA time zone database)."""

    def closed(starts: str, ends: str) -> Any:
        body = {"starts_local": starts, "ends_local": ends, "reason": "Repairs"}
        return client.post("/v1/closures", json=body, headers=client.coordinator.headers)

    skipped = closed("2028-03-12T02:30", "2028-03-12T12:00")
    assert (skipped.status_code, skipped.json()["code"]) == (422, "no-such-local-time")
    assert skipped.json()["next_local_time"] == "2028-03-12T03:00:00-06:00"
    assert closed("2027-11-07T01:30", "2027-11-07T12:00").json()["code"] == "not-possible"
    made = closed("2028-03-12T00:00", "2028-03-13T00:00").json()
    assert (made["starts_at"], made["ends_at"]) == ("2028-03-12T07:00:00Z", "2028-03-13T06:00:00Z")


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({"starts_at": at("14T18:00"), "ends_at": at("14T17:00")}, "ends-before-start"),
        ({"starts_at": at("13T17:00"), "ends_at": at("13T18:00")}, "in-the-past"),
        ({"starts_at": at("14T17:00"), "ends_at": "2199-01-01T00:00:00Z"}, "not-possible"),
        ({"starts_at": "2027-06-14T17:00:00", "ends_at": at("14T18:00")}, "invalid-request"),
        ({"starts_local": "2027-02-30T17:00", "ends_local": "2027-03-14T18:00"}, "invalid-request"),
        ({"starts_local": "tomorrow", "ends_local": "2027-03-14T18:00"}, "invalid-request"),
        ({"starts_at": at("14T17:00"), "ends_local": "2027-06-14T18:00"}, "not-possible"),
        ({}, "not-possible"),
    ],
)
def test_a_closure_that_makes_no_sense_is_refused(client: Client, body: dict[str, str], code: str) -> None:
    answer = client.post("/v1/closures", json=body | {"reason": "Repairs"}, headers=client.coordinator.headers)
    assert (answer.status_code, answer.json()["code"]) == (422, code)
    assert client.get("/v1/closures", headers=client.member.headers).json()["items"] == []


def test_only_a_coordinator_of_the_kitchen_interrupts(client: Client) -> None:
    opened(client)
    path, body = (
        f"/v1/equipment/{piece(client)}/outages",
        {"starts_at": at("14T16:00"), "ends_at": at("14T17:00"), "reason": "?"},
    )
    for person, status in ((client.member, 403), (client.trainer, 403), (client.stranger, 404)):
        assert client.post(path, json=body, headers=person.headers).status_code == status
    assert client.post("/v1/closures", json=body, headers=client.member.headers).status_code == 403


def test_equipment_taken_out_of_service_displaces_all_that_lies_ahead(client: Client) -> None:
    opened(client)
    canner = piece(client)
    near, far = booked(client, client.member, canner), booked(client, client.other, canner, "30T16:00", "30T17:00")
    path, headers = f"/v1/equipment/{canner}", client.coordinator.headers
    answer = client.patch(path, json={"in_service": False}, headers={**headers, "If-Match": '"1"'})
    assert answer.status_code == 200, answer.text
    assert [each["booking_id"] for each in answer.json()["displaced"]] == [near["id"], far["id"]]
    assert refused(book(client, client.member, canner)) == (409, "out-of-service", None)
    answer = client.patch(path, json={"in_service": True}, headers={**headers, "If-Match": answer.headers["etag"]})
    assert (answer.status_code, answer.json()["displaced"]) == (200, [])
    booked(client, client.member, canner)


def end(client: Client, found: dict[str, Any], by: Person | None = None) -> Any:
    path = f"/v1/equipment/{found['equipment_id']}/outages/{found['id']}/end"
    return client.post(path, headers=(by or client.coordinator).headers)


def listed(client: Client, canner: str) -> list[tuple[str, str]]:
    items = client.get(f"/v1/equipment/{canner}/outages", headers=client.member.headers).json()["items"]
    return [(each["starts_at"], each["ends_at"]) for each in items]


def test_an_outage_ends_early_and_what_it_frees_is_offered(client: Client) -> None:
    opened(client)
    canner = piece(client)
    found = outage(client, canner, "14T09:00", "20T09:00")
    wanted = {"equipment_kind": "canner", "minutes": 720, "not_before": at("14T14:00"), "not_after": at("15T02:00")}
    sent = wanted | {"purpose": "Plums"}
    waits = client.post("/v1/waiting-list", json=sent, headers=client.other.headers).json()
    assert waits["state"] == "waiting"
    answer = end(client, found)
    assert (answer.status_code, answer.json()["ends_at"]) == (200, at("14T10:00"))
    again = client.get(f"/v1/waiting-list/{waits['id']}", headers=client.other.headers).json()
    assert (again["state"], again["offer"]["starts_at"]) == ("offered", at("14T14:00"))
    booked(client, client.member, canner, "15T14:00", "15T15:00")
    assert (end(client, found).status_code, end(client, found).json()["code"]) == (409, "already-done")
    assert listed(client, canner) == [(at("14T09:00"), at("14T10:00"))]


def test_an_outage_that_hasnt_begun_is_called_off_and_another_over_it_stays(client: Client) -> None:
    opened(client)
    canner = piece(client)
    first, second = outage(client, canner, "15T14:00", "15T20:00"), outage(client, canner, "15T16:00", "15T22:00")
    assert end(client, first).json()["ends_at"] == first["starts_at"]
    assert listed(client, canner) == [(second["starts_at"], second["ends_at"])]
    booked(client, client.member, canner, "15T14:00", "15T16:00")
    assert refused(book(client, client.member, canner, "15T16:00", "15T17:00"))[1] == "out-of-service"
    assert end(client, first).status_code == 404
    assert end(client, second, by=client.member).status_code == 403
    assert end(client, second, by=client.stranger).status_code == 404


def test_what_lies_in_the_way_of_an_outage_is_found_by_the_index_of_what_is_held(client: Client) -> None:
    """SQLite goes by a partial index only where a query says its condition word for word."""
    database = client.app.state.database
    with Session(database.reader) as session:
        query = select(Occupancy.booking_id).where(*store.meets([1, 2], Span(1000, 2000)))
        said = str(query.compile(database.reader, compile_kwargs={"literal_binds": True}))
        explain = "EXPLAIN QUERY PLAN " if database.dialect == "sqlite" else "EXPLAIN "
        if database.dialect == "postgresql":
            session.execute(text("SET enable_seqscan = off"))  # an empty table is read whole otherwise
        plan = " ".join(str(row) for row in session.execute(text(explain + said.replace(":", "\\:"))))
    assert "ix_occupancy_active" in plan or "ex_" in plan, plan
