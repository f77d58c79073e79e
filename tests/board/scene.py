"""A hall kitchen in the middle of a day, made over HTTP like anybody else's.

It is Monday 14 June 2027, 12:20 by the clock on its wall (18:20 UTC), and the kitchen is open from 08:00 to 20:00.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from service.web.types import write_timestamp
from tests.batches.make import CRUSHED_TOMATOES, PLUM_JAM, SNAP_BEANS, ok, recipe
from tests.bookings.kitchen import at, opened, piece
from tests.conftest import Client, Person

NOON = datetime(2027, 6, 14, 18, 20, tzinfo=UTC)


@dataclass
class Scene:
    """The equipment by name, and the recipes of the first member."""

    client: Client
    pieces: dict[str, str]
    recipes: dict[str, str]


def hall(client: Client) -> Scene:
    """Two members' day: jars in two canners, jars at rest, a lot on hold, something broken, and days to come."""
    clock = client.clock
    clock.at = datetime(2027, 6, 12, 12, tzinfo=UTC)
    opened(client)
    pieces = {name: piece(client, name=name) for name in ("Blue kettle", "Speckled kettle")}
    pieces |= {
        name: piece(client, name=name, canner_kind=kind)
        for name, kind in {"Steam canner": "atmospheric-steam", "Dial canner": "pressure-dial"}.items()
    }
    for kind, names in {
        "burner": ("Burner 1", "Burner 2", "Burner 3", "Burner 4"),
        "table": ("Long table", "Low table"),
    }.items():
        pieces |= {name: piece(client, kind=kind, name=name) for name in names}
    pieces |= {name: piece(client, kind="rack", name=name, places=72) for name in ("Left rack", "Right rack")}
    ada, bo = client.members
    recipes = {
        "jam": recipe(client, PLUM_JAM, ada),
        "tomatoes": recipe(client, CRUSHED_TOMATOES, ada),
        "beans": recipe(client, SNAP_BEANS, ada),
        "Bo's jam": recipe(client, PLUM_JAM | {"title": "Bo's secret jam"}, bo),
    }
    scene = Scene(client, pieces, recipes)
    _yesterday(scene)
    _today(scene)
    clock.at = NOON
    return scene


def _yesterday(scene: Scene) -> None:
    """Ada's jam left one jar unsealed, and Bo's came out too early and waits for a person."""
    client, (ada, bo) = scene.client, scene.client.members
    batch = start(scene, ada, "Blue kettle", "jam", PLUM_JAM, "13T20:00", "13T22:00")
    load(scene, ada, batch, "Blue kettle", "half-pint", 8, "13T20:45", "13T21:05")
    early = start(scene, bo, "Speckled kettle", "Bo's jam", PLUM_JAM, "13T22:00", "14T00:00")
    load(scene, bo, early, "Speckled kettle", "half-pint", 8, "13T22:45", "13T22:50")
    client.clock.at = datetime(2027, 6, 14, 13, tzinfo=UTC)
    seals(scene, ada, batch, 7, 1)
    seals(scene, bo, early, 8, 0)


def _today(scene: Scene) -> None:
    client, (ada, bo) = scene.client, scene.client.members
    tomatoes = start(scene, ada, "Blue kettle", "tomatoes", CRUSHED_TOMATOES, "14T17:00", "14T19:30")
    jam = start(scene, bo, "Speckled kettle", "Bo's jam", PLUM_JAM, "14T15:00", "14T16:30")
    load(scene, bo, jam, "Speckled kettle", "half-pint", 8, "14T15:40", "14T16:00")
    again = start(scene, bo, "Speckled kettle", "Bo's jam", PLUM_JAM, "14T17:30", "14T19:00")
    client.clock.at = datetime(2027, 6, 14, 18, 15, tzinfo=UTC)
    load(scene, ada, tomatoes, "Blue kettle", "quart", 7, "14T17:45")
    load(scene, bo, again, "Speckled kettle", "half-pint", 8, "14T18:15")
    coming: list[tuple[Person, str, str, str, str]] = [
        (ada, "Long table", "14T18:30", "14T20:00", "Stoning plums"),
        (bo, "Long table", "14T20:30", "14T22:00", "Bo's private matter"),
        (bo, "Burner 1", "14T18:20", "14T20:30", "Bo's private matter"),
        (ada, "Burner 2", "14T21:00", "14T23:00", "Plum jam"),
        (ada, "Dial canner", "15T15:00", "15T17:00", "Snap beans"),
        (bo, "Blue kettle", "15T14:00", "15T16:00", "Bo's private matter"),
        (ada, "Blue kettle", "16T14:00", "16T15:30", "Plum jam"),
    ]
    for person, name, starts, ends, purpose in coming:
        new = {"equipment_id": scene.pieces[name], "starts_at": at(starts), "ends_at": at(ends), "purpose": purpose}
        ok(client.post("/v1/bookings", json=new, headers=person.headers))
    racked = {
        "equipment_id": scene.pieces["Left rack"],
        "starts_at": at("14T18:40"),
        "ends_at": at("15T02:00"),
        "purpose": "Rest",
        "jars": [{"size": "quart", "count": 36}],
    }
    ok(client.post("/v1/bookings", json=racked, headers=bo.headers))
    outage = {"starts_at": at("14T19:00"), "ends_at": at("15T02:00"), "reason": "The valve sticks."}
    path = f"/v1/equipment/{scene.pieces['Steam canner']}/outages"
    ok(client.post(path, json=outage, headers=client.coordinator.headers))
    closure = {"starts_at": at("17T06:00"), "ends_at": at("18T06:00"), "reason": "Feast"}
    ok(client.post("/v1/closures", json=closure, headers=client.coordinator.headers))


def start(
    scene: Scene, person: Person, canner: str, name: str, body: dict[str, Any], starts: str, ends: str
) -> dict[str, Any]:
    """A batch from its booking on, entered by the coordinator where it has begun already."""
    client = scene.client
    new = {
        "equipment_id": scene.pieces[canner],
        "starts_at": at(starts),
        "ends_at": at(ends),
        "purpose": body["title"],
        "recipe_id": scene.recipes[name],
        "revision": 1,
        "jars": body["jars"],
        "member_id": str(person.id),
    }
    booked = ok(client.post("/v1/bookings", json=new, headers=client.coordinator.headers))
    client.clock.at = max(client.clock.at, datetime.fromisoformat(at(ends)))
    batch = {"booking_id": booked["id"], "at": at(starts)}
    return ok(client.post("/v1/batches", json=batch, headers=person.headers))


def load(
    scene: Scene,
    person: Person,
    batch: dict[str, Any],
    canner: str,
    size: str,
    count: int,
    in_at: str,
    out_at: str | None = None,
) -> None:
    client, path = scene.client, f"/v1/batches/{batch['id']}/loads"
    new = {"jar_size": size, "count": count, "canner_id": scene.pieces[canner], "in_at": at(in_at)}
    ok(client.post(path, json=new, headers=person.headers))
    if out_at:
        ok(client.post(f"{path}/1/out", json={"at": at(out_at)}, headers=person.headers))


def seals(scene: Scene, person: Person, batch: dict[str, Any], sealed: int, unsealed: int) -> None:
    client = scene.client
    new = {"sealed": sealed, "unsealed": unsealed, "broken": 0, "at": write_timestamp(client.clock.at)}
    ok(client.post(f"/v1/batches/{batch['id']}/loads/1/seal-check", json=new, headers=person.headers))
