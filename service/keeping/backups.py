"""One file with everything in it, made while others write, and put back where nothing is lost by it.

On SQLite `VACUUM INTO` in one step, since a copy of the file would miss its log and a copy page by page never ends
under writes; on PostgreSQL its own `pg_dump` and `pg_restore`.
"""

import os
import shutil
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import URL

from service.database.engine import open_engine, read_url
from service.database.migrating import WrongSchemaError, has_rows, require_known, revisions

if TYPE_CHECKING:
    import psycopg

BUSY_SECONDS = 30
CONNECT_SECONDS = 10
GONE_SECONDS = 2
LOCK_WAIT = "30s"
MAGIC = {"sqlite": b"SQLite format 3\0", "postgresql": b"PGDMP"}
NAMES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
IN_USE = "Somebody is using the database: stop the service first."


class BackupError(Exception):
    """It can't be backed up, or put back, and nothing was changed; the message says why."""


def back_up(url: str, file: Path) -> int:
    """Write everything that was committed by now into a new file only its owner may read; its size in bytes."""
    if file.exists():
        raise BackupError(f"{file} is there already: a backup never writes over another file.")
    partial = file.with_name(f"{file.name}.partial")
    try:
        os.close(os.open(partial, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600))
        _write(read_url(url), partial)
        _sync(partial)
        os.link(partial, file)  # refuses what came to be there meanwhile
        _sync(file.parent)
    except OSError as failed:
        raise BackupError(f"{failed.filename or file}: {failed.strerror}.") from None
    finally:
        partial.unlink(missing_ok=True)
    return file.stat().st_size


def restore(url: str, file: Path, *, replace: bool = False) -> str | None:
    """Put a backup into the database of a URL, all of it or nothing; the place of what was there, if anything was.

    A database that holds anything is only taken with `replace`, and then set aside, not deleted.
    """
    parts = read_url(url)
    kind = parts.get_backend_name()
    _require_kind(file, kind)
    return (_restore_sqlite if kind == "sqlite" else _restore_postgresql)(parts, file, replace)


def _write(parts: URL, partial: Path) -> None:
    if parts.get_backend_name() == "sqlite":
        source = Path(str(parts.database))
        if not source.is_file():
            raise BackupError(f"There is no database at {source}.")
        _require_known(parts)
        try:
            with closing(_sqlite(source)) as connection:
                connection.execute("VACUUM INTO ?", (str(partial),))
            _require_whole(partial)
        except sqlite3.Error as failed:
            raise BackupError(f"SQLite says: {failed}.") from None
        return
    _require_known(parts)
    _run("pg_dump", parts, "--format=custom", f"--lock-wait-timeout={LOCK_WAIT}", "--no-owner", f"--file={partial}")
    _run("pg_restore", None, "--list", str(partial))


def _require_kind(file: Path, kind: str) -> None:
    try:
        with file.open("rb") as opened:
            begins = opened.read(16)
    except OSError as failed:
        raise BackupError(f"{file}: {failed.strerror}.") from None
    found = next((NAMES[name] for name, magic in MAGIC.items() if begins.startswith(magic)), None)
    if found is None:
        raise BackupError(f"{file} isn't a backup.")
    if found != NAMES[kind]:
        raise BackupError(f"{file} is a backup of {found}; the database is {NAMES[kind]}.")


def _restore_sqlite(parts: URL, file: Path, replace: bool) -> str | None:
    target = Path(str(parts.database))
    incoming = target.with_name(f"{target.name}.restoring")
    aside = None
    try:
        os.close(os.open(incoming, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600))
        shutil.copyfile(file, incoming)
        _require_whole(incoming)
        _require_known(f"sqlite:///{incoming}")
        if target.exists():
            if _holds_rows(parts):
                if not replace:
                    raise BackupError(f"{target} holds data already; with --replace it is set aside first.")
                aside = target.with_name(f"{target.name}.{_stamp()}")
            _close_log(target)
            _close_log(incoming)
            if aside:
                os.link(target, aside)
        else:
            _close_log(incoming)
        _sync(incoming)
        incoming.replace(target)
        _sync(target.parent)
    except (OSError, sqlite3.Error) as failed:
        raise BackupError(f"{failed}.") from None
    finally:
        for left in ("", "-wal", "-shm"):
            incoming.with_name(incoming.name + left).unlink(missing_ok=True)
    return str(aside) if aside else None


def _restore_postgresql(parts: URL, file: Path, replace: bool) -> str | None:
    import psycopg  # only here: no other command needs it beside a kitchen on SQLite
    from psycopg import sql

    holds_rows = _holds_rows(parts)
    if holds_rows and not replace:
        raise BackupError("The database holds data already; with --replace it is set aside first.")
    aside = f"before_{_stamp()}"
    with psycopg.connect(_conninfo(parts), password=parts.password, autocommit=True) as connection:
        _require_alone(connection)
        with connection.transaction():
            connection.execute(sql.SQL("ALTER SCHEMA public RENAME TO {}").format(sql.Identifier(aside)))
            connection.execute("CREATE SCHEMA public")
        try:
            with _contents(file) as contents:
                options = ("--single-transaction", "--exit-on-error", "--no-owner", "--no-privileges")
                _run("pg_restore", parts, *options, f"--use-list={contents}", str(file))
            _require_known(parts)
        except BaseException:
            with connection.transaction():
                connection.execute("DROP SCHEMA public CASCADE")
                connection.execute(sql.SQL("ALTER SCHEMA {} RENAME TO public").format(sql.Identifier(aside)))
            raise
        if not holds_rows:
            connection.execute(sql.SQL("DROP SCHEMA {} CASCADE").format(sql.Identifier(aside)))
    return f"schema {aside}" if holds_rows else None


def _require_alone(connection: "psycopg.Connection") -> None:
    """Refuse to take the place of what somebody is using; a connection just closed takes a moment to be gone."""
    query = (
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database()"
        " AND backend_type = 'client backend' AND pid <> pg_backend_pid()"
    )
    until = time.monotonic() + GONE_SECONDS
    while others := connection.execute(query).fetchone():
        if not others[0]:
            return
        if time.monotonic() > until:
            raise BackupError(IN_USE)
        time.sleep(0.05)


@contextmanager
def _contents(file: Path) -> Iterator[Path]:
    """What is to be restored of a dump: all but the schema itself, which is there."""
    listed = _run("pg_restore", None, "--list", str(file)).splitlines()
    contents = file.with_name(f".{file.name}.{os.getpid()}.list")
    try:
        contents.write_text("\n".join(line for line in listed if " SCHEMA - public" not in line) + "\n")
        yield contents
    finally:
        contents.unlink(missing_ok=True)


def _run(program: str, database: URL | None, *arguments: str) -> str:
    """Run a program of PostgreSQL; the password goes by the environment, since anybody may list the arguments."""
    found = _program(program)
    where = [f"--dbname={_conninfo(database)}"] if database else []
    password = {"PGPASSWORD": database.password} if database and database.password else {}
    command = [found, *where, *arguments]
    done = subprocess.run(command, env={**os.environ, **password}, capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode:
        raise BackupError(f"{program} says: {done.stderr.strip()}")
    return done.stdout


def _program(name: str) -> str:
    """PostgreSQL's own program, of the newest version where a machine keeps several."""
    kept = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), key=lambda path: int(path.parts[4]), reverse=True)
    found = str(kept[0]) if kept else shutil.which(name)
    if found is None:
        raise BackupError(f"{name} isn't on this machine: install PostgreSQL's client programs.")
    return found


def _conninfo(parts: URL) -> str:
    """Where the server is, as libpq reads it, without the password."""
    from psycopg.conninfo import make_conninfo

    named = {"host": parts.host, "port": parts.port, "user": parts.username, "dbname": parts.database}
    asked = {name: value for name, value in parts.query.items() if isinstance(value, str)}
    given = {name: str(value) for name, value in named.items() if value}
    return make_conninfo(**{"connect_timeout": str(CONNECT_SECONDS), **given, **asked})


def _holds_rows(parts: URL) -> bool:
    database = open_engine(parts.render_as_string(hide_password=False))
    try:
        with database.reader.connect() as connection:
            return has_rows(connection)
    finally:
        database.close()


def _require_known(url: URL | str) -> None:
    """Refuse what this version of the service can't bring up to date."""
    database = open_engine(url if isinstance(url, str) else url.render_as_string(hide_password=False))
    try:
        with database.reader.connect() as connection:
            require_known(connection)
            if not revisions(connection):
                raise WrongSchemaError("There is nothing in it.")
    except WrongSchemaError as wrong:
        raise BackupError(str(wrong)) from None
    finally:
        database.close()


def _sqlite(file: Path) -> sqlite3.Connection:
    uri = f"{file.absolute().as_uri()}?mode=rw"
    return sqlite3.connect(uri, uri=True, isolation_level=None, timeout=BUSY_SECONDS)


def _require_whole(file: Path) -> None:
    with closing(_sqlite(file)) as connection:
        said = connection.execute("PRAGMA integrity_check").fetchone()[0]
    if said != "ok":
        raise BackupError(f"{file} is damaged: {said}.")


def _close_log(file: Path) -> None:
    """Bring a file's log into it; SQLite allows that only while nobody else has the file open."""
    with closing(_sqlite(file)) as connection:
        connection.execute("PRAGMA busy_timeout = 1000")
        try:
            (mode,) = connection.execute("PRAGMA journal_mode = DELETE").fetchone()
        except sqlite3.OperationalError:
            mode = "wal"
    if mode != "delete":
        raise BackupError(IN_USE)


def _sync(path: Path) -> None:
    """Wait until a file, or what a folder lists, is on the disk."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def _stamp() -> str:
    return datetime.now(UTC).strftime("%Y%m%d%H%M%S")
