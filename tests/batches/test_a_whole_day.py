"""One day of a kitchen from morning to the next, over HTTP: every call and what it answers, as a script to read."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from service.pantry import store as pantry_store
from service.web.types import write_timestamp
from tests import make
from tests.batches.make import PLUM_JAM, SNAP_BEANS, booking, canner
from tests.conftest import Client, Person


class Script:
    """Calls in order, each with the status it must answer; the clock moves on with the day."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.morning = client.clock.at  # ten o'clock in UTC

    def at(self, minutes: float) -> str:
        return write_timestamp(self.morning + timedelta(minutes=minutes))

    def clock(self, minutes: float) -> None:
        self.client.clock.at = max(self.client.clock.at, self.morning + timedelta(minutes=minutes))

    def call(self, who: Person, method: str, path: str, expect: int, json: Any = None) -> Any:
        answer = self.client.request(method, path, json=json, headers=who.headers)
        assert answer.status_code == expect, f"{method} {path}: {answer.text}"
        return answer.json()


def minute_by_minute(day: Script, first: int, values: Sequence[float], offset_hours: int = 0) -> list[dict[str, Any]]:
    """Readings a minute apart, in the zone whose offset is said."""
    readings = []
    for step, value in enumerate(values):
        moment = datetime.fromisoformat(day.at(first + step)) + timedelta(hours=offset_hours)
        readings.append({"at": f"{moment:%Y-%m-%dT%H:%M:%S}{offset_hours:+03d}:00", "value": value})
    return readings


def test_a_whole_day(client: Client) -> None:
    day, ada, tam, cora = Script(client), client.member, client.trainer, client.coordinator
    kettle, dial = canner(client), canner(client, "pressure-dial")
    jam_booking = booking(client, kettle, PLUM_JAM, hours_ago=0)
    beans_booking = booking(client, dial, SNAP_BEANS, hours_ago=0)

    # The morning: jam. The run sheet says what to gather and in which order.
    jam = day.call(ada, "POST", "/v1/batches", 201, {"booking_id": jam_booking["id"]})
    sheet, path = jam["run_sheet"], f"/v1/batches/{jam['id']}"
    assert sheet["gather"]["lids"] == 8
    assert [step["step"] for step in sheet["steps"]][:3] == ["fruit", "sugar", "boil-hard-1-min"]
    load = {"jar_size": "half-pint", "canner_id": kettle}
    day.clock(45)
    day.call(ada, "POST", f"{path}/loads", 422, load | {"count": 13})  # more than the kettle holds
    day.call(ada, "POST", f"{path}/loads", 201, load | {"count": 8})

    # The boil breaks after six minutes. The log says so while the load is still in, so the clock starts again.
    day.clock(67)
    broke = minute_by_minute(day, 60, [205] * 6 + [202])
    log = day.call(ada, "POST", f"{path}/loads/1/heat-log", 201, {"unit": "F", "readings": broke})
    assert (log["answer"], log["still_needed_minutes"]) == ("restart", 10)
    day.clock(80)
    boiled = minute_by_minute(day, 68, [205] * 11, offset_hours=-6)[::-1]  # by the kitchen's clock, last line first
    log = day.call(ada, "POST", f"{path}/loads/1/heat-log", 201, {"unit": "F", "readings": broke + boiled})
    assert (log["answer"], log["held_minutes"]) == ("held", 10)
    day.call(ada, "POST", f"{path}/loads/1/out", 200)

    # Beans under pressure, meanwhile. Eleven minutes of steam, then the pressure; it drops in the twentieth minute.
    beans = day.call(ada, "POST", "/v1/batches", 201, {"booking_id": beans_booking["id"]})
    bean_path = f"/v1/batches/{beans['id']}"
    day.clock(90)
    day.call(ada, "POST", f"{bean_path}/loads", 201, {"jar_size": "quart", "count": 7, "canner_id": dial})
    day.clock(150)
    gauge = minute_by_minute(day, 90, [0] * 11 + [13] * 20 + [11] + [13] * 10)
    log = day.call(ada, "POST", f"{bean_path}/loads/1/heat-log", 201, {"unit": "psi", "readings": gauge})
    assert (log["answer"], log["vented_minutes_at_most"], log["come_up_minutes"]) == ("restart", 11, 11)
    out = day.call(ada, "POST", f"{bean_path}/loads/1/out", 200)
    assert (out["clock"]["because"], out["clock"]["again_by"]) == ("under-processed", day.at(150 + 120))
    (held,) = day.call(tam, "GET", "/v1/holds", 200)["items"]
    assert [each["cause"] for each in held["deviations"]] == ["pressure-dropped"]

    # Within the two hours they go in again, one jar having cracked.
    day.clock(200)
    again = {"jar_size": "quart", "count": 6, "canner_id": dial, "again": 1, "discarded": 1}
    day.call(ada, "POST", f"{bean_path}/loads", 201, again)
    assert day.call(tam, "GET", "/v1/holds", 200)["items"] == []
    day.clock(260)
    gauge = minute_by_minute(day, 200, [0] * 12 + [13] * 30)
    log = day.call(ada, "POST", f"{bean_path}/loads/2/heat-log", 201, {"unit": "psi", "readings": gauge})
    assert log["answer"] == "held"
    day.call(ada, "POST", f"{bean_path}/loads/2/out", 200)

    # The evening: too early for seals.
    day.clock(500)
    early = day.call(ada, "POST", f"{path}/loads/1/seal-check", 409, {"sealed": 7, "unsealed": 1})
    assert (early["code"], early["not_before"]) == ("too-early", day.at(80 + 12 * 60))

    # The next morning: seals, and an unsealed jar that goes into the refrigerator with its clock.
    day.clock(260 + 12 * 60)
    day.call(ada, "POST", f"{path}/loads/1/seal-check", 422, {"sealed": 8, "unsealed": 1})  # nine of eight
    checked = day.call(ada, "POST", f"{path}/loads/1/seal-check", 201, {"sealed": 7, "unsealed": 1})
    assert {lot["state"]: lot["count"] for lot in checked["lots"]} == {"shelf": 7, "refrigerator": 1}
    assert checked["clock"]["again_by"] == day.at(80 + 24 * 60)
    day.call(ada, "POST", f"{bean_path}/loads/2/seal-check", 201, {"sealed": 6})

    # A day after: the jam's acidity, first with a meter nobody set, then with one that was.
    day.clock(80 + 24 * 60)
    reading = day.call(ada, "POST", f"{path}/readings", 201, {"ph": 3.4, "calibrated_at_buffers": [7.0]})
    assert (reading["faults"], reading["on_hold"]) == (["ph-uncalibrated"], True)
    lot = checked["lots"][0]["lot_code"]
    release = {"decision": "release", "reason": "Read again with a meter set that morning."}
    day.call(ada, "POST", f"/v1/lots/{lot}/hold-decisions", 403, release)
    day.call(tam, "POST", f"/v1/lots/{lot}/hold-decisions", 409, release)
    day.clock(85 + 24 * 60)
    day.call(ada, "POST", f"{path}/readings", 201, {"ph": 3.3, "calibrated_at_buffers": [4.01, 7.0]})
    day.call(tam, "POST", f"/v1/lots/{lot}/hold-decisions", 201, release)

    # What the day left: every jar that was filled is somewhere.
    found = {
        (item["title"], item["state"]): item["count"]
        for item in day.call(ada, "GET", "/v1/members/me/pantry", 200)["items"]
    }
    assert found == {("Plum jam", "shelf"): 7, ("Plum jam", "refrigerator"): 1, ("Snap beans", "shelf"): 6}
    batches = day.call(cora, "GET", "/v1/batches", 200)["items"]
    assert {batch["title"]: batch["status"] for batch in batches} == {"Plum jam": "done", "Snap beans": "done"}
    with make.session(client.app.state.database) as session:
        proof = pantry_store.prove(session, ada.kitchen_id)
    assert proof.holds
    assert (proof.filled, proof.held, proof.ended) == (15, 14, 1)
