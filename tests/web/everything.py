"""Every route with what it takes to call it: whose it is, which scope it needs, and a request that is good.

One line for each route; a route without a line fails, and so does a line without a route.
"""

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from urllib.parse import urlencode

from fastapi.routing import APIRoute
from sqlmodel import select, update

from service.app import ROUTERS
from service.core.roles import Scope
from service.plans.tables import DayPlan, PlanStatus
from service.web.contract import depends_on
from service.web.sessions import writing
from service.web.types import write_timestamp
from tests import make
from tests.batches.make import HOLDS, HORSERADISH, PLUM_JAM, Day, booking, canner, ok, recipe
from tests.conftest import Client, Person
from tests.pantry import make as pantry
from tests.web.asking import Got, ask

ROUTES = {
    f"{method} {route.path}": route
    for router in ROUTERS
    for route in router.routes
    if isinstance(route, APIRoute)
    for method in sorted(route.methods)
}

OPEN, MEMBER, TRAINER, COORDINATOR = "anyone", "member", "trainer", "coordinator"
ALL, READ, BOARD, INSTRUMENTS = "everything", "read", "board", "instruments"
SCOPES = {
    ALL: {Scope.EVERYTHING},
    READ: {Scope.EVERYTHING, Scope.READ},
    BOARD: {Scope.EVERYTHING, Scope.READ, Scope.BOARD},
    INSTRUMENTS: {Scope.EVERYTHING, Scope.INSTRUMENTS},
    "read or instruments": {Scope.EVERYTHING, Scope.READ, Scope.INSTRUMENTS},
    "any": set(Scope),
}


class World:
    """A kitchen in which Ada, a member, has one of everything; each way makes it anew where it can be used up."""

    def __init__(self, client: Client) -> None:
        self.client = client
        client.app.state.planner.wake = lambda: None  # plans stay queued: what is asked for here isn't a plan
        self.ada, self.bo, self.cora = client.member, client.other, client.coordinator
        self.canner = canner(client)
        for kind, places in (("table", 1), ("burner", 1), ("burner", 1), ("rack", 50)):
            ok(self.post("/v1/equipment", {"kind": kind, "name": kind, "places": places}, self.cora))
        self.recipe = recipe(client)
        self.booking = self.booked()
        self.day = Day(client)
        ok(self.day.load(4))
        ok(self.day.heat([213.0] * 30))
        self.batch_booked = str(booking(client, self.canner, by=self.ada, hours_ago=-96)["id"])
        self.lot = self.lot_of_ada()
        self.closure = str(self.closed()["id"])
        self.plan = self.planned()
        self.waiting = self.waits()
        self.feed = self.fed()
        self.token_id = self.ada.token.partition(".")[0]

    @property
    def adas(self) -> tuple[str, ...]:
        """Names of what is Ada's, none of which anybody else's list shows."""
        return (self.recipe, self.booking, self.day.batch["id"], self.day.booking["id"], self.lot, self.plan,
                self.waiting, self.feed["id"])  # fmt: skip

    def at(self, **ahead: float) -> str:
        return write_timestamp(self.client.clock.at + timedelta(**ahead))

    def post(self, path: str, body: Any, by: Person | None = None, **headers: str) -> Any:
        return self.client.post(path, json=body, headers=(by or self.ada).headers | headers)

    def wish(self, days: int = 1) -> dict[str, Any]:
        times = {"starts_at": self.at(days=days), "ends_at": self.at(days=days, hours=1)}
        return times | {"equipment_id": canner(self.client), "purpose": "Plum jam"}

    def booked(self) -> str:
        return str(ok(self.post("/v1/bookings", self.wish()))["id"])

    def lot_of_ada(self) -> str:
        return pantry.lot(self.client, {"half-pint": 8})

    def recalled(self) -> str:
        code = self.lot_of_ada()
        ok(self.post(f"/v1/lots/{code}/recall", {"reason": "Seals let go."}, self.cora))
        return code

    def held(self) -> str:
        """A lot that waits for a trainer's decision."""
        day = self.loaded()
        ok(day.out())
        ok(day.deviation("something-else"))
        return str(ok(day.seals(4, 0))["lots"][0]["lot_code"])

    def loaded(self) -> Day:
        day = Day(self.client)
        ok(day.load(4))
        return day

    def closed(self, day: int = 200) -> dict[str, Any]:
        times = {"starts_at": self.at(days=day), "ends_at": self.at(days=day + 1)}
        return ok(self.post("/v1/closures", times | {"reason": "Holiday"}, self.cora))

    def span(self) -> dict[str, Any]:
        return {"from": self.at(hours=1), "to": self.at(days=1), "time_limit_seconds": 1, "seed": 1}

    def to_plan(self) -> dict[str, Any]:
        batch = {"recipe_id": self.recipe, "revision": 1, "member_id": str(self.ada.id), "jars": PLUM_JAM["jars"]}
        return self.span() | {"batches": [batch | {"due_by": self.at(days=1)}]}

    def planned(self, status: PlanStatus = PlanStatus.PROPOSED) -> str:
        """A plan with a batch of Ada's; those before are done with, since few may wait."""
        with make.session(self.client.app.state.database) as session:
            session.execute(update(DayPlan).values(status=PlanStatus.INFEASIBLE).where(DayPlan.status == "queued"))
        answer = self.post("/v1/day-plans", self.to_plan(), self.cora)
        assert answer.status_code == 202, answer.text
        with make.session(self.client.app.state.database) as session:
            row = session.exec(select(DayPlan).where(DayPlan.status == "queued")).one()
            row.status = status
            return str(row.id)

    def waits(self) -> str:
        """Ada's place on the waiting list with something offered; she leaves those before."""
        listed = ok(self.client.get("/v1/waiting-list?limit=200", headers=self.ada.headers))["items"]
        for each in listed:
            if each["state"] in ("waiting", "offered"):
                ok(self.post(f"/v1/waiting-list/{each['id']}/cancellation", None))
        return str(ok(self.post("/v1/waiting-list", self.want()))["id"])

    def want(self) -> dict[str, Any]:
        times = {"not_before": self.at(days=3), "not_after": self.at(days=4)}
        return times | {"equipment_kind": "canner", "minutes": 60, "purpose": "Plum jam"}

    def fed(self) -> dict[str, Any]:
        return ok(self.post("/v1/calendar-feeds", {"shows": "member"}))

    def newcomer(self) -> str:
        return str(ok(self.post("/v1/members", {"name": "Dee"}, self.cora))["id"])

    def token(self) -> dict[str, Any]:
        return ok(self.post(f"/v1/members/{self.ada.id}/tokens", {}, self.cora))

    def scoped(self, person: Person, scope: Scope) -> str:
        made = ok(self.post(f"/v1/members/{person.id}/tokens", {"scope": scope}, self.cora))
        return str(made["token"])

    def caller(self, line: "Line") -> Person:
        """Who may make the call of a line: Ada where a member may."""
        return {TRAINER: self.client.trainer, COORDINATOR: self.cora}.get(line.access, self.ada)


@dataclass(frozen=True)
class Call:
    """A request that is good: made by Ada where a member may, else by whoever the route is for."""

    path: str
    body: Any = None
    other: Any = None  # another good body
    form: bool = False  # whether the bodies are fields of a page's form

    def ask(self, client: Client, method: str, token: str | None = None, *, other: bool = False, **headers: str) -> Got:
        """Send it, or the same with the other body."""
        body = self.other if other else self.body
        if self.form:
            headers |= {"content_type": "application/x-www-form-urlencoded", "sec_fetch_site": "same-origin"}
            body = urlencode(body or {}).encode()
        elif other and body is None:
            body = {}
        return ask(client, method, self.path, token, body, **headers)


@dataclass(frozen=True)
class Line:
    """One route: the role it takes, the scope a token needs, how it is called, and who else may, if it is Ada's."""

    access: str
    scope: str
    call: Callable[[World], Call]
    adas: bool = False
    "whether what the path names is Ada's: for other members and other kitchens it isn't there"
    trainers: bool = False
    "whether trainers may see it as well"
    cora: bool = True
    "whether the coordinator may, too"
    here: bool = False
    "whether the body names what belongs to the kitchen"
    done: int | None = None
    "the status of the answer, where it isn't a success"


def writes(name: str) -> bool:
    """Whether a route keeps what it is sent."""
    return depends_on(writing, ROUTES[name].dependant)


def path(written: Callable[[World], str]) -> Callable[[World], Call]:
    return lambda world: Call(written(world))


def fixed(where: str, body: Any = None, other: Any = None) -> Callable[[World], Call]:
    return lambda _: Call(where, body, other)


def _batch(act: str, *, fresh: bool = False) -> Callable[[World], str]:
    return lambda world: f"/v1/batches/{(Day(world.client) if fresh else world.day).batch['id']}{act}"


def _load(world: World) -> Call:
    day = Day(world.client)
    new = {"jar_size": "half-pint", "count": 4, "canner_id": day.canner_id, "in_at": day.at(45)}
    return Call(f"/v1/batches{day.path}/loads", new, new | {"count": 5})


def _on_load(act: str, body: Callable[[Day], Any], other: Callable[[Day], Any], *, out: float = 0) -> Any:
    def call(world: World) -> Call:
        day = world.loaded()
        if out:
            ok(day.out(out))
        return Call(f"/v1/batches{day.path}/loads/1/{act}", body(day), other(day))

    return call


def _log(day: Day, value: float) -> dict[str, Any]:
    return {"unit": "F", "readings": [{"at": day.at(46 + step), "value": value} for step in range(20)]}


def _cold_jars(world: World) -> Call:
    day = Day(world.client, HORSERADISH, kind="burner")
    jars = {"jar_size": "half-pint", "count": 2, "state": "refrigerator", "at": day.at(60)}
    return Call(f"/v1/batches{day.path}/jars", jars, jars | {"count": 1})


def _start(world: World) -> Call:
    made = booking(world.client, canner(world.client), by=world.ada)
    return Call("/v1/batches", {"booking_id": made["id"], "at": world.at(hours=-48)}, {"booking_id": made["id"]})


def _day_of(world: World) -> str:
    return f"/v1/prints/timetables/{world.client.clock.at:%Y-%m-%d}"


def _movement(world: World) -> Call:
    new = {"kind": "use", "lot_code": world.lot_of_ada(), "jar_size": "half-pint", "count": 1}
    return Call("/v1/movements", new, new | {"count": 2})


def _shares(world: World) -> Call:
    def jars(count: int) -> dict[str, Any]:
        share = {"member_id": str(world.bo.id), "jars": [{"size": "half-pint", "count": count}]}
        return {"by": "jars", "shares": [share]}

    return Call(f"/v1/lots/{world.lot_of_ada()}/shares", jars(2), jars(1))


def _outage(world: World) -> Call:
    new = {"starts_at": world.at(days=1), "ends_at": world.at(days=2), "reason": "A gasket"}
    return Call(f"/v1/equipment/{canner(world.client)}/outages", new, new | {"reason": "A gauge"})


def _outages_end(world: World) -> str:
    made = _outage(world)
    outage = ok(world.post(made.path, made.body, world.cora))
    return f"{made.path}/{outage['id']}/end"


def _closure(world: World) -> Call:
    new = {"starts_at": world.at(days=300), "ends_at": world.at(days=301), "reason": "Holiday"}
    return Call("/v1/closures", new, new | {"reason": "Repairs"})


def _re_plan(world: World) -> Call:
    """Something booked as a whole batch, to be planned again."""
    asked = {"recipe_id": world.recipe, "revision": 1, "jars": PLUM_JAM["jars"]}
    search = asked | {"not_before": world.at(hours=1), "not_after": world.at(days=2), "limit": 1}
    option = ok(world.client.post("/v1/slot-searches", json=search, headers=world.ada.headers))["options"][0]
    ok(world.post("/v1/bookings", asked | {"claims": option["claims"]}))
    world.planned()
    span = world.span() | {"to": world.at(days=3)}
    return Call("/v1/re-plans", span, span | {"seed": 2})


def _equipment(name: str) -> dict[str, Any]:
    return {"kind": "canner", "name": name, "canner_kind": "boiling-water", "capacity": HOLDS}


def _harvest(where: str) -> Callable[[World], Call]:
    produce = [{"name": "plums", "amount": 9, "unit": "lb", "use_by": "2027-06-20"}]
    return lambda world: Call(where, {"produce": produce, "recipes": [world.recipe]})


def form(where: str, fields: Callable[[World], Any], other: Any = None) -> Callable[[World], Call]:
    return lambda world: Call(where, fields(world), other and other(world), form=True)


def _offered(world: World) -> dict[str, str]:
    return {"booking": json.dumps(world.wish())}


RECORDS = "?from=2027-06-01&to=2027-06-30"
RECIPE = {"title": "Plum jam", "lines": "\n".join(PLUM_JAM["ingredients"]), "altitude_ft": "4200"}
CHECK = {"altitude_ft": 4200, **PLUM_JAM}
SKILL = {"skill": "pressure-canning", "expires_on": "2028-01-01"}
PANTRY = "/v1/members/{}/pantry"

LINES: dict[str, Line] = {
    "GET /healthz": Line(OPEN, READ, fixed("/healthz")),
    "GET /readyz": Line(OPEN, READ, fixed("/readyz")),
    "GET /metrics": Line(OPEN, READ, fixed("/metrics"), done=404),  # none without the secret of the metrics
    "GET /problems/{code}": Line(OPEN, READ, fixed("/problems/busy")),
    "GET /openapi.json": Line(OPEN, READ, fixed("/openapi.json")),
    "GET /docs/{name}": Line(OPEN, READ, fixed("/docs/swagger-ui.css")),
    "GET /docs": Line(OPEN, READ, fixed("/docs")),
    "GET /rules": Line(OPEN, READ, fixed("/rules")),
    "GET /lots/{lot_code}": Line(OPEN, READ, path(lambda w: f"/lots/{w.lot}")),
    "GET /calendars/{secret}.ics": Line(OPEN, READ, path(lambda w: w.feed["path"])),
    # members
    "GET /v1/kitchen": Line(COORDINATOR, READ, fixed("/v1/kitchen")),
    "PATCH /v1/kitchen": Line(COORDINATOR, ALL, fixed("/v1/kitchen", {"best_by_months": 18}, {"best_by_months": 14})),
    "GET /v1/members": Line(COORDINATOR, READ, fixed("/v1/members")),
    "POST /v1/members": Line(COORDINATOR, ALL, fixed("/v1/members", {"name": "Dee"}, {"name": "Eve"})),
    "GET /v1/members/me": Line(MEMBER, READ, fixed("/v1/members/me")),
    "GET /v1/members/{member_id}": Line(TRAINER, READ, path(lambda w: f"/v1/members/{w.ada.id}"), adas=True,
                                        trainers=True),
    "GET /v1/members/{member_id}/tokens": Line(COORDINATOR, READ, path(lambda w: f"/v1/members/{w.ada.id}/tokens"),
                                               adas=True),
    "POST /v1/members/{member_id}/tokens": Line(
        COORDINATOR, ALL, lambda w: Call(f"/v1/members/{w.ada.id}/tokens", {}, {"scope": "read"}), adas=True),
    "POST /v1/members/{member_id}/tokens/{token_id}/revocation": Line(
        COORDINATOR, ALL, path(lambda w: f"/v1/members/{w.ada.id}/tokens/{w.token()['id']}/revocation"), adas=True),
    "GET /v1/members/me/tokens": Line(MEMBER, READ, fixed("/v1/members/me/tokens")),
    "POST /v1/members/me/tokens/{token_id}/revocation": Line(
        MEMBER, ALL, path(lambda w: f"/v1/members/me/tokens/{w.token()['id']}/revocation"), adas=True, cora=False),
    "POST /v1/members/me/tokens/rotation": Line(MEMBER, "any", fixed("/v1/members/me/tokens/rotation")),
    "POST /v1/members/{member_id}/sign-offs": Line(
        TRAINER, ALL, lambda w: Call(f"/v1/members/{w.ada.id}/sign-offs", SKILL, SKILL | {"expires_on": "2029-01-01"}),
        adas=True, trainers=True),
    "POST /v1/members/{member_id}/departure": Line(
        COORDINATOR, ALL, lambda w: Call(f"/v1/members/{w.newcomer()}/departure", {}, {"jars_to": str(w.bo.id)}),
        adas=True),
    "GET /v1/notices": Line(MEMBER, READ, fixed("/v1/notices")),
    "GET /v1/audit-entries": Line(COORDINATOR, READ, fixed("/v1/audit-entries")),
    # equipment and hours
    "GET /v1/equipment": Line(MEMBER, BOARD, fixed("/v1/equipment")),
    "POST /v1/equipment": Line(COORDINATOR, ALL, fixed("/v1/equipment", _equipment("Red"), _equipment("Blue"))),
    "GET /v1/equipment/{equipment_id}": Line(MEMBER, BOARD, path(lambda w: f"/v1/equipment/{w.canner}")),
    "PATCH /v1/equipment/{equipment_id}": Line(
        COORDINATOR, ALL, lambda w: Call(f"/v1/equipment/{w.canner}", {"name": "Green"}, {"name": "Grey"})),
    "POST /v1/equipment/{equipment_id}/outages": Line(COORDINATOR, ALL, _outage),
    "GET /v1/equipment/{equipment_id}/outages": Line(MEMBER, READ, path(lambda w: f"/v1/equipment/{w.canner}/outages")),
    "POST /v1/equipment/{equipment_id}/outages/{outage_id}/end": Line(COORDINATOR, ALL, path(_outages_end)),
    "GET /v1/opening-hours": Line(MEMBER, BOARD, fixed("/v1/opening-hours")),
    "PUT /v1/opening-hours": Line(COORDINATOR, ALL, fixed(
        "/v1/opening-hours", {"openings": [{"weekday": "monday", "opens": "08:00", "closes": "20:00"}]},
        {"openings": [{"weekday": "monday", "opens": "09:00", "closes": "20:00"}]})),
    "GET /v1/kitchen-figures": Line(MEMBER, READ, fixed("/v1/kitchen-figures")),
    "PUT /v1/kitchen-figures": Line(COORDINATOR, ALL, fixed("/v1/kitchen-figures", {"minutes": {}}, {"minutes": {}})),
    "GET /v1/closures": Line(MEMBER, BOARD, fixed("/v1/closures")),
    "POST /v1/closures": Line(COORDINATOR, ALL, _closure),
    "GET /v1/closures/{closure_id}": Line(MEMBER, BOARD, path(lambda w: f"/v1/closures/{w.closure}")),
    "DELETE /v1/closures/{closure_id}": Line(
        COORDINATOR, ALL, path(lambda w: f"/v1/closures/{w.closed(day=250)['id']}")),
    # bookings
    "POST /v1/slot-searches": Line(MEMBER, READ, lambda w: Call("/v1/slot-searches", {
        "equipment_kind": "canner", "minutes": 60, "not_before": w.at(hours=1), "not_after": w.at(days=1),
        "limit": 1})),
    "POST /v1/bookings": Line(MEMBER, ALL, lambda w: Call("/v1/bookings", w.wish(), w.wish(2)), here=True),
    "GET /v1/bookings": Line(MEMBER, BOARD, fixed("/v1/bookings")),
    "GET /v1/bookings/{booking_id}": Line(MEMBER, READ, path(lambda w: f"/v1/bookings/{w.booking}"), adas=True),
    "POST /v1/bookings/{booking_id}/cancellation": Line(
        MEMBER, ALL, path(lambda w: f"/v1/bookings/{w.booked()}/cancellation"), adas=True),
    "GET /v1/fair-use": Line(MEMBER, READ, fixed("/v1/fair-use")),
    "PUT /v1/fair-use": Line(COORDINATOR, ALL, fixed("/v1/fair-use", {"open_bookings": 90}, {"open_bookings": 99})),
    "POST /v1/waiting-list": Line(MEMBER, ALL, lambda w: Call("/v1/waiting-list", w.want(), w.want() | {"minutes": 9})),
    "GET /v1/waiting-list": Line(MEMBER, READ, fixed("/v1/waiting-list")),
    "GET /v1/waiting-list/{waiting_id}": Line(MEMBER, READ, path(lambda w: f"/v1/waiting-list/{w.waiting}"), adas=True),
    "POST /v1/waiting-list/{waiting_id}/acceptance": Line(
        MEMBER, ALL, path(lambda w: f"/v1/waiting-list/{w.waits()}/acceptance"), adas=True, cora=False),
    "POST /v1/waiting-list/{waiting_id}/decline": Line(
        MEMBER, ALL, path(lambda w: f"/v1/waiting-list/{w.waits()}/decline"), adas=True, cora=False),
    "POST /v1/waiting-list/{waiting_id}/cancellation": Line(
        MEMBER, ALL, path(lambda w: f"/v1/waiting-list/{w.waits()}/cancellation"), adas=True),
    # plans
    "POST /v1/day-plans": Line(COORDINATOR, ALL, lambda w: (
        w.planned(), Call("/v1/day-plans", w.to_plan(), w.to_plan() | {"seed": 2}))[1], here=True),
    "POST /v1/re-plans": Line(COORDINATOR, ALL, _re_plan),
    "GET /v1/day-plans": Line(MEMBER, READ, fixed("/v1/day-plans")),
    "GET /v1/day-plans/{plan_id}": Line(MEMBER, READ, path(lambda w: f"/v1/day-plans/{w.plan}"), adas=True),
    "POST /v1/day-plans/{plan_id}/acceptance": Line(
        COORDINATOR, ALL, path(lambda w: f"/v1/day-plans/{w.planned(PlanStatus.QUEUED)}/acceptance"),
        adas=True, done=409),  # nothing is proposed yet: what acceptance books is shown where plans are tested
    "POST /v1/day-plans/{plan_id}/cancellation": Line(
        COORDINATOR, ALL, path(lambda w: f"/v1/day-plans/{w.planned()}/cancellation"), adas=True),
    "POST /v1/harvest-plans": Line(MEMBER, READ, _harvest("/v1/harvest-plans"), adas=True),
    "POST /v1/harvest-plans/picture": Line(MEMBER, READ, _harvest("/v1/harvest-plans/picture"), adas=True),
    "GET /v1/canner-use": Line(MEMBER, READ, fixed(f"/v1/canner-use{RECORDS}")),
    "GET /v1/canner-use/picture": Line(MEMBER, READ, fixed(f"/v1/canner-use/picture{RECORDS}")),
    # the board
    "GET /board": Line(OPEN, READ, fixed("/board")),
    **{f"GET /board/{name}": Line(OPEN, READ, fixed(f"/board/{name}"))
       for name in ("sign-in", "check", "style.css", "refresh.js", "icon.svg", "season.css")},
    **{f"GET /board/{name}": Line(MEMBER, READ, fixed(f"/board/{name}")) for name in ("yours", "slots", "season")},
    "POST /board/sign-in": Line(OPEN, ALL, form("/board/sign-in", lambda w: {"token": w.ada.token}), done=303),
    "POST /board/sign-out": Line(OPEN, ALL, form("/board/sign-out", lambda w: {}), done=303),
    "POST /board/check": Line(OPEN, ALL, form("/board/check", lambda w: RECIPE)),
    "POST /board/season": Line(MEMBER, READ, form("/board/season", lambda w: {
        "name-1": "plums", "amount-1": "9", "unit-1": "lb", "by-1": "2027-06-20", "recipe": f"{w.recipe}:1"}),
        adas=True),
    "POST /board/bookings": Line(MEMBER, ALL, form("/board/bookings", _offered, _offered), here=True),
    "POST /board/bookings/{booking_id}/cancellation": Line(MEMBER, ALL, lambda w: Call(
        f"/board/bookings/{w.booked()}/cancellation", None, {"sent": "again"}, form=True), adas=True),
    "POST /board/recipes": Line(MEMBER, ALL, form(
        "/board/recipes", lambda w: RECIPE, lambda w: RECIPE | {"title": "Jam"})),
    # batches
    "POST /v1/batches": Line(MEMBER, ALL, _start, adas=True),
    "GET /v1/batches": Line(MEMBER, READ, fixed("/v1/batches")),
    "GET /v1/batches/{batch_id}": Line(MEMBER, READ, path(_batch("")), adas=True),
    "POST /v1/batches/{batch_id}/loads": Line(MEMBER, ALL, _load, adas=True),
    "POST /v1/batches/{batch_id}/loads/{number}/heat-log": Line(
        MEMBER, INSTRUMENTS, _on_load("heat-log", lambda d: _log(d, 213), lambda d: _log(d, 200)), adas=True),
    "GET /v1/batches/{batch_id}/loads/{number}/heat-log": Line(
        MEMBER, "read or instruments", path(_batch("/loads/1/heat-log")), adas=True),
    "POST /v1/batches/{batch_id}/loads/{number}/out": Line(
        MEMBER, ALL, _on_load("out", lambda d: {"at": d.at(90)}, lambda d: {"at": d.at(91)}), adas=True),
    "POST /v1/batches/{batch_id}/loads/{number}/seal-check": Line(
        MEMBER, ALL, _on_load(
            "seal-check", lambda d: {"sealed": 4, "unsealed": 0, "broken": 0, "at": d.at(900)},
            lambda d: {"sealed": 3, "unsealed": 1, "broken": 0, "at": d.at(900)}, out=90), adas=True),
    "POST /v1/batches/{batch_id}/loads/{number}/cold": Line(
        MEMBER, ALL, _on_load(
            "cold", lambda d: {"to_freezer": 4, "at": d.at(80)}, lambda d: {"discarded": 4, "at": d.at(80)},
            out=54), adas=True),
    "POST /v1/batches/{batch_id}/jars": Line(MEMBER, ALL, _cold_jars, adas=True),
    "POST /v1/batches/{batch_id}/readings": Line(
        MEMBER, INSTRUMENTS, lambda w: Call(_batch("/readings")(w), {"ph": 3.2}, {"ph": 3.3}), adas=True),
    "POST /v1/batches/{batch_id}/deviations": Line(MEMBER, ALL, lambda w: Call(
        f"/v1/batches{w.loaded().path}/deviations",
        {"cause": "something-else", "says": "As it was."},
        {"cause": "something-else", "says": "As it is."}), adas=True),
    "GET /v1/holds": Line(TRAINER, READ, fixed("/v1/holds")),
    "POST /v1/lots/{lot_code}/hold-decisions": Line(TRAINER, ALL, lambda w: Call(
        f"/v1/lots/{w.held()}/hold-decisions", {"decision": "destroy", "reason": "Looked at every jar."},
        {"decision": "destroy", "reason": "Looked again."}), adas=True, trainers=True),
    # records and prints
    "GET /v1/batch-records": Line(MEMBER, READ, fixed(f"/v1/batch-records{RECORDS}")),
    "GET /v1/batch-records/table": Line(MEMBER, READ, fixed(f"/v1/batch-records/table{RECORDS}")),
    "GET /v1/batch-records/{batch_id}": Line(
        MEMBER, READ, path(lambda w: f"/v1/batch-records/{w.day.batch['id']}"), adas=True),
    "GET /v1/prints/run-sheets/{batch_id}": Line(
        MEMBER, READ, path(lambda w: f"/v1/prints/run-sheets/{w.day.batch['id']}"), adas=True),
    "GET /v1/prints/booked-run-sheets/{booking_id}": Line(
        MEMBER, READ, path(lambda w: f"/v1/prints/booked-run-sheets/{w.batch_booked}"), adas=True),
    "GET /v1/prints/labels/{lot_code}": Line(
        MEMBER, READ, path(lambda w: f"/v1/prints/labels/{w.lot}"), adas=True, cora=False),
    "GET /v1/prints/timetables/{day}": Line(MEMBER, BOARD, path(_day_of)),
    "GET /v1/prints/pantries/{member_id}": Line(
        MEMBER, READ, path(lambda w: f"/v1/prints/pantries/{w.ada.id}"), adas=True),
    "GET /board/prints/run-sheets/{batch_id}": Line(
        MEMBER, READ, path(lambda w: f"/board/prints/run-sheets/{w.day.batch['id']}"), adas=True),
    "GET /board/prints/booked-run-sheets/{booking_id}": Line(
        MEMBER, READ, path(lambda w: f"/board/prints/booked-run-sheets/{w.batch_booked}"), adas=True),
    "GET /board/prints/labels/{lot_code}": Line(
        MEMBER, READ, path(lambda w: f"/board/prints/labels/{w.lot}"), adas=True, cora=False),
    "GET /board/prints/timetables/{day}": Line(MEMBER, BOARD, path(lambda w: _day_of(w).replace("/v1/", "/board/"))),
    "GET /board/prints/pantries/{member_id}": Line(
        MEMBER, READ, path(lambda w: f"/board/prints/pantries/{w.ada.id}"), adas=True),
    "POST /v1/calendar-feeds": Line(MEMBER, ALL, fixed("/v1/calendar-feeds", {"shows": "member"}, {})),
    "GET /v1/calendar-feeds": Line(MEMBER, READ, fixed("/v1/calendar-feeds")),
    "GET /v1/calendar-feeds/{feed_id}": Line(
        MEMBER, READ, path(lambda w: f"/v1/calendar-feeds/{w.feed['id']}"), adas=True),
    "POST /v1/calendar-feeds/{feed_id}/revocation": Line(
        MEMBER, ALL, path(lambda w: f"/v1/calendar-feeds/{w.fed()['id']}/revocation"), adas=True),
    # published figures and checks
    **{f"GET /v1/reference/{name}": Line(OPEN, READ, fixed(f"/v1/reference/{name}?limit=2"))
       for name in ("rules", "processes", "tested-recipes", "ingredients")},
    "GET /v1/reference/tested-recipes/{id}": Line(OPEN, READ, path(lambda w: "/v1/reference/tested-recipes/" + str(
        w.client.get("/v1/reference/tested-recipes?limit=1").json()["items"][0]["id"]))),
    "POST /v1/recipe-checks": Line(OPEN, ALL, fixed("/v1/recipe-checks", CHECK)),
    "POST /v1/recipe-checks/batch": Line(OPEN, ALL, fixed("/v1/recipe-checks/batch", {"recipes": [CHECK]})),
    # recipes
    "POST /v1/recipes": Line(MEMBER, ALL, fixed("/v1/recipes", PLUM_JAM, PLUM_JAM | {"title": "Jam"})),
    "POST /v1/recipes/{recipe_id}/revisions": Line(MEMBER, ALL, lambda w: Call(
        f"/v1/recipes/{w.recipe}/revisions", PLUM_JAM, PLUM_JAM | {"title": "Jam"}), adas=True),
    "GET /v1/recipes": Line(MEMBER, READ, fixed("/v1/recipes")),
    "GET /v1/recipes/{recipe_id}": Line(MEMBER, READ, path(lambda w: f"/v1/recipes/{w.recipe}"), adas=True),
    "GET /v1/recipes/{recipe_id}/revisions/{number}": Line(
        MEMBER, READ, path(lambda w: f"/v1/recipes/{w.recipe}/revisions/1"), adas=True),
    # jars
    "GET /v1/members/{member_id}/pantry": Line(MEMBER, READ, path(lambda w: PANTRY.format(w.ada.id)), adas=True),
    **{f"GET /v1/members/{{member_id}}/pantry/{name}": Line(
        MEMBER, READ, path(lambda w, name=name: f"{PANTRY.format(w.ada.id)}/{name}"), adas=True)
       for name in ("summary", "eat-first")},
    **{f"GET /v1/members/{{member_id}}/pantry/years/{{year}}{part}": Line(
        MEMBER, READ, path(lambda w, part=part: f"{PANTRY.format(w.ada.id)}/years/2027{part}"), adas=True)
       for part in ("", "/months", "/picture")},
    "POST /v1/movements": Line(MEMBER, ALL, _movement, adas=True, cora=False),
    "GET /v1/ledger/proof": Line(COORDINATOR, READ, fixed("/v1/ledger/proof")),
    "GET /v1/lots/{lot_code}": Line(MEMBER, READ, path(lambda w: f"/v1/lots/{w.lot}"), adas=True),
    "POST /v1/lots/{lot_code}/shares": Line(MEMBER, ALL, _shares, adas=True, cora=False),
    "POST /v1/lots/{lot_code}/recall": Line(COORDINATOR, ALL, lambda w: Call(
        f"/v1/lots/{w.lot_of_ada()}/recall", {"reason": "Seals let go."}, {"reason": "A dent."}), adas=True),
    "POST /v1/lots/{lot_code}/recall/outcomes": Line(MEMBER, ALL, lambda w: Call(
        f"/v1/lots/{w.recalled()}/recall/outcomes", {"outcome": "returned", "jar_size": "half-pint", "count": 1},
        {"outcome": "returned", "jar_size": "half-pint", "count": 2}), adas=True, cora=False),
    "GET /v1/recalls": Line(COORDINATOR, READ, fixed("/v1/recalls")),
}  # fmt: skip
