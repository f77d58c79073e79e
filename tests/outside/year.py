"""A year of an invented kitchen, taken down and up again revision by revision:
`python -m tests.outside.year [--database sqlite|postgresql] [--every 3]`.

Every few days somebody books, cans, checks seals, gives and uses jars, all over HTTP with the clock moved on. Then
every revision goes down, up and down once more: what stays has to be the same to the last value. At the end the empty
database is brought up again. Exit status 1 if anything differs.
"""

import argparse
import hashlib
import sys
import time
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import MetaData, Table, inspect, select

from service.app import create_app
from service.database.engine import Database, open_engine
from service.database.migrating import _scripts, migrate
from service.keeping.verifying import verify
from service.settings import Settings
from tests.batches.make import CRUSHED_TOMATOES, PLUM_JAM, Day, ok
from tests.conftest import Client, Clock, _people
from tests.outside.hammer import database_of

FIRST = datetime(2027, 1, 4, 10, tzinfo=UTC)
DAYS = 365


def lived(url: str, every: int) -> None:
    """Let a year go by."""
    clock = Clock(FIRST)
    app = create_app(Settings(database_url=url, limits=False), clock)
    with Client(app, clock, **_people(app, clock.at)) as client:
        for day in range(0, DAYS, every):
            batch = Day(client, (PLUM_JAM, CRUSHED_TOMATOES)[day % 2])
            code = batch.to_the_shelf(7)
            for kind, more in (("give", {"to_member_id": str(client.other.id)}), ("use", {})):
                jars = {"kind": kind, "lot_code": code, "jar_size": batch.jar_size, "count": 2, **more}
                ok(client.post("/v1/movements", json=jars, headers=client.member.headers))
            ahead = {"purpose": "Cleaning", "equipment_id": batch.canner_id}
            spans = {"starts_at": batch.at(60 * 24 * 4), "ends_at": batch.at(60 * 24 * 4 + 30)}
            booked = ok(client.post("/v1/bookings", json={**ahead, **spans}, headers=client.other.headers))
            if day % 4 == 0:
                path = f"/v1/bookings/{booked['id']}/cancellation"
                ok(client.post(path, headers={**client.other.headers, "Idempotency-Key": f"day-{day}"}))
            clock.pass_by(days=every)


def digests(database: Database) -> dict[str, tuple[int, str]]:
    """Of each table its rows and a hash over all their values, whatever their order."""
    found = {}
    with database.reader.connect() as connection:
        for name in inspect(connection).get_table_names():
            if name != "alembic_version":
                table = Table(name, MetaData(), autoload_with=connection, resolve_fks=False)
                columns = sorted(table.columns, key=lambda each: each.name)
                rows = sorted(repr(tuple(row)) for row in connection.execute(select(*columns)))
                found[name] = len(rows), hashlib.sha256("\n".join(rows).encode()).hexdigest()
    return found


def walked(database: Database) -> tuple[int, list[str]]:
    """Each revision down, up and down once more; how many, and what differed."""
    scripts = list(_scripts().walk_revisions())  # the newest first
    differed = []
    for script in scripts:
        below = str(script.down_revision or "base")
        migrate(database, below)
        once = digests(database)
        migrate(database, script.revision)
        migrate(database, below)
        twice = digests(database)
        differed += [f"{script.revision}: {name}" for name in once if once[name] != twice.get(name)]
    migrate(database)
    return len(scripts), differed


def main() -> int:
    parser = argparse.ArgumentParser(description="Take a year of data down and up the history of the schema.")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), help="both, if none is named")
    parser.add_argument("--every", type=int, default=3, help="days from one batch to the next")
    asked = parser.parse_args()
    failed = False
    for kind in [asked.database] if asked.database else ["sqlite", "postgresql"]:
        with database_of(kind) as url:
            database = open_engine(url)
            migrate(database)
            lived(url, asked.every)
            counted = digests(database)
            wrong = [line for look in verify(database) for line in look.wrong]
            started = time.monotonic()
            revisions, differed = walked(database)
            seconds = time.monotonic() - started
            left: Any = [line for look in verify(database) for line in look.wrong]
            print(
                f"{kind}: {sum(rows for rows, _ in counted.values())} rows in {len(counted)} tables,"
                f" {revisions} revisions down, up and down in {seconds:.0f} s;"
                f" wrong before: {wrong or 'nothing'}, differed: {differed or 'nothing'},"
                f" wrong after: {left or 'nothing'}",
                flush=True,
            )
            failed |= bool(wrong or differed or left)
            database.close()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
