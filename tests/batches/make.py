"""A kitchen with canners, and batches at any stage, made over HTTP like anybody else's."""

from datetime import timedelta
from typing import Any

from service.web.types import write_timestamp
from tests.conftest import Client, Person

PLUM_JAM = {  # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 7
    "title": "Plum jam",
    "family": "jam",
    "ingredients": ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"],
    "steps": ["fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin", "skim", "fill", "process"],
    "pack": "hot",
    "headspace_in": 0.25,
    "jars": [{"size": "half-pint", "count": 8}],
    "process": {"method": "boiling-water", "minutes": 10},
}
SNAP_BEANS = {  # the same, Guide 4
    "title": "Snap beans",
    "family": "vegetable",
    "product": "green-beans",
    "ingredients": ["14 lb green beans, trimmed, cut", "1 tsp canning salt per quart (optional)"],
    "pack": "hot",
    "headspace_in": 1,
    "jars": [{"size": "quart", "count": 7}],
    "process": {"method": "pressure-dial", "minutes": 25, "pressure_psi": 13},
}
CRUSHED_TOMATOES = {  # the same, Guide 3
    "title": "Crushed tomatoes",
    "family": "tomato",
    "product": "tomatoes-crushed",
    "ingredients": [
        "22 lb tomatoes, peeled, cored, quartered, crushed",
        "2 tbsp bottled lemon juice per quart",
        "1 tsp canning salt per quart (optional)",
    ],
    "steps": ["peel", "crush", "boil", "boil-5-min", "acid-in-jar", "fill", "process"],
    "pack": "hot",
    "headspace_in": 0.5,
    "jars": [{"size": "quart", "count": 7}],
    "process": {"method": "boiling-water", "minutes": 55},
}
HORSERADISH = {  # the same, Guide 6: kept in the refrigerator
    "title": "Horseradish sauce",
    "family": "relish",
    "ingredients": [
        "2 cups freshly grated horseradish",
        "1 cup white vinegar (5 percent)",
        "1/2 tsp canning salt",
        "1/4 tsp powdered ascorbic acid",
    ],
    "steps": ["cut", "combine", "fill", "refrigerate"],
    "jars": [{"size": "half-pint", "count": 2}],
    "process": {"method": "refrigerate"},
}
DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
HOLDS = {"half-pint": 12, "pint": 9, "quart": 7}


def ok(answer: Any) -> dict[str, Any]:
    assert answer.status_code in (200, 201), answer.text
    return dict(answer.json())


def canner(client: Client, kind: str = "boiling-water") -> str:
    """A canner in a kitchen that never closes."""
    return equipment(client, kind="canner", name=f"A {kind} canner", canner_kind=kind, capacity=HOLDS)


def equipment(client: Client, **new: Any) -> str:
    """A piece of equipment in a kitchen that never closes."""
    week = [{"weekday": day, "opens": "00:00", "closes": "24:00"} for day in DAYS]
    hours = client.get("/v1/opening-hours", headers=client.coordinator.headers)
    if not hours.json().get("openings"):
        headers = client.coordinator.headers | {"If-Match": hours.headers["ETag"]}
        ok(client.put("/v1/opening-hours", json={"openings": week}, headers=headers))
    return str(ok(client.post("/v1/equipment", json=new, headers=client.coordinator.headers))["id"])


def recipe(client: Client, body: dict[str, Any] = PLUM_JAM, by: Person | None = None) -> str:
    headers = (by or client.member).headers
    return str(ok(client.post("/v1/recipes", json=body, headers=headers))["id"])


def booking(
    client: Client, canner_id: str, body: dict[str, Any] = PLUM_JAM, by: Person | None = None, hours_ago: int = 48
) -> dict[str, Any]:
    """A canner for two hours, some time ago, entered by the coordinator."""
    member = by or client.member
    starts = client.clock.at - timedelta(hours=hours_ago)
    new = {
        "equipment_id": canner_id,
        "starts_at": write_timestamp(starts),
        "ends_at": write_timestamp(starts + timedelta(hours=2)),
        "purpose": "A batch",
        "recipe_id": recipe(client, body, member),
        "revision": 1,
        "jars": body["jars"],
        "member_id": str(member.id),
    }
    return ok(client.post("/v1/bookings", json=new, headers=client.coordinator.headers))


class Day:
    """A batch day: every act says how many minutes after the batch began it happened."""

    def __init__(
        self,
        client: Client,
        body: dict[str, Any] = PLUM_JAM,
        by: Person | None = None,
        kind: str = "boiling-water",
        hours_ago: int = 48,
    ) -> None:
        self.client = client
        self.member = by or client.member
        self.canner_id = equipment(client, kind=kind, name="A burner") if kind == "burner" else canner(client, kind)
        self.booking = booking(client, self.canner_id, body, self.member, hours_ago)
        self.starts = client.clock.at - timedelta(hours=hours_ago)
        self.batch = ok(self.post("", {"booking_id": self.booking["id"], "at": self.at(0)}))
        self.path = f"/{self.batch['id']}"
        self.jar_size = body["jars"][0]["size"]

    def at(self, minutes: float) -> str:
        return write_timestamp(self.starts + timedelta(minutes=minutes))

    def post(self, path: str, json: dict[str, Any], by: Person | None = None) -> Any:
        return self.client.post(f"/v1/batches{path}", json=json, headers=(by or self.member).headers)

    def load(self, count: int = 8, minutes: float = 45, **values: Any) -> Any:
        new = {"jar_size": self.jar_size, "count": count, "canner_id": self.canner_id, "in_at": self.at(minutes)}
        return self.post(f"{self.path}/loads", new | values)

    def heat(self, trace: list[float], unit: str = "F", load: int = 1, minutes: float = 46, **values: Any) -> Any:
        readings = [{"at": self.at(minutes + step), "value": value} for step, value in enumerate(trace)]
        return self.post(f"{self.path}/loads/{load}/heat-log", {"unit": unit, "readings": readings} | values)

    def out(self, minutes: float = 90, load: int = 1) -> Any:
        return self.post(f"{self.path}/loads/{load}/out", {"at": self.at(minutes)})

    def seals(self, sealed: int = 7, unsealed: int = 1, broken: int = 0, load: int = 1, minutes: float = 900) -> Any:
        new = {"sealed": sealed, "unsealed": unsealed, "broken": broken, "at": self.at(minutes)}
        return self.post(f"{self.path}/loads/{load}/seal-check", new)

    def ph(self, ph: float, **values: Any) -> Any:
        return self.post(f"{self.path}/readings", {"ph": ph} | values)

    def good_ph(self, ph: float = 3.2) -> Any:
        """A calibrated meter in the blended solids, now."""
        return self.ph(ph, calibrated_at_buffers=[4.01, 7.0])

    def cold(self, minutes: float = 120, load: int = 1, **jars: int) -> Any:
        return self.post(f"{self.path}/loads/{load}/cold", jars | {"at": self.at(minutes)})

    def deviation(self, cause: str, load: int | None = 1, by: Person | None = None, minutes: float = 100) -> Any:
        new = {"cause": cause, "load": load, "says": "As it happened.", "at": self.at(minutes)}
        return self.post(f"{self.path}/deviations", new, by)

    def decide(self, decision: str, by: Person | None = None, **values: Any) -> Any:
        """A trainer's decision about the lot."""
        new = {"decision": decision, "reason": "Looked at every jar."} | values
        path = f"/v1/lots/{self.now()['lot_code']}/hold-decisions"
        return self.client.post(path, json=new, headers=(by or self.client.trainer).headers)

    def now(self) -> dict[str, Any]:
        return ok(self.client.get(f"/v1/batches{self.path}", headers=self.member.headers))

    def holders(self) -> dict[str, int]:
        """Jars of the lot by state, whoever has them."""
        lot = ok(self.client.get(f"/v1/lots/{self.now()['lot_code']}", headers=self.client.coordinator.headers))
        found: dict[str, int] = {}
        for holder in lot["holders"]:
            found[holder["state"]] = found.get(holder["state"], 0) + holder["count"]
        return found

    def to_the_shelf(self, sealed: int = 8) -> str:
        """The whole day; the lot's code."""
        ok(self.load(sealed))
        ok(self.out())
        return str(ok(self.seals(sealed, 0))["lots"][0]["lot_code"])


def pantry(client: Client, who: Person | None = None, query: str = "") -> list[dict[str, Any]]:
    answer = client.get(f"/v1/members/me/pantry{query}", headers=(who or client.member).headers)
    return list(ok(answer)["items"])
