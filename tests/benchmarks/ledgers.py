"""Kitchens with ledgers of any size, made by the database itself from series of numbers.

The kitchen grows as kitchens do: more lots, members and days, while a lot, a shelf and a day stay as full as they were.
A lot has 10 movements and 2 jars, in two places, and a batch of its own; 100 lots make the shelves of two members, and
a day has 24 bookings. What is over grows with the lots: one member has all that is over of everything.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import count
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, text

from service.calendars import store as calendars
from service.calendars.tables import FeedShows
from service.core.jars.lots import lot_code
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.hours import Opening
from service.core.scheduling.spans import minute_of
from service.database.engine import Database, open_engine
from service.database.migrating import migrate
from service.database.prepared import run
from service.equipment import store as equipment
from service.pantry.tables import IS_HELD
from service.web.types import write_timestamp
from tests import make

MOVEMENTS_OF_A_LOT = 10
JARS_OF_A_PLACE = 1
LOTS_OF_A_PAIR = 100
BOOKINGS_OF_A_DAY = 24
MOVEMENTS_OF_A_BOOKING = 10
MADE_ON = date(2026, 7, 1)
DAYS_AHEAD = 2  # so far the book reaches from today on; the rest of it is over
MINUTES_OF_A_BATCH = 120
ON_HOLD = 20
RUN_SHEET = {
    "recipe_id": str(UUID(int=1)), "revision": 1, "rulebook": "2026.1", "altitude_ft": 0, "jars": {"pint": 1},
    "steps": [], "processes": [], "load_plan": [], "venting": None, "cool_down": [], "rest": None, "seal_check": [],
    "cautions": [],
}  # fmt: skip


@dataclass(frozen=True)
class Ask:
    """Something a member asks for; in ledgers smaller than `whole_from` movements there is less to show."""

    path: str
    token: str | None
    body: dict[str, Any] = field(default_factory=dict)  # of a POST
    whole_from: int = 1_000

    @property
    def method(self) -> str:
        return "POST" if self.body else "GET"


@dataclass(frozen=True)
class Ledger:
    """A kitchen with its ledger, and what of it is asked for."""

    url: str
    movements: int
    asks: dict[str, Ask]  # by what they show
    queries: dict[str, str]  # the first of them as bare SQL
    bookings: Iterator[dict[str, Any]]  # bodies of bookings that can be made, each once

    def whole_from(self, what: str) -> int:
        """From how many movements on there is all to show that is shown."""
        return self.asks[what].whole_from if what in self.asks else 0


def filled(url: str, movements: int, now: datetime) -> Ledger:
    """Make a kitchen with so many movements, a fifth as many jars and a tenth as many bookings in an empty database.

    The days of its book are counted from `now` on, in UTC.
    """
    lots = movements // MOVEMENTS_OF_A_LOT
    bookings = movements // MOVEMENTS_OF_A_BOOKING
    members = 2 * -(-lots // LOTS_OF_A_PAIR)
    today = now.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    ends, days = today + timedelta(days=DAYS_AHEAD), -(-bookings // BOOKINGS_OF_A_DAY)
    begins = ends - timedelta(days=days)
    database = open_engine(url)
    migrate(database)
    with make.session(database) as session:
        here = make.kitchen(session)
        reader, token = make.member(session, here.id, "Reader")
        _, coordinator = make.member(session, here.id, "Coordinator", "coordinator")
        equipment.set_week(session, here.id, tuple(Opening(day, 0, 1440) for day in range(7)), 1)
        kettle = equipment.add(
            session, here.id, make.A_MOMENT, kind=EquipmentKind.CANNER, name="Kettle",
            canner_kind=CannerKind.BOILING_WATER, capacity={"pint": 9},
        )  # fmt: skip
        _, secret = calendars.add(session, here.id, reader.id, FeedShows.MEMBER, None, make.A_MOMENT)
        kitchen_id, reader_id, kettle_id, number = here.id, reader.id, kettle.id, kettle.number
    with _unhurried(database) as connection:
        say = _Words(database.dialect)
        values = {"kitchen": say.id(kitchen_id), "reader": say.id(reader_id), "kettle": say.id(kettle_id)}
        values |= {"number": number, "run_sheet": json.dumps(RUN_SHEET)}
        for statement in say.statements(lots, members, bookings, begins):
            connection.execute(
                text(statement), {name: each for name, each in values.items() if f":{name}" in statement}
            )
    code = lot_code(MADE_ON, 1)
    with database.writer.begin() as connection:
        chosen = f"UPDATE lot SET code = :code WHERE id = {say.made_id(2, str(lots // 2))}"
        connection.execute(text(chosen), {"code": code})
    first = today
    database.close()
    return Ledger(
        url,
        movements,
        _asks(token, coordinator, code, kettle_id, secret, first, today),
        say.queries(kitchen_id, reader_id, code, first),
        _to_book(kettle_id, ends),
    )


def _asks(
    reader: str, coordinator: str, code: str, kettle_id: UUID, secret: str, first: datetime, today: datetime
) -> dict[str, Ask]:
    """What members wait for; those first that have bare SQL to stand beside."""
    day = f"from={write_timestamp(first)}&to={write_timestamp(first + timedelta(days=1))}"
    month = f"from={today.date() - timedelta(days=30)}&to={today.date()}"
    a_slot = {"equipment_kind": "canner", "minutes": 10, "not_before": write_timestamp(today + timedelta(days=1)),
              "not_after": write_timestamp(today + timedelta(days=8)), "limit": 1}  # fmt: skip
    return {
        "pantry page of 50": Ask("/v1/members/me/pantry", reader),
        "bookings of a day": Ask(f"/v1/bookings?{day}", coordinator),
        "holders of a lot": Ask(f"/v1/lots/{code}", coordinator),
        "own bookings": Ask("/v1/bookings", reader),
        "own bookings of a day": Ask(f"/v1/bookings?{day}", reader),
        "bookings of a canner's day": Ask(f"/v1/bookings?{day}&equipment_id={kettle_id}", coordinator),
        "slot search": Ask("/v1/slot-searches", reader, a_slot),
        "board": Ask("/board", reader),
        "calendar feed": Ask(f"/calendars/{secret}.ics", None, whole_from=10_000),
        "own batches": Ask("/v1/batches", reader),
        "batch records": Ask(f"/v1/batch-records?{month}", coordinator),
        "lots on hold": Ask("/v1/holds", coordinator),
        "lots called back": Ask("/v1/recalls", coordinator),
        "own recipes": Ask("/v1/recipes", reader),
        "notices": Ask("/v1/notices", reader),
        "waiting list": Ask("/v1/waiting-list", reader),
        "members": Ask("/v1/members?limit=3", coordinator),
        "closures": Ask("/v1/closures?limit=5", reader),
        "outages": Ask(f"/v1/equipment/{kettle_id}/outages?limit=5", reader),
        "audit trail": Ask("/v1/audit-entries", coordinator),
        "fair use": Ask("/v1/fair-use", reader),
    }


def _to_book(kettle_id: UUID, ends: datetime) -> Iterator[dict[str, Any]]:
    """Half hours after all that is booked."""
    for number in count(1):
        starts = ends + timedelta(hours=number)
        yield {
            "equipment_id": str(kettle_id),
            "starts_at": write_timestamp(starts),
            "ends_at": write_timestamp(starts + timedelta(minutes=30)),
            "purpose": "Plum jam",
        }


@contextmanager
def _unhurried(database: Database) -> Iterator[Connection]:
    """A connection that may take its time, and leaves what it wrote as it lies in a database that has been at rest.

    PostgreSQL would tidy up by itself, in the midst of what is measured.
    """
    with database.writer.connect() as connection:
        if database.dialect == "postgresql":
            run(connection, "SET statement_timeout = 0")
        yield connection
        connection.commit()
        run(connection, "VACUUM ANALYZE" if database.dialect == "postgresql" else "ANALYZE")


class _Words:
    """What one database calls things."""

    def __init__(self, dialect: str) -> None:
        self.sqlite = dialect == "sqlite"

    def id(self, value: UUID) -> str:
        return value.hex if self.sqlite else str(value)

    def made_id(self, kind: int, number: str) -> str:
        """An id that follows from a number, so that other rows can name it; spread as random ones are."""
        if self.sqlite:
            mixed = f"(({number}) * 2654435761 % 4294967296)"
            return f"printf('%08x%08x%016x', {mixed}, {kind}, {number})"
        return f"md5('{kind} ' || ({number}))::uuid"

    def series(self, most: int) -> str:
        if self.sqlite:
            steps = f"SELECT 0 UNION ALL SELECT n + 1 FROM s WHERE n + 1 < {most}"
            return f"(WITH RECURSIVE s(n) AS ({steps}) SELECT n FROM s)"
        return f"(SELECT generate_series(0, {most - 1}) AS n)"

    def moment(self, start: datetime, minutes: str) -> str:
        if self.sqlite:
            return f"strftime('%Y-%m-%d %H:%M:%S.000000', '{start:%Y-%m-%d %H:%M:%S}', ({minutes}) || ' minutes')"
        return f"('{start.isoformat()}'::timestamptz + ({minutes}) * interval '1 minute')"

    def day(self, start: date, days: str) -> str:
        return f"date('{start}', ({days}) || ' days')" if self.sqlite else f"('{start}'::date + ({days})::int)"

    def statements(self, lots: int, members: int, bookings: int, first: datetime) -> list[str]:
        kitchen, reader, kettle = (
            (":kitchen", ":reader", ":kettle")
            if self.sqlite
            else ("CAST(:kitchen AS uuid)", "CAST(:reader AS uuid)", "CAST(:kettle AS uuid)")
        )
        run_sheet = ":run_sheet" if self.sqlite else "CAST(:run_sheet AS json)"

        def holder(lot: str, place: str) -> str:
            """The reader has the shelf of the first member."""
            number = f"(({lot}) / {LOTS_OF_A_PAIR} * 2 + {place})"
            return f"CASE WHEN {number} = 0 THEN {reader} ELSE {self.made_id(1, number)} END"

        made_on, best_by = self.day(MADE_ON, "n / 200"), self.day(MADE_ON, "365 + n / 200")
        code = f"({made_on}) || '-' || n"
        lot_of = f"n / {MOVEMENTS_OF_A_LOT}"
        moved_at = self.moment(datetime(2026, 7, 1, 12, tzinfo=UTC), "n")
        begins = f"n / {BOOKINGS_OF_A_DAY} * 1440 + n % {BOOKINGS_OF_A_DAY} * 60"
        starts_min = f"{minute_of(first)} + {begins}"
        starts, ends = self.moment(first, begins), self.moment(first, f"{begins} + 50")
        true, false = ("1", "0") if self.sqlite else ("true", "false")
        newest = first + timedelta(days=-(-bookings // BOOKINGS_OF_A_DAY) - DAYS_AHEAD)

        def began(after: int) -> str:
            return self.moment(newest, f"(n - {lots}) * {MINUTES_OF_A_BATCH} + {after}")

        past_from, past_to = (self.moment(first, f"(n - {lots}) * 1440 + {after}") for after in (0, 60))
        away = self.made_id(5, "n") if self.sqlite else "gen_random_uuid()"
        return [
            f"INSERT INTO member (id, kitchen_id, name, role) SELECT {self.made_id(1, 'n')}, {kitchen}, 'Member ' || n,"
            f" 'member' FROM {self.series(members)} AS s",
            f"INSERT INTO lot (id, kitchen_id, code, title, family, product, made_on, best_by)"
            f" SELECT {self.made_id(2, 'n')}, {kitchen}, {code}, 'Plum jam', 'jam', 'plum-jam', {made_on}, {best_by}"
            f" FROM {self.series(lots)} AS s",
            *(
                f"INSERT INTO balance (id, lot_id, jar_size, holder_id, state, jars, since_at, best_by)"
                f" SELECT {self.made_id(3 + place, 'n')}, {self.made_id(2, 'n')}, 'pint', {holder('n', str(place))},"
                f" 'shelf', {JARS_OF_A_PLACE}, {moved_at}, {best_by} FROM {self.series(lots)} AS s"
                for place in (0, 1)
            ),
            f"INSERT INTO movement (id, lot_id, jar_size, kind, jars, source_holder_id, source_state,"
            f" target_holder_id, target_state, moved_by, moved_at)"
            f" SELECT {away}, {self.made_id(2, lot_of)}, 'pint', 'relocate', 1,"
            f" {holder(lot_of, 'n % 2')}, 'shelf', {holder(lot_of, 'n % 2')}, 'shelf', {reader}, {moved_at}"
            f" FROM {self.series(lots * MOVEMENTS_OF_A_LOT)} AS s",
            f"INSERT INTO booking (id, kitchen_id, member_id, status, purpose, jars, hands, starts_at, ends_at,"
            f" booked_by, booked_at) SELECT {self.made_id(6, 'n')}, {kitchen}, {reader}, 'confirmed', 'Plum jam',"
            f" '{{}}', '[]', {starts}, {ends}, {reader}, {starts} FROM {self.series(bookings)} AS s",
            f"INSERT INTO claim (booking_id, place, step, equipment_id, unit_fixed, starts_at, ends_at, attended)"
            f" SELECT {self.made_id(6, 'n')}, 0, 'process', {kettle}, {true}, {starts}, {ends}, {true}"
            f" FROM {self.series(bookings)} AS s",
            f"INSERT INTO occupancy (id, booking_id, resource_id, lane_lo, lane_hi, starts_min, ends_min, active,"
            f" unit_fixed, kind) SELECT {self.made_id(7, 'n')}, {self.made_id(6, 'n')}, :number, 0, 1, {starts_min},"
            f" {starts_min} + 50, {true}, {true}, 'booking' FROM {self.series(bookings)} AS s",
            f"INSERT INTO batch (id, kitchen_id, member_id, booking_id, lot_id, title, started_at, on_hold, run_sheet)"
            f" SELECT {self.made_id(8, 'n')}, {kitchen}, {reader}, {self.made_id(6, 'n')}, {self.made_id(2, 'n')},"
            f" 'Plum jam', {began(0)}, n < {ON_HOLD}, {run_sheet} FROM {self.series(lots)} AS s",
            f"INSERT INTO load (batch_id, number, jar_size, jars, canner_id, method, minutes, in_at, out_at, heat,"
            f" checked_at, sealed, unsealed, broken) SELECT {self.made_id(8, 'n')}, 1, 'pint', 2, {kettle},"
            f" 'boiling-water', 10, {began(5)}, {began(30)}, 'held', {began(60)}, 2, 0, 0"
            f" FROM {self.series(lots)} AS s",
            f"INSERT INTO heat_log (id, batch_id, load, unit, required, readings, answer, sent_by, sent_at)"
            f" SELECT {self.made_id(9, 'n')}, {self.made_id(8, 'n')}, 1, 'F', 212, '[]', 'held', {reader}, {began(30)}"
            f" FROM {self.series(lots)} AS s",
            f"INSERT INTO ph_reading (id, batch_id, ph, instrument, calibrated_at_buffers, faults, read_by, read_at)"
            f" SELECT {self.made_id(10, 'n')}, {self.made_id(8, 'n')}, 3.2, 'meter', '[]', '[]', {reader}, {began(60)}"
            f" FROM {self.series(lots)} AS s",
            f"INSERT INTO deviation (id, batch_id, load, cause, says, happened_at, recorded_by, recorded_at,"
            f" settled_at) SELECT {self.made_id(11, 'n')}, {self.made_id(8, 'n')}, 1, 'interrupted', 'It stopped.',"
            f" {began(30)}, {reader}, {began(30)}, {began(60)} FROM {self.series(lots)} AS s",
            f"INSERT INTO hold_decision (id, batch_id, decision, reason, decided_by, decided_at)"
            f" SELECT {self.made_id(12, 'n')}, {self.made_id(8, 'n')}, 'destroy', 'Looked at.', {reader}, {began(60)}"
            f" FROM {self.series(lots)} AS s",
            f"INSERT INTO balance (id, lot_id, jar_size, holder_id, state, jars, best_by)"
            f" SELECT {self.made_id(13, 'n')}, {self.made_id(2, 'n')}, 'pint', {reader}, 'used', 1,"
            f" {self.day(MADE_ON, '- n / 200')} FROM {self.series(lots)} AS s",
            f"UPDATE lot SET recalled_at = {self.moment(first, '0')}, recall_reason = 'A dent.'"
            f" WHERE id IN (SELECT {self.made_id(2, 'n')} FROM {self.series(ON_HOLD)} AS s)",
            f"INSERT INTO notice (id, member_id, booking_id, message, told_at) SELECT {self.made_id(14, 'n')},"
            f" {reader}, {self.made_id(6, 'n')}, 'It was displaced.', {starts} FROM {self.series(bookings)} AS s",
            f"INSERT INTO recipe (id, kitchen_id, member_id, made_at) SELECT {self.made_id(15, 'n')}, {kitchen},"
            f" {reader}, {began(0)} FROM {self.series(lots)} AS s",
            f"INSERT INTO revision (recipe_id, number, title, body, made_by, made_at) SELECT {self.made_id(15, 'n')},"
            f" 1, 'Plum jam', '{{}}', {reader}, {began(0)} FROM {self.series(lots)} AS s",
            f"INSERT INTO revision_check (recipe_id, revision, rulebook, altitude_ft, verdict, severities, answer,"
            f" judged_at) SELECT {self.made_id(15, 'n')}, 1, '2026.1', 0, 'ready', '[]', '{{}}', {began(0)}"
            f" FROM {self.series(lots)} AS s",
            f"INSERT INTO audit_entry (kitchen_id, number, at, act, about, sha256) SELECT {kitchen}, n + 1, {starts},"
            f" 'book', '/v1/bookings', 'none' FROM {self.series(bookings)} AS s",
            f"INSERT INTO closure (id, kitchen_id, starts_at, ends_at, reason, version) SELECT {self.made_id(16, 'n')},"
            f" {kitchen}, {past_from}, {past_to}, 'Holiday', 1 FROM {self.series(lots // 10)} AS s",
            f"INSERT INTO outage (id, equipment_id, starts_at, ends_at, reason) SELECT {self.made_id(17, 'n')},"
            f" {kettle}, {past_from}, {past_to}, 'A leak' FROM {self.series(lots // 10)} AS s",
            f"INSERT INTO waiting (id, kitchen_id, number, member_id, equipment_kind, minutes, jars, acknowledged,"
            f" not_before, not_after, purpose, state, declined, claims, joined_at) SELECT {self.made_id(18, 'n')},"
            f" {kitchen}, n + 1, {reader}, 'canner', 60, '{{}}', {false}, {starts}, {ends}, 'Plum jam', 'lapsed', '[]',"
            f" '[]', {starts} FROM {self.series(bookings)} AS s",
        ]

    def queries(self, kitchen_id: UUID, reader_id: UUID, code: str, first: datetime) -> dict[str, str]:
        """The least SQL that finds what each answer shows."""
        after = first + timedelta(days=1)
        written = "%Y-%m-%d %H:%M:%S.000000" if self.sqlite else "%Y-%m-%d %H:%M:%S+00"
        return {
            "pantry page of 50": "SELECT l.code, l.title, l.family, l.product, l.made_on, b.best_by, b.jar_size,"
            " b.state, b.jars, b.location, b.id FROM balance b JOIN lot l ON l.id = b.lot_id"
            f" WHERE b.holder_id = '{self.id(reader_id)}' AND {IS_HELD} ORDER BY b.best_by, b.id LIMIT 51",
            "bookings of a day": "SELECT b.id, b.member_id, b.status, b.purpose, b.jars, b.starts_at, b.ends_at,"
            " b.booked_at, c.step, c.equipment_id, c.starts_at, c.ends_at, c.attended FROM booking b"
            f" JOIN claim c ON c.booking_id = b.id WHERE b.kitchen_id = '{self.id(kitchen_id)}'"
            f" AND b.starts_at >= '{first.strftime(written)}' AND b.starts_at < '{after.strftime(written)}'"
            " ORDER BY b.starts_at, b.id, c.place LIMIT 51",
            "holders of a lot": "SELECT l.code, l.title, l.made_on, l.best_by, m.id, m.name, b.jar_size, b.state,"
            " b.jars, b.location FROM lot l JOIN balance b ON b.lot_id = l.id JOIN member m ON m.id = b.holder_id"
            f" WHERE l.kitchen_id = '{self.id(kitchen_id)}' AND l.code = '{code}' ORDER BY m.name, b.id",
        }
