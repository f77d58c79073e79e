"""What members wait for takes as much work beside a long history as beside a short one, on both databases.

Work is counted, not timed: the steps of SQLite's machine, and the rows that PostgreSQL looks at, for the statements the
service sends by itself. `python -m tests.benchmarks reading` times the same beside a million movements.
"""

import re
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import event, inspect, text

from service.app import create_app
from service.database.engine import Database, open_engine
from service.settings import Settings
from tests import make, postgresql
from tests.benchmarks.ledgers import Ledger, filled

SHORT, LONG = 4_000, 16_000  # movements; what grows with them is there four times
GROWING = 1_000  # rows of a table that nobody should wait for
AT_MOST, APART = 1.1, {"sqlite": 100, "postgresql": 10}  # of the work: a tree of four times as many has a level more

# PostgreSQL rather reads all of what is as small as here; a merge reads as much of it as random ids happen to ask for.
WHOLE = ("enable_seqscan", "enable_mergejoin", "enable_hashjoin")

GONE = ("ix_booking_kitchen_id_starts_at_id_ends_at", "ix_booking_member_id_starts_at_id_ends_at", "ix_balance_held")


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def ledgers(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[Ledger]]:
    if request.param == "sqlite":
        folder: Path = tmp_path_factory.mktemp("growth")
        yield [filled(f"sqlite:///{folder}/{size}.db", size, make.A_MOMENT) for size in (SHORT, LONG)]
        return
    server = request.getfixturevalue("postgresql_server")
    names = {size: f"growth_{size}_{uuid4().hex}" for size in (SHORT, LONG)}
    for name in names.values():
        postgresql.on_server(server, f"CREATE DATABASE {name} TEMPLATE template0 STRATEGY FILE_COPY")
    yield [filled(server.format(name), size, make.A_MOMENT) for size, name in names.items()]
    for name in names.values():
        postgresql.on_server(server, f"DROP DATABASE {name} WITH (FORCE)")


class Watched:
    """The service beside one ledger, with what it says to its database."""

    def __init__(self, ledger: Ledger, client: TestClient, database: Database) -> None:
        self.ledger, self.client, self.database = ledger, client, database
        self.growing = _growing(database)
        self.said: list[tuple[str, Any]] = []
        self.steps = 0
        for engine in {database.reader, database.writer}:
            event.listen(engine, "before_cursor_execute", lambda *given: self.said.append((given[2], given[3])))
            if database.dialect == "sqlite":
                event.listen(engine, "checkout", lambda driver, *_: driver.set_progress_handler(self._step, 10))

    def _step(self) -> int:
        self.steps += 10
        return 0

    def asked(self, what: str) -> None:
        """Ask for it, a second time: the first use of a token in an hour is noted."""
        for _ in range(2):
            self.said.clear()
            self.steps = 0
            if what == "booking":
                body, method, path, token = next(self.ledger.bookings), "POST", "/v1/bookings", self.token
            else:
                ask = self.ledger.asks[what]
                body, method, path, token = ask.body or None, ask.method, ask.path, ask.token
            headers = {"Authorization": f"Bearer {token}"} if token else {}
            answer = self.client.request(method, path, json=body, headers=headers)
            assert answer.status_code in (200, 201), (what, answer.text)

    @property
    def token(self) -> str | None:
        return self.ledger.asks["own bookings"].token

    def work(self, what: str) -> float:
        self.asked(what)
        if self.database.dialect == "sqlite":
            return self.steps
        plans = self._plans(self.said)
        blocks = sum(plan.get(f"Shared {kind} Blocks", 0) for plan in plans for kind in ("Hit", "Read"))
        return blocks + sum(rows for plan in plans for _, _, rows in _scans(plan))

    def read_whole(self, what: str) -> list[str]:
        """The statements that read a growing table from end to end."""
        self.asked(what)
        with self.database.reader.connect() as connection:
            if self.database.dialect == "postgresql":
                plans = list(zip(self.said, self._plans(self.said), strict=True))
                return [said for (said, _), plan in plans for kind, table, _ in _scans(plan)
                        if kind == "Seq Scan" and table in self.growing]  # fmt: skip
            found = []
            for statement, values in self.said:
                if statement.startswith(("SELECT", "INSERT", "UPDATE", "DELETE")):
                    for *_, detail in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", values):
                        scanned = re.match(r"SCAN (\w+?)(_\d+)?\b", detail)
                        if scanned and scanned[1] in self.growing:
                            found.append(statement)
            return found

    def _plans(self, said: list[tuple[str, Any]]) -> list[dict[str, Any]]:
        """What PostgreSQL does for each statement; what it writes for that is taken back."""
        found = []
        with self.database.writer.connect() as connection:
            for way in WHOLE:
                connection.execute(text(f"SET LOCAL {way} = off"))
            for statement, values in said:
                if statement.startswith(("SELECT", "INSERT", "UPDATE", "DELETE")):
                    explained = f"EXPLAIN (ANALYZE, BUFFERS, TIMING OFF, FORMAT JSON) {statement}"
                    nested = connection.begin_nested()
                    try:
                        found.append(connection.exec_driver_sql(explained, values).scalar_one()[0]["Plan"])
                    except Exception:  # what was written is there already
                        found.append({})
                    nested.rollback()
                else:
                    found.append({})
            connection.rollback()
        return found


def _growing(database: Database) -> set[str]:
    with database.reader.connect() as connection:
        tables = inspect(connection).get_table_names()
        counts = {table: connection.execute(text(f"SELECT count(*) FROM {table}")).scalar_one() for table in tables}
    return {table for table, rows in counts.items() if rows >= GROWING}


def _scans(plan: dict[str, Any]) -> Iterator[tuple[str, str, float]]:
    """Each look at a table: how, at which, and at how many rows."""
    if "Relation Name" in plan:
        rows = sum(
            plan.get(name, 0) for name in ("Actual Rows", "Rows Removed by Filter", "Rows Removed by Index Recheck")
        )
        yield plan["Node Type"], plan["Relation Name"], rows * plan["Actual Loops"]
    for each in plan.get("Plans", ()):
        yield from _scans(each)


@contextmanager
def watching(ledgers: list[Ledger]) -> Iterator[list[Watched]]:
    with ExitStack() as stack:
        settings = [Settings(database_url=ledger.url, limits=False) for ledger in ledgers]
        apps = [create_app(each, lambda: make.A_MOMENT) for each in settings]
        clients = [stack.enter_context(TestClient(app)) for app in apps]
        yield [
            Watched(ledger, client, app.state.database)
            for ledger, client, app in zip(ledgers, clients, apps, strict=True)
        ]


def grown(short: Watched, long: Watched, names: list[str]) -> dict[str, tuple[float, float]]:
    """What takes more work beside the long history."""
    works = {what: (short.work(what), long.work(what)) for what in names}
    apart = APART[short.database.dialect]
    return {what: (before, after) for what, (before, after) in works.items() if after > before * AT_MOST + apart}


def test_nothing_that_members_wait_for_grows_with_the_history(ledgers: list[Ledger]) -> None:
    names = [*ledgers[0].asks, "booking"]
    with watching(ledgers) as (short, long):
        assert {"movement", "booking", "balance", "batch", "notice"} <= long.growing
        whole = [what for what in names if short.ledger.whole_from(what) <= SHORT]
        assert {what: found for what in whole if (found := long.read_whole(what))} == {}
        assert grown(short, long, whole) == {}


def test_an_index_that_is_gone_is_missed(ledgers: list[Ledger]) -> None:
    """That the counts above can fail: this test comes last, and its ledgers aren't used again."""
    for ledger in ledgers:
        database = open_engine(ledger.url)
        with database.writer.begin() as connection:
            for index in GONE:
                connection.execute(text(f"DROP INDEX {index}"))
        database.close()
    with watching(ledgers) as (short, long):
        missed = ["bookings of a day", "pantry page of 50"]
        assert set(grown(short, long, missed)) == set(missed)
        assert long.read_whole("bookings of a day")
