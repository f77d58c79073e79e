"""No two active rows of occupancy overlap: the database refuses it by itself, whatever its callers do.

The rows are written past the store, as a careless program would; the checker knows nothing of guard or store.
"""

from collections.abc import Iterator
from itertools import combinations
from multiprocessing import get_context
from threading import Barrier, Thread
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, IntegrityError

from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Kind
from service.database.engine import Database, open_engine
from service.database.guard import guard_present
from service.database.migrating import WrongSchemaError, migrate, require_head
from service.equipment.tables import Equipment, Occupancy
from service.schema import METADATA
from tests import make

WORKERS = 8
ATTEMPTS = 15
UNITS = 2
BEFORE_THE_GUARD = "0002"
WROTE_NOTHING = {"40P01", "55P03"}  # a deadlock, and a lock that was waited for too long


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    opened = open_engine(database_url)
    yield opened
    opened.close()


@pytest.fixture
def numbers(database: Database) -> list[int]:
    return kitchen_with_tables(database)


def kitchen_with_tables(database: Database) -> list[int]:
    with make.session(database) as session:
        kitchen = make.kitchen(session)
        rows = [
            Equipment(kitchen_id=kitchen.id, kind=EquipmentKind.TABLE, name=f"Table {number}")
            for number in range(UNITS)
        ]
        session.add_all(rows)
        session.flush()
        return [row.number for row in rows if row.number]


def row(number: int, starts: int, ends: int, low: int = 0, high: int = 1, active: bool = True) -> Occupancy:
    return Occupancy(
        resource_id=number,
        lane_lo=low,
        lane_hi=high,
        starts_min=starts,
        ends_min=ends,
        active=active,
        kind=Kind.OUTAGE,
    )


def write(database: Database, *rows: Occupancy) -> None:
    with make.session(database) as session:
        for each in rows:
            session.add(each)
            session.flush()


def overlaps(database: Database) -> int:
    """Every pair of active rows, compared the slow and obvious way."""
    query = "SELECT resource_id, lane_lo, lane_hi, starts_min, ends_min FROM occupancy WHERE active"
    with database.reader.connect() as connection:
        rows = connection.execute(text(query)).all()
    return sum(
        one.resource_id == other.resource_id
        and max(one.lane_lo, other.lane_lo) < min(one.lane_hi, other.lane_hi)
        and max(one.starts_min, other.starts_min) < min(one.ends_min, other.ends_min)
        for one, other in combinations(rows, 2)
    )


@pytest.mark.parametrize(
    ("second", "refused"),
    [
        pytest.param((600, 700), True, id="the same"),
        pytest.param((650, 660), True, id="within"),
        pytest.param((500, 601), True, id="a minute at the front"),
        pytest.param((699, 800), True, id="a minute at the back"),
        pytest.param((0, 1560), True, id="around it, as long as a row can be"),
        pytest.param((500, 600), False, id="touching before"),
        pytest.param((700, 800), False, id="touching after"),
        pytest.param((600, 700, 1, 2), False, id="another lane"),
        pytest.param((600, 700, 0, 3), True, id="a range of lanes around it"),
    ],
)
def test_what_overlaps_is_refused_and_nothing_else(
    database: Database, numbers: list[int], second: Any, refused: bool
) -> None:
    write(database, row(numbers[0], 600, 700), row(numbers[1], 600, 700))
    if refused:
        with pytest.raises(IntegrityError):
            write(database, row(numbers[0], *second))
    else:
        write(database, row(numbers[0], *second))


def test_a_row_as_long_as_rows_can_be_is_seen_to_its_last_minute(database: Database, numbers: list[int]) -> None:
    write(database, row(numbers[0], 0, 1560))
    with pytest.raises(IntegrityError):
        write(database, row(numbers[0], 1559, 1600))
    with pytest.raises(IntegrityError):
        write(database, row(numbers[1], 0, 1561))


def test_a_cancelled_row_is_in_nobodys_way_and_cant_come_back_over_another(
    database: Database, numbers: list[int]
) -> None:
    gone, here = row(numbers[0], 600, 700, active=False), row(numbers[0], 650, 750)
    write(database, gone, here)
    for statement in (
        "UPDATE occupancy SET active = true WHERE NOT active",
        "UPDATE occupancy SET starts_min = 640, active = true WHERE NOT active",
    ):
        with pytest.raises(IntegrityError), database.writer.begin() as connection:
            connection.execute(text(statement))
    with database.writer.begin() as connection:
        connection.execute(text("UPDATE occupancy SET ends_min = 740 WHERE active"))


def test_the_guard_goes_and_comes_back_with_its_revision(database: Database, numbers: list[int]) -> None:
    write(database, row(numbers[0], 600, 700))
    with database.reader.connect() as connection:
        assert guard_present(connection)
    migrate(database, BEFORE_THE_GUARD)
    with database.reader.connect() as connection:
        assert not guard_present(connection)
    migrate(database)
    with pytest.raises(IntegrityError):
        write(database, row(numbers[0], 600, 700))


def test_a_database_that_lost_its_guard_isnt_served(database: Database) -> None:
    require_head(database)
    remove_the_guard(database)
    with pytest.raises(WrongSchemaError, match="guard"):
        require_head(database)


def remove_the_guard(database: Database) -> None:
    with database.writer.begin() as connection:
        if database.dialect == "postgresql":
            connection.execute(text("ALTER TABLE occupancy DROP CONSTRAINT no_two_overlap"))
        else:
            connection.execute(text("DROP TRIGGER no_two_overlap_on_insert"))
            connection.execute(text("DROP TRIGGER no_two_overlap_on_update"))


def hammer(url: str, numbers: list[int], worker: int, start: Any) -> None:
    """Write what overlaps as fast as it goes, without looking, until every attempt was made."""
    assert "booking" in METADATA.tables  # a process of its own has to have met every table that rows point at
    database = open_engine(url)
    start.wait()
    for attempt in range(ATTEMPTS):
        starts = (attempt * 37 + worker * 11) % 400
        try:
            write(database, row(numbers[attempt % UNITS], starts, starts + 60))
        except IntegrityError:
            continue
        except DBAPIError as refusal:
            if getattr(refusal.orig, "sqlstate", None) not in WROTE_NOTHING:
                raise
    database.close()


def race(url: str, numbers: list[int], kind: str) -> None:
    if kind == "threads":
        barrier = Barrier(WORKERS)
        workers: list[Any] = [Thread(target=hammer, args=(url, numbers, n, barrier)) for n in range(WORKERS)]
    else:
        context = get_context("forkserver")  # which imports the service once, for all writers
        context.set_forkserver_preload([__name__])
        start = context.Barrier(WORKERS)
        workers = [context.Process(target=hammer, args=(url, numbers, n, start)) for n in range(WORKERS)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert all(getattr(worker, "exitcode", 0) == 0 for worker in workers)


@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_eight_writers_at_once_never_overlap(
    database: Database, database_url: str, numbers: list[int], kind: str
) -> None:
    race(database_url, numbers, kind)
    with database.reader.connect() as connection:
        written = connection.execute(text("SELECT count(*) FROM occupancy")).scalar_one()
    assert written >= UNITS
    assert overlaps(database) == 0


def test_the_checker_finds_the_overlaps_of_a_database_without_its_guard(
    database: Database, database_url: str, numbers: list[int]
) -> None:
    remove_the_guard(database)
    race(database_url, numbers, "threads")
    assert overlaps(database) > 0
