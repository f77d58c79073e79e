"""Find a free canner, book it as it was offered, and be refused when the same time is asked for again."""

import os
import uuid

import httpx

token = {"Authorization": f"Bearer {os.environ['TOKEN']}"}
with httpx.Client(base_url=os.environ["KITCHEN"], headers=token, timeout=10) as kitchen:
    wish = {"equipment_kind": "canner", "canner_kind": "boiling-water", "minutes": 90, "limit": 1}
    found = kitchen.post("/v1/slot-searches", json=wish)
    found.raise_for_status()
    claim = found.json()["options"][0]["claims"][0]
    booking = {name: claim[name] for name in ("equipment_id", "starts_at", "ends_at")} | {"purpose": "Plum jam"}

    # With a key of its own, a booking may be sent again after a lost answer: it is made once.
    made = kitchen.post("/v1/bookings", json=booking, headers={"Idempotency-Key": str(uuid.uuid4())})
    made.raise_for_status()
    print("status:", made.json()["status"], "from", claim["starts_at"], "to", claim["ends_at"])

    refused = kitchen.post("/v1/bookings", json=booking)
    problem = refused.json()
    print("refused:", refused.status_code, problem["code"], "next free at", problem["next_free_at"])
