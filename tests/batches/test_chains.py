"""A whole batch, booked as one chain of steps, becomes a batch in the canners that its chain holds."""

from datetime import datetime, timedelta

from service.web.types import write_timestamp
from tests.batches.make import CRUSHED_TOMATOES, HOLDS, canner, equipment, ok, pantry, recipe
from tests.conftest import Client

FOURTEEN = [{"size": "quart", "count": 14}]


def test_a_chain_with_two_loads_becomes_a_batch(client: Client) -> None:
    kettles = {canner(client), canner(client)}
    for number in range(3):
        equipment(client, kind="burner", name=f"Burner {number}")
    equipment(client, kind="table", name="A table")
    equipment(client, kind="rack", name="A rack", places=24)
    body = CRUSHED_TOMATOES | {"jars": FOURTEEN, "ingredients": ["44 lb tomatoes, peeled, cored, quartered, crushed"]}
    body["ingredients"] += CRUSHED_TOMATOES["ingredients"][1:]  # type: ignore[index]
    wanted = {"recipe_id": recipe(client, body), "revision": 1, "jars": FOURTEEN}
    starts = client.clock.at + timedelta(hours=2)
    window = {
        "not_before": write_timestamp(starts),
        "not_after": write_timestamp(starts + timedelta(days=2)),
        "limit": 1,
    }
    searched = client.post("/v1/slot-searches", json=wanted | window, headers=client.member.headers)
    (option,) = ok(searched)["options"]
    new = wanted | {"purpose": "Tomatoes", "claims": option["claims"]}
    booked = ok(client.post("/v1/bookings", json=new, headers=client.member.headers))
    client.clock.at = datetime.fromisoformat(option["starts_at"])
    batch = ok(client.post("/v1/batches", json={"booking_id": booked["id"]}, headers=client.member.headers))
    plan = batch["run_sheet"]["load_plan"]
    assert [(load["jar_size"], load["count"]) for load in plan] == [("quart", HOLDS["quart"])] * 2
    used = {claim["equipment_id"] for claim in booked["claims"]} & kettles
    assert {load["canner_id"] for load in plan} <= used
    path = f"/v1/batches/{batch['id']}/loads"
    for number, load in enumerate(plan, 1):
        new = {key: load[key] for key in ("jar_size", "count", "canner_id")}
        client.clock.pass_by(minutes=30)
        ok(client.post(path, json=new, headers=client.member.headers))
        client.clock.pass_by(minutes=60)
        ok(client.post(f"{path}/{number}/out", headers=client.member.headers))
    client.clock.pass_by(hours=14)
    for number in (1, 2):
        ok(client.post(f"{path}/{number}/seal-check", json={"sealed": 7}, headers=client.member.headers))
    assert [(item["state"], item["count"]) for item in pantry(client)] == [("shelf", 14)]
    assert ok(client.get(f"/v1/bookings/{booked['id']}", headers=client.member.headers))["status"] == "done"
