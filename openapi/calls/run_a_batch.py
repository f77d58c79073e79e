"""Run a batch from its booking to jars in the pantry: yesterday's, which a coordinator enters afterwards."""

import os
from datetime import UTC, datetime, timedelta

import httpx

recipe = {
    "title": "Plum jam",
    "family": "jam",
    "ingredients": ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"],
    "steps": ["fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin", "skim", "fill", "process"],
    "pack": "hot",
    "headspace_in": 0.25,
    "jars": [{"size": "half-pint", "count": 8}],
    "process": {"method": "boiling-water", "minutes": 10},
}
now = datetime.now(UTC).replace(second=0, microsecond=0)


def client(token: str) -> httpx.Client:
    headers = {"Authorization": f"Bearer {os.environ[token]}"}
    return httpx.Client(base_url=os.environ["KITCHEN"], headers=headers, timeout=10)


def ok(answer: httpx.Response) -> dict:
    answer.raise_for_status()
    return answer.json()


def stamp(moment: datetime) -> str:
    return moment.isoformat()


with client("TOKEN") as member, client("COORDINATOR") as coordinator:
    me = ok(member.get("/v1/members/me"))["id"]
    recipe_id = ok(member.post("/v1/recipes", json=recipe))["id"]
    equipment = ok(member.get("/v1/equipment"))["items"]
    canners = [each["id"] for each in equipment if each["canner_kind"] == "boiling-water" and each["in_service"]]

    def booked() -> tuple[dict, str, datetime]:
        """The first canner and hour, from a day ago backwards, at which the kitchen was open and nobody had it."""
        for hours in range(24, 91):
            started = now - timedelta(hours=hours, minutes=now.minute % 5)
            for canner in canners:
                wish = {
                    "member_id": me,
                    "equipment_id": canner,
                    "starts_at": stamp(started),
                    "ends_at": stamp(started + timedelta(hours=2)),
                    "purpose": "Plum jam",
                    "recipe_id": recipe_id,
                    "revision": 1,
                    "jars": recipe["jars"],
                }
                answer = coordinator.post("/v1/bookings", json=wish)
                if answer.status_code == 201:
                    return answer.json(), canner, started
        raise SystemExit(f"No canner was free: {answer.json()['detail']}")

    booking, canner, started = booked()

    def at(minutes: int) -> str:
        return stamp(started + timedelta(minutes=minutes))

    batch = ok(member.post("/v1/batches", json={"booking_id": booking["id"], "at": at(0)}))
    for step in batch["run_sheet"]["steps"]:
        print(f"step {step['number']}: {step['says']}", *step["amounts"])
    loads = f"/v1/batches/{batch['id']}/loads"
    load = {"jar_size": "half-pint", "count": 8, "canner_id": canner, "in_at": at(45)}
    print("process:", ok(member.post(loads, json=load))["minutes"], "minutes")
    ok(member.post(f"{loads}/1/out", json={"at": at(75)}))
    # Half a day later, when the jars have rested, the seals are checked.
    seals = {"sealed": 7, "unsealed": 1, "broken": 0, "at": at(840)}
    lot = ok(member.post(f"{loads}/1/seal-check", json=seals))["lots"][0]["lot_code"]
    for jars in ok(member.get("/v1/members/me/pantry", params={"lot": lot}))["items"]:
        print("pantry:", jars["count"], jars["jar_size"], jars["title"], jars["state"], "best by", jars["best_by"])
