"""Opening a database: the only place an engine is made."""

import sqlite3
from dataclasses import dataclass
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError

from service.database.prepared import run

SQLITE_BUSY_MS = 5000

POSTGRESQL_OPTIONS = " ".join(
    f"-c {name}={value}"
    for name, value in {
        "timezone": "UTC",
        "synchronous_commit": "on",  # whatever the server's own setting: what was confirmed survives its crash
        "statement_timeout": "5s",
        "lock_timeout": "3s",
        "idle_in_transaction_session_timeout": "15s",
    }.items()
)


@dataclass(frozen=True, slots=True)
class Database:
    """One database with the engine that writes and the engine that only reads.

    Whatever reads within one transaction sees one state of the database. On PostgreSQL both share their connections.
    """

    writer: Engine
    reader: Engine

    @property
    def dialect(self) -> str:
        """`sqlite` or `postgresql`."""
        return self.writer.dialect.name

    def look(self) -> Connection:
        """A connection for a few looks at the database, to be closed after them.

        On SQLite all of them see one state. On PostgreSQL each sees the newest until a session begins a transaction:
        to begin and to end one takes as long as what most ask in between.
        """
        connection = self.reader.connect()
        if self.dialect == "sqlite":
            connection.begin()
        return connection

    def close(self) -> None:
        """Give every connection back."""
        self.writer.dispose()
        self.reader.dispose()


class UnusableUrlError(ValueError):
    """No database of this service can be at a URL; the message says why."""


def read_url(url: str) -> URL:
    """Where a database is. Raises `UnusableUrlError` unless that is an SQLite file or a PostgreSQL server."""
    try:
        parts = make_url(url)
    except (ArgumentError, ValueError):
        raise UnusableUrlError("What is given as the database isn't a URL.") from None
    if parts.get_backend_name() not in ("sqlite", "postgresql"):
        raise UnusableUrlError("The database is an sqlite:/// file or a postgresql:// server.")
    if parts.get_backend_name() == "sqlite" and parts.database in (None, "", ":memory:"):
        raise UnusableUrlError("An SQLite database is a file here: two engines can't share one in memory.")
    return parts


def open_engine(url: str, connections: int = 8, answer_seconds: float | None = None) -> Database:
    """Open the database behind a URL: an SQLite file or a PostgreSQL server. Raises `UnusableUrlError`.

    `answer_seconds` is the longest to wait for any answer of a server; commands that move everything set none.
    """
    parts = read_url(url)
    if parts.get_backend_name() == "sqlite":
        return Database(
            _begins(_sqlite(url, {"synchronous": "FULL", "journal_mode": "WAL"}, 1), "BEGIN IMMEDIATE"),
            _begins(_sqlite(url, {"query_only": "ON", "wal_autocheckpoint": "0"}, connections), "BEGIN"),
        )
    engine = _postgresql(parts, connections, answer_seconds)
    return Database(
        _begins(engine.execution_options(), "BEGIN"),
        _begins(engine.execution_options(), "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"),
    )


def _begins(engine: Engine, begin: str) -> Engine:
    """Have an engine start its transactions in these words, and its driver start none by itself.

    The driver of SQLite would start them too late (on Python 3.11), that of PostgreSQL for every look as well.
    """

    def start(connection: Connection) -> None:
        run(connection, begin)

    event.listen(engine, "begin", start)
    return engine


def _sqlite(url: str, pragmas: dict[str, str], connections: int) -> Engine:
    engine = create_engine(
        url,
        hide_parameters=True,
        pool_size=connections,
        max_overflow=0,
        pool_timeout=5,
        connect_args={"isolation_level": None, "check_same_thread": False, "timeout": SQLITE_BUSY_MS / 1000},
    )

    def prepare(connection: sqlite3.Connection, _record: Any) -> None:
        for name, value in {"busy_timeout": str(SQLITE_BUSY_MS), "foreign_keys": "ON", **pragmas}.items():
            connection.execute(f"PRAGMA {name} = {value}").close()

    event.listen(engine, "connect", prepare)
    return engine


def _postgresql(url: URL, connections: int, answer_seconds: float | None) -> Engine:
    from service.database.patience import Patient, require_alive  # and the driver, a tenth of a start on SQLite

    engine = create_engine(
        url.set(drivername="postgresql+psycopg"),
        hide_parameters=True,
        pool_size=connections,
        max_overflow=0,
        pool_timeout=5,
        connect_args={"connect_timeout": 3, "options": POSTGRESQL_OPTIONS, "autocommit": True},
    )

    def connect(_dialect: Any, _record: Any, positional: Any, named: Any) -> Any:
        connection = Patient.connect(*positional, **named)
        connection.most_seconds = answer_seconds
        return connection

    event.listen(engine, "do_connect", connect)
    event.listen(engine, "checkout", require_alive)
    return engine
