"""A kitchen that is served over a real socket, by the real clock."""

import shutil
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import httpx
import pytest
import uvicorn

from service.app import create_app
from service.settings import Settings
from tests.batches.make import DAYS, HOLDS
from tests.conftest import Person, _people


@dataclass(frozen=True)
class Served:
    """Where it is served, and whose tokens there are."""

    url: str
    member: Person
    coordinator: Person


@pytest.fixture(scope="module")
def served(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A kitchen that never closes, with two canners and what a whole batch takes."""
    file = tmp_path_factory.mktemp("served") / "kitchen.db"
    shutil.copy(sqlite_template, file)
    app = create_app(Settings(database_url=f"sqlite:///{file}", limits=False))
    people = _people(app, datetime.now(UTC).replace(microsecond=0))
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.01)
    url = f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    _equip(url, people["coordinator"])
    yield Served(url, people["members"][0], people["coordinator"])
    server.should_exit = True
    thread.join(timeout=20)


def _equip(url: str, coordinator: Person) -> None:
    with httpx.Client(base_url=url, headers=coordinator.headers) as kitchen:
        week = [{"weekday": day, "opens": "00:00", "closes": "24:00"} for day in DAYS]
        etag = kitchen.get("/v1/opening-hours").headers["etag"]
        kitchen.put("/v1/opening-hours", json={"openings": week}, headers={"If-Match": etag}).raise_for_status()
        for name in ("Blue kettle", "Speckled kettle"):
            new = {"kind": "canner", "name": name, "canner_kind": "boiling-water", "capacity": HOLDS}
            kitchen.post("/v1/equipment", json=new).raise_for_status()
        others = [{"kind": "burner", "name": f"Burner {number}"} for number in (1, 2, 3)]
        others += [{"kind": "table", "name": "Long table"}, {"kind": "rack", "name": "Rack", "places": 48}]
        for new in others:
            kitchen.post("/v1/equipment", json=new).raise_for_status()
