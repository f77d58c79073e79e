"""A day as a picture, on days of 23, 24 and 25 hours, and with each reason for which equipment isn't free."""

from datetime import UTC, date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest

from service.board.days import Day, Line, Shown, stays
from service.board.drawing import DENSE, NARROW, WIDE, fitted, layouts, timetable
from service.core.scheduling.chain_slots import Kitchen
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Busy, Kind, Lanes, Resource
from service.core.scheduling.spans import Span, minute_of

DENVER = ZoneInfo("America/Denver")
A_BURNER, MINE = UUID(int=1), UUID(int=2)


def day(on: date, opens: tuple[tuple[int, int], ...] = ((0, 24),), *busy: Busy, rows: int = 1) -> Day:
    """A day with one burner, open from so many hours after midnight to so many."""
    midnights = [datetime(each.year, each.month, each.day, tzinfo=DENVER) for each in (on, on + timedelta(days=1))]
    whole = Span(*(minute_of(each.astimezone(UTC)) for each in midnights))
    spans = tuple(
        Span(whole.starts_min + 60 * low, min(whole.starts_min + 60 * high, whole.ends_min)) for low, high in opens
    )
    resource = Resource(A_BURNER, busy=busy)
    line = Line(
        A_BURNER, "Burner 1", EquipmentKind.BURNER, None, resource, stays(resource, spans, whole, {MINE: "Jam"})
    )
    return Day(on, whole, spans, (line,) * rows, Kitchen((), ()))


@pytest.mark.parametrize(
    ("on", "hours"),
    [
        pytest.param(date(2027, 6, 14), [*range(24), 0], id="24 hours"),
        pytest.param(date(2027, 3, 14), [0, 1, *range(3, 24), 0], id="23 hours: no two o'clock"),
        pytest.param(date(2027, 11, 7), [0, 1, 1, *range(2, 24), 0], id="25 hours: one o'clock twice"),
    ],
)
def test_hours_stand_equally_far_apart_whatever_the_clock_calls_them(on: date, hours: list[int]) -> None:
    lasting = 25 if len(hours) == 26 else 24
    picture = timetable(day(on, ((0, lasting),)), DENVER, 0, WIDE)
    assert picture is not None
    # A whole day has room for every other hour's name.
    assert [tick.text for tick in picture.ticks] == [str(hour) if hour % 2 == 0 else "" for hour in hours]
    steps = [round(later.x - one.x, 1) for one, later in zip(picture.ticks, picture.ticks[1:], strict=False)]
    assert max(steps) - min(steps) <= 0.1


def test_between_two_openings_and_for_each_reason_something_is_drawn() -> None:
    start = minute_of(datetime(2027, 6, 14, 14, tzinfo=UTC))  # eight o'clock in Denver

    def busy(hour: int, kind: Kind, booking: UUID | None = None) -> Busy:
        return Busy(Span(start + 60 * hour, start + 60 * hour + 45), Lanes(0, 1), kind, booking)

    taken = (busy(0, Kind.BOOKING, MINE), busy(1, Kind.BOOKING, UUID(int=3)), busy(2, Kind.HOLD), busy(3, Kind.OUTAGE))
    picture = timetable(day(date(2027, 6, 14), ((8, 12), (13, 20)), *taken), DENVER, start + 30, WIDE)
    assert picture is not None
    (row,) = picture.rows
    assert [bar.says for bar in row.bars] == [
        "yours (Jam) 08:00 to 08:45",
        "booked 09:00 to 09:45",
        "kept for somebody 10:00 to 10:45",
        "out of service 11:00 to 11:45",
        "closed 12:00 to 13:00",
    ]
    assert row.bars[0].x < (picture.now_x or 0) < row.bars[1].x


def test_a_day_without_an_opening_is_no_picture() -> None:
    closed = day(date(2027, 6, 14), ())
    assert timetable(closed, DENVER, 0, WIDE) is None
    assert [stay.shown for stay in closed.lines[0].stays] == [Shown.CLOSED]


def test_a_full_hall_is_drawn_denser() -> None:
    assert layouts(12) == (WIDE, NARROW)
    assert layouts(17) == (DENSE, NARROW)
    picture = timetable(day(date(2027, 6, 14), rows=17), DENVER, 0, DENSE)
    assert picture is not None
    assert picture.height < 450
    assert all(one.y + one.height <= below.y for one, below in zip(picture.rows, picture.rows[1:], strict=False))


@pytest.mark.parametrize(
    ("width", "shown"), [(200, "Stoning plums"), (105, "Stoning plums"), (70, "Stoning…"), (38, "Sto…"), (30, "")]
)
def test_words_are_cut_to_the_room_there_is(width: float, shown: str) -> None:
    assert fitted("Stoning plums", width) == shown
