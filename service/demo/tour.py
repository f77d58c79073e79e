"""A short guided tour of the main job: real calls over HTTP, and what they answer."""

from collections.abc import Callable
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx

from service.demo import kitchen

Say = Callable[[str], None]


def walk(base_url: str, tokens: dict[str, Any], say: Say) -> None:
    """Show the main job against a running demo. Raises httpx.HTTPStatusError where a call fails that shouldn't."""
    with httpx.Client(base_url=base_url, timeout=30) as client:
        first, second = tokens["members"][0], tokens["members"][1]
        tour = _Tour(client, say)
        tour.recipes_are_checked()
        tour.a_canner_is_booked(first, second)
        tour.a_whole_batch_is_booked(first)
        tour.a_batch_ends_in_the_pantry(first)
        tour.the_pantry_is_read(first)
        say("\nThe service advises and never certifies; local codes and process authorities come first.")


class _Tour:
    def __init__(self, client: httpx.Client, say: Say) -> None:
        self._client = client
        self._say = say

    def recipes_are_checked(self) -> None:
        self._say(f"\n1. A recipe is checked before the heat goes on, at {kitchen.ALTITUDE_FT:,} ft.\n")
        self._check("Plum jam, as published", kitchen.PLUM_JAM)
        less_sugar = deepcopy(kitchen.PLUM_JAM)
        less_sugar["ingredients"][1] = "4 cups sugar"
        self._check("The same with 4 cups of sugar", less_sugar)
        doubled = deepcopy(kitchen.PLUM_JAM)
        doubled["ingredients"] = ["9 cups crushed plums", "15 cups sugar", "2 pouches (3 oz each) liquid pectin"]
        doubled["jars"] = [{"size": "half-pint", "count": 16}]
        self._check("The same, doubled", doubled)
        self._check("Crushed tomatoes, as published", kitchen.CRUSHED_TOMATOES)
        no_acid = deepcopy(kitchen.CRUSHED_TOMATOES)
        no_acid["ingredients"] = [line for line in no_acid["ingredients"] if "lemon" not in line]
        self._check("The same without its lemon juice", no_acid)
        self._check("Snap beans under pressure", kitchen.SNAP_BEANS)

    def a_canner_is_booked(self, member: dict[str, str], other: dict[str, str]) -> None:
        self._say("\n2. A canner is booked, and nobody else can have it at that time.\n")
        tomorrow = _on_the_minute(datetime.now(UTC)) + timedelta(days=1)
        wish = {
            "equipment_kind": "canner",
            "canner_kind": "boiling-water",
            "minutes": 90,
            "not_before": _stamp(tomorrow),
            "not_after": _stamp(tomorrow + timedelta(days=6)),
            "limit": 3,
        }
        options = self._call("POST", "/v1/slot-searches", member, wish).json()["options"]
        claim = options[0]["claims"][0]
        booking = {key: claim[key] for key in ("equipment_id", "starts_at", "ends_at")} | {"purpose": "Plums"}
        made = self._call("POST", "/v1/bookings", member, booking).json()
        self._say(f"   {member['name']}: {made['status']} from {claim['starts_at']} to {claim['ends_at']}")
        refused = self._call("POST", "/v1/bookings", other, booking, expect=409).json()
        self._say(f"   {other['name']}: refused ({refused['code']}). {refused['detail']}")
        self._say(f"   Free again at {refused['next_free_at']}")

    def a_whole_batch_is_booked(self, member: dict[str, str]) -> None:
        self._say("\n3. A whole batch is booked, from the table to the rack: all of it or nothing.\n")
        recipes = self._call("GET", "/v1/recipes?limit=200", member).json()["items"]
        jam = next(each for each in recipes if each["title"] == kitchen.PLUM_JAM["title"])
        batch = {"recipe_id": jam["id"], "revision": 1, "jars": kitchen.PLUM_JAM["jars"]}
        after = _on_the_minute(datetime.now(UTC)) + timedelta(days=2)
        search = batch | {"not_before": _stamp(after), "not_after": _stamp(after + timedelta(days=6)), "limit": 1}
        (option,) = self._call("POST", "/v1/slot-searches", member, search).json()["options"]
        made = self._call("POST", "/v1/bookings", member, batch | {"claims": option["claims"]}).json()
        equipment = self._call("GET", "/v1/equipment?limit=200", member).json()["items"]
        names = {piece["id"]: piece["name"] for piece in equipment}
        for claim in made["claims"]:
            self._say(f"      {claim['step']:<8} {names[claim['equipment_id']]:<20} from {claim['starts_at']}")
        (next_one,) = self._call("POST", "/v1/slot-searches", member, search).json()["options"]
        self._say(f"   The next batch could start at {next_one['starts_at']}.")
        self._call("POST", f"/v1/bookings/{made['id']}/cancellation", member)
        (again,) = self._call("POST", "/v1/slot-searches", member, search).json()["options"]
        if again != option:
            raise RuntimeError("a cancelled batch didn't free what it held")
        self._say("   Cancelled: everything it held is free again, and the same time is offered.")

    def a_batch_ends_in_the_pantry(self, member: dict[str, str]) -> None:
        self._say("\n4. Yesterday's booking becomes a batch, and the batch jars in the pantry.\n")
        booking = self._booking_of_the_day_before(member)
        if booking is None:
            self._say("   It has become one before, or is too long ago. Another --database begins with one anew.")
            return
        canner = booking["claims"][0]
        starts, ends = (datetime.fromisoformat(canner[key]) for key in ("starts_at", "ends_at"))
        batch = self._call("POST", "/v1/batches", member, {"booking_id": booking["id"], "at": _stamp(starts)}).json()
        path = f"/v1/batches/{batch['id']}"
        load = {"jar_size": "half-pint", "count": 8, "canner_id": canner["equipment_id"]}
        self._call("POST", f"{path}/loads", member, load | {"in_at": _stamp(starts + timedelta(minutes=45))})
        self._call("POST", f"{path}/loads/1/out", member, {"at": _stamp(ends - timedelta(minutes=20))})
        early = {"sealed": 8, "unsealed": 0, "broken": 0, "at": _stamp(ends)}
        refused = self._call("POST", f"{path}/loads/1/seal-check", member, early, expect=409).json()
        self._say(f"   Sealed straight out of the canner? Refused ({refused['code']}). {refused['detail']}")
        sealed = {"sealed": 7, "unsealed": 1, "broken": 0, "at": _stamp(ends + timedelta(hours=13))}
        self._call("POST", f"{path}/loads/1/seal-check", member, sealed)
        self._say("   After the rest: 7 jars sealed, 1 to the refrigerator, none lost.")

    def the_pantry_is_read(self, member: dict[str, str]) -> None:
        self._say(f"\n5. What {member['name']} has.\n")
        page = self._call("GET", "/v1/members/me/pantry?limit=50", member).json()
        for line in page["items"]:
            self._say(
                f"   {line['count']:>3} x {line['jar_size']:<10} {line['title']:<18} {line['state']:<13}"
                f" best by {line['best_by']}   lot {line['lot_code']}"
            )

    def _booking_of_the_day_before(self, member: dict[str, str]) -> dict[str, Any] | None:
        """The booking that waits for the tour; `None` once a tour has made a batch of it."""
        now = _on_the_minute(datetime.now(UTC))
        span = f"from={_stamp(now - timedelta(days=3))}&to={_stamp(now)}".replace("+", "%2B")
        taken = {batch["booking_id"] for batch in self._call("GET", "/v1/batches?limit=200", member).json()["items"]}
        bookings = self._call("GET", f"/v1/bookings?{span}&limit=200", member).json()["items"]
        waiting = (each for each in bookings if each["status"] == "confirmed" and each["id"] not in taken)
        return next(waiting, None)

    def _check(self, title: str, recipe: dict[str, Any]) -> None:
        body = {"altitude_ft": kitchen.ALTITUDE_FT} | recipe
        answer = self._client.post("/v1/recipe-checks", json=body)
        answer.raise_for_status()
        check = answer.json()
        self._say(f"   {title}: {check['verdict'].upper()}")
        if check["verdict"] == "ready":
            options, size = check["process"]["options"], recipe["jars"][0]["size"]
            option = next(option for option in options if size in option["jar_sizes"])
            pressure = f" at {option['pressure_psi']} psi" if option["pressure_psi"] else ""
            self._say(f"      {option['method']}, {option['minutes']} minutes{pressure}; {option['source']['title']}")
        else:
            finding = check["findings"][0]
            self._say(f"      {finding['message']}")
            self._say(f"      Do instead: {finding['fix']} [{finding['rule']}]")

    def _call(
        self,
        method: str,
        path: str,
        who: dict[str, str],
        body: dict[str, Any] | None = None,
        *,
        expect: int | None = None,
    ) -> httpx.Response:
        answer = self._client.request(method, path, json=body, headers={"Authorization": f"Bearer {who['token']}"})
        self._say(f"   {method} {path.split('?')[0]} -> {answer.status_code}")
        if expect is None:
            answer.raise_for_status()
        elif answer.status_code != expect:
            raise RuntimeError(f"{method} {path} answered {answer.status_code} where the tour shows {expect}")
        return answer


def _on_the_minute(moment: datetime) -> datetime:
    return moment.replace(second=0, microsecond=0)


def _stamp(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")
