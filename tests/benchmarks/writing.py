"""What a booking costs, durable and with its Idempotency-Key, beside a bare insert of one row that is as durable.

The floor is the driver alone, in this process: one row, one commit, the same settings. Behind a bare application it
costs HTTP as well, which no booking can do without. Both databases lie on a disk.
"""

import json
import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from threading import Lock
from typing import Any
from uuid import uuid4

import psycopg
from sqlalchemy import make_url

from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.hours import Opening
from service.database.engine import open_engine
from service.database.migrating import migrate
from service.equipment import store as equipment
from tests import make, postgresql
from tests.benchmarks.measuring import Client, Row, Server, bare, in_turns, row, service

CLIENTS = 8
A_ROUND = 40  # bookings, or rows
ROUNDS = 8
STARTS_OF_A_DAY = 48
DISK = "/var/tmp"


def measured(database: str) -> Iterator[Row]:
    with _durable(database) as url, ExitStack() as stack:
        wishes = _kitchen(url)
        server = stack.enter_context(service(url))
        beside, statement = _one_row(url)
        insert = stack.enter_context(_insert(beside, statement))
        floor = stack.enter_context(bare("inserts", BENCH_DATABASE_URL=beside, BENCH_STATEMENT=statement))
        book = _Booking(server, wishes)
        threads = stack.enter_context(ThreadPoolExecutor(CLIENTS))
        taken = in_turns(
            {
                "insert": lambda: [insert() for _ in range(A_ROUND)],
                "served": lambda: [floor.ask("POST", "/rows", next(wishes)[1]) for _ in range(A_ROUND)],
                "one": lambda: [book(0) for _ in range(A_ROUND)],
                "eight": lambda: list(threads.map(partial(_some, book), range(CLIENTS))),
            },
            ROUNDS,
        )
    rate = {name: A_ROUND / median(seconds) for name, seconds in taken.items()}
    one, eight, what = rate["one"], rate["eight"], "bookings with a key, 1 client: bare insert"
    yield row(what, database, "per second", one, rate["insert"], "at least 0.5")
    yield row(f"{what}, served", database, "per second", one, rate["served"], "at least 0.5")
    yield row(f"bookings with {CLIENTS} clients beside 1", database, "per second", eight, one, "at least 1")


class _Booking:
    """Books the next free half hour, each client over a connection of its own."""

    def __init__(self, server: Server, wishes: Iterator[tuple[str, bytes]]) -> None:
        self.wishes = wishes
        self.clients = [Client(server.port) for _ in range(CLIENTS)]

    def __call__(self, client: int) -> bytes:
        token, body = next(self.wishes)
        headers = {"Authorization": f"Bearer {token}", "Idempotency-Key": str(uuid4())}
        return self.clients[client].ask("POST", "/v1/bookings", body, headers)


def _some(book: _Booking, client: int) -> None:
    for _ in range(A_ROUND // CLIENTS):
        book(client)


def _kitchen(url: str) -> Iterator[tuple[str, bytes]]:
    """A kitchen that never closes with kettles enough, and the bookings to ask for, none in the way of another."""
    database = open_engine(url)
    migrate(database)
    now = datetime.now(UTC).replace(microsecond=0)
    with make.session(database) as session:
        here = make.kitchen(session)
        token = make.member(session, here.id, at=now)[1]
        equipment.set_week(session, here.id, tuple(Opening(day, 0, 1440) for day in range(7)), 1)
        kettles = [
            equipment.add(
                session, here.id, now, kind=EquipmentKind.CANNER, name=f"Kettle {number}",
                canner_kind=CannerKind.BOILING_WATER, capacity={"pint": 9},
            ).id
            for number in range(CLIENTS)
        ]  # fmt: skip
    database.close()
    first_at = (now + timedelta(days=1)).replace(hour=0, minute=0, second=0)

    def wishes() -> Iterator[tuple[str, bytes]]:
        for number in count():
            starts = first_at + timedelta(minutes=1440 // STARTS_OF_A_DAY * (number // CLIENTS))
            body = {
                "equipment_id": str(kettles[number % CLIENTS]),
                "starts_at": starts.isoformat(),
                "ends_at": (starts + timedelta(minutes=30)).isoformat(),
                "purpose": "Plum jam",
            }
            yield token, json.dumps(body).encode()

    return _Locked(wishes())


class _Locked(Iterator[tuple[str, bytes]]):
    """An iterator that threads may share."""

    def __init__(self, each: Iterator[tuple[str, bytes]]) -> None:
        self.each, self.lock = each, Lock()

    def __next__(self) -> tuple[str, bytes]:
        with self.lock:
            return next(self.each)


@contextmanager
def _durable(database: str) -> Iterator[str]:
    if database == "sqlite":
        with TemporaryDirectory(prefix="canning-bench-", dir=DISK) as folder:
            yield f"sqlite:///{Path(folder) / 'kitchen.db'}"
        return
    programs = postgresql.programs()
    if programs is None:
        raise SystemExit("PostgreSQL's initdb and pg_ctl aren't on this machine.")
    with postgresql.running(programs, durable=True) as server:
        postgresql.on_server(server, "CREATE DATABASE kitchen")
        postgresql.on_server(server, "CREATE DATABASE bare")
        yield server.format("kitchen")


def _one_row(url: str) -> tuple[str, str]:
    """A database beside the service's, its table made, and the statement that inserts a row there."""
    parts = make_url(url)
    if parts.get_backend_name() == "sqlite":
        beside, mark = f"{url}.bare", "?"
        connection: Any = sqlite3.connect(f"{parts.database}.bare")
        connection.execute("PRAGMA journal_mode = WAL")  # kept in the file; synchronous is FULL by itself
    else:
        beside, mark = url.replace("/kitchen?", "/bare?"), "%s"
        connection = psycopg.connect(beside.replace("+psycopg", ""), autocommit=True)
    connection.execute("CREATE TABLE one_row (id TEXT PRIMARY KEY, said TEXT NOT NULL)")
    connection.close()
    return beside, f"INSERT INTO one_row (id, said) VALUES ({mark}, 'Plum jam')"


@contextmanager
def _insert(url: str, statement: str) -> Iterator[Callable[[], Any]]:
    """One row, one commit, by the driver alone."""
    parts = make_url(url)
    if parts.get_backend_name() == "sqlite":
        connection: Any = sqlite3.connect(str(parts.database), isolation_level=None)
    else:
        connection = psycopg.connect(url.replace("+psycopg", ""), autocommit=True)
    yield lambda: connection.execute(statement, (str(uuid4()),))
    connection.close()
