"""Plans over HTTP: ordered, followed, accepted all or none, cancelled; and what can't be planned."""

import os
import signal
import time
from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from service.plans import planner
from service.plans.tables import DayPlan
from service.web.types import write_timestamp
from tests.batches.make import SNAP_BEANS, ok, recipe
from tests.bookings.kitchen import at, piece
from tests.bookings.test_whole_batches import JARS, Kitchen
from tests.conftest import Client, Person

PATIENCE_SECONDS = 120
DUE = at("14T19:00")


class Day:
    """A kitchen with room for a few batches at once, and short ways to plan in it."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.kitchen = Kitchen(client, burners=4)
        piece(client, kind="table", name="Short table")
        self.canners = [self.kitchen.canner, piece(client, name="Red kettle")]

    def batch(self, member: Person | None = None, **more: Any) -> dict[str, Any]:
        member_id = str((member or self.client.member).id)
        asked = {"recipe_id": self.kitchen.recipe, "revision": 1, "member_id": member_id, "jars": JARS, "due_by": DUE}
        return asked | more

    def order(self, *batches: dict[str, Any], by: Person | None = None, **more: Any) -> Any:
        sent = {"from": at("14T14:00"), "to": at("16T02:00"), "batches": list(batches), "time_limit_seconds": 2}
        headers = (by or self.client.coordinator).headers
        return self.client.post("/v1/day-plans", json=sent | {"seed": 1} | more, headers=headers)

    def read(self, plan_id: str, by: Person | None = None) -> Any:
        return self.client.get(f"/v1/day-plans/{plan_id}", headers=(by or self.client.coordinator).headers)

    def act(self, plan_id: str, act: str) -> Any:
        return self.client.post(f"/v1/day-plans/{plan_id}/{act}", headers=self.client.coordinator.headers)

    def done(self, plan_id: str) -> dict[str, Any]:
        """The plan, once the planner is done with it."""
        until = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < until:
            found: dict[str, Any] = ok(self.read(plan_id))
            if found["status"] not in ("queued", "running"):
                return found
            time.sleep(0.1)
        raise AssertionError("The planner didn't come to an end.")

    def ordered(self, *batches: dict[str, Any], **more: Any) -> str:
        answer = self.order(*batches, **more)
        assert answer.status_code == 202, answer.text
        return str(answer.json()["id"])

    def planned(self, *batches: dict[str, Any], **more: Any) -> dict[str, Any]:
        return self.done(self.ordered(*batches, **more))


def test_a_plan_is_proposed_followed_and_accepted_as_bookings(client: Client) -> None:
    day = Day(client)
    ordered = day.order(day.batch(), day.batch(client.other), day.batch(client.other))
    assert ordered.status_code == 202
    plan_id = ordered.json()["id"]
    assert ordered.headers["location"] == f"/v1/day-plans/{plan_id}"
    plan = day.done(plan_id)
    assert plan["status"] == "proposed", plan
    assert len(plan["timetable"]) == 3
    assert [goal["goal"] for goal in plan["goals"]] == ["lateness", "worst-off-member", "makespan", "idle-canners"]
    assert (plan["lateness_minutes"], plan["lower_bound"], plan["optimal"]) == (0, 0, True)
    assert plan["makespan_minutes"] <= plan["first_come"]["makespan"]
    before = day.kitchen.active()
    accepted = ok(day.act(plan_id, "acceptance"))
    assert accepted["status"] == "accepted"
    assert day.kitchen.active() > before
    for line in accepted["timetable"]:
        booking = ok(client.get(f"/v1/bookings/{line['booking_id']}", headers=client.coordinator.headers))
        assert (booking["status"], booking["member_id"]) == ("confirmed", line["member_id"])
        times = [(claim["step"], claim["starts_at"]) for claim in line["claims"]]
        assert [(claim["step"], claim["starts_at"]) for claim in booking["claims"]] == times
    again = day.act(plan_id, "acceptance")
    assert (again.status_code, again.json()["code"]) == (409, "already-done")
    assert day.act(plan_id, "cancellation").json()["code"] == "not-now"


def test_the_same_seed_gives_the_same_plan(client: Client) -> None:
    day = Day(client)
    batches = [day.batch(), day.batch(client.other), day.batch(client.other, due_by=at("14T17:00"))]
    one, other = day.planned(*batches, seed=7), day.planned(*batches, seed=7)
    assert one["timetable"] == other["timetable"]


def test_a_member_sees_the_plans_with_batches_of_theirs_and_only_those_batches(client: Client) -> None:
    day = Day(client)
    plan = day.planned(day.batch(), day.batch(client.other))
    theirs = ok(day.read(plan["id"], by=client.member))
    assert [line["member_id"] for line in theirs["timetable"]] == [str(client.member.id)]
    assert day.read(plan["id"], by=client.stranger).status_code == 404
    listed = ok(client.get("/v1/day-plans", headers=client.other.headers))["items"]
    assert [each["id"] for each in listed] == [plan["id"]]
    alone = day.planned(day.batch(client.other))
    assert day.read(alone["id"], by=client.member).status_code == 404


def test_a_plan_is_stale_when_what_it_needs_was_booked_meanwhile(client: Client) -> None:
    day = Day(client)
    plan = day.planned(*(day.batch(person) for person in (client.member, client.other, client.coordinator)))
    outage = {"starts_at": at("14T14:00"), "ends_at": at("15T14:00"), "reason": "A cracked lid"}
    path = f"/v1/equipment/{day.kitchen.canner}/outages"
    ok(client.post(path, json=outage, headers=client.coordinator.headers))
    path = f"/v1/equipment/{day.kitchen.table}/outages"
    ok(client.post(path, json=outage, headers=client.coordinator.headers))
    before = day.kitchen.active()
    refused = day.act(plan["id"], "acceptance")
    assert (refused.status_code, refused.json()["code"]) == (409, "plan-stale")
    (entry,) = ok(client.get("/v1/audit-entries?limit=1", headers=client.coordinator.headers))["items"]
    assert entry["act"] == "accept_day_plan refused"
    assert day.kitchen.active() == before
    assert ok(day.read(plan["id"]))["status"] == "stale"
    assert day.act(plan["id"], "acceptance").json()["code"] == "not-now"


def test_of_two_plans_for_the_same_time_the_second_doesnt_overbook(client: Client) -> None:
    day = Day(client)
    people = (client.member, client.other, client.coordinator, client.trainer)
    plans = [day.planned(*(day.batch(person) for person in people)) for _ in range(2)]
    ok(day.act(plans[0]["id"], "acceptance"))
    assert day.act(plans[1]["id"], "acceptance").json()["code"] == "plan-stale"


def test_a_cancelled_plan_is_neither_worked_on_nor_accepted(client: Client) -> None:
    day = Day(client)
    plan_id = day.ordered(day.batch())
    assert ok(day.act(plan_id, "cancellation"))["status"] == "cancelled"
    assert day.act(plan_id, "cancellation").json()["code"] == "already-done"
    assert day.act(plan_id, "acceptance").json()["code"] == "not-now"
    later = day.planned(day.batch())
    assert later["status"] == "proposed"
    assert ok(day.read(plan_id))["status"] == "cancelled"


def test_more_than_the_time_holds_is_infeasible_and_says_what_had_no_place(client: Client) -> None:
    day = Day(client)
    plan = day.planned(*(day.batch() for _ in range(9)), to=at("14T17:30"))
    assert (plan["status"], plan["timetable"]) == ("infeasible", [])
    assert plan["without_place"]
    assert plan["reason"]


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        pytest.param({"recipe_id": "7a0c2d64-0b7e-4f0e-9c7a-6b1f0f3d2a55"}, 404, "not-found", id="unknown recipe"),
        pytest.param({"member_id": "7a0c2d64-0b7e-4f0e-9c7a-6b1f0f3d2a55"}, 404, "not-found", id="unknown member"),
        pytest.param({"revision": 2}, 404, "not-found", id="unknown revision"),
        pytest.param({"due_by": at("14T09:59")}, 422, "in-the-past", id="due in the past"),
        pytest.param({"jars": [{"size": "half-gallon", "count": 2}]}, 422, "not-possible", id="no such process"),
        pytest.param({"jars": [{"size": "half-pint", "count": 4000}]}, 422, "does-not-fit", id="too many jars"),
        pytest.param({"weight": 11}, 422, "invalid-request", id="too heavy"),
    ],
)
def test_what_no_plan_could_place_is_refused_at_once(
    client: Client, change: dict[str, Any], status: int, code: str
) -> None:
    day = Day(client)
    answer = day.order(day.batch(), day.batch(**change))
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert code == "invalid-request" or answer.json()["batch"] == 1
    assert ok(client.get("/v1/day-plans", headers=client.coordinator.headers))["items"] == []


def test_jars_that_no_canner_takes_are_refused(client: Client) -> None:
    day = Day(client)
    beans = recipe(client, SNAP_BEANS)
    answer = day.order(day.batch(recipe_id=beans, jars=[{"size": "pint", "count": 4}]))
    assert (answer.status_code, answer.json()["code"]) == (422, "does-not-fit")


def test_a_thousand_batches_are_too_many_and_so_is_a_month(client: Client) -> None:
    day = Day(client)
    assert day.order(*(day.batch() for _ in range(1000))).status_code == 413
    many = day.order(*(day.batch() for _ in range(101)))
    assert (many.status_code, many.json()["code"]) == (422, "invalid-request")
    assert day.order(day.batch(), to=at("30T02:00")).json()["code"] == "not-possible"
    assert day.order(day.batch(), to=at("14T13:00")).json()["code"] == "ends-before-start"
    assert day.order(day.batch(), by=client.member).status_code == 403


def test_a_killed_planner_is_started_again_and_nothing_is_half_booked(client: Client) -> None:
    day = Day(client)
    first = day.planned(day.batch())
    assert first["status"] == "proposed"
    process = client.app.state.planner._solver._process
    os.kill(process.pid, signal.SIGKILL)
    process.join()
    before = day.kitchen.active()
    assert day.planned(day.batch())["status"] == "proposed"
    assert day.kitchen.active() == before


def test_a_plan_at_which_the_planner_fails_is_answered_and_keeps_no_other_from_its_turn(
    client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    word = "rhubarb"

    def fails(*_given: object) -> None:
        raise KeyError(word)

    day = Day(client)
    monkeypatch.setattr(planner, "order", fails)
    for _ in range(2):
        failed = day.done(day.ordered(day.batch()))
        assert (failed["status"], failed["reason"]) == ("cancelled", planner.BROKE_OFF)
    assert "KeyError" in caplog.text
    assert word not in caplog.text


def test_a_service_takes_up_what_the_one_before_it_left(client: Client) -> None:
    day = Day(client)
    client.app.state.planner.stop()
    plan_id = day.ordered(day.batch())
    with Session(client.app.state.database.reader) as session:
        assert session.exec(select(DayPlan.status)).one() == "queued"
    client.app.state.planner._stopping = False
    client.app.state.planner.start()
    assert day.done(plan_id)["status"] == "proposed"


def test_after_a_failure_few_batches_move_each_for_a_reason_and_all_or_none(client: Client) -> None:
    day = Day(client)
    people = (client.member, client.other, client.coordinator, client.trainer)
    plan = day.planned(*(day.batch(person) for person in people))
    before = {line["booking_id"]: line for line in ok(day.act(plan["id"], "acceptance"))["timetable"]}
    outage = {"starts_at": at("14T14:00"), "ends_at": at("15T02:00"), "reason": "A cracked lid"}
    path = f"/v1/equipment/{day.kitchen.canner}/outages"
    displaced = ok(client.post(path, json=outage, headers=client.coordinator.headers))["displaced"]
    assert displaced
    sent = {"from": at("14T14:00"), "to": at("16T02:00"), "time_limit_seconds": 2, "seed": 1}
    answer = client.post("/v1/re-plans", json=sent, headers=client.coordinator.headers)
    assert answer.status_code == 202, answer.text
    again = day.done(answer.json()["id"])
    assert again["status"] == "proposed", again
    assert [goal["goal"] for goal in again["goals"]][:3] == ["lateness", "moved-promises", "minutes-moved"]
    changed = {line["booking_id"] for line in again["timetable"] if line["change"]}
    assert {each["booking_id"] for each in displaced} <= changed
    for line in again["timetable"]:
        if line["booking_id"] not in changed:
            assert line["out_at"] == before[line["booking_id"]]["out_at"]
    accepted = ok(day.act(again["id"], "acceptance"))
    assert {line["booking_id"] for line in accepted["timetable"]} & set(before) == set(before) - changed
    for line in accepted["timetable"]:
        booking = ok(client.get(f"/v1/bookings/{line['booking_id']}", headers=client.coordinator.headers))
        assert booking["status"] == "confirmed"
    for booking_id in changed:
        booking = ok(client.get(f"/v1/bookings/{booking_id}", headers=client.coordinator.headers))
        assert booking["status"] == "cancelled"


def test_with_nothing_booked_there_is_nothing_to_plan_again(client: Client) -> None:
    Day(client)
    sent = {"from": at("14T14:00"), "to": at("16T02:00")}
    answer = client.post("/v1/re-plans", json=sent, headers=client.coordinator.headers)
    assert (answer.status_code, answer.json()["code"]) == (409, "not-now")


def promised(day: Day, *people: Person) -> list[dict[str, Any]]:
    """A day that was planned and accepted, earliest start first."""
    plan = day.planned(*(day.batch(person) for person in people))
    lines = ok(day.act(plan["id"], "acceptance"))["timetable"]
    return sorted(lines, key=lambda line: str(line["claims"][0]["starts_at"]))


def re_plan(day: Day, **more: Any) -> Any:
    sent = {"from": at("14T14:00"), "to": at("16T02:00"), "time_limit_seconds": 2, "seed": 1} | more
    return day.client.post("/v1/re-plans", json=sent, headers=day.client.coordinator.headers)


def later(moment: str, minutes: int) -> str:
    return write_timestamp(datetime.fromisoformat(moment) + timedelta(minutes=minutes))


def claims(day: Day, booking_id: str) -> list[dict[str, Any]]:
    found = ok(day.client.get(f"/v1/bookings/{booking_id}", headers=day.client.coordinator.headers))
    assert found["status"] == "confirmed"
    answer: list[dict[str, Any]] = found["claims"]
    return answer


def test_a_batch_that_runs_over_keeps_its_equipment_and_few_others_move_for_it(client: Client) -> None:
    day = Day(client)
    first, *others = promised(day, client.member, client.other, client.coordinator, client.trainer)
    before = {line["booking_id"]: claims(day, line["booking_id"]) for line in (first, *others)}
    process = next(claim for claim in first["claims"] if claim["step"] == "process")
    client.clock.at = datetime.fromisoformat(process["starts_at"]) + timedelta(minutes=30)
    running = {"booking_id": first["booking_id"], "out_at": later(first["out_at"], 40)}
    answer = re_plan(day, running_over=[running])
    assert answer.status_code == 202, answer.text
    plan = day.done(answer.json()["id"])
    assert plan["status"] == "proposed", plan
    assert {id_: claims(day, id_) for id_ in before} == before  # nothing is moved yet
    lines = {line["booking_id"]: line for line in plan["timetable"]}
    own = lines.pop(first["booking_id"])
    assert (own["late_minutes"], own["out_at"]) == (40, running["out_at"])
    assert "takes longer" in own["change"]
    for line in lines.values():
        assert line["change"] or line["claims"] == before[line["booking_id"]]
    ok(day.act(plan["id"], "acceptance"))
    now_held = claims(day, first["booking_id"])
    for was, held in zip(before[first["booking_id"]], now_held, strict=True):
        assert (was["step"], was["equipment_id"]) == (held["step"], held["equipment_id"])
        if was["step"] == "process":
            assert (held["starts_at"], held["ends_at"]) == (was["starts_at"], later(was["ends_at"], 40))
        elif was["step"] != "rest":
            assert held == was


def test_when_the_only_canner_is_held_longer_the_next_batch_moves_and_says_why(client: Client) -> None:
    day = Day(client)
    outage = {"starts_at": at("14T14:00"), "ends_at": at("15T02:00"), "reason": "A cracked lid"}
    ok(client.post(f"/v1/equipment/{day.canners[1]}/outages", json=outage, headers=client.coordinator.headers))
    first, second, third = promised(day, client.member, client.trainer, client.other)
    client.clock.at = datetime.fromisoformat(second["claims"][0]["starts_at"]) + timedelta(minutes=5)
    assert write_timestamp(client.clock.at) < third["claims"][0]["starts_at"]
    table = third["claims"][0]
    wanted = {"equipment_kind": "table", "minutes": 5, "not_before": table["starts_at"], "not_after": table["ends_at"]}
    asked = wanted | {"purpose": "Labels"}
    waiting = client.post("/v1/waiting-list", json=asked, headers=client.coordinator.headers)
    assert waiting.status_code == 201, waiting.text
    running = {"booking_id": first["booking_id"], "out_at": later(first["out_at"], 60)}
    plan = day.done(re_plan(day, running_over=[running]).json()["id"])
    lines = {line["booking_id"]: line for line in plan["timetable"]}
    waits, moved = lines[second["booking_id"]], lines[third["booking_id"]]
    assert waits["change"].startswith("It has begun")
    assert waits["claims"][0] == second["claims"][0]
    assert waits["out_at"] > second["out_at"]
    assert moved["change"] == "A batch that began before it runs over, and needs what this one had booked."
    assert moved["due_by"] == DUE  # as the plan said that booked it
    accepted = ok(day.act(plan["id"], "acceptance"))["timetable"]
    assert [line["booking_id"] == first["booking_id"] for line in accepted].count(True) == 1
    told = [
        each
        for person in (client.trainer, client.other)
        for each in ok(client.get("/v1/notices", headers=person.headers))["items"]
    ]
    assert any("runs over" in each["message"] for each in told)
    told = ok(client.get("/v1/notices", headers=client.member.headers))["items"]
    assert any("takes longer" in each["message"] for each in told)
    offered = ok(client.get(waiting.headers["location"], headers=client.coordinator.headers))
    assert offered["state"] == "offered"  # what the moved batch left


def test_a_plan_is_stale_once_a_batch_that_runs_over_has_gone_on(client: Client) -> None:
    day = Day(client)
    first, second = promised(day, client.member, client.other)
    client.clock.at = datetime.fromisoformat(at("14T14:10"))
    running = {"booking_id": first["booking_id"], "out_at": later(first["out_at"], 30)}
    plan = day.done(re_plan(day, running_over=[running]).json()["id"])
    before = claims(day, first["booking_id"]), claims(day, second["booking_id"])
    client.clock.at = datetime.fromisoformat(first["claims"][1]["starts_at"]) + timedelta(minutes=5)
    refused = day.act(plan["id"], "acceptance")
    assert (refused.status_code, refused.json()["code"]) == (409, "plan-stale")
    assert (claims(day, first["booking_id"]), claims(day, second["booking_id"])) == before


@pytest.mark.parametrize(
    ("over", "status", "code"),
    [
        pytest.param({"minutes": 0}, 422, "not-possible", id="no later than promised"),
        pytest.param({"minutes": 13 * 60}, 422, "not-possible", id="half a day later"),
        pytest.param({"booking_id": "7a0c2d64-0b7e-4f0e-9c7a-6b1f0f3d2a55"}, 404, "not-found", id="no such booking"),
        pytest.param({"clock": "14T13:00"}, 409, "not-now", id="not begun yet"),
        pytest.param({"twice": True}, 422, "not-possible", id="named twice"),
    ],
)
def test_only_a_batch_that_has_begun_runs_over(client: Client, over: dict[str, Any], status: int, code: str) -> None:
    day = Day(client)
    (line,) = promised(day, client.member)
    client.clock.at = datetime.fromisoformat(at(over.get("clock", "14T14:40")))
    out_at = later(line["out_at"], over.get("minutes", 40))
    running = {"booking_id": over.get("booking_id", line["booking_id"]), "out_at": out_at}
    answer = re_plan(day, running_over=[running] * (2 if over.get("twice") else 1))
    assert (answer.status_code, answer.json()["code"]) == (status, code), answer.text


def test_a_batch_may_run_over_twice_and_not_into_an_outage(client: Client) -> None:
    day = Day(client)
    (line,) = promised(day, client.member)
    client.clock.at = datetime.fromisoformat(at("14T14:40"))
    for minutes in (20, 45):
        running = {"booking_id": line["booking_id"], "out_at": later(line["out_at"], minutes)}
        plan = day.done(re_plan(day, running_over=[running]).json()["id"])
        assert ok(day.act(plan["id"], "acceptance"))["timetable"][0]["out_at"] == running["out_at"]
    outage = {"starts_at": later(line["out_at"], 90), "ends_at": at("15T14:00"), "reason": "A cracked lid"}
    for canner in day.canners:
        ok(client.post(f"/v1/equipment/{canner}/outages", json=outage, headers=client.coordinator.headers))
    answer = re_plan(day, running_over=[{"booking_id": line["booking_id"], "out_at": later(line["out_at"], 120)}])
    assert (answer.status_code, answer.json()["code"]) == (409, "out-of-service"), answer.text


def limits(client: Client, **figures: int) -> None:
    etag = client.get("/v1/fair-use", headers=client.coordinator.headers).headers["etag"]
    headers = {**client.coordinator.headers, "If-Match": etag}
    ok(client.put("/v1/fair-use", json=figures, headers=headers))


def test_a_plan_keeps_to_the_limits_of_fair_use(client: Client) -> None:
    day = Day(client)
    limits(client, canner_minutes_a_week=100)  # one load of jam takes more than half of that
    plan = day.planned(day.batch(), day.batch(), day.batch(client.other))
    assert plan["status"] == "infeasible"
    assert "fair use" in plan["reason"]
    two_weeks = {"from": at("20T14:00"), "to": at("22T02:00")}
    spread = day.planned(*(day.batch(due_by=at("22T02:00")) for _ in range(2)), **two_weeks)
    days = sorted(line["out_at"][:10] for line in spread["timetable"])
    assert days == ["2027-06-20", "2027-06-21"]  # Sunday, and Monday of the week after
    beyond = day.planned(day.batch(), day.batch(), beyond_limits_because="The plums won't wait.")
    for line in ok(day.act(beyond["id"], "acceptance"))["timetable"]:
        booking = ok(client.get(f"/v1/bookings/{line['booking_id']}", headers=client.coordinator.headers))
        assert booking["beyond_limits_because"] == "The plums won't wait."


def test_limits_set_meanwhile_refuse_a_plan_as_they_refuse_a_booking(client: Client) -> None:
    day = Day(client)
    plan = day.planned(day.batch(), day.batch())
    limits(client, open_bookings=1)
    before = day.kitchen.active()
    refused = day.act(plan["id"], "acceptance")
    assert (refused.status_code, refused.json()["code"], refused.json()["limit"]) == (409, "fair-use", "open-bookings")
    assert day.kitchen.active() == before
    assert ok(day.read(plan["id"]))["status"] == "stale"
    at_once = day.order(day.batch(), day.batch())
    assert (at_once.status_code, at_once.json()["code"], at_once.json()["batch"]) == (409, "fair-use", 1)
    limits(client, days_ahead=0)
    ahead = day.order(day.batch(due_by=at("17T02:00")), **{"from": at("15T14:00"), "to": at("16T02:00")})
    assert (ahead.status_code, ahead.json()["limit"]) == (409, "days-ahead")


def test_while_a_plan_is_worked_on_others_are_answered_and_it_is_stopped_when_cancelled(client: Client) -> None:
    day = Day(client)
    people = (client.member, client.other, client.coordinator, client.trainer)
    many = (day.batch(person) for person in people * 3)
    plan_id = day.ordered(*many, seed=None, time_limit_seconds=100, to=at("18T02:00"))
    until = time.monotonic() + PATIENCE_SECONDS
    while ok(day.read(plan_id))["progress"] is None and time.monotonic() < until:
        time.sleep(0.1)
    started = time.monotonic()
    for _ in range(5):
        assert client.get("/v1/bookings", headers=client.member.headers).status_code == 200
    assert time.monotonic() - started < 20  # a planner in the same process would hold them up for its whole time
    assert ok(day.read(plan_id))["status"] == "running"
    assert ok(day.act(plan_id, "cancellation"))["status"] == "cancelled"
    after = day.planned(day.batch())
    assert after["status"] == "proposed"
    assert time.monotonic() - started < 60
    assert ok(day.read(plan_id))["status"] == "cancelled"
