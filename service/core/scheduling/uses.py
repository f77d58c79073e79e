"""When equipment is used: the minutes of stays, by the hour and the weekday of the clock on the wall."""

from collections import Counter
from collections.abc import Iterable
from datetime import tzinfo

from service.core.scheduling.spans import Span, at_minute

MINUTES_PER_HOUR = 60

HourOfWeek = tuple[int, int]  # (weekday, hour): Monday is 0


def by_hour(spans: Iterable[Span], zone: tzinfo) -> Counter[HourOfWeek]:
    """The minutes of all spans in each hour of the week; an hour that a clock shows twice counts as often."""
    found: Counter[HourOfWeek] = Counter()
    for span in spans:
        minute = span.starts_min
        while minute < span.ends_min:
            local = at_minute(minute).astimezone(zone)
            ends_min = min(span.ends_min, minute + MINUTES_PER_HOUR - local.minute)
            found[local.weekday(), local.hour] += ends_min - minute
            minute = ends_min
    return found
