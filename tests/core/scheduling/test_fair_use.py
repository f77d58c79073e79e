"""What one member may take: each limit at its edge, when it is possible again, and weeks by the kitchen's own clock."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.core.refusals import Refused
from service.core.scheduling.fair_use import FairUse, Limits, Season, Use, more_than_fair, senseless
from service.core.scheduling.spans import Span, around, minute_of

DENVER = ZoneInfo("America/Denver")
NOW = datetime(2027, 8, 9, 12, tzinfo=DENVER)  # a Monday
HOUR = timedelta(hours=1)


def local(month: int, day: int, hour: int = 10, minute: int = 0, zone: ZoneInfo = DENVER) -> datetime:
    return datetime(2027, month, day, hour, minute, tzinfo=zone).astimezone(UTC)


def use(starts_at: datetime, hours: float = 1, *, canner: bool = True, is_open: bool = True) -> Use:
    span = around(starts_at, starts_at + hours * HOUR)
    return Use(span, (span,) if canner else (), is_open)


def judged(
    limits: Limits | FairUse, asked: Use, *others: Use, now: datetime = NOW, zone: ZoneInfo = DENVER
) -> tuple[object, ...] | None:
    rules = limits if isinstance(limits, FairUse) else FairUse(limits)
    found = more_than_fair(rules, asked, others, zone, now)
    assert found is None or found.code == "fair-use"
    names = ("limit", "most", "used", "season", "possible_at")
    return None if found is None else tuple(found.extra[name] for name in names)


def test_without_limits_everything_is_fair() -> None:
    assert judged(Limits(), use(local(12, 31)), *(use(local(8, 10, hour)) for hour in range(24))) is None


def test_a_booking_is_made_so_many_days_of_the_calendar_ahead() -> None:
    assert judged(Limits(days_ahead=7), use(local(8, 16, 23, 59))) is None
    assert judged(Limits(days_ahead=7), use(local(8, 17, 0))) == ("days-ahead", 7, None, None, local(8, 10, 0))
    assert judged(Limits(days_ahead=7), use(local(8, 17, 0)), now=local(8, 10, 0)) is None
    assert judged(Limits(days_ahead=0), use(local(8, 9, 20))) is None


def test_only_so_many_bookings_lie_ahead_and_the_next_comes_when_enough_are_over() -> None:
    mine = [use(local(8, day), canner=False) for day in (10, 11, 12)]
    over = use(local(8, 9, 9), is_open=False)
    asked = use(local(8, 13))
    assert judged(Limits(open_bookings=4), asked, over, *mine) is None
    assert judged(Limits(open_bookings=3), asked, over, *mine) == ("open-bookings", 3, 3, None, local(8, 10, 11))
    assert judged(Limits(open_bookings=2), asked, over, *mine) == ("open-bookings", 2, 3, None, local(8, 11, 11))
    assert judged(Limits(open_bookings=0), asked) == ("open-bookings", 0, 0, None, None)


def test_what_is_entered_afterwards_lies_ahead_of_nobody() -> None:
    assert judged(Limits(open_bookings=0), use(local(8, 9, 8))) is None


def test_canner_time_counts_from_monday_to_sunday() -> None:
    monday, sunday, next_monday = local(8, 9, 13), local(8, 15, 23), local(8, 16, 0)
    limits = Limits(canner_minutes_a_week=180)
    assert judged(limits, use(sunday), use(monday, 2)) is None
    assert judged(limits, use(sunday), use(monday, 2), use(local(8, 12, 10, 0), 1 / 60)) == (
        "canner-minutes-a-week",
        180,
        121,
        None,
        next_monday,
    )
    assert judged(limits, use(next_monday), use(monday, 3)) is None
    assert judged(limits, use(sunday, 3), use(monday, 2)) is None, "two of its hours lie in the next week"
    assert judged(limits, use(sunday, canner=False), use(monday, 3)) is None


def test_the_week_with_room_is_the_first_that_has_it() -> None:
    limits = Limits(canner_minutes_a_week=120)
    found = judged(limits, use(local(8, 14), 2), use(local(8, 12)), use(local(8, 17)))
    assert found is not None
    assert found[-1] == local(8, 23, 0)
    assert judged(limits, use(local(8, 14), 3)) == ("canner-minutes-a-week", 120, 0, None, None)


def test_each_canner_of_a_batch_counts() -> None:
    two = Use(around(local(8, 14), local(8, 14, 12)), (around(local(8, 14), local(8, 14, 11)),) * 2)
    assert judged(Limits(canner_minutes_a_week=120), two) is None
    assert judged(Limits(canner_minutes_a_week=119), two) is not None


@pytest.mark.parametrize(
    ("zone", "sunday", "hours"),
    [
        pytest.param("America/Denver", date(2027, 3, 14), 23, id="the clocks go forward"),
        pytest.param("America/Denver", date(2027, 11, 7), 25, id="the clocks go back"),
        pytest.param("Pacific/Auckland", date(2027, 4, 4), 25, id="back, in the south"),
        pytest.param("Asia/Kolkata", date(2027, 3, 14), 24, id="never"),
    ],
)
def test_a_week_ends_at_local_midnight_on_the_days_the_clocks_change(zone: str, sunday: date, hours: int) -> None:
    """Days of change and their lengths: IANA time zone database."""
    here = ZoneInfo(zone)
    starts_at = local(sunday.month, sunday.day, 0, zone=here)
    limits = Limits(canner_minutes_a_week=hours * 60)
    before, whole_day = starts_at - 24 * HOUR, use(starts_at, hours)
    assert judged(limits, whole_day, zone=here, now=before) is None
    assert judged(limits, whole_day, use(starts_at - HOUR), zone=here, now=before) is not None
    assert judged(limits, whole_day, use(starts_at + hours * HOUR, hours), zone=here, now=before) is None
    longer = Use(whole_day.whole, (Span(minute_of(starts_at) - 1, whole_day.whole.ends_min),))
    assert judged(limits, longer, zone=here, now=before) is not None


PEAK = FairUse(
    Limits(days_ahead=60, open_bookings=3, canner_minutes_a_week=600),
    (Season("Tomato weeks", date(2027, 8, 16), date(2027, 9, 30), Limits(open_bookings=1, canner_minutes_a_week=120)),),
)


def test_a_season_has_its_own_figures_on_its_first_and_last_day() -> None:
    for day, fair in ((local(8, 15, 20), True), (local(8, 16), False), (local(9, 30, 20), False), (local(10, 1), True)):
        assert (judged(PEAK, use(day, 3)) is None) == fair, day
    assert judged(PEAK, use(local(8, 20), 3)) == ("canner-minutes-a-week", 120, 0, "Tomato weeks", local(10, 4, 0))


def test_a_figure_a_season_leaves_out_is_the_years() -> None:
    assert judged(PEAK, use(local(9, 15)), now=local(7, 16)) == ("days-ahead", 60, None, None, local(7, 17, 0))


def test_bookings_ahead_count_towards_the_season_they_lie_in() -> None:
    summer, peak = [use(local(8, day)) for day in (10, 11, 12)], use(local(8, 20))
    assert judged(PEAK, peak, *summer) is None
    assert judged(PEAK, use(local(8, 13)), *summer[:2], peak) is None
    assert judged(PEAK, use(local(8, 27)), peak) == ("open-bookings", 1, 1, "Tomato weeks", local(8, 20, 11))


def test_seasons_end_after_they_start_and_share_no_day() -> None:
    def season(first: date, last: date) -> Season:
        return Season("Peak", first, last, Limits())

    august, touching = season(date(2027, 8, 1), date(2027, 8, 31)), season(date(2027, 9, 1), date(2027, 9, 1))
    assert senseless([touching, august]) is None
    for wrong in ([season(date(2027, 8, 2), date(2027, 8, 1))], [season(date(2027, 8, 31), date(2027, 9, 5)), august]):
        assert isinstance(senseless(wrong), Refused)
