"""A year of an invented kitchen, taken down and up again revision by revision:
`python -m tests.outside.year [--database sqlite|postgresql] [--batches 2] [--weeks 52]`.

One week is lived over HTTP with the clock moved on: each day batches are booked, canned and checked, jars given and
used, times cancelled; and one of everything else a kitchen can have. Its rows are then copied week by week, with ids,
times, lot codes and the chain of the trail made anew; the constraints of the database and `verify` look the copies
over like anything else. Then every revision goes down, up and down once more: what stays has to be the same to the last
value. Where jars began to have a ledger, the year goes up to the newest revision in one step, is looked over there, and
comes down the same. At the end the empty database is brought up again. Exit status 1 if anything differs.
"""

import argparse
import hashlib
import json
import re
import sys
import time
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid5

from sqlalchemy import Connection, MetaData, Table, inspect, select, text

from service.app import create_app
from service.audit import chain
from service.core.jars.lots import lot_code
from service.database.engine import Database, open_engine
from service.database.migrating import _scripts, migrate
from service.keeping.verifying import verify
from service.schema import METADATA
from service.settings import Settings
from service.web.types import write_timestamp
from tests.batches.make import CRUSHED_TOMATOES, PLUM_JAM, Day, ok
from tests.conftest import Client, Clock, _people
from tests.outside.hammer import database_of
from tests.web.everything import World

FIRST = datetime(2027, 1, 4, 10, tzinfo=UTC)
WEEK = timedelta(days=7)
WEEK_MINUTES = 7 * 24 * 60
EQUIPMENT_A_WEEK = 1000  # at most: what a copy's numbers are moved by
ONCE = {"opening_hours", "opening", "fair_use", "season", "kitchen_figures", "signing_key"}  # a kitchen has one of each
EARLY = "0007"  # what is written once: the first revision at which bookings, recipes, jars and batches were all there
ID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:Z|\+00:00)")

Rows = dict[str, list[dict[str, Any]]]


def lived(url: str, batches: int) -> Rows:
    """Let a week go by; the rows it left in each table."""
    clock = Clock(FIRST)
    app = create_app(Settings(database_url=url, limits=False), clock)
    with Client(app, clock, **_people(app, clock.at)) as client:
        ok(client.get("/v1/members/me", headers=client.member.headers))
        with app.state.database.reader.connect() as connection:
            before = {name: {_key(table, row) for row in rows} for name, table, rows in _everything(connection)}
        World(client)
        for day in range(7):
            for number in range(batches):
                batch = Day(client, (PLUM_JAM, CRUSHED_TOMATOES)[number % 2])
                ok(batch.load(7))
                ok(batch.out(150))
                code = ok(batch.seals(7, 0))["lots"][0]["lot_code"]
                for kind, more in (("give", {"to_member_id": str(client.other.id)}), ("use", {})):
                    jars = {"kind": kind, "lot_code": code, "jar_size": batch.jar_size, "count": 2, **more}
                    ok(client.post("/v1/movements", json=jars, headers=client.member.headers))
                ahead = {"purpose": "Cleaning", "equipment_id": batch.canner_id}
                spans = {"starts_at": batch.at(60 * 24 * 4), "ends_at": batch.at(60 * 24 * 4 + 30)}
                booked = ok(client.post("/v1/bookings", json={**ahead, **spans}, headers=client.other.headers))
                if number % 4 == 0:
                    path = f"/v1/bookings/{booked['id']}/cancellation"
                    key = {"Idempotency-Key": f"{day}-{number}"}
                    ok(client.post(path, headers=client.other.headers | key))
            spoiled = Day(client, CRUSHED_TOMATOES)
            spoiled.to_the_shelf(7)  # out of the canner too early
            ok(spoiled.decide("destroy"))
            clock.pass_by(days=1)
        with app.state.database.reader.connect() as connection:
            return {
                name: [row for row in rows if name not in ONCE and _key(table, row) not in before[name]]
                for name, table, rows in _everything(connection)
            }


def _everything(connection: Connection) -> Iterable[tuple[str, Table, list[dict[str, Any]]]]:
    for table in METADATA.sorted_tables:
        yield table.name, table, [dict(row) for row in connection.execute(select(table)).mappings()]


def _key(table: Table, row: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(row[column.name] for column in table.primary_key)


class Copy:
    """A week's rows, so many weeks later."""

    def __init__(self, rows: Rows, weeks: int) -> None:
        self.rows, self.weeks = rows, weeks
        ids = (row["id"] for found in rows.values() for row in found if "id" in row)
        self.ids = {each: uuid5(each, str(weeks)) for each in ids}
        self.written_ids = {str(old): str(new) for old, new in self.ids.items()}
        self.codes = {row["code"]: self._code(row["code"], row["made_on"]) for row in rows["lot"]}
        self.numbers = {row["number"] for row in rows["equipment"]}

    def _code(self, code: str, made_on: date) -> str:
        return lot_code(made_on + self.weeks * WEEK, int(code.split("-")[1]))

    def of(self, name: str) -> list[dict[str, Any]]:
        found = [{column: self.value(name, column, old) for column, old in row.items()} for row in self.rows[name]]
        if name == "audit_entry":
            found.sort(key=lambda row: row["number"])
        return found

    def value(self, name: str, column: str, old: Any) -> Any:
        match name, column:
            case ("occupancy", "starts_min" | "ends_min") if old is not None:
                return old + self.weeks * WEEK_MINUTES
            case ("booking", "hands") | ("waiting", "declined"):
                return [[minute + self.weeks * WEEK_MINUTES for minute in span] for span in old]
            case ("occupancy", "resource_id") | ("equipment", "number"):
                return old + self.weeks * EQUIPMENT_A_WEEK if old in self.numbers else old
            case ("waiting" | "audit_entry", "number"):
                return old + self.weeks * len(self.rows[name])
            case (_, "secret_sha256"):
                return hashlib.sha256(f"{old} {self.weeks}".encode()).hexdigest()
            case ("answered_post", "key"):
                return f"{old} {self.weeks}"
        match old:
            case UUID():
                return self.ids.get(old, old)
            case datetime() | date():
                return old + self.weeks * WEEK
            case str():
                return self.text(old)
            case dict() | list():
                return json.loads(self.text(json.dumps(old)))
        return old

    def text(self, old: str) -> str:
        if old in self.codes:
            return self.codes[old]
        with_ids = ID.sub(lambda found: self.written_ids.get(found[0], found[0]), old)
        return TIME.sub(lambda found: write_timestamp(datetime.fromisoformat(found[0]) + self.weeks * WEEK), with_ids)


def copied(database: Database, rows: Rows, weeks: int) -> None:
    """Write the week again, so many times, in one transaction each."""
    last = max((row for row in rows["audit_entry"]), key=lambda row: row["number"])["sha256"]
    for week in range(1, weeks):
        copy = Copy(rows, week)
        with database.writer.begin() as connection:
            if database.dialect == "postgresql":
                connection.execute(text("SET LOCAL statement_timeout = 0"))
            for table in METADATA.sorted_tables:
                found = copy.of(table.name)
                for row in found if table.name == "audit_entry" else ():
                    last = row["sha256"] = chain.link(last, **{k: v for k, v in row.items() if k != "sha256"})
                if found:
                    connection.execute(table.insert(), found)
    if database.dialect == "postgresql":
        with database.writer.begin() as connection:
            sequence = (
                "SELECT setval(pg_get_serial_sequence('equipment', 'number'), (SELECT max(number) FROM equipment))"
            )
            connection.execute(text(sequence))


def digests(database: Database) -> dict[str, tuple[int, str]]:
    """Of each table its rows and the sum of a hash over the values of each, whatever their order."""
    found = {}
    with database.reader.connect() as connection:
        if database.dialect == "postgresql":
            connection.execute(text("SET LOCAL statement_timeout = 0"))
        for name in inspect(connection).get_table_names():
            if name != "alembic_version":
                columns = sorted(Table(name, MetaData(), autoload_with=connection, resolve_fks=False).columns.keys())
                quoted = ", ".join(map(connection.dialect.identifier_preparer.quote, columns))
                rows = total = 0
                for row in connection.exec_driver_sql(f'SELECT {quoted} FROM "{name}"'):
                    rows += 1
                    total += int.from_bytes(hashlib.blake2b(repr(tuple(row)).encode(), digest_size=16).digest())
                found[name] = rows, f"{total % 2**128:032x}"
    return found


def wrong_in(database: Database) -> list[str]:
    return [line for look in verify(database) for line in look.wrong]


def different(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> list[str]:
    tables = sorted(before.keys() | after.keys())
    return [f"{name}: {table}" for table in tables if before.get(table) != after.get(table)]


def walked(database: Database) -> tuple[int, list[str]]:
    """Each revision down, up and down once more, and the long way once; how many, and what differed."""
    scripts = list(_scripts().walk_revisions())  # the newest first
    differed = []
    for script in scripts:
        below = str(script.down_revision or "base")
        migrate(database, below)
        once = digests(database)
        migrate(database, script.revision)
        migrate(database, below)
        differed += different(script.revision, once, digests(database))
        if below == EARLY:
            started = time.monotonic()
            migrate(database)
            differed += [f"up from {EARLY}: {line}" for line in wrong_in(database)]
            there = digests(database)
            migrate(database, below)
            differed += different(f"up from {EARLY} and down", once, digests(database))
            print(
                f"{database.dialect}: {sum(rows for rows, _ in once.values())} rows of {EARLY} up to head,"
                f" {sum(rows for rows, _ in there.values())} rows there, looked over, and down in"
                f" {time.monotonic() - started:.0f} s",
                flush=True,
            )
    migrate(database)
    return len(scripts), differed


def main() -> int:
    parser = argparse.ArgumentParser(description="Take a year of data down and up the history of the schema.")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), help="both, if none is named")
    parser.add_argument("--batches", type=int, default=2, help="on each day")
    parser.add_argument("--weeks", type=int, default=52)
    asked = parser.parse_args()
    failed = False
    for kind in [asked.database] if asked.database else ["sqlite", "postgresql"]:
        with database_of(kind) as url:
            database = open_engine(url)
            migrate(database)
            started = time.monotonic()
            week = lived(url, asked.batches)
            copied(database, week, asked.weeks)
            made = time.monotonic()
            counted = digests(database)
            wrong = wrong_in(database)
            print(
                f"{kind}: {asked.weeks} weeks of {sum(map(len, week.values()))} rows made in {made - started:.0f} s:"
                f" {sum(rows for rows, _ in counted.values())} rows in {len(counted)} tables,"
                f" {counted['booking'][0]} bookings, {counted['batch'][0]} batches, {counted['movement'][0]} movements,"
                f" {counted['audit_entry'][0]} entries of the trail; wrong: {wrong[:5] or 'nothing'}",
                flush=True,
            )
            started = time.monotonic()
            revisions, differed = walked(database)
            left = wrong_in(database)
            print(
                f"{kind}: {revisions} revisions down, up and down in {time.monotonic() - started:.0f} s;"
                f" differed: {differed or 'nothing'}, wrong after: {left or 'nothing'}",
                flush=True,
            )
            failed |= bool(wrong or differed or left)
            database.close()
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
