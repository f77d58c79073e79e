"""Minutes by the hours of the week, on days of 23, 24 and 25 hours."""

from collections import Counter
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest

from service.core.scheduling.spans import Span, at_minute, minute_of
from service.core.scheduling.uses import by_hour

DENVER = ZoneInfo("America/Denver")


@pytest.mark.parametrize(
    "day",
    [
        pytest.param((2027, 6, 14), id="24 hours"),
        pytest.param((2027, 3, 14), id="23 hours, the clock skips two o'clock"),
        pytest.param((2027, 11, 7), id="25 hours, the clock shows one o'clock twice"),
    ],
)
def test_each_minute_counts_where_the_clock_shows_it(day: tuple[int, int, int]) -> None:
    midnight = minute_of(datetime(*day, tzinfo=DENVER).astimezone(UTC))
    spans = [Span(midnight - 10, midnight + 1437), Span(midnight + 95, midnight + 125), Span(midnight, midnight)]
    twin: Counter[tuple[int, int]] = Counter()
    for span in spans:
        for minute in range(span.starts_min, span.ends_min):
            local = at_minute(minute).astimezone(DENVER)
            twin[local.weekday(), local.hour] += 1
    assert by_hour(spans, DENVER) == twin
