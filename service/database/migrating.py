"""Bringing a database to the schema this version of the service needs.

Alembic knows the way and is loaded where one is to be gone; who serves only looks whether the database is there.
"""

import re
import sysconfig
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, inspect, text

from service.database.engine import Database
from service.database.guard import guard_present

if TYPE_CHECKING:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

# Any number will do, as long as every version of the service uses the same one.
MIGRATING_LOCK = 8_206_118
_NAMED = re.compile(r'^(down_)?revision = "(\w+)"$', re.MULTILINE)


class WrongSchemaError(Exception):
    """The database isn't one this version of the service may touch; the message says why."""


def migrate(database: Database, revision: str = "head") -> None:
    """Bring a database up (or down, to `base` or an older revision) in one transaction, all or nothing."""
    from alembic import command  # a tenth of a start, and 8 MB

    with _migrating(database) as connection:
        require_known(connection)
        config = _config()
        config.attributes["connection"] = connection
        present = revisions(connection)
        passed = {script.revision for script in _scripts().iterate_revisions(tuple(present), "base")} - set(present)
        down = revision == "base" or revision.startswith("-") or revision in passed
        (command.downgrade if down else command.upgrade)(config, revision)


def is_at_head(connection: Connection) -> bool:
    """Whether this connection's database has exactly the schema of this version."""
    _, newest = _history()
    return revisions(connection) == [newest]


def require_head(database: Database) -> None:
    """Refuse to serve a database that isn't at head, or no longer guards what it should."""
    with database.reader.connect() as connection:
        require_schema(connection)
        if not guard_present(connection):
            raise WrongSchemaError("The database has lost its guard against double bookings.")


def require_schema(connection: Connection) -> None:
    """Refuse a database whose schema isn't exactly the one of this version."""
    require_known(connection)
    if not is_at_head(connection):
        raise WrongSchemaError("The database isn't up to date: run `canning-kitchen migrate` first.")


def revisions(connection: Connection) -> list[str]:
    """The revision a database stands at; none in an empty one."""
    if not inspect(connection).has_table("alembic_version"):
        return []
    return list(connection.execute(text("SELECT version_num FROM alembic_version")).scalars())


def require_known(connection: Connection) -> None:
    """Refuse a database of something else, of a newer version, or one that stands between two histories."""
    present = revisions(connection)
    if not present:
        if set(inspect(connection).get_table_names()) - {"alembic_version"}:
            raise WrongSchemaError("The database has tables that aren't this service's.")
        return
    known, _ = _history()
    if len(present) > 1 or not set(present) <= known:
        raise WrongSchemaError("The database has a schema this version of the service doesn't know.")


def has_rows(connection: Connection) -> bool:
    """Whether a database holds anything but the number of its revision."""
    quote = connection.dialect.identifier_preparer.quote
    tables = set(inspect(connection).get_table_names()) - {"alembic_version"}
    return any(connection.exec_driver_sql(f"SELECT 1 FROM {quote(name)} LIMIT 1").first() for name in tables)  # noqa: S608


@contextmanager
def _migrating(database: Database) -> Iterator[Connection]:
    """A transaction in which tables may be rebuilt, alone.

    Rebuilding a parent on SQLite would delete its children, so foreign keys are off meanwhile and checked at the end.
    """
    with database.writer.connect() as connection:
        driver = connection.connection.dbapi_connection
        assert driver is not None
        if database.dialect == "sqlite":
            driver.execute("PRAGMA foreign_keys = OFF")
        try:
            with connection.begin():
                if database.dialect == "postgresql":
                    connection.execute(text("SET LOCAL statement_timeout = 0"))
                    connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": MIGRATING_LOCK})
                yield connection
                if database.dialect == "sqlite" and connection.exec_driver_sql("PRAGMA foreign_key_check").first():
                    raise WrongSchemaError("A row would point at nothing, so the database stays as it was.")
        finally:
            if database.dialect == "sqlite":
                driver.execute("PRAGMA foreign_keys = ON")


@cache
def _history() -> tuple[frozenset[str], str]:
    """Every revision there is, and the newest, as the files name them."""
    named = [match for file in (_folder() / "versions").glob("*.py") for match in _NAMED.findall(file.read_text())]
    known, passed = ({name for down, name in named if bool(down) is before} for before in (False, True))
    (newest,) = known - passed
    return frozenset(known), newest


@cache
def _scripts() -> "ScriptDirectory":
    from alembic.script import ScriptDirectory

    return ScriptDirectory.from_config(_config())


def _config() -> "Config":
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_folder()).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def _folder() -> Path:
    """Where the revisions are: beside the package in a checkout, among the shared data once installed."""
    checkout = Path(__file__).parents[2] / "migrations"
    installed = Path(sysconfig.get_path("data")) / "share" / "canning-kitchen" / "migrations"
    return checkout if (checkout / "env.py").is_file() else installed
