"""A kitchen with hours and equipment, set up over HTTP, and short ways to ask it things.

The clock of the tests stands at 10:00 UTC on Monday 14 June 2027: 04:00 in the kitchen, which opens at
08:00 (14:00 UTC) and closes at 20:00 (02:00 UTC the next day).
"""

from typing import Any

from httpx2 import Response

from tests.conftest import Client, Person

DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
EVERY_DAY = [{"weekday": day, "opens": "08:00", "closes": "20:00"} for day in DAYS]
LOADS = {"half-pint": 12, "pint": 9, "quart": 7}


def opened(client: Client, openings: list[dict[str, str]] = EVERY_DAY, by: Person | None = None) -> None:
    headers = (by or client.coordinator).headers
    etag = client.get("/v1/opening-hours", headers=headers).headers["etag"]
    answer = client.put("/v1/opening-hours", json={"openings": openings}, headers={**headers, "If-Match": etag})
    assert answer.status_code == 200, answer.text


def piece(client: Client, by: Person | None = None, **values: Any) -> str:
    new = {"kind": "canner", "name": "Blue kettle"} | values
    if new["kind"] == "canner":
        new = {"canner_kind": "boiling-water", "capacity": LOADS} | new
    answer = client.post("/v1/equipment", json=new, headers=(by or client.coordinator).headers)
    assert answer.status_code == 201, answer.text
    return str(answer.json()["id"])


def wish(equipment_id: str, starts: str = "14T16:00", ends: str = "14T17:00", **more: Any) -> dict[str, Any]:
    """A booking in June 2027: `14T16:00` is the fourteenth, in UTC."""
    return {
        "equipment_id": equipment_id,
        "starts_at": at(starts),
        "ends_at": at(ends),
        "purpose": "Plum jam",
        **more,
    }


def at(day_and_time: str) -> str:
    return f"2027-06-{day_and_time}:00Z"


def book(client: Client, person: Person, equipment_id: str, *times: str, **more: Any) -> Response:
    return client.post("/v1/bookings", json=wish(equipment_id, *times, **more), headers=person.headers)


def booked(client: Client, person: Person, equipment_id: str, *times: str, **more: Any) -> dict[str, Any]:
    answer = book(client, person, equipment_id, *times, **more)
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    return found


def refused(answer: Response) -> tuple[int, str, str | None]:
    """The status, the code and the next free time of a refusal."""
    document = answer.json()
    assert answer.headers["content-type"] == "application/problem+json"
    return answer.status_code, document["code"], document["next_free_at"]
