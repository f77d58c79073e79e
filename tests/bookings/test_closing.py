"""A kitchen that closes for a time: nobody works then, and the jars that rest stay on their racks.

That jars on a rack don't mind a closed door, by day as by night, is common practice, no source.
"""

from typing import Any

import pytest
from sqlalchemy import text
from sqlmodel import Session

from service.database.migrating import migrate
from service.keeping.verifying import LOOKS
from tests.batches.make import ok
from tests.bookings.kitchen import at, book, booked, piece, refused
from tests.bookings.test_interruptions import closure, outage, status_of, told
from tests.bookings.test_whole_batches import Kitchen
from tests.conftest import Client

TWO_LOADS = [{"size": "half-pint", "count": 20}]
STAY = "The kitchen is closed: Stocktaking. Your jars stay on their rack until it opens again."
LOST = "Your booking was displaced. The kitchen is closed: Stocktaking"
WHOLE_DAY = ("15T06:00", "16T06:00")  # Tuesday, by the clock of the kitchen


@pytest.fixture
def kitchen(client: Client) -> Kitchen:
    return Kitchen(client)


def on_monday(kitchen: Kitchen, **more: Any) -> dict[str, Any]:
    """A batch of two loads whose jars rest until Tuesday's opening."""
    (option,) = kitchen.options(limit=1, jars=TWO_LOADS, **more)
    made: dict[str, Any] = ok(kitchen.book(option, jars=TWO_LOADS))
    return made


def rests(client: Client, booking: dict[str, Any]) -> set[str]:
    shown = client.get(f"/v1/bookings/{booking['id']}", headers=client.coordinator.headers).json()
    found = {claim["ends_at"] for claim in shown["claims"] if claim["step"] == "rest"}
    assert max(found) == shown["ends_at"]
    return found


def sound(client: Client) -> bool:
    with Session(client.app.state.database.reader) as session:
        return not [said for look in ("bookings", "occupied times") for said in LOOKS[look](session) if said != 1]


def test_jars_rest_on_over_a_closed_day_and_their_member_is_told(client: Client, kitchen: Kitchen) -> None:
    made = on_monday(kitchen)
    assert rests(client, made) == {at("15T14:00")}
    found = closure(client, *WHOLE_DAY)
    assert (found["displaced"], status_of(client, made), told(client)) == ([], "confirmed", [STAY])
    assert rests(client, made) == {at("16T14:00")}
    on_a_rack = {"jars": [{"size": "half-pint", "count": 21}]}  # of 40 places 20 are taken
    assert refused(book(client, client.other, kitchen.rack, "16T13:00", "16T14:00", **on_a_rack))[1] == "kitchen-closed"
    booked(client, client.other, kitchen.rack, "16T14:00", "16T15:00", **on_a_rack)
    assert sound(client)
    closure(client, "16T14:00", "16T16:00")  # it opens later still
    assert rests(client, made) == {at("16T16:00")}
    assert sound(client)
    ok(client.post(f"/v1/bookings/{made['id']}/cancellation", headers=client.member.headers))
    assert sound(client)


def test_a_batch_before_a_closed_day_is_offered_with_its_rest_until_the_day_after(
    client: Client, kitchen: Kitchen
) -> None:
    closure(client, *WHOLE_DAY)
    made = on_monday(kitchen)
    assert (made["starts_at"], rests(client, made)) == (at("14T14:00"), {at("16T14:00")})
    assert sound(client)


def test_a_batch_that_is_worked_at_while_it_closes_is_displaced_with_its_rest(client: Client, kitchen: Kitchen) -> None:
    made = on_monday(kitchen)
    alone = booked(client, client.member, kitchen.rack, "14T14:00", "14T20:00", jars=[{"size": "pint", "count": 1}])
    found = closure(client, "14T14:00", "14T15:00")
    assert {each["booking_id"] for each in found["displaced"]} == {made["id"], alone["id"]}
    assert told(client) == [LOST, LOST]
    assert sound(client)
    booked(client, client.other, kitchen.rack, "14T15:00", "14T16:00")  # all of it


@pytest.mark.parametrize("times", [("15T03:00", "15T13:00"), ("15T14:30", "15T20:00")])
def test_a_closure_before_jars_are_ready_or_after_they_left_changes_nothing(
    client: Client, kitchen: Kitchen, times: tuple[str, str]
) -> None:
    made = on_monday(kitchen)
    assert closure(client, *times)["displaced"] == []
    assert (rests(client, made), told(client)) == ({at("15T14:00")}, [])


def test_a_batch_is_displaced_if_its_jars_have_no_place_or_nobody_knows_when_it_opens(
    client: Client, kitchen: Kitchen
) -> None:
    made = on_monday(kitchen)
    outage(client, kitchen.rack, "15T14:00", "17T14:00")
    found = closure(client, *WHOLE_DAY)
    assert [each["booking_id"] for each in found["displaced"]] == [made["id"]]
    assert told(client) == [LOST]
    assert sound(client)


def test_jars_rest_for_a_week_at_most(client: Client, kitchen: Kitchen) -> None:
    made = on_monday(kitchen)
    assert closure(client, "15T06:00", "21T02:00")["displaced"] == []
    assert rests(client, made) == {at("21T14:00")}  # closed since 02:00 on the fifteenth
    found = closure(client, "21T06:00", "22T06:00")
    assert [each["booking_id"] for each in found["displaced"]] == [made["id"]]
    assert kitchen.options(limit=1)[0]["starts_at"] == at("22T14:00")


def test_what_a_displaced_booking_leaves_free_is_offered(client: Client, kitchen: Kitchen) -> None:
    booked(client, client.member, kitchen.canner, "14T14:00", "14T20:00")
    wanted = {"equipment_kind": "canner", "minutes": 120, "not_before": at("14T14:00"), "not_after": at("14T20:00")}
    waits = ok(client.post("/v1/waiting-list", json=wanted | {"purpose": "Plums"}, headers=client.other.headers))
    assert waits["state"] == "waiting"
    closure(client, "14T14:00", "14T15:00")
    again = ok(client.get(f"/v1/waiting-list/{waits['id']}", headers=client.other.headers))
    assert (again["state"], again["offer"]["starts_at"]) == ("offered", at("14T15:00"))


def test_a_rack_alone_is_closed_with_the_kitchen(client: Client) -> None:
    kitchen = Kitchen(client)
    closure(client, *WHOLE_DAY)
    rack = piece(client, kind="rack", name="New rack", places=10)
    for each in (kitchen.rack, rack):
        answer = book(client, client.member, each, "15T15:00", "15T16:00")
        assert refused(answer) == (409, "kitchen-closed", at("16T14:00"))
    sent = {"equipment_kind": "rack", "minutes": 60, "not_before": at("15T14:00"), "not_after": at("17T02:00")}
    found = ok(client.post("/v1/slot-searches", json=sent, headers=client.member.headers))
    assert found["options"][0]["starts_at"] == at("16T14:00")


def test_closures_that_took_racks_give_them_back_as_the_storage_is_brought_up_to_date(
    client: Client, kitchen: Kitchen
) -> None:
    closure(client, *WHOLE_DAY)
    database = client.app.state.database
    migrate(database, "0037a")
    before = "UPDATE occupancy SET lane_lo = 0, lane_hi = 40 WHERE kind = 'closure' AND lane_hi > 40"
    with database.writer.begin() as connection:
        assert connection.execute(text(before)).rowcount == 1
    assert kitchen.options(limit=1, jars=TWO_LOADS)[0]["starts_at"] == at("16T14:00")
    migrate(database)
    assert kitchen.options(limit=1, jars=TWO_LOADS)[0]["starts_at"] == at("14T14:00")
