"""Many processes that all want the same equipment, through HTTP, from the service as several workers serve it:
`python -m tests.outside.hammer [--database sqlite|postgresql] [--processes 8] [--bookings 2000] [--kill]`.

Every answer is noted. A booking that got none, or a 503, is asked for again with its Idempotency-Key; now and then a
process hangs up too early on purpose. Afterwards the database is read past the service: nothing overlaps, each 201 is
there once, nothing is there without one, and each booking holds exactly what it claims. With `--kill` workers are
killed meanwhile. Exit status 1 if anything is wrong.
"""

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path
from threading import Event, Thread
from typing import Any
from uuid import UUID

import httpx
from sqlalchemy import text
from sqlmodel import Session, select

from service.bookings.tables import Booking, Claim
from service.core.scheduling.bookings import Status
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.spans import around
from service.database.engine import Database, open_engine
from service.database.migrating import migrate
from service.equipment import store as equipment
from service.equipment.tables import Equipment, Occupancy
from tests import make, ports, postgresql
from tests.batches.make import PLUM_JAM

ASKED_PER_DAY = 800  # so that about four of five come too late
CANCELS_EVERY = 10
HANGS_UP_EVERY = 20
BATCH_EVERY = 8  # a whole batch is asked for, at one of the times that are offered for it
JARS = [{"size": "half-pint", "count": 8}]
HANGS_UP_AFTER_SECONDS = 0.01
ANSWER_SECONDS = 60
START_SECONDS = 120
KILLS_AFTER_BOOKINGS = 50
RACK_PLACES = 400
SAYS_EVERY_SECONDS = 60

Stay = tuple[int | None, int, int]  # the number of a piece, from minute to minute


@dataclass(frozen=True)
class Force:
    """How hard the service is hit."""

    processes: int = 8
    bookings: int = 2000
    workers: int = 3
    seconds: float = 1800
    kill_after: int | None = None  # so many bookings a worker is killed, again and again


@dataclass(frozen=True, slots=True)
class Target:
    """What the processes share: where the service is, who they are, and what they all want."""

    base_url: str
    tokens: tuple[str, ...]
    equipment_ids: tuple[str, ...]
    recipe_ids: tuple[str, ...]  # one of each member's own
    first_at: datetime
    days: int
    until: float  # by the machine's clock


@dataclass
class Noted:
    """What one process asked for and was answered."""

    statuses: Counter[int] = field(default_factory=Counter)
    on_the_way: Counter[str] = field(default_factory=Counter)
    booked: dict[str, str] = field(default_factory=dict)  # the id of the booking for each key that got a 201
    cancelled: set[str] = field(default_factory=set)
    unanswered: set[str] = field(default_factory=set)

    def add(self, other: "Noted") -> None:
        for each in fields(self):
            getattr(self, each.name).update(getattr(other, each.name))


@dataclass(frozen=True, slots=True)
class Found:
    """What the database holds, and every way in which that is wrong."""

    bookings: int
    batches: int  # of them, so many are of a whole batch
    overlaps: int
    lost: int
    doubled: int
    unasked: int
    half: int
    deadlocks: int

    @property
    def wrong(self) -> int:
        return self.overlaps + self.lost + self.doubled + self.unasked + self.half + self.deadlocks


def main() -> int:
    parser = argparse.ArgumentParser(description="Try to book the same equipment twice.")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), help="both, if none is named")
    parser.add_argument("--processes", type=int, default=Force.processes)
    parser.add_argument("--bookings", type=int, default=Force.bookings, help="of each process")
    parser.add_argument("--workers", type=int, default=Force.workers, help="processes that serve")
    parser.add_argument("--seconds", type=float, default=Force.seconds, help="the longest to go on")
    parser.add_argument("--kill", action="store_true", help="kill workers meanwhile")
    asked = vars(parser.parse_args())
    wanted, kill_after = asked.pop("database"), KILLS_AFTER_BOOKINGS if asked.pop("kill") else None
    force, wrong = Force(**asked, kill_after=kill_after), 0
    for name in [wanted] if wanted else ["sqlite", "postgresql"]:
        with database_of(name) as url:
            wrong += not hammered(url, force)
    return 1 if wrong else 0


@contextmanager
def database_of(name: str) -> Iterator[str]:
    """An empty database of that kind, for this once."""
    if name == "sqlite":
        with tempfile.TemporaryDirectory(prefix="canning-hammer-") as folder:
            yield f"sqlite:///{folder}/kitchen.db"
        return
    programs = postgresql.programs()
    if programs is None:
        raise SystemExit("PostgreSQL's initdb and pg_ctl aren't on this machine.")
    with postgresql.running(programs) as server:
        postgresql.on_server(server, "CREATE DATABASE hammered")
        yield server.format("hammered")


def hammered(url: str, force: Force) -> bool:
    """Serve an empty database, hammer it, read it, and say what came of it; whether all is well."""
    database = open_engine(url)
    migrate(database)
    started = time.monotonic()
    with served(url, force.workers) as (base_url, supervisor):
        target = with_recipes(kitchen(database, base_url, force))
        with (
            watching(supervisor, database, force.kill_after) as kills,
            forking("tests.outside.hammer").Pool(force.processes) as pool,
        ):
            notes = pool.starmap(ask, [(target, number, force.bookings) for number in range(force.processes)])
    noted = Noted()
    for note in notes:
        noted.add(note)
    noted.on_the_way["workers killed"] = len(kills)
    found = inspected(database, noted)
    seconds = time.monotonic() - started
    asked = sum(noted.statuses.values()) + len(noted.unanswered)
    print(
        f"{database.dialect}: {force.processes} processes × {force.bookings} bookings, {force.workers} workers,"
        f" {asked} asked in {seconds:.0f} s",
        "  answered: " + counts(noted.statuses) + f", none {len(noted.unanswered)}",
        "  on the way: " + counts(noted.on_the_way),
        "  in the database: "
        + ", ".join(f"{each.name} {getattr(found, each.name)}" for each in fields(found))
        + f", cancelled {len(noted.cancelled)}",
        sep="\n",
        flush=True,
    )
    database.close()
    return found.wrong == 0 and set(noted.statuses) <= {201, 409}


def counts(of: Counter[Any]) -> str:
    return ", ".join(f"{name} {count}" for name, count in sorted(of.items())) or "nothing"


@contextmanager
def served(url: str, workers: int, first: Callable[[], None] | None = None) -> Iterator[tuple[str, int]]:
    """The service as a host starts it, after what its process does first: where it is, and the process that watches
    over its workers."""
    port = ports.free()
    command = [str(Path(sys.executable).with_name("canning-kitchen")), "serve", "--no-migrate"]
    environment = {**os.environ, "CANNING_DATABASE_URL": url, "CANNING_LIMITS": "false"}
    service = subprocess.Popen(
        [*command, f"--port={port}", f"--workers={workers}"],
        env=environment,
        stdout=subprocess.DEVNULL,
        preexec_fn=first,
    )
    try:
        wait_for(f"http://127.0.0.1:{port}/readyz", service)
        yield f"http://127.0.0.1:{port}", service.pid
    finally:
        service.terminate()
        service.wait(ANSWER_SECONDS)


def forking(module: str) -> Any:
    """Processes forked from one that has imported a module once."""
    context = get_context("forkserver")
    context.set_forkserver_preload([module])
    return context


def wait_for(address: str, service: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + START_SECONDS
    while time.monotonic() < until and service.poll() is None:
        try:
            if httpx.get(address, timeout=ANSWER_SECONDS).status_code == 200:
                return
        except httpx.TransportError:
            time.sleep(0.1)
    raise RuntimeError("The service didn't start.")


def kitchen(database: Database, base_url: str, force: Force) -> Target:
    """A kitchen that never closes, with canners that take a burner along and canners that don't."""
    now = datetime.now(UTC).replace(microsecond=0)
    with make.session(database) as session:
        here = make.kitchen(session)
        tokens = tuple(make.member(session, here.id, f"Member {n}", at=now)[1] for n in range(force.processes))
        make.open_always(session, here.id)
        rows = [
            equipment.add(session, here.id, now, kind=EquipmentKind.BURNER, name=f"Burner {n}") for n in range(3)
        ] + [
            equipment.add(
                session,
                here.id,
                now,
                kind=EquipmentKind.CANNER,
                name=f"Kettle {n}",
                canner_kind=CannerKind.BOILING_WATER,
                capacity={"half-pint": 12, "pint": 9},
                needs_burner=n < 4,
            )
            for n in range(7)
        ]
        ids = tuple(str(row.id) for row in rows)
        for n in range(4):
            equipment.add(session, here.id, now, kind=EquipmentKind.TABLE, name=f"Table {n}")
        equipment.add(session, here.id, now, kind=EquipmentKind.RACK, name="Rack", places=RACK_PLACES)
    first_at = (now + timedelta(days=1)).replace(hour=0, minute=0, second=0)
    days = max(1, force.processes * force.bookings // ASKED_PER_DAY)
    return Target(base_url, tokens, ids, (), first_at, days, time.time() + force.seconds)


def with_recipes(target: Target) -> Target:
    """Let each member have a recipe that is ready to be canned."""
    ids = []
    for token in target.tokens:
        headers = {"Authorization": f"Bearer {token}"}
        answer = httpx.post(f"{target.base_url}/v1/recipes", json=PLUM_JAM, headers=headers, timeout=ANSWER_SECONDS)
        ids.append(str(answer.raise_for_status().json()["id"]))
    return replace(target, recipe_ids=tuple(ids))


@contextmanager
def watching(supervisor: int, database: Database, after: int | None) -> Iterator[list[int]]:
    """Say every minute how far it is, and kill a worker at random after so many more bookings, if that is asked.

    The supervisor starts another. Gives the killed.
    """
    killed: list[int] = []
    enough = Event()

    def watch() -> None:
        pick, began = random.Random(1), time.monotonic()
        say_at = began + SAYS_EVERY_SECONDS
        while not enough.wait(0.05):
            done = booked(database)
            alive = [each for each in children(supervisor) if each not in killed]
            if after and alive and done >= after * (len(killed) + 1):
                killed.append(pick.choice(alive))
                os.kill(killed[-1], signal.SIGKILL)
            if time.monotonic() >= say_at:
                say_at += SAYS_EVERY_SECONDS
                seconds, last = time.monotonic() - began, last_key(database)
                print(f"  after {seconds:.0f} s: {done} booked, of late {last}; {len(killed)} killed", flush=True)

    watcher = Thread(target=watch)
    watcher.start()
    try:
        yield killed
    finally:
        enough.set()
        watcher.join()


def booked(database: Database) -> int:
    with database.reader.connect() as connection:
        return int(connection.execute(text("SELECT count(*) FROM booking")).scalar_one())


def last_key(database: Database) -> str:
    """Which process booked last, and how many bookings it has asked for by now."""
    with database.reader.connect() as connection:
        return str(connection.execute(text("SELECT purpose FROM booking ORDER BY booked_at DESC LIMIT 1")).scalar())


def children(supervisor: int) -> list[int]:
    """The workers of a supervisor, as Linux lists them; its other child keeps count of shared resources."""
    listed = Path(f"/proc/{supervisor}/task/{supervisor}/children").read_text(encoding="ascii").split()
    found = []
    for pid in listed:
        with suppress(OSError):  # it has just ended
            if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes():
                found.append(int(pid))
    return found


def ask(target: Target, number: int, bookings: int) -> Noted:
    """Be one of the processes: ask for one booking after the other, and cancel some."""
    pick, noted = random.Random(number), Noted()
    headers = {"Authorization": f"Bearer {target.tokens[number]}"}
    with httpx.Client(base_url=target.base_url, headers=headers) as client:
        for attempt in range(bookings):
            key = f"{number}-{attempt}"
            starts_at = target.first_at + timedelta(minutes=5 * pick.randrange(target.days * 288))
            ends_at = starts_at + timedelta(minutes=5 * pick.randint(3, 15))
            wish: dict[str, Any] | None = {
                "equipment_id": pick.choice(target.equipment_ids),
                "starts_at": starts_at.isoformat(),
                "ends_at": ends_at.isoformat(),
                "purpose": key,
            }
            if attempt % BATCH_EVERY == BATCH_EVERY - 1:
                wish = offered(client, target, noted, target.recipe_ids[number], starts_at, pick)
                if wish is None:
                    continue
                wish["purpose"] = key
            hurry = attempt % HANGS_UP_EVERY == 0
            answer = insist(client, target.until, noted, "/v1/bookings", wish, key, hurry=hurry)
            if answer is None:
                noted.unanswered.add(key)
                break
            noted.statuses[answer.status_code] += 1
            if answer.status_code != 201:
                continue
            noted.booked[key] = answer.json()["id"]
            if len(noted.booked) % CANCELS_EVERY == 0:
                path = f"/v1/bookings/{noted.booked[key]}/cancellation"
                if insist(client, target.until, noted, path, None, f"cancel-{key}", hurry=hurry) is None:
                    noted.unanswered.add(key)
                    break
                noted.cancelled.add(key)
    return noted


def offered(
    client: httpx.Client, target: Target, noted: Noted, recipe_id: str, starts_at: datetime, pick: random.Random
) -> dict[str, Any] | None:
    """One of the first times for a batch, as it may be booked; `None` where none is offered."""
    batch = {"recipe_id": recipe_id, "revision": 1, "jars": JARS}
    until = starts_at + timedelta(hours=12)
    search = batch | {"not_before": starts_at.isoformat(), "not_after": until.isoformat(), "limit": 3}
    answer = insist(client, target.until, Noted(), "/v1/slot-searches", search, None, hurry=False)
    if answer is None or answer.status_code != 200:
        noted.on_the_way[f"search {answer.status_code if answer else 'unanswered'}"] += 1
        return None
    options = answer.json()["options"]
    noted.on_the_way["batches offered" if options else "no time for a batch"] += 1
    return batch | {"claims": pick.choice(options)["claims"]} if options else None


def insist(
    client: httpx.Client, until: float, noted: Noted, path: str, body: Any, key: str | None, *, hurry: bool
) -> httpx.Response | None:
    """Send the same request with the same key until it is answered; `None` if the time is over."""
    while time.time() < until:
        try:
            timeout = HANGS_UP_AFTER_SECONDS if hurry else ANSWER_SECONDS
            answer = client.post(path, json=body, headers={"Idempotency-Key": key} if key else {}, timeout=timeout)
        except httpx.TransportError as dropped:
            noted.on_the_way["hung up" if hurry else f"dropped ({type(dropped).__name__})"] += 1
            hurry = False
            continue
        noted.on_the_way["replayed"] += answer.headers.get("Idempotency-Replayed") == "true"
        if answer.status_code != 503:
            return answer
        noted.on_the_way[f"503 {answer.json()['code']}"] += 1
        time.sleep(0.2)
    return None


def inspected(database: Database, noted: Noted) -> Found:
    """Read the database past the service, and compare it with what was answered."""
    with Session(database.reader) as session:
        bookings = session.exec(select(Booking)).all()
        pieces = {row.id: row for row in session.exec(select(Equipment))}
        racks = {row.number for row in pieces.values() if row.kind is EquipmentKind.RACK}
        jars_of = {row.id: sum(row.jars.values()) for row in bookings}
        claimed: dict[UUID, list[Stay]] = defaultdict(list)
        for claim in session.exec(select(Claim)):
            span, row = around(claim.starts_at, claim.ends_at), pieces[claim.equipment_id]
            jars = jars_of[claim.booking_id] if row.number in racks else 1
            claimed[claim.booking_id] += [(row.number, span.starts_min, span.ends_min)] * jars
        held: dict[UUID | None, list[Stay]] = defaultdict(list)
        places: list[tuple[int, int, int, int]] = []
        for row in session.exec(select(Occupancy).where(Occupancy.active)):
            lanes = range(row.lane_lo, row.lane_hi)
            held[row.booking_id] += [(row.resource_id, row.starts_min, row.ends_min)] * len(lanes)
            places += [(row.resource_id, lane, row.starts_min, row.ends_min) for lane in lanes]
    by_key = {row.purpose: row for row in bookings}
    expected = {
        key: (UUID(booking_id), Status.CANCELLED if key in noted.cancelled else Status.CONFIRMED)
        for key, booking_id in noted.booked.items()
        if key not in noted.unanswered
    }
    kept = {key: (row.id, row.status) for key, row in by_key.items()}
    places.sort()
    half = sum(
        not claimed[row.id]
        or minutes(held[row.id]) != (minutes(claimed[row.id]) if row.status is Status.CONFIRMED else Counter())
        for row in bookings
    )
    return Found(
        bookings=len(bookings),
        batches=sum(row.recipe_id is not None for row in bookings),
        overlaps=sum(one[:2] == other[:2] and other[2] < one[3] for one, other in pairwise(places)),
        lost=sum(kept.get(key) != booking for key, booking in expected.items()),
        doubled=len(bookings) - len(by_key),
        unasked=len(kept.keys() - noted.booked.keys() - noted.unanswered),
        half=half + len(held.keys() - {row.id for row in bookings}),
        deadlocks=deadlocks(database),
    )


def minutes(stays: Iterable[Stay]) -> Counter[tuple[int | None, int]]:
    """How many lanes of each piece are held in each five minutes, however the rows are cut."""
    return Counter((number, minute) for number, low, high in stays for minute in range(low, high, 5))


def deadlocks(database: Database) -> int:
    """How many PostgreSQL had to resolve; SQLite has one writer at a time and can't have any."""
    if database.dialect == "sqlite":
        return 0
    with database.reader.connect() as connection:
        query = "SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()"
        return int(connection.execute(text(query)).scalar_one())


if __name__ == "__main__":
    sys.exit(main())
