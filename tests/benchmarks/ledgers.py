"""Kitchens with ledgers of any size, made by the database itself from series of numbers.

The kitchen grows as kitchens do: more lots, members and days, while a lot, a shelf and a day stay as full as they were.
A lot has 10 movements and 2 jars, in two places; 100 lots make the shelves of two members, and a day has 24 bookings.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from sqlalchemy import Connection, text

from service.core.jars.lots import lot_code
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.hours import Opening
from service.database.engine import Database, open_engine
from service.database.migrating import migrate
from service.equipment import store as equipment
from service.web.types import write_timestamp
from tests import make

MOVEMENTS_OF_A_LOT = 10
JARS_OF_A_PLACE = 1
LOTS_OF_A_PAIR = 100
BOOKINGS_OF_A_DAY = 24
MOVEMENTS_OF_A_BOOKING = 10
MADE_ON = date(2026, 7, 1)
BOOKED_FROM = datetime(2027, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Ledger:
    """A kitchen with its ledger, and what of it is asked for."""

    url: str
    movements: int
    token: str
    coordinator: str
    paths: dict[str, str]  # of the service, by what they show
    queries: dict[str, str]  # the same as bare SQL


def filled(url: str, movements: int) -> Ledger:
    """Make a kitchen with so many movements, a fifth as many jars and a tenth as many bookings in an empty database."""
    lots = movements // MOVEMENTS_OF_A_LOT
    bookings = movements // MOVEMENTS_OF_A_BOOKING
    members = 2 * -(-lots // LOTS_OF_A_PAIR)
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
        kitchen_id, reader_id, kettle_id = here.id, reader.id, kettle.id
    with _unhurried(database) as connection:
        say = _Words(database.dialect)
        values = {"kitchen": say.id(kitchen_id), "reader": say.id(reader_id), "kettle": say.id(kettle_id)}
        for statement in say.statements(lots, members, bookings):
            connection.execute(
                text(statement), {name: each for name, each in values.items() if f":{name}" in statement}
            )
    code = lot_code(MADE_ON, 1)
    with database.writer.begin() as connection:
        chosen = f"UPDATE lot SET code = :code WHERE id = {say.made_id(2, str(lots // 2))}"
        connection.execute(text(chosen), {"code": code})
    first = BOOKED_FROM + timedelta(days=bookings // BOOKINGS_OF_A_DAY // 2)
    day = [write_timestamp(first), write_timestamp(first + timedelta(days=1))]
    database.close()
    return Ledger(
        url,
        movements,
        token,
        coordinator,
        {
            "pantry page of 50": "/v1/members/me/pantry",
            "bookings of a day": f"/v1/bookings?from={day[0]}&to={day[1]}",
            "holders of a lot": f"/v1/lots/{code}",
        },
        say.queries(kitchen_id, reader_id, code, first),
    )


@contextmanager
def _unhurried(database: Database) -> Iterator[Connection]:
    """A connection that may take as long as it takes, and leaves what it wrote analysed."""
    with database.writer.connect() as connection:
        if database.dialect == "postgresql":
            connection.execute(text("SET statement_timeout = 0"))
        yield connection
        connection.commit()
    with database.writer.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        if database.dialect == "postgresql":
            connection.execute(text("SET statement_timeout = 0"))
        connection.execute(text("ANALYZE"))
        connection.commit()


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

    def statements(self, lots: int, members: int, bookings: int) -> list[str]:
        kitchen, reader, kettle = (
            (":kitchen", ":reader", ":kettle")
            if self.sqlite
            else ("CAST(:kitchen AS uuid)", "CAST(:reader AS uuid)", "CAST(:kettle AS uuid)")
        )

        def holder(lot: str, place: str) -> str:
            """The reader has the shelf of the first member."""
            number = f"(({lot}) / {LOTS_OF_A_PAIR} * 2 + {place})"
            return f"CASE WHEN {number} = 0 THEN {reader} ELSE {self.made_id(1, number)} END"

        made_on, best_by = self.day(MADE_ON, "n / 200"), self.day(MADE_ON, "365 + n / 200")
        code = f"({made_on}) || '-' || n"
        lot_of = f"n / {MOVEMENTS_OF_A_LOT}"
        moved_at = self.moment(datetime(2026, 7, 1, 12, tzinfo=UTC), "n")
        begins = f"n / {BOOKINGS_OF_A_DAY} * 1440 + n % {BOOKINGS_OF_A_DAY} * 60"
        first = BOOKED_FROM
        starts, ends = self.moment(first, begins), self.moment(first, f"{begins} + 50")
        true = "1" if self.sqlite else "true"
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
        ]

    def queries(self, kitchen_id: UUID, reader_id: UUID, code: str, first: datetime) -> dict[str, str]:
        """The least SQL that finds what each answer shows."""
        after = first + timedelta(days=1)
        written = "%Y-%m-%d %H:%M:%S.000000" if self.sqlite else "%Y-%m-%d %H:%M:%S+00"
        return {
            "pantry page of 50": "SELECT l.code, l.title, l.family, l.product, l.made_on, b.best_by, b.jar_size,"
            " b.state, b.jars, b.location, b.id FROM balance b JOIN lot l ON l.id = b.lot_id"
            f" WHERE b.holder_id = '{self.id(reader_id)}' AND b.jars > 0 ORDER BY b.best_by, b.id LIMIT 51",
            "bookings of a day": "SELECT b.id, b.member_id, b.status, b.purpose, b.jars, b.starts_at, b.ends_at,"
            " b.booked_at, c.step, c.equipment_id, c.starts_at, c.ends_at, c.attended FROM booking b"
            f" JOIN claim c ON c.booking_id = b.id WHERE b.kitchen_id = '{self.id(kitchen_id)}'"
            f" AND b.starts_at >= '{first.strftime(written)}' AND b.starts_at < '{after.strftime(written)}'"
            " ORDER BY b.starts_at, b.id, c.place LIMIT 51",
            "holders of a lot": "SELECT l.code, l.title, l.made_on, l.best_by, m.id, m.name, b.jar_size, b.state,"
            " b.jars, b.location FROM lot l JOIN balance b ON b.lot_id = l.id JOIN member m ON m.id = b.holder_id"
            f" WHERE l.kitchen_id = '{self.id(kitchen_id)}' AND l.code = '{code}' ORDER BY m.name, b.id",
        }
