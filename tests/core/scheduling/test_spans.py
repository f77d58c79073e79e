"""Spans of minutes, against sets of minutes."""

from datetime import UTC, datetime
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from service.core.scheduling.spans import Span, around, common, covered, pieces, union, without

short_spans = st.builds(lambda start, length: Span(start, start + length), st.integers(0, 60), st.integers(1, 20))
some_spans = st.lists(short_spans, max_size=6)


def minutes(spans: object) -> set[int]:
    return {minute for span in spans for minute in range(span.starts_min, span.ends_min)}  # type: ignore[attr-defined]


@given(some_spans)
def test_a_union_holds_the_same_minutes_in_spans_that_neither_touch_nor_overlap(spans: list[Span]) -> None:
    merged = union(spans)
    assert minutes(merged) == minutes(spans)
    assert all(one.ends_min < other.starts_min for one, other in pairwise(merged))


@given(some_spans, some_spans)
def test_what_is_left_and_what_is_common_share_out_the_minutes(spans: list[Span], others: list[Span]) -> None:
    assert minutes(without(spans, others)) == minutes(spans) - minutes(others)
    assert minutes(common(spans, others)) == minutes(spans) & minutes(others)


@given(some_spans, st.integers(1, 3))
def test_covered_counts_the_spans_over_each_minute(spans: list[Span], by_at_least: int) -> None:
    expected = {m for m in range(100) if sum(s.starts_min <= m < s.ends_min for s in spans) >= by_at_least}
    assert minutes(covered(spans, by_at_least)) == expected


@given(short_spans, st.integers(1, 7))
def test_pieces_are_short_enough_and_add_up(span: Span, most_minutes: int) -> None:
    parts = pieces(span, most_minutes)
    assert all(0 < part.minutes <= most_minutes for part in parts)
    assert sum(part.minutes for part in parts) == span.minutes
    assert union(parts) == (span,)


def test_seconds_are_rounded_outward() -> None:
    first, last = datetime(1970, 1, 1, 0, 1, 59, tzinfo=UTC), datetime(1970, 1, 1, 0, 3, 1, tzinfo=UTC)
    assert around(first, last) == Span(1, 4)
