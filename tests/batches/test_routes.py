from uuid import UUID, uuid4

import pytest

from service.members.tables import Kitchen
from service.pantry import store as pantry_store
from tests import make
from tests.batches.make import SNAP_BEANS, Day, booking, canner, ok, pantry
from tests.conftest import Client

HOT_F, COOL_F = 205.0, 203.0  # water boils at 204.3 F at 4,200 ft: NOAA-S/T 76-1562 with IAPWS-IF97, computed


def proved(client: Client) -> bool:
    with make.session(client.app.state.database) as session:
        return pantry_store.prove(session, client.member.kitchen_id).holds


def test_a_booking_becomes_a_batch_and_its_jars_stand_in_the_pantry(client: Client) -> None:
    day = Day(client)
    assert day.batch["status"] == "running"
    load = ok(day.load())
    assert (load["method"], load["minutes"], load["pressure_psi"]) == ("boiling-water", 10, None)
    ok(day.out())
    checked = ok(day.seals(6, 1, 1))
    states = {lot["state"]: lot["count"] for lot in checked["lots"]}
    assert states == {"shelf": 6, "refrigerator": 1, "discarded": 1}
    item = pantry(client, query="?state=shelf")[0]
    assert item == {
        "lot_code": checked["lots"][0]["lot_code"],
        "title": "Plum jam",
        "family": "jam",
        "product": "jam-or-jelly-with-pectin",
        "jar_size": "half-pint",
        "count": 6,
        "state": "shelf",
        "made_on": "2027-06-12",
        "best_by": "2028-06-12",
        "location": None,
    }
    assert pantry(client, query="?state=refrigerator")[0]["location"].startswith("did not seal")
    assert ok(client.get(f"/v1/bookings/{day.booking['id']}", headers=client.member.headers))["status"] == "done"
    batch = ok(client.get(f"/v1/batches{day.path}", headers=client.member.headers))
    assert (batch["status"], batch["lot_code"]) == ("done", item["lot_code"])
    assert proved(client)


def test_the_run_sheet_says_all_there_is_to_do(client: Client) -> None:
    sheet = Day(client).batch["run_sheet"]
    assert [(step["step"], step["amounts"]) for step in sheet["steps"]] == [
        ("fruit", ["4 1/2 cups crushed plums"]),
        ("sugar", ["7 1/2 cups sugar"]),
        ("boil-hard-1-min", []),
        ("remove-heat", []),
        ("pectin", ["1 pouch (3 oz) liquid pectin"]),
        ("skim", []),
        ("fill", []),
        ("process", []),
    ]
    process = sheet["processes"][0]
    # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 7, half-pints and pints at 1,001 to 6,000 ft.
    assert (process["jar_size"], process["minutes"], process["headspace_in"]) == ("half-pint", 10, 0.25)
    assert [(load["jar_size"], load["count"]) for load in sheet["load_plan"]] == [("half-pint", 8)]
    assert (sheet["altitude_ft"], sheet["venting"]) == (4200, None)
    assert (sheet["rest"]["hours_min"], sheet["rest"]["hours_max"]) == (12, 24)


def test_a_pressure_batch_is_vented_and_read_by_its_gauge(client: Client) -> None:
    day = Day(client, SNAP_BEANS, kind="pressure-dial")
    assert "10 minutes" in day.batch["run_sheet"]["venting"]
    load = ok(day.load(7))
    # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 4: quarts, dial gauge, 4,001 to 6,000 ft.
    assert (load["minutes"], load["pressure_psi"]) == (25, 13)
    assert day.heat([13.0] * 26).status_code == 422
    log = ok(day.heat([13.0] * 26, unit="psi"))
    assert (log["answer"], log["required"]) == ("held", 13.0)
    assert ok(day.heat([13.0] * 20 + [12.5] + [13.0] * 5, unit="psi"))["answer"] == "restart"


@pytest.mark.parametrize(
    ("trace", "answer", "state"),
    [
        pytest.param([COOL_F] + [HOT_F] * 11, "held", "shelf", id="held for ten minutes"),
        pytest.param([HOT_F] * 9 + [COOL_F] + [HOT_F] * 9, "restart", "hold", id="a dip and not the whole time again"),
        pytest.param([HOT_F] * 5, "cannot-tell", "hold", id="a log that ends too soon"),
    ],
)
def test_a_heat_log_decides_where_the_sealed_jars_go(
    client: Client, trace: list[float], answer: str, state: str
) -> None:
    day = Day(client)
    ok(day.load())
    log = ok(day.heat(trace))
    assert log["answer"] == answer
    assert log["required"] == pytest.approx(204.3, abs=0.1)
    assert log["readings"]
    ok(day.out())
    assert {lot["state"] for lot in ok(day.seals(8, 0))["lots"]} == {state}
    assert proved(client)


def test_a_barometer_moves_what_is_required_but_never_below_real_air(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    assert ok(day.heat([HOT_F] * 12, barometer_hpa=900))["answer"] == "restart"
    assert ok(day.heat([96.5] * 12, unit="C"))["answer"] == "held"
    assert day.heat([190.0] * 12, barometer_hpa=650).status_code == 422


def test_a_late_heat_log_sets_jars_on_the_shelf_aside(client: Client) -> None:
    day = Day(client)
    day.to_the_shelf()
    ok(day.heat([HOT_F] * 5 + [COOL_F]))
    assert {item["state"] for item in pantry(client)} == {"hold"}
    assert proved(client)


def test_a_load_out_before_its_time_waits_on_hold(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    assert ok(day.out(minutes=54))["out_too_early"]
    assert ok(day.seals(8, 0))["lots"][0]["state"] == "hold"


def test_two_loads_of_a_batch_are_one_lot(client: Client) -> None:
    day = Day(client)
    ok(day.load(5))
    assert day.load(3, minutes=60).json()["code"] == "not-now"
    ok(day.out())
    ok(day.load(3, minutes=90))
    ok(day.out(minutes=120, load=2))
    first, second = ok(day.seals(5, 0)), ok(day.seals(3, 0, load=2))
    assert first["lots"][0]["lot_code"] == second["lots"][0]["lot_code"]
    assert [item["count"] for item in pantry(client)] == [8]


def test_a_reading_above_the_limit_holds_the_lot(client: Client) -> None:
    day = Day(client)
    day.to_the_shelf()
    assert not ok(day.ph(3.2, calibrated_at_buffers=[4.01, 7.0]))["on_hold"]
    assert pantry(client)[0]["state"] == "shelf"
    reading = ok(day.ph(4.7, instrument="strip"))
    assert reading["on_hold"]
    assert reading["notes"]
    assert pantry(client)[0]["state"] == "hold"
    assert proved(client)


def test_low_acid_food_under_pressure_is_not_held_by_its_ph(client: Client) -> None:
    day = Day(client, SNAP_BEANS, kind="pressure-dial")
    day.to_the_shelf(7)
    assert not ok(day.ph(5.8))["on_hold"]


def test_what_cannot_be_is_refused_and_changes_nothing(client: Client) -> None:
    day = Day(client)
    other_canner = canner(client)
    refused = [
        (day.load(13), 422, "does-not-fit"),
        (day.load(8, jar_size="pint"), 422, "not-possible"),
        (day.load(8, canner_id=other_canner), 422, "not-possible"),
        (day.load(8, minutes=-1), 422, "not-at-that-time"),
        (day.load(8, minutes=49 * 60), 422, "not-at-that-time"),
        (day.load(0), 422, "invalid-request"),
        (day.out(), 404, "not-found"),
    ]
    ok(day.load())
    refused += [
        (day.seals(), 409, "not-now"),
        (day.out(minutes=44), 422, "not-at-that-time"),
        (day.heat([]), 422, "invalid-request"),
        (day.heat([9e9]), 422, "invalid-request"),
        (day.heat([HOT_F], minutes=49 * 60), 422, "not-at-that-time"),
    ]
    ok(day.out())
    refused += [
        (day.out(), 409, "already-done"),
        (day.seals(minutes=100), 409, "too-early"),
        (day.seals(9, 0), 422, "not-possible"),
        (day.seals(-1, 9), 422, "invalid-request"),
        (day.seals(load=2), 404, "not-found"),
    ]
    assert [(answer.status_code, answer.json()["code"]) for answer, _, _ in refused] == [
        (status, code) for _, status, code in refused
    ]
    assert pantry(client) == []
    ok(day.seals())
    assert day.seals().json()["code"] == "already-done"
    assert sum(item["count"] for item in pantry(client)) == 8


def test_a_booking_becomes_one_batch_and_only_while_it_stands(client: Client) -> None:
    day = Day(client)
    assert day.post("", {"booking_id": day.booking["id"]}).json()["code"] == "already-done"
    ahead = booking(client, canner(client), hours_ago=-24)
    ok(client.post(f"/v1/bookings/{ahead['id']}/cancellation", headers=client.member.headers))
    assert day.post("", {"booking_id": ahead["id"]}).json()["code"] == "not-now"
    assert day.post("", {"booking_id": str(uuid4())}).status_code == 404


def test_a_booking_without_a_suitable_canner_or_recipe_becomes_no_batch(client: Client) -> None:
    day = Day(client)
    canner_id = canner(client, "pressure-weighted")
    wrong = client.post(
        "/v1/bookings",
        json={
            "equipment_id": canner_id,
            "starts_at": "2027-06-14T12:00:00Z",
            "ends_at": "2027-06-14T13:00:00Z",
            "purpose": "Nothing in particular",
        },
        headers=client.member.headers,
    )
    assert day.post("", {"booking_id": ok(wrong)["id"]}).json()["code"] == "not-now"


def test_a_batch_is_its_members_and_the_coordinators(client: Client) -> None:
    day = Day(client)
    path = f"/v1/batches{day.path}"
    for outsider in (client.other, client.trainer, client.stranger):
        assert client.get(path, headers=outsider.headers).status_code == 404
        assert day.post(f"{day.path}/loads/1/out", {}, outsider).status_code == 404
        assert day.post("", {"booking_id": day.booking["id"]}, outsider).status_code == 404
        assert ok(client.get("/v1/batches", headers=outsider.headers))["items"] == []
    assert ok(client.get(path, headers=client.coordinator.headers))["id"] == day.batch["id"]
    assert len(ok(client.get("/v1/batches", headers=client.coordinator.headers))["items"]) == 1
    assert client.get(path).status_code == 401


def test_jars_reach_the_member_even_if_the_coordinator_counts_them(client: Client) -> None:
    day = Day(client)
    day.member, member = client.coordinator, day.member
    day.to_the_shelf()
    assert pantry(client, client.coordinator) == []
    assert [item["count"] for item in pantry(client, member)] == [8]


def test_a_kitchen_may_say_eighteen_months(client: Client) -> None:
    with make.session(client.app.state.database) as session:
        kitchen = session.get(Kitchen, UUID(str(client.member.kitchen_id)))
        assert kitchen is not None
        kitchen.best_by_months = 18
        session.add(kitchen)
    Day(client).to_the_shelf()
    assert pantry(client)[0]["best_by"] == "2028-12-12"


def test_a_long_heat_log_is_taken_and_a_longer_one_is_not(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    reading = {"at": day.at(46), "value": HOT_F}
    assert day.heat([], readings=[reading] * 20_000).status_code == 201
    assert day.heat([], readings=[reading] * 20_001).status_code == 422
    assert day.heat([], readings=[reading] * 25_000).status_code == 413
