"""How long a search for a whole batch takes beside a small and a large book: `python -m tests.benchmarks.slot_search`.

Both books are equally dense and the same kitchen's; the large one reaches a hundred times further. Every search reads
the database. Times are of the processor, both books in turn in one run, and what counts is their ratio.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import process_time
from types import SimpleNamespace
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from sqlalchemy import insert
from sqlmodel import Session

from service.bookings import whole_batches
from service.bookings.tables import Booking
from service.core.scheduling.bookings import Standing
from service.core.scheduling.equipment import CannerKind
from service.core.scheduling.hours import Opening
from service.core.scheduling.searches import Found
from service.core.scheduling.slots import Kind
from service.core.scheduling.spans import Span, at_minute, minute_of
from service.database.engine import Database, open_engine
from service.database.migrating import migrate
from service.equipment import store as equipment
from service.equipment.tables import Equipment, Occupancy
from tests import make

NOW = datetime(2027, 6, 14, 10, tzinfo=UTC)
BURNERS, A_DAY = 8, 12
BOOKINGS = (1_000, 100_000)
SEARCHES = 40
MOST = 2.0
JAM = {("half-pint", CannerKind.BOILING_WATER): 10}


@contextmanager
def book(bookings: int, folder: Path) -> Iterator[tuple[Database, Any]]:
    """A kitchen with so many bookings, twelve a day, centred on today as far as they reach."""
    database = open_engine(f"sqlite:///{folder}/{bookings}.db", 4)
    migrate(database)
    with make.session(database) as session:
        kitchen = make.kitchen(session)
        member, _ = make.member(session, kitchen.id)
        others, _ = make.member(session, kitchen.id, "Everybody else")
        session.flush()
        pieces = [("burner", 1)] * BURNERS + [("canner", 1)] * 4 + [("table", 1)] * 4 + [("rack", 216)]
        rows = [_piece(session, kitchen.id, number, *each) for number, each in enumerate(pieces)]
        equipment.set_week(session, kitchen.id, tuple(Opening(day, 480, 1200) for day in range(7)), 1)
        _fill(session, kitchen, others.id, rows[:BURNERS], bookings)
    caller = SimpleNamespace(id=member.id, kitchen_id=kitchen.id, kitchen=kitchen, is_coordinator=False)
    yield database, caller
    database.close()


def _piece(session: Session, kitchen_id: UUID, number: int, kind: str, places: int) -> Equipment:
    canner = {"canner_kind": CannerKind.BOILING_WATER, "capacity": {"half-pint": 12}} if kind == "canner" else {}
    return equipment.add(session, kitchen_id, NOW, kind=kind, name=f"{kind} {number}", places=places, **canner)


def _fill(session: Session, kitchen: Any, member_id: UUID, burners: list[Equipment], bookings: int) -> None:
    """Two-hour bookings of burners through the day, from half the book before today on."""
    days = -(-bookings // A_DAY)
    opens = datetime(2027, 6, 14, 8, tzinfo=ZoneInfo(kitchen.time_zone)).astimezone(UTC)
    held, occupied = [], []
    for number in range(bookings):
        day, place = divmod(number, A_DAY)
        starts = minute_of(opens + timedelta(days=day - days // 2)) + place // BURNERS * 180
        booking = {
            "id": uuid4(),
            "kitchen_id": kitchen.id,
            "member_id": member_id,
            "status": "confirmed",
            "purpose": "Stock",
            "jars": {},
            "hands": [],
            "starts_at": at_minute(starts),
            "ends_at": at_minute(starts + 120),
            "booked_by": member_id,
            "booked_at": NOW,
        }
        held.append(booking)
        occupied.append(
            {
                "id": uuid4(),
                "booking_id": booking["id"],
                "resource_id": burners[place % BURNERS].number,
                "lane_lo": 0,
                "lane_hi": 1,
                "starts_min": starts,
                "ends_min": starts + 120,
                "active": True,
                "unit_fixed": True,
                "kind": Kind.BOOKING,
            }
        )
    session.execute(insert(Booking), held)
    session.execute(insert(Occupancy), occupied)


def search(database: Database, caller: Any, number: int) -> float:
    """The processor's milliseconds for one search, from another hour each time."""
    batch = whole_batches.Batch("Plum jam", Standing("ready"), JAM, {"half-pint": 20})
    starts = minute_of(NOW) + number % 24 * 60
    began = process_time()
    with Session(database.reader) as session:
        found = whole_batches.search(session, caller, batch, Span(starts, starts + 14 * 1440), 10, NOW, 28 * 1440)
    took = (process_time() - began) * 1000
    assert isinstance(found, Found), found
    assert found.options
    return took


def measured() -> tuple[float, float]:
    """The median milliseconds of a search beside the small book and beside the large one."""
    small, large = (median(taken) for taken in searched().values())
    return small, large


def searched() -> dict[int, list[float]]:
    """The milliseconds of each search, by the size of the book."""
    with TemporaryDirectory() as folder:
        small, large = BOOKINGS
        with book(small, Path(folder)) as one, book(large, Path(folder)) as other:
            times: dict[int, list[float]] = {small: [], large: []}
            for number in range(SEARCHES):
                times[small].append(search(*one, number))
                times[large].append(search(*other, number))
    return times


def main() -> int:
    """Print the median and the slowest twentieth for each book, and fail where the large one takes too long."""
    times = searched()
    small, large = BOOKINGS
    for bookings, taken in times.items():
        print(f"{bookings:>7} bookings: median {median(taken):.1f} ms, p95 {sorted(taken)[-SEARCHES // 20]:.1f} ms")
    ratio = median(times[large]) / median(times[small])
    print(f"ratio {ratio:.2f}, at most {MOST}")
    return 0 if ratio <= MOST else 1


if __name__ == "__main__":
    sys.exit(main())
