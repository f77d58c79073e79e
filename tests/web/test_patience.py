"""What the database undid because others wrote at the same time is done again, whole, twice at most."""

import sqlite3
from collections.abc import Callable

import psycopg
import pytest
from sqlalchemy.exc import DBAPIError


def undone(dialect: str) -> Exception:
    """What the driver raises."""
    if dialect == "postgresql":
        return psycopg.errors.DeadlockDetected("deadlock detected")
    error = sqlite3.OperationalError("database is locked")
    error.sqlite_errorname = "SQLITE_BUSY"
    return error


class Fails:
    """Stands in for a step of the database; the first so many times others are in its way."""

    def __init__(
        self, times: int, error: Exception, step: Callable[..., None], undo: Callable[..., None] = lambda *_: None
    ) -> None:
        self.times, self.error, self.step, self.undo, self.calls = times, error, step, undo, 0

    def __call__(self, *given: object) -> None:
        self.calls += 1
        if self.calls <= self.times:
            self.undo(*given)
            raise self.error
        self.step(*given)


def add(client):
    headers = {**client.coordinator.headers, "Idempotency-Key": "once"}
    return client.post("/v1/members", json={"name": "Dee"}, headers=headers)


def names(client):
    return [each["name"] for each in client.get("/v1/members", headers=client.coordinator.headers).json()["items"]]


@pytest.fixture
def dialect(client):
    return client.app.state.database.dialect


@pytest.mark.parametrize(("times", "status"), [(1, 201), (2, 201), (3, 503)])
def test_a_lock_that_others_break_is_taken_twice_more(client, dialect, times, status):
    client.app.state.lock_kitchen = lock = Fails(
        times, DBAPIError("", None, undone(dialect)), client.app.state.lock_kitchen
    )
    answer = add(client)
    assert (answer.status_code, lock.calls) == (status, 3 if times == 3 else times + 1)
    assert names(client).count("Dee") == (status == 201)
    if status == 503:
        assert (answer.json()["code"], answer.headers["retry-after"]) == ("busy", "1")
        assert add(client).status_code == 201


def test_work_undone_as_it_is_saved_is_saved_once(client, dialect, monkeypatch):
    names(client)  # the token's use is noted by now
    engine = client.app.state.database.writer
    commit = Fails(1, undone(dialect), engine.dialect.do_commit, engine.dialect.do_rollback)
    monkeypatch.setattr(engine.dialect, "do_commit", commit)
    assert add(client).status_code == 201
    assert commit.calls == 2
    assert names(client).count("Dee") == 1
    assert add(client).headers["idempotency-replayed"] == "true"


def test_another_failure_of_the_database_isnt_tried_again(client):
    client.app.state.lock_kitchen = lock = Fails(
        1, DBAPIError("", None, psycopg.errors.DiskFull()), client.app.state.lock_kitchen
    )
    assert (add(client).json()["code"], lock.calls) == ("storage-full", 1)
