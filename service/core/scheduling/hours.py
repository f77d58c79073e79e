"""When the kitchen is open: hours of the week on the kitchen's own clock, turned into spans of UTC."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import pairwise

from service.core.refusals import Refused
from service.core.scheduling.spans import MINUTES_PER_DAY, Span, around, at_minute, common, minute_of, union

ONE_SECOND = timedelta(seconds=1)


@dataclass(frozen=True, slots=True, order=True)
class Opening:
    """One opening of a weekday, in minutes of the local day; 1440 closes at midnight."""

    weekday: int  # 0 is Monday
    opens_minute: int
    closes_minute: int


Week = tuple[Opening, ...]


def week(openings: Iterable[Opening]) -> Week | Refused:
    """The hours in order, unless one ends before it starts or two of a day overlap."""
    ordered = tuple(sorted(openings))
    for opening in ordered:
        if not 0 <= opening.opens_minute < opening.closes_minute <= MINUTES_PER_DAY:
            return Refused("ends-before-start", "The kitchen can't close before it opens.")
    for earlier, later in pairwise(ordered):
        if earlier.weekday == later.weekday and later.opens_minute < earlier.closes_minute:
            return Refused("not-possible", "Two openings of one weekday overlap.")
    return ordered


def moment(local: datetime, zone: tzinfo) -> datetime | Refused:
    """The moment a wall clock in the kitchen shows this time, if it shows it exactly once."""
    earlier, later = _readings(local, zone)
    if earlier == later:
        return earlier
    if _shows(earlier, local, zone):
        either = " or ".join(reading.astimezone(zone).isoformat() for reading in (earlier, later))
        return Refused("not-possible", f"The clock shows this time twice that night; send the offset: {either}.")
    next_at = _change_between(later, earlier, zone)
    next_local = next_at.astimezone(zone).isoformat()
    detail = f"The clocks skip this time; the next there is is {next_local}."
    return Refused("no-such-local-time", detail, {"next_local_time": next_local})


def open_spans(week: Week, zone: tzinfo, window: Span) -> tuple[Span, ...]:
    """The open minutes within the window.

    On the days the clocks change a day has 23 or 25 hours. An hour of opening that the clock skips begins when the
    skip ends; of one shown twice, the kitchen opens at the first and closes at the second.
    """
    first = at_minute(window.starts_min).astimezone(zone).date()
    last = at_minute(window.ends_min).astimezone(zone).date()
    found = []
    for ahead in range((last - first).days + 1):
        day = first + timedelta(days=ahead)
        for opening in week:
            if opening.weekday == day.weekday():
                midnight = datetime.combine(day, time.min)
                opens_at = _reading(midnight + timedelta(minutes=opening.opens_minute), zone, last=False)
                closes_at = _reading(midnight + timedelta(minutes=opening.closes_minute), zone, last=True)
                found.append(around(opens_at, closes_at))
    return common(union(found), (window,))


def end_of_day(day: date, zone: tzinfo) -> int:
    """The minute at which a local day is over."""
    return minute_of(_reading(datetime.combine(day + timedelta(days=1), time.min), zone, last=False))


def _readings(local: datetime, zone: tzinfo) -> tuple[datetime, datetime]:
    """The local time by the offset before a change of the clocks, and by the one after."""
    before, after = (local.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
    return before, after


def _reading(local: datetime, zone: tzinfo, *, last: bool) -> datetime:
    earlier, later = _readings(local, zone)
    if earlier == later or _shows(earlier, local, zone):
        return later if last else earlier
    return _change_between(later, earlier, zone)


def _shows(at: datetime, local: datetime, zone: tzinfo) -> bool:
    return at.astimezone(zone).replace(tzinfo=None) == local


def _change_between(before: datetime, after: datetime, zone: tzinfo) -> datetime:
    """The second at which the offset changes, by halving."""
    old_offset = before.astimezone(zone).utcoffset()
    while after - before > ONE_SECOND:
        middle = before + (after - before) // ONE_SECOND // 2 * ONE_SECOND
        if middle.astimezone(zone).utcoffset() == old_offset:
            before = middle
        else:
            after = middle
    return after
