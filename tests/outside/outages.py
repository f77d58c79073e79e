"""What can happen to a database while members write, each for a while, and what becomes of their work:
`python -m tests.outside.outages [--database sqlite|postgresql] [--only NAME] [--confirmed 300] [--kills 20]`.

Members book and use jars over HTTP, each act with its Idempotency-Key, and repeat what got no answer or a 503. Then
every confirmed act must be there once, nothing else may be, the whole database must be sound, and each act that is
repeated with its key must get its first answer. Exit status 1 if not. A full or read-only disk is a small one in
memory, which takes root; without it only SQLite's file is kept from growing.
"""

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import uvicorn
from sqlalchemy import make_url
from sqlmodel import Session, select

from service.app import create_app
from service.bookings.tables import Booking
from service.core.jars import movements
from service.core.jars.movements import SealCheck, State
from service.core.refusals import Refused
from service.database.engine import Database, open_engine
from service.database.migrating import migrate
from service.keeping.verifying import verify
from service.pantry import store as pantry
from service.pantry.tables import Movement
from service.settings import Settings
from tests import make, ports, postgresql
from tests.outside.hammer import database_of

SECONDS = 240  # the longest for anything
HTTP_SECONDS = 60
DISK = "64m"
CODES = {"busy", "database-unavailable", "storage-full"}
WRITERS = 3


@dataclass
class Kitchen:
    """A kitchen that never closes, a kettle for each writer, and many jars."""

    token: str
    kettles: list[str]
    lot_code: str
    first_at: datetime


@dataclass
class Told:
    """What the writers were answered."""

    confirmed: dict[str, tuple[str, Any, str]] = field(default_factory=dict)  # by key: path, body, the answer
    away: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)


@dataclass
class Outage:
    """How to break a database that is being written to, and how to mend it."""

    name: str
    breaks: Callable[[], None]
    mends: Callable[[], None]
    seen: str | None = None  # the code that must be seen meanwhile
    quietly: bool = False  # it can only be broken while nobody writes


class Writers:
    """Threads that write until they are stopped, whatever happens."""

    def __init__(self, base_url: str, kitchen: Kitchen) -> None:
        self.base_url, self.kitchen, self.told = base_url, kitchen, Told()
        self.stopping = threading.Event()
        self.turn = [threading.Lock() for _ in range(WRITERS)]  # each holds its own while it asks
        self.threads = [threading.Thread(target=self.write, args=(number,)) for number in range(WRITERS)]
        self.run = time.monotonic_ns()

    def __enter__(self) -> "Writers":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopping.set()
        for thread in self.threads:
            thread.join(SECONDS)

    def write(self, number: int) -> None:
        headers = {"Authorization": f"Bearer {self.kitchen.token}"}
        with httpx.Client(base_url=self.base_url, headers=headers, timeout=HTTP_SECONDS) as client:
            attempt = 0
            while not self.stopping.is_set():
                attempt += 1
                if attempt % 2:
                    starts = self.kitchen.first_at + timedelta(minutes=10 * attempt)
                    body: dict[str, Any] = {
                        "equipment_id": self.kitchen.kettles[number],
                        "starts_at": starts.isoformat(),
                        "ends_at": (starts + timedelta(minutes=10)).isoformat(),
                        "purpose": "Plum jam",
                    }
                    self.insist(client, number, f"{self.run}-{number}-{attempt}", "/v1/bookings", body)
                else:
                    body = {"kind": "use", "lot_code": self.kitchen.lot_code, "jar_size": "pint", "count": 1}
                    self.insist(client, number, f"{self.run}-{number}-{attempt}", "/v1/movements", body)

    def insist(self, client: httpx.Client, number: int, key: str, path: str, body: dict[str, Any]) -> None:
        until = time.monotonic() + SECONDS
        while time.monotonic() < until:
            try:
                with self.turn[number]:
                    answer = client.post(path, json=body, headers={"Idempotency-Key": key})
            except httpx.TransportError as dropped:
                self.told.away[type(dropped).__name__] += 1
                time.sleep(0.05)
                continue
            if answer.status_code == 201:
                self.told.confirmed[key] = (path, body, answer.text)
                return
            code = answer.json().get("code")
            if answer.status_code != 503 or code not in CODES or not answer.headers.get("retry-after"):
                self.told.wrong.append(f"{answer.status_code} {answer.text[:300]}")
                return
            self.told.away[code] += 1
            time.sleep(0.05)
        self.told.wrong.append("no answer in the end")

    def wait_for(self, what: Callable[[], bool]) -> float:
        """Seconds until something is so."""
        started = time.monotonic()
        while not what():
            if self.told.wrong or time.monotonic() > started + SECONDS:
                raise AssertionError(f"{self.told.wrong[:3]} {self.told.away}")
            time.sleep(0.02)
        return time.monotonic() - started

    def confirm(self, more: int) -> float:
        enough = len(self.told.confirmed) + more
        return self.wait_for(lambda: len(self.told.confirmed) >= enough)


def kitchen(database: Database) -> Kitchen:
    now = datetime.now(UTC).replace(microsecond=0)
    with make.session(database) as session:
        here = make.kitchen(session)
        member, token = make.member(session, here.id, at=now, role="coordinator")
        make.open_always(session, here.id)
        kettles = [make.kettle(session, here.id, f"Kettle {n}", now) for n in range(WRITERS)]
        lot = pantry.add_lot(session, here.id, "Plum jam", "jam", None, now.date(), 12)
        assert not isinstance(lot, Refused)
        filled = movements.fill(lot.id, "pint", member.id, SealCheck(100_000, 0, 0), State.SHELF, "")
        pantry.write(session, lot, filled, member.id, now)
        first_at = (now + timedelta(days=1)).replace(hour=0, minute=0, second=0)
        return Kitchen(token, [str(row.id) for row in kettles], lot.code, first_at)


def ids(database: Database) -> set[str]:
    with Session(database.reader) as session:
        used = select(Movement.id).where(Movement.kind == movements.Kind.USE)
        return {str(found) for query in (select(Booking.id), used) for found in session.exec(query)}


@contextmanager
def serving(url: str, answer_seconds: float = 1) -> Iterator[tuple[str, Database]]:
    """The service in this process, on a port of its own."""
    app = create_app(Settings(database_url=url, limits=False, answer_seconds=answer_seconds))
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_config=None, access_log=False))
    thread = threading.Thread(target=server.run)
    thread.start()
    try:
        while not server.started:
            assert thread.is_alive()
            time.sleep(0.01)
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}", app.state.database
    finally:
        server.should_exit = True
        thread.join()


def endure(base_url: str, database: Database, outage: Outage, each: int, known: set[str]) -> set[str]:
    """Write before, during and after an outage; then look at everything. The ids that are there."""
    here = kitchen(database)
    health = []
    with Writers(base_url, here) as writers:
        writers.confirm(each)
        with ExitStack() as quiet:
            for turn in writers.turn if outage.quietly else []:
                quiet.enter_context(turn)
            outage.breaks()
        try:
            if outage.seen:
                writers.wait_for(lambda: writers.told.away[outage.seen or ""] > 0)
                health = [httpx.get(f"{base_url}/{path}", timeout=HTTP_SECONDS) for path in ("healthz", "readyz")]
            else:
                writers.confirm(each)
        finally:
            outage.mends()
        recovered = writers.confirm(1)
        writers.confirm(each)
    told = writers.told
    assert not told.wrong, told.wrong[:3]
    if health:
        assert health[0].status_code == 200
        assert health[1].status_code == 503, health[1].text
    until = time.monotonic() + SECONDS
    while httpx.get(f"{base_url}/readyz", timeout=HTTP_SECONDS).status_code != 200:
        assert time.monotonic() < until
        time.sleep(0.05)
    found = ids(database) - known
    answered = {httpx.Response(200, text=answer).json()["id"] for _, _, answer in told.confirmed.values()}
    again = repeated(base_url, here, told)
    looked = [line for look in verify(database) for line in look.wrong]
    print(
        f"{database.dialect}, {outage.name}: {len(answered)} confirmed, {len(found & answered)} found,"
        f" {len(found - answered)} unasked, {again} of {len(told.confirmed)} the same again,"
        f" meanwhile {dict(told.away) or 'nothing'}, answering {recovered:.1f} s after; wrong: {looked or 'nothing'}",
        flush=True,
    )
    assert found == answered
    assert again == len(told.confirmed)
    assert looked == []
    return known | found


def repeated(base_url: str, here: Kitchen, told: Told) -> int:
    """How many acts, sent again with their keys, get their first answer."""
    headers = {"Authorization": f"Bearer {here.token}"}
    same = 0
    with httpx.Client(base_url=base_url, headers=headers, timeout=HTTP_SECONDS) as client:
        for key, (path, body, first) in told.confirmed.items():
            answer = client.post(path, json=body, headers={"Idempotency-Key": key})
            same += answer.text == first and answer.headers.get("idempotency-replayed") == "true"
    return same


@contextmanager
def small_disk() -> Iterator[Path]:
    """A disk of its own, in memory."""
    folder = Path(tempfile.mkdtemp(prefix="canning-disk-"))
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK},mode=777", "tmpfs", str(folder)], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)
        folder.rmdir()


def can_mount() -> bool:
    try:
        with small_disk():
            return True
    except (OSError, subprocess.CalledProcessError):
        return False


def full(folder: Path) -> Outage:
    ballast = folder / "ballast"

    def fill() -> None:
        with ballast.open("wb", buffering=0) as file:
            size = 1 << 20
            while size >= 1:
                try:
                    file.write(b"\0" * size)
                except OSError:
                    size //= 2

    return Outage("a full disk", fill, ballast.unlink, "storage-full")


def read_only(folder: Path, database: Database) -> Outage:
    def remount(how: str) -> None:
        database.close()  # nobody may have a file open for writing on a disk that is made read-only by hand
        subprocess.run(["mount", "-o", f"remount,{how}", str(folder)], check=True)

    return Outage(
        "a read-only disk", lambda: remount("ro"), lambda: remount("rw"), "database-unavailable", quietly=True
    )


def sqlite_outages(folder: Path | None, database: Database) -> list[Outage]:
    def most_pages(number: int) -> None:
        with database.writer.connect() as connection:  # the only one that writes, kept in its pool
            connection.exec_driver_sql(f"PRAGMA max_page_count = {number}")

    may_not_grow = Outage("a full file", lambda: most_pages(1), lambda: most_pages(1 << 30), "storage-full")
    return [may_not_grow, full(folder), read_only(folder, database)] if folder else [may_not_grow]


def postgresql_outages(server: str, database: Database, disk: Path | None) -> list[Outage]:
    home = Path(str(make_url(server.format("postgres")).query["host"]))
    name = database.writer.url.database
    programs = postgresql.programs()
    assert programs is not None
    drop = ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups"] if os.getuid() == 0 else []

    def restart(how: str) -> None:
        command = [*drop, str(programs / "pg_ctl"), "-D", str(home / "data"), "-w", "-m", how, "-l", str(home / "log")]
        subprocess.run([*command, "restart"], check=True, stdout=subprocess.DEVNULL, cwd=home)

    def processes() -> list[int]:
        first = int((home / "data" / "postmaster.pid").read_text().split()[0])
        return [first, *map(int, Path(f"/proc/{first}/task/{first}/children").read_text().split())]

    def signal_all(number: int) -> None:
        for pid in processes():
            os.kill(pid, number)

    def cut_off() -> None:
        for _ in range(5):
            query = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{}'"
            postgresql.on_server(server, query.format(name))
            time.sleep(0.1)

    def only_read(on: str) -> None:
        postgresql.on_server(server, f"ALTER DATABASE {name} SET default_transaction_read_only = {on}")
        cut_off()

    nothing = lambda: None  # noqa: E731
    found = [
        Outage("lost connections", cut_off, nothing),
        Outage("a restart", lambda: restart("fast"), nothing),
        Outage("a crash", lambda: restart("immediate"), nothing),
        Outage("a server that only reads", lambda: only_read("on"), lambda: only_read("off"), "database-unavailable"),
        Outage(
            "a frozen server",
            lambda: signal_all(signal.SIGSTOP),
            lambda: signal_all(signal.SIGCONT),
            "database-unavailable",
        ),
    ]
    return [*found, full(disk)] if disk else found


@contextmanager
def breakable(kind: str) -> Iterator[tuple[str, Database, list[Outage]]]:
    """A service on a database of its own, and what can be done to it here."""
    with ExitStack() as stack:
        disk = stack.enter_context(small_disk()) if can_mount() else None
        if kind == "sqlite":
            folder = disk or Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="canning-outages-")))
            url = f"sqlite:///{folder}/kitchen.db"
        else:
            programs = postgresql.programs()
            if programs is None:
                raise SystemExit("PostgreSQL's initdb and pg_ctl aren't on this machine.")
            server = stack.enter_context(postgresql.running(programs))
            place = ""
            if disk:
                (disk / "space").mkdir(mode=0o777)
                subprocess.run(["chown", "postgres", str(disk / "space")], check=True)
                postgresql.on_server(server, f"CREATE TABLESPACE small LOCATION '{disk}/space'")
                place = " TABLESPACE small"
            postgresql.on_server(server, f"CREATE DATABASE broken{place}")
            url = server.format("broken")
        opened = open_engine(url)
        migrate(opened)
        opened.close()
        base_url, database = stack.enter_context(serving(url))
        if kind == "sqlite":
            yield base_url, database, sqlite_outages(disk, database)
        else:
            yield base_url, database, postgresql_outages(server, database, disk)


def endured(kind: str, each: int, only: str | None = None) -> None:
    """Every outage of a kind of database, one after the other."""
    with breakable(kind) as (base_url, database, outages):
        known: set[str] = set()
        for outage in outages:
            if only is None or only in outage.name:
                known = endure(base_url, database, outage, each, known)


def killed(url: str, kills: int, between: int) -> None:
    """Kill the whole service again and again while members write, start it again, and look at everything."""
    database = open_engine(url)
    migrate(database)
    here = kitchen(database)
    port = ports.free()
    command = [str(Path(sys.executable).with_name("canning-kitchen")), "serve", "--no-migrate", f"--port={port}"]
    environment = {**os.environ, "CANNING_DATABASE_URL": url, "CANNING_LIMITS": "false"}

    said = tempfile.TemporaryFile()  # noqa: SIM115 - closed at the end

    def start() -> subprocess.Popen[bytes]:
        return subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=said)

    def confirm() -> None:
        """Wait for more writes, from a service that stays."""
        enough = len(writers.told.confirmed) + between
        while service.poll() is None and len(writers.told.confirmed) < enough and not writers.told.wrong:
            time.sleep(0.05)
        if service.poll() is not None:
            said.seek(0)
            raise AssertionError(f"It ended by itself: {said.read()[-2000:].decode()}")

    service = start()
    base_url = f"http://127.0.0.1:{port}"
    try:
        with Writers(base_url, here) as writers:
            for _ in range(kills):
                confirm()
                service.kill()
                service.wait()
                service = start()
            confirm()
        told = writers.told
        answered = {httpx.Response(200, text=answer).json()["id"] for _, _, answer in told.confirmed.values()}
        found, again = ids(database), repeated(base_url, here, told)
        looked = [line for look in verify(database) for line in look.wrong]
        print(
            f"{database.dialect}, killed {kills} times: {len(answered)} confirmed, {len(found & answered)} found,"
            f" {len(found - answered)} unasked, {again} the same again, wrong: {looked or 'nothing'}",
            flush=True,
        )
        assert not told.wrong, told.wrong[:3]
        assert found == answered
        assert again == len(told.confirmed)
        assert looked == []
    finally:
        service.kill()
        service.wait()
        said.close()
        database.close()


def main() -> int:
    parser = argparse.ArgumentParser(description="Break the database while members write.")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), help="both, if none is named")
    parser.add_argument("--only", help="outages with this in their names")
    parser.add_argument("--confirmed", type=int, default=300, help="writes before, and again after each outage")
    parser.add_argument("--kills", type=int, default=20, help="how often the service is killed; 0: not at all")
    asked = parser.parse_args()
    for kind in [asked.database] if asked.database else ["sqlite", "postgresql"]:
        endured(kind, asked.confirmed, asked.only)
        if asked.kills and asked.only is None:
            with database_of(kind) as url:
                killed(url, asked.kills, between=25)
    return 0


if __name__ == "__main__":
    sys.exit(main())
