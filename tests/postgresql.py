"""A throw-away PostgreSQL server on a socket of its own."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import create_engine, make_url, text

from tests import scratch

SERVER_USER = "postgres"


def programs() -> Path | None:
    """The folder with initdb and pg_ctl, if this machine has one."""
    found = shutil.which("pg_ctl")
    folders = [Path(found).resolve().parent] if found else []
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((folder for folder in folders if (folder / "initdb").exists() and (folder / "pg_ctl").exists()), None)


@contextmanager
def running(folder: Path, *, durable: bool = False) -> Iterator[str]:
    """Run a server of these programs; what is given is its URL with `{}` in the place of a database's name.

    A durable one is on a disk and waits for it with each commit.
    """
    home = Path(tempfile.mkdtemp(prefix="canning-pg-", dir="/var/tmp" if durable else scratch.FOLDER))
    drop = ["setpriv", f"--reuid={SERVER_USER}", f"--regid={SERVER_USER}", "--clear-groups"] if os.getuid() == 0 else []
    if drop:
        shutil.chown(home, SERVER_USER)
    data, log = home / "data", home / "log"
    hasty = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"  # nothing here outlives the tests
    settings = "-c deadlock_timeout=100ms -c max_connections=200" + ("" if durable else f" {hasty}")
    options = f"-k {home} -c listen_addresses= {settings}"

    def run(program: str, *arguments: str) -> None:
        command = [*drop, str(folder / program), "-D", str(data), *arguments]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=home)

    try:
        run("initdb", "-U", "kitchen", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
        run("pg_ctl", "-w", "-l", str(log), "-o", options, "start")
        try:
            yield f"postgresql+psycopg://kitchen@/{{}}?host={home}"
        finally:
            run("pg_ctl", "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(home)


def on_server(server: str, statement: str) -> None:
    """Send a server a statement of its own, outside any transaction."""
    engine = create_engine(make_url(server.format("postgres")), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()
