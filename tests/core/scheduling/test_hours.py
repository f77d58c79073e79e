"""Opening hours on ordinary days and on the two days a year whose hours don't count 24.

Changes of the clocks are those of the IANA time zone database: America/Denver goes forward on 14 March 2027 at 02:00
and back on 7 November 2027 at 02:00; Asia/Beirut skips midnight on 28 March 2027.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.core.refusals import Refused
from service.core.scheduling.hours import Opening, moment, open_spans, week
from service.core.scheduling.spans import Span, at_minute, minute_of

DENVER = ZoneInfo("America/Denver")
BEIRUT = ZoneInfo("Asia/Beirut")
ALWAYS = tuple(Opening(weekday, 0, 1440) for weekday in range(7))


def local_day(day: date, zone: ZoneInfo) -> Span:
    starts = datetime(day.year, day.month, day.day, tzinfo=zone)
    following = day + timedelta(days=1)
    ends = datetime(following.year, following.month, following.day, tzinfo=zone)
    return Span(minute_of(starts), minute_of(ends))


def opened(day: date, opens: int, closes: int, zone: ZoneInfo = DENVER) -> list[tuple[str, str]]:
    spans = open_spans((Opening(day.weekday(), opens, closes),), zone, local_day(day, zone))
    return [
        (
            f"{at_minute(span.starts_min).astimezone(zone):%H:%M%z}",
            f"{at_minute(span.ends_min).astimezone(zone):%H:%M%z}",
        )
        for span in spans
    ]


@pytest.mark.parametrize(
    ("day", "hours"),
    [
        pytest.param(date(2027, 3, 13), 24, id="the day before the clocks go forward"),
        pytest.param(date(2027, 3, 14), 23, id="the clocks go forward"),
        pytest.param(date(2027, 11, 7), 25, id="the clocks go back"),
    ],
)
def test_a_kitchen_that_never_closes_is_open_as_long_as_the_day_is(day: date, hours: int) -> None:
    (span,) = open_spans(ALWAYS, DENVER, local_day(day, DENVER))
    assert span.minutes == hours * 60


def test_opening_and_closing_follow_the_wall_clock_through_the_year() -> None:
    assert opened(date(2027, 3, 13), 480, 1200) == [("08:00-0700", "20:00-0700")]
    assert opened(date(2027, 3, 14), 480, 1200) == [("08:00-0600", "20:00-0600")]


def test_a_span_across_the_change_is_as_long_as_it_really_lasts() -> None:
    (short,) = open_spans((Opening(6, 60, 240),), DENVER, local_day(date(2027, 3, 14), DENVER))
    (long,) = open_spans((Opening(6, 60, 240),), DENVER, local_day(date(2027, 11, 7), DENVER))
    assert (short.minutes, long.minutes) == (120, 240)


def test_an_opening_at_a_skipped_time_begins_when_the_skip_ends() -> None:
    assert opened(date(2027, 3, 14), 150, 300) == [("03:00-0600", "05:00-0600")]


def test_hours_that_lie_in_the_skip_altogether_are_no_hours() -> None:
    assert opened(date(2027, 3, 14), 125, 175) == []


def test_a_time_shown_twice_opens_at_the_first_and_closes_at_the_second() -> None:
    assert opened(date(2027, 11, 7), 90, 105) == [("01:30-0600", "01:45-0700")]


def test_a_day_without_midnight_begins_with_its_first_minute() -> None:
    assert opened(date(2027, 3, 28), 0, 600, BEIRUT) == [("01:00+0300", "10:00+0300")]


def test_midnight_between_two_openings_doesnt_part_them() -> None:
    (span,) = open_spans(
        ALWAYS, DENVER, Span(minute_of(datetime(2027, 6, 1, tzinfo=UTC)), minute_of(datetime(2027, 6, 8, tzinfo=UTC)))
    )
    assert span.minutes == 7 * 1440


def test_a_skipped_local_time_is_refused_with_the_next_that_exists() -> None:
    answer = moment(datetime(2027, 3, 14, 2, 30), DENVER)  # noqa: DTZ001, a wall clock's time has no zone
    assert isinstance(answer, Refused)
    assert answer.code == "no-such-local-time"
    assert answer.extra["next_local_time"] == "2027-03-14T03:00:00-06:00"


def test_a_local_time_shown_twice_needs_its_offset() -> None:
    answer = moment(datetime(2027, 11, 7, 1, 30), DENVER)  # noqa: DTZ001
    assert isinstance(answer, Refused)
    assert answer.code == "not-possible"
    assert "01:30:00-06:00" in answer.detail
    assert "01:30:00-07:00" in answer.detail


def test_any_other_local_time_is_one_moment() -> None:
    assert moment(datetime(2027, 7, 1, 12, 0), DENVER) == datetime(2027, 7, 1, 18, 0, tzinfo=UTC)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("openings", "code"),
    [
        pytest.param([Opening(0, 600, 600)], "ends-before-start", id="closes when it opens"),
        pytest.param([Opening(0, 480, 720), Opening(0, 700, 900)], "not-possible", id="two overlap"),
    ],
)
def test_impossible_hours_are_refused(openings: list[Opening], code: str) -> None:
    answer = week(openings)
    assert isinstance(answer, Refused)
    assert answer.code == code


def test_hours_may_have_a_break_and_come_back_in_order() -> None:
    morning, evening = Opening(0, 480, 720), Opening(0, 780, 1200)
    assert week([evening, morning]) == (morning, evening)
