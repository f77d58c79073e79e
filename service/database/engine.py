"""Opening a database: the only place an engine is made."""

import sqlite3
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, make_url

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
    """One database with the engine that writes and the engine that reads; on PostgreSQL they are the same."""

    writer: Engine
    reader: Engine

    @property
    def dialect(self) -> str:
        """`sqlite` or `postgresql`."""
        return self.writer.dialect.name

    def close(self) -> None:
        """Give every connection back."""
        self.writer.dispose()
        self.reader.dispose()


def open_engine(url: str, connections: int = 8, answer_seconds: float | None = None) -> Database:
    """Open the database behind a URL: an SQLite file or a PostgreSQL server.

    `answer_seconds` is the longest to wait for any answer of a server; commands that move everything set none.
    """
    parts = make_url(url)
    if parts.get_backend_name() == "sqlite":
        if parts.database in (None, "", ":memory:"):
            raise ValueError("An SQLite database is a file here: two engines can't share one in memory.")
        return Database(
            _sqlite(url, "BEGIN IMMEDIATE", {"synchronous": "FULL", "journal_mode": "WAL"}, 1),
            _sqlite(url, "BEGIN", {"query_only": "ON", "wal_autocheckpoint": "0"}, connections),
        )
    if parts.get_backend_name() == "postgresql":
        from service.database.patience import Patient  # and the driver, a tenth of a start on SQLite

        engine = create_engine(
            parts.set(drivername="postgresql+psycopg"),
            hide_parameters=True,
            pool_size=connections,
            max_overflow=0,
            pool_timeout=5,
            pool_pre_ping=True,
            connect_args={"connect_timeout": 3, "options": POSTGRESQL_OPTIONS},
        )

        def connect(_dialect: Any, _record: Any, positional: Any, named: Any) -> Any:
            connection = Patient.connect(*positional, **named)
            connection.most_seconds = answer_seconds
            return connection

        event.listen(engine, "do_connect", connect)
        return Database(engine, engine)
    raise ValueError("The database is an sqlite:/// file or a postgresql:// server.")


def _sqlite(url: str, begin: str, pragmas: dict[str, str], connections: int) -> Engine:
    """An engine that starts its own transactions: the driver of Python 3.11 starts them too late."""
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

    def start(connection: Connection) -> None:
        run(connection, begin)

    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", start)
    return engine
