"""A process that serves alone tells how it is before all of it is loaded, and nobody who asks for more is lost."""

import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Event, Timer

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service import start
from service.app import create_app
from service.database.engine import open_engine
from service.database.migrating import WrongSchemaError
from service.published import loading
from service.published.cells import BadFigure
from service.settings import Settings
from service.web import opening
from service.web.opening import Opening
from tests.test_serving import HEAVY

METRICS = "the-secret-of-the-metrics"


class Slow:
    """A process whose whole application is loaded when the test says so."""

    def __init__(self, url: str) -> None:
        self.settings = Settings(database_url=url, metrics_token=METRICS, limits=False)
        self.database = open_engine(url)
        self.goes_on = Event()
        self.loaded: list[FastAPI] = []
        self.application = Opening(self.database, self.settings.metrics_token, self._load)

    def _load(self) -> FastAPI:
        assert self.goes_on.wait(60)
        self.loaded.append(create_app(self.settings, database=self.database))
        return self.loaded[-1]


@pytest.fixture
def slow(database_url: str) -> Slow:
    return Slow(database_url)


def test_health_is_told_at_once_and_who_asks_for_more_waits(slow: Slow) -> None:
    with TestClient(slow.application) as client, ThreadPoolExecutor(8) as callers:
        asked = [callers.submit(client.get, "/v1/members/me") for _ in range(8)]
        for path in ("/readyz", "/healthz"):
            assert client.get(path).json() == {"status": "ok"}
        assert not any(each.done() for each in asked)
        slow.goes_on.set()
        assert [each.result(60).json()["code"] for each in asked] == ["token-needed"] * 8
        assert client.get("/readyz").status_code == 200
        (whole,) = slow.loaded  # however many asked for it
        assert slow.application.whole is whole
    assert whole.state.planner._stopping  # what the whole began with, it ended with


def test_all_is_loaded_without_being_asked_for(slow: Slow) -> None:
    slow.goes_on.set()
    with TestClient(slow.application):
        until = time.monotonic() + 60
        while slow.application.whole is None:
            assert time.monotonic() < until
            time.sleep(0.01)


@pytest.mark.parametrize("method", ["GET", "HEAD", "POST"])
@pytest.mark.parametrize("path", ["/readyz", "/healthz", "/metrics", "/readyz?loud=1", "/healthz?a=1&a=2"])
def test_the_first_answers_are_those_of_the_whole(sqlite_template: Path, method: str, path: str) -> None:
    slow = Slow(f"sqlite:///{sqlite_template}")
    with TestClient(slow.application) as client:
        first = client.request(method, path, headers={"X-Request-Id": "the-same-id"})
        slow.goes_on.set()
        client.get("/problems/busy")
        assert slow.application.whole is not None
        later = client.request(method, path, headers={"X-Request-Id": "the-same-id"})
    assert (first.status_code, first.headers, first.content) == (later.status_code, later.headers, later.content)


@pytest.mark.parametrize("seconds", [0, 0.3])
def test_it_can_be_stopped_before_it_is_whole(
    sqlite_template: Path, monkeypatch: pytest.MonkeyPatch, seconds: float
) -> None:
    """In the pause before anything is loaded, and while it is."""
    monkeypatch.setattr(opening, "PAUSE_SECONDS", 0.1)
    slow = Slow(f"sqlite:///{sqlite_template}")
    with TestClient(slow.application) as client:
        assert client.get("/readyz").status_code == 200
        time.sleep(seconds)
        Timer(0.2, slow.goes_on.set).start()
    assert slow.application.whole is None


def test_nothing_starts_with_a_bad_figure(monkeypatch: pytest.MonkeyPatch) -> None:
    def bad() -> None:
        raise BadFigure("processes.csv, row 7")

    for name in ("facts", "kitchen_figures"):
        with monkeypatch.context() as patched:
            patched.setattr(loading, name, bad)
            with pytest.raises(BadFigure):
                start.opening()


def test_nothing_starts_on_a_database_that_is_behind(empty_database_url: str) -> None:
    with pytest.raises(WrongSchemaError), TestClient(Slow(empty_database_url).application):
        pass


RUNS = "import sys; from service.serving import commands; commands(['serve', '--no-migrate', '--port', '0'])"


def run(code: str, url: str) -> subprocess.CompletedProcess[str]:
    environment = {"CANNING_DATABASE_URL": url, "PATH": ""}
    return subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, timeout=120, check=False
    )


def test_what_cant_be_loaded_ends_the_process_as_a_start_that_failed(sqlite_template: Path) -> None:
    """Status 3 is that of uvicorn for a start that failed; it says why, and nobody gets a 500 for ever."""
    broken = "import sys; sys.modules['service.bookings.routes'] = None;"
    done = run(broken + RUNS, f"sqlite:///{sqlite_template}")
    assert done.returncode == 3
    assert "CRITICAL canning.errors: What is to be served can't be loaded." in done.stderr
    assert "import of service.bookings.routes halted" in done.stderr


def test_a_start_loads_what_its_first_answer_needs_and_no_more(sqlite_template: Path) -> None:
    """The shell, the database and the published figures: no feature, no rule, and no library of a feature's."""
    code = """
import asyncio, sys
from fastapi import FastAPI
from sqlmodel import Session
import service.serving, uvicorn.protocols.http.httptools_impl, uvicorn.lifespan.on
from service import start
from service.web import opening

opening.PAUSE_SECONDS = 60

async def ask(app, path):
    said = []
    async def send(message):
        said.append(message)
    scope = {"type": "http", "method": "GET", "path": path, "raw_path": path.encode(), "query_string": b"",
        "headers": [], "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80), "scheme": "http", "http_version": "1.1"}
    await app(scope, asyncio.Queue().get, send)
    return said[0]["status"]

async def first():
    app = start.opening()
    coming, going = asyncio.Queue(), asyncio.Queue()
    lifespan = asyncio.create_task(app({"type": "lifespan", "state": {}}, coming.get, going.put))
    await coming.put({"type": "lifespan.startup"})
    assert (await going.get())["type"] == "lifespan.startup.complete"
    print(await ask(app, "/readyz"))
    print(*sys.modules)
    await coming.put({"type": "lifespan.shutdown"})
    await lifespan

asyncio.run(first())
"""
    done = run(code, f"sqlite:///{sqlite_template}")
    status, modules = done.stdout.splitlines()
    assert status == "200", done.stderr
    ours = {name.removeprefix("service.") for name in modules.split() if name.startswith("service.")}
    assert "web.health" in ours
    assert {name.partition(".")[0] for name in ours} == {
        "start", "serving", "settings", "web", "database", "published", "core"
    }  # fmt: skip
    assert "app" not in ours
    rules = {"core.rules.check", "core.rules.rulebook", "core.scheduling.planning", "core.jars", "web.browsers"}
    assert not ours & rules
    assert len(ours) < 55, sorted(ours)
    libraries = {name.partition(".")[0] for name in modules.split()}
    assert not libraries & (HEAVY | {"httpx"})
