"""Readiness tells the truth within a second, and says what fails."""

import time
from pathlib import Path
from threading import Event

import pytest
from sqlalchemy import text

from service.database import probing
from service.database.engine import open_engine
from service.database.probing import Failing, Probe
from service.web.health import FAILURES
from tests.conftest import Client
from tests.keeping.test_verifying import DROP_GUARD


def ready(client: Client) -> tuple[int, str | None]:
    answer = client.get("/readyz")
    return answer.status_code, answer.json().get("detail")


def test_a_sound_service_is_ready(client: Client) -> None:
    assert ready(client) == (200, None)


@pytest.mark.parametrize("cause", ["behind", "unguarded", "not written"])
def test_it_says_what_fails(client: Client, cause: str, monkeypatch: pytest.MonkeyPatch) -> None:
    database = client.app.state.database
    statements = {
        "behind": ["UPDATE alembic_version SET version_num = '0001'"],
        "unguarded": DROP_GUARD[database.dialect],
        "not written": [],
    }
    with database.writer.begin() as connection:
        for statement in statements[cause]:
            connection.execute(text(statement))
    if cause == "not written":
        monkeypatch.setitem(probing._WRITES, database.dialect, "INSERT INTO nothing_there VALUES (1)")
    said = {"behind": "up to date", "unguarded": "guard", "not written": "doesn't take a write"}[cause]
    status, detail = ready(client)
    assert status == 503
    assert said in str(detail)
    assert client.get("/healthz").status_code == 200


def test_a_database_that_hangs_is_said_so_within_a_second(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    hang = Event()
    monkeypatch.setattr(probing, "is_at_head", lambda _: hang.wait(10))
    started = time.monotonic()
    answers = [ready(client) for _ in range(2)]  # the second one shares the look that hangs
    assert answers == [(503, "The database doesn't answer within a second.")] * 2
    assert 1.9 < time.monotonic() - started < 9  # the look itself hangs for 10
    hang.set()
    monkeypatch.undo()
    until = time.monotonic() + 10
    while ready(client) != (200, None):
        assert time.monotonic() < until


def test_a_write_of_the_probe_reaches_the_log_on_the_disk(database_url: str) -> None:
    database = open_engine(database_url)

    def written() -> object:
        with database.writer.connect() as connection:
            if database.dialect == "postgresql":
                return connection.exec_driver_sql("SELECT pg_current_wal_flush_lsn()::text").scalar_one()
            return Path(f"{database.writer.url.database}-wal").stat().st_size

    probe, before = Probe(database), written()
    assert probe.failing(20) is None
    assert written() != before
    probe.close()
    database.close()


def test_every_failure_has_its_words() -> None:
    assert set(FAILURES) == set(Failing)
