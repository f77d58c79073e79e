"""Spans of time as whole minutes since 1970 UTC: half-open, so that one may begin where another ends."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import groupby

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
ONE_MINUTE = timedelta(minutes=1)
MINUTES_PER_DAY = 24 * 60
LAST_MINUTE = 2**31 - 1  # the latest the databases hold


@dataclass(frozen=True, slots=True, order=True)
class Span:
    starts_min: int
    ends_min: int

    @property
    def minutes(self) -> int:
        return self.ends_min - self.starts_min

    def overlaps(self, other: "Span") -> bool:
        return self.starts_min < other.ends_min and other.starts_min < self.ends_min

    def holds(self, other: "Span") -> bool:
        return self.starts_min <= other.starts_min and other.ends_min <= self.ends_min


def minute_of(at: datetime) -> int:
    """The minute a moment falls in."""
    return (at - EPOCH) // ONE_MINUTE


def at_minute(minute: int) -> datetime:
    return EPOCH + minute * ONE_MINUTE


def around(starts_at: datetime, ends_at: datetime) -> Span:
    """Every minute that any second of the time touches: rounded outward, so nothing held is ever shown as free."""
    return Span(minute_of(starts_at), -((EPOCH - ends_at) // ONE_MINUTE))


def union(spans: Iterable[Span]) -> tuple[Span, ...]:
    """The same minutes in order, spans that overlap or touch made one."""
    merged: list[Span] = []
    for span in sorted(span for span in spans if span.minutes > 0):
        if merged and span.starts_min <= merged[-1].ends_min:
            merged[-1] = Span(merged[-1].starts_min, max(merged[-1].ends_min, span.ends_min))
        else:
            merged.append(span)
    return tuple(merged)


def covered(spans: Iterable[Span], by_at_least: int) -> tuple[Span, ...]:
    """The minutes that lie in at least so many of the spans."""
    steps = sorted(step for span in spans for step in ((span.starts_min, 1), (span.ends_min, -1)))
    found: list[Span] = []
    depth, since = 0, 0
    for minute, changes in groupby(steps, key=lambda step: step[0]):
        before, depth = depth, depth + sum(change for _, change in changes)
        if before < by_at_least <= depth:
            since = minute
        elif depth < by_at_least <= before:
            found.append(Span(since, minute))
    return tuple(found)


def common(one: Iterable[Span], other: Iterable[Span]) -> tuple[Span, ...]:
    """The minutes that lie in both."""
    return covered((*union(one), *union(other)), by_at_least=2)


def without(spans: Iterable[Span], taken: Iterable[Span]) -> tuple[Span, ...]:
    """The minutes of `spans` that `taken` leaves over."""
    left: list[Span] = []
    gone = union(taken)
    for span in union(spans):
        free_from = span.starts_min
        for hole in gone:
            if hole.starts_min >= span.ends_min:
                break
            if hole.ends_min > free_from:
                left.append(Span(free_from, hole.starts_min))
                free_from = hole.ends_min
        left.append(Span(free_from, span.ends_min))
    return tuple(span for span in left if span.minutes > 0)


def pieces(span: Span, most_minutes: int) -> tuple[Span, ...]:
    """The same span in rows that are each short enough to be stored."""
    return tuple(
        Span(starts_min, min(starts_min + most_minutes, span.ends_min))
        for starts_min in range(span.starts_min, span.ends_min, most_minutes)
    )
