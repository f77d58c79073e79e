"""Whole batches over HTTP: searched, booked all or nothing, forged, taken meanwhile, cancelled and run."""

from copy import deepcopy
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session, col, select

from service.equipment.tables import Occupancy
from service.web.types import write_timestamp
from tests.batches.make import PLUM_JAM, SNAP_BEANS, ok, recipe
from tests.bookings.kitchen import EVERY_DAY, at, opened, piece
from tests.conftest import Client, Person

JARS = [{"size": "half-pint", "count": 8}]


class Kitchen:
    """A table, three burners, a canner for boiling water and a rack, and a recipe of plum jam."""

    def __init__(self, client: Client, burners: int = 3, **rack: Any) -> None:
        opened(client)
        self.client = client
        self.table = piece(client, kind="table", name="Long table")
        self.burners = [piece(client, kind="burner", name=f"Burner {number}") for number in range(burners)]
        self.canner = piece(client)
        self.rack = piece(client, **{"kind": "rack", "name": "Rack", "places": 40} | rack)
        self.recipe = recipe(client)

    def search(self, by: Person | None = None, **more: Any) -> Any:
        sent = {"recipe_id": self.recipe, "revision": 1, "jars": JARS} | more
        return self.client.post("/v1/slot-searches", json=sent, headers=(by or self.client.member).headers)

    def options(self, **more: Any) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = ok(self.search(**more))["options"]
        return found

    def book(self, option: dict[str, Any], by: Person | None = None, **more: Any) -> Any:
        sent = {"recipe_id": self.recipe, "revision": 1, "jars": JARS, "claims": option["claims"]} | more
        return self.client.post("/v1/bookings", json=sent, headers=(by or self.client.member).headers)

    def active(self) -> int:
        """Rows that hold something."""
        with Session(self.client.app.state.database.reader) as session:
            return len(session.exec(select(Occupancy.id).where(col(Occupancy.active))).all())


def later(claim: dict[str, Any], minutes: int, *ends: str) -> None:
    for end in ends or ("starts_at", "ends_at"):
        moved = datetime.fromisoformat(claim[end]) + timedelta(minutes=minutes)
        claim[end] = write_timestamp(moved)


def test_a_batch_is_offered_from_prep_to_rest_and_booked_as_it_stands(client: Client) -> None:
    kitchen = Kitchen(client)
    first, *others = kitchen.options(limit=3)
    assert [each["starts_at"] for each in (first, *others)] == [at("14T14:00"), at("14T14:05"), at("14T14:10")]
    assert [claim["step"] for claim in first["claims"]] == ["prep", "cook", "fill", "process", "process", "rest"]
    assert not any(claim["unit_fixed"] for claim in first["claims"])
    assert first["claims"][-1]["ends_at"] == first["ends_at"] == at("15T14:00")  # the next opening after 12 hours
    booked = ok(kitchen.book(first))
    assert (booked["status"], booked["purpose"], booked["claims"]) == ("confirmed", "Plum jam", first["claims"])
    assert (booked["starts_at"], booked["ends_at"]) == (first["starts_at"], first["ends_at"])


def test_every_offered_option_can_be_booked(client: Client) -> None:
    kitchen = Kitchen(client)
    for option in kitchen.options(limit=4):
        booked = ok(kitchen.book(option))
        ok(client.post(f"/v1/bookings/{booked['id']}/cancellation", headers=client.member.headers))


def test_what_was_booked_a_moment_ago_is_not_offered_any_more(client: Client) -> None:
    kitchen = Kitchen(client)
    (first,) = kitchen.options(limit=1)
    ok(kitchen.book(first))
    (second,) = kitchen.options(limit=1)
    assert second["starts_at"] > first["starts_at"]
    ok(kitchen.book(second))


def test_who_comes_second_is_told_what_stood_in_the_way_and_what_is_next(client: Client) -> None:
    kitchen = Kitchen(client)
    (first,) = kitchen.options(limit=1)
    ok(kitchen.book(first))
    before = kitchen.active()
    answer = kitchen.book(first, by=client.coordinator)
    assert answer.status_code == 409, answer.text
    problem = answer.json()
    assert (problem["code"], problem["equipment_kind"]) == ("slot-taken", "burner")
    assert kitchen.active() == before
    (following,) = kitchen.options(limit=1, by=client.coordinator)
    assert problem["next_free_at"] == following["starts_at"]


def test_cancelling_frees_exactly_what_was_held(client: Client) -> None:
    kitchen = Kitchen(client)
    before = kitchen.active()
    first, second = kitchen.options(limit=100)[0], kitchen.options(limit=100)[-1]
    kept = ok(kitchen.book(second, by=client.coordinator))
    held = kitchen.active()
    booked = ok(kitchen.book(first))
    ok(client.post(f"/v1/bookings/{booked['id']}/cancellation", headers=client.member.headers))
    assert before < kitchen.active() == held
    assert kitchen.options(limit=1)[0] == first
    assert ok(client.get(f"/v1/bookings/{kept['id']}", headers=client.coordinator.headers))["status"] == "confirmed"


def forge(what: str, option: dict[str, Any], kitchen: Kitchen) -> dict[str, Any]:
    forged = deepcopy(option)
    prep, cook, fill, canner, burner, rest = forged["claims"]
    if what == "a process too short":
        later(canner, -5, "ends_at")
        later(burner, -5, "ends_at")
    elif what == "no burner":
        forged["claims"].remove(burner)
    elif what == "a burner that is a table":
        burner["equipment_id"] = kitchen.table
    elif what == "a canner of no kitchen":
        canner["equipment_id"] = forged["claims"][0]["equipment_id"].replace("-", "-", 1)[:-1] + "0"
    elif what == "a rest too short":
        later(rest, -60 * 12, "ends_at")
    elif what == "cook before prep is over":
        later(cook, -5, "starts_at")
    elif what == "off the grid":
        for claim in forged["claims"]:
            later(claim, 1)
    elif what == "a fill that needs no hands":
        fill["attended"] = False
    elif what == "a fixed unit":
        canner["unit_fixed"] = True
    elif what == "another order":
        forged["claims"].reverse()
    elif what == "prep alone":
        forged["claims"] = [prep]
    return forged


@pytest.mark.parametrize(
    "what",
    [
        "a process too short",
        "no burner",
        "a burner that is a table",
        "a canner of no kitchen",
        "a rest too short",
        "cook before prep is over",
        "off the grid",
        "a fill that needs no hands",
        "a fixed unit",
        "another order",
        "prep alone",
    ],
)
def test_claims_that_are_not_those_of_the_batch_are_no_booking(client: Client, what: str) -> None:
    kitchen = Kitchen(client)
    (option,) = kitchen.options(limit=1)
    before = kitchen.active()
    answer = kitchen.book(forge(what, option, kitchen))
    assert (answer.status_code, answer.json()["code"]) == (422, "not-possible"), answer.text
    assert kitchen.active() == before


def test_more_jars_than_were_searched_for_are_no_booking_of_that_option(client: Client) -> None:
    kitchen = Kitchen(client)
    (option,) = kitchen.options(limit=1)
    assert kitchen.book(option, jars=[{"size": "half-pint", "count": 24}]).status_code == 422


@pytest.mark.parametrize(
    ("jars", "code"),
    [
        pytest.param([{"size": "half-pint", "count": 41}], "does-not-fit", id="more than the rack"),
        pytest.param([{"size": "quart", "count": 4}], "not-possible", id="no process for the size"),
        pytest.param([{"size": "bucket", "count": 4}], "not-possible", id="no such size"),
    ],
)
def test_a_batch_that_never_could_be_made_is_refused(client: Client, jars: list[dict[str, Any]], code: str) -> None:
    answer = Kitchen(client).search(jars=jars)
    assert (answer.status_code, answer.json()["code"]) == (422, code), answer.text


def test_a_recipe_of_somebody_else_is_not_there(client: Client) -> None:
    kitchen = Kitchen(client)
    (option,) = kitchen.options(limit=1)
    assert kitchen.search(by=client.other).status_code == 404
    assert kitchen.book(option, by=client.other).status_code == 404
    assert kitchen.search(by=client.stranger).status_code == 404


def test_a_recipe_that_is_not_ready_is_not_offered_a_time(client: Client) -> None:
    kitchen = Kitchen(client)
    kitchen.recipe = recipe(client, PLUM_JAM | {"process": {"method": "boiling-water", "minutes": 1}})
    answer = kitchen.search()
    assert (answer.status_code, answer.json()["code"]) == (422, "not-ready")


def test_a_pressure_canner_waits_for_the_sign_off(client: Client) -> None:
    kitchen = Kitchen(client)
    piece(client, canner_kind="pressure-dial", name="Grey drum")
    kitchen.recipe = recipe(client, SNAP_BEANS, by=client.other)
    beans = {"jars": [{"size": "quart", "count": 7}], "by": client.other}
    found = ok(kitchen.search(**beans))
    assert found["options"] == []
    assert [(each["equipment_kind"], each["obstacle"]) for each in found["blocked_by"]] == [
        ("canner", "sign-off-missing")
    ]
    signed = {"skill": "pressure-canning", "expires_on": "2027-12-31"}
    path = f"/v1/members/{client.other.id}/sign-offs"
    ok(client.post(path, json=signed, headers=client.trainer.headers))
    (option,) = kitchen.options(limit=1, **beans)
    assert [claim["attended"] for claim in option["claims"] if claim["step"] == "process"] == [True, False]
    by_coordinator = kitchen.book(option, **beans | {"by": client.coordinator})
    assert (by_coordinator.status_code, by_coordinator.json()["code"]) == (403, "sign-off-missing")
    ok(kitchen.book(option, **beans))


def test_an_outage_of_the_only_canner_is_named_with_the_first_start_after_it(client: Client) -> None:
    kitchen = Kitchen(client)
    outage = {"starts_at": at("14T10:00"), "ends_at": at("20T20:00"), "reason": "A new gasket"}
    headers = client.coordinator.headers
    ok(client.post(f"/v1/equipment/{kitchen.canner}/outages", json=outage, headers=headers))
    found = ok(kitchen.search(not_after=at("16T02:00")))
    assert found["options"] == []
    (blocked,) = found["blocked_by"]
    assert (blocked["equipment_id"], blocked["obstacle"]) == (kitchen.canner, "out-of-service")
    (after,) = kitchen.options(limit=1, not_before=at("16T02:00"), not_after=at("25T00:00"))
    assert blocked["next_free_at"] == after["starts_at"]
    assert after["claims"][3]["starts_at"] == at("20T20:00")  # food may be prepared while the canner is mended


def test_a_kitchen_with_one_burner_never_cooks_and_cans_at_once(client: Client) -> None:
    found = ok(Kitchen(client, burners=1).search())
    assert [(each["equipment_kind"], each["obstacle"]) for each in found["blocked_by"]] == [("burner", "none-here")]


def test_a_search_that_is_shorter_than_the_batch_says_so_and_when_it_fits(client: Client) -> None:
    kitchen = Kitchen(client)
    found = ok(kitchen.search(not_before=at("15T16:00"), not_after=at("15T17:00")))
    (blocked,) = found["blocked_by"]
    assert (blocked["equipment_kind"], blocked["obstacle"]) == (None, "time-too-short")
    assert blocked["next_free_at"] is not None


def test_a_member_has_two_hands_in_all_their_bookings(client: Client) -> None:
    kitchen = Kitchen(client)
    table = piece(client, kind="table", name="Small table")
    own = {"equipment_id": table, "starts_at": at("14T14:00"), "ends_at": at("14T16:00"), "purpose": "Apples"}
    ok(client.post("/v1/bookings", json=own, headers=client.member.headers))
    assert kitchen.options(limit=1)[0]["starts_at"] == at("14T16:00")
    assert kitchen.options(limit=1, by=client.coordinator)[0]["starts_at"] == at("14T14:00")
    (early,) = kitchen.options(limit=1, by=client.coordinator)
    answer = kitchen.book(early)
    assert (answer.status_code, answer.json()["code"]) == (409, "member-busy")
    assert answer.json()["next_free_at"] == at("14T16:00")


def test_units_that_are_not_fixed_make_room_from_the_next_day_on(client: Client) -> None:
    """Enough burners are free at any time, but none throughout: a pot that may stand elsewhere goes elsewhere."""
    kitchen = Kitchen(client, burners=4)
    piece(client, kind="table", name="Small table")
    piece(client, name="Red kettle")
    tomorrow = {"not_before": at("15T14:00"), "not_after": at("16T02:00")}
    (first,) = kitchen.options(limit=1, **tomorrow)
    pot, canner_burner = first["claims"][1], first["claims"][4]
    kept = ok(kitchen.book(first))
    spare, _ = (each for each in kitchen.burners if each not in (pot["equipment_id"], canner_burner["equipment_id"]))
    named = {"equipment_id": spare, "starts_at": pot["ends_at"], "ends_at": at("15T23:00"), "purpose": "Stock"}
    ok(client.post("/v1/bookings", json=named, headers=client.coordinator.headers))
    kitchen.recipe = recipe(client, by=client.other)
    options = kitchen.options(by=client.other, **tomorrow)
    assert [each["starts_at"] for each in options[:2]] == [at("15T14:00"), at("15T14:05")]
    ok(kitchen.book(options[1], by=client.other))
    moved = ok(client.get(f"/v1/bookings/{kept['id']}", headers=client.member.headers))
    assert moved["claims"][1] == pot | {"equipment_id": spare}
    assert [*moved["claims"][:1], *moved["claims"][2:]] == [*first["claims"][:1], *first["claims"][2:]]


def test_a_batch_is_run_from_its_booking_in_the_canner_it_claims(client: Client) -> None:
    kitchen = Kitchen(client)
    (option,) = kitchen.options(limit=1)
    booked = ok(kitchen.book(option))
    client.clock.at = datetime.fromisoformat(option["starts_at"]) + timedelta(minutes=90)
    batch = ok(client.post("/v1/batches", json={"booking_id": booked["id"]}, headers=client.member.headers))
    assert [(load["canner_id"], load["count"]) for load in batch["run_sheet"]["load_plan"]] == [(kitchen.canner, 8)]
    load = {"jar_size": "half-pint", "count": 8, "canner_id": kitchen.canner}
    ok(client.post(f"/v1/batches/{batch['id']}/loads", json=load, headers=client.member.headers))


def blocked(found: dict[str, Any]) -> list[tuple[str | None, str, str | None]]:
    assert found["options"] == []
    assert "cut_short" not in found
    return [(each["equipment_kind"], each["obstacle"], each["next_free_at"]) for each in found["blocked_by"]]


def test_a_closure_is_named_with_the_first_start_after_it(client: Client) -> None:
    kitchen = Kitchen(client)
    closure = {"starts_at": at("14T10:00"), "ends_at": at("17T08:00"), "reason": "Painting"}
    ok(client.post("/v1/closures", json=closure, headers=client.coordinator.headers))
    found = ok(kitchen.search(not_after=at("16T02:00")))
    assert blocked(found) == [(None, "kitchen-closed", at("17T14:00"))]


def test_a_rack_without_room_is_named_with_the_first_start_at_which_it_has_some(client: Client) -> None:
    kitchen = Kitchen(client)
    for starts, ends in (("14T14:00", "15T02:00"), ("15T14:00", "16T02:00")):
        standing = {"equipment_id": kitchen.rack, "starts_at": at(starts), "ends_at": at(ends), "purpose": "Quinces"}
        jars = [{"size": "half-pint", "count": 33}]  # of 40 places
        ok(client.post("/v1/bookings", json=standing | {"jars": jars}, headers=client.other.headers))
    found = ok(kitchen.search(not_after=at("15T02:00")))
    (after,) = kitchen.options(limit=1, not_before=at("15T02:00"))
    assert blocked(found) == [("rack", "slot-taken", after["starts_at"])]
    assert kitchen.options(limit=1, jars=[{"size": "half-pint", "count": 7}])[0]["starts_at"] == at("14T14:00")


def test_jars_that_no_canner_takes_are_refused_with_what_they_take(client: Client) -> None:
    kitchen = Kitchen(client)
    piece(client, canner_kind="pressure-dial", name="Grey drum", capacity={"pint": 9})
    kitchen.recipe = recipe(client, SNAP_BEANS)
    answer = kitchen.search(jars=[{"size": "quart", "count": 7}])
    assert (answer.status_code, answer.json()["code"], answer.json()["jar_size"]) == (422, "does-not-fit", "quart")
    assert "pint" in answer.json()["detail"]


def test_a_kitchen_closed_all_week_says_so(client: Client) -> None:
    kitchen = Kitchen(client)
    opened(client, [])
    found = ok(kitchen.search())
    assert [(each["obstacle"], each["next_free_at"]) for each in found["blocked_by"]] == [("kitchen-closed", None)]
    opened(client, EVERY_DAY)


def test_other_figures_make_other_times_and_old_offers_are_refused(client: Client) -> None:
    kitchen = Kitchen(client)
    (option,) = kitchen.options(limit=1)
    headers = client.coordinator.headers | {"If-Match": '"1"'}
    ok(client.put("/v1/kitchen-figures", json={"minutes": {"prep_minutes": 60}}, headers=headers))
    assert kitchen.book(option).status_code == 422
    (slower,) = kitchen.options(limit=1)
    prep = slower["claims"][0]
    assert (prep["starts_at"], prep["ends_at"]) == (at("14T14:00"), at("14T15:00"))
    ok(kitchen.book(slower))
