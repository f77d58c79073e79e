"""The service as a host runs it: it finishes what it began when it is told to stop, and its log betrays nobody."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import httpx
import pytest
import uvicorn
from typer.testing import CliRunner

from service.cli import main
from service.database.engine import open_engine
from service.database.migrating import migrate
from service.serving import FINISH_SECONDS
from tests import make, ports

METRICS = "the-secret-of-the-metrics"
NAMES = ("Ada Lovage", "Plum Hall", "Bo Bergamot")


def start(url: str, log: Path) -> tuple[subprocess.Popen[bytes], str]:
    port = ports.free()
    command = [str(Path(sys.executable).with_name("canning-kitchen")), "serve", f"--port={port}"]
    environment = {**os.environ, "CANNING_DATABASE_URL": url, "CANNING_METRICS_TOKEN": METRICS}
    with log.open("wb") as out:
        service = subprocess.Popen([*command, "--no-migrate"], env=environment, stdout=out, stderr=out)
    base_url = f"http://127.0.0.1:{port}"
    until = time.monotonic() + 120
    while time.monotonic() < until and service.poll() is None:
        try:
            if httpx.get(f"{base_url}/readyz", timeout=30).status_code == 200:
                return service, base_url
        except httpx.TransportError:
            time.sleep(0.1)
    raise AssertionError(log.read_text())


def test_what_was_begun_is_finished_and_the_log_is_discreet(database_url: str, tmp_path: Path) -> None:
    """Writers go on while SIGTERM comes: every request that reached the service is answered, then it ends in time."""
    database, log = open_engine(database_url), tmp_path / "log"
    with make.session(database) as session:
        kitchen = make.kitchen(session, name=NAMES[1])
        _, token = make.member(session, kitchen.id, name=NAMES[0], role="coordinator")
    service, base_url = start(database_url, log)
    answered: list[int] = []
    broken: list[str] = []

    def write() -> None:
        with httpx.Client(base_url=base_url, headers={"Authorization": f"Bearer {token}"}, timeout=30) as client:
            while True:
                try:
                    answered.append(client.post("/v1/members", json={"name": NAMES[2]}).status_code)
                except httpx.ConnectError:  # it listens no more: nothing was begun
                    return
                except httpx.TransportError as error:
                    broken.append(repr(error))
                    return

    try:
        said = httpx.get(f"{base_url}/metrics", headers={"Authorization": f"Bearer {METRICS}"}).text
        assert "canning_gate_waiting" in said
        httpx.get(f"{base_url}/v1/members/me", headers={"Authorization": "Bearer a.made-up-secret"})
        httpx.get(f"{base_url}/v1/lots/{NAMES[0]}?q={NAMES[1]}", headers={"Authorization": f"Bearer {token}"})
        writers = [threading.Thread(target=write) for _ in range(4)]
        for writer in writers:
            writer.start()
        until = time.monotonic() + 60
        while len(answered) < 12 and time.monotonic() < until:
            time.sleep(0.01)
        stopped = time.monotonic()
        service.send_signal(signal.SIGTERM)
        for writer in writers:
            writer.join(60)
        assert service.wait(60) in (0, -signal.SIGTERM)
        assert time.monotonic() - stopped < FINISH_SECONDS + 20  # the machine may be busy
    finally:
        service.kill()
        service.wait()
        with database.reader.connect() as connection:
            kept = connection.exec_driver_sql("SELECT count(*) FROM member WHERE name = 'Bo Bergamot'").scalar_one()
        database.close()
    # a connection kept open for the next request may be closed under it, before the service has read a byte of that
    assert all("disconnected without sending a response" in each or "ReadError" in each for each in broken), broken
    assert set(answered) == {201}
    assert kept == len(answered)
    written = log.read_text()
    for secret in (*NAMES, token, token.partition(".")[2], METRICS, "made-up-secret", "Lovage"):
        assert secret not in written
    lines = [json.loads(line) for line in written.splitlines() if line.startswith("{")]
    posts = [line for line in lines if line["method"] == "POST"]
    assert len(posts) == len(answered)
    assert {frozenset(line) for line in lines} == {
        frozenset({"id", "method", "route", "status", "milliseconds", "member"})
    }
    assert {line["route"] for line in posts} == {"/v1/members"}


def test_a_database_of_another_version_is_refused_with_a_reason(
    empty_database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    database = open_engine(empty_database_url)
    migrate(database, "0001")
    database.close()
    monkeypatch.setenv("CANNING_DATABASE_URL", empty_database_url)
    done = CliRunner().invoke(main, ["serve", "--no-migrate"])
    said = "The database isn't up to date: run `canning-kitchen migrate` first.\n"
    assert (done.exit_code, done.stderr) == (1, said)


@pytest.mark.parametrize("message", ["Ada Lovage", "a-secret-token"])
def test_a_fault_of_ours_is_logged_without_its_words(client, caplog, message: str) -> None:
    def fails(*_given: object) -> None:
        raise RuntimeError(message) from ValueError(message)

    client.app.state.recognise = fails
    with caplog.at_level("ERROR", logger="canning.errors"):
        assert client.get("/v1/members/me", headers={"Authorization": "Bearer x"}).status_code == 500
    assert message not in caplog.text
    assert "RuntimeError" in caplog.text
    assert "test_serving.py" in caplog.text


HEAVY = {"ortools", "numpy", "pandas", "reportlab", "icalendar", "pint", "segno", "bidi"}
HEAVY |= {"alembic", "mako", "jinja2", "cryptography", "psycopg", "rich"}


def test_heavy_libraries_wait_for_their_first_use() -> None:
    """Together they were half of a start and of a worker's memory, the solver alone 90 MB; each comes when needed."""
    code = (
        "import sys, service.cli, service.app; from service.settings import Settings;"
        "service.app.create_app(Settings(database_url='sqlite:///none.db')); print(*sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in done.stdout.split()}
    assert "service" in loaded
    assert not loaded & HEAVY


def test_what_is_read_at_the_start_is_never_looked_over_for_garbage_again() -> None:
    code = "import gc, service.start; service.start.served(); print(gc.isenabled(), gc.get_freeze_count())"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "CANNING_DATABASE_URL": "sqlite:///none.db"},
        capture_output=True,
        text=True,
        check=True,
    )
    enabled, frozen = done.stdout.split()
    assert enabled == "True"
    assert int(frozen) > 100_000


@pytest.mark.parametrize(("workers", "begins"), [(1, "service.start:opening"), (2, "service.start:served")])
def test_only_who_serves_alone_answers_before_it_is_whole(
    database_url: str, monkeypatch: pytest.MonkeyPatch, workers: int, begins: str
) -> None:
    """Beside others a worker takes nothing that they could answer sooner, and is replaced by a whole one only."""
    given: list[object] = []
    monkeypatch.setenv("CANNING_DATABASE_URL", database_url)
    monkeypatch.setattr(uvicorn, "run", lambda *what, **_: given.extend(what))
    CliRunner().invoke(main, ["serve", "--no-migrate", f"--workers={workers}"])
    assert given == [begins]
