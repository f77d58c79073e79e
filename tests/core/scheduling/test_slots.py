"""The slot finder, against a twin that tries every start and looks at every minute."""

from dataclasses import replace
from itertools import count
from uuid import UUID

from hypothesis import given
from hypothesis import strategies as st

from service.core.scheduling.slots import (
    GRID_MINUTES,
    Busy,
    Kind,
    Lanes,
    Obstacle,
    Resource,
    Slot,
    in_the_way,
    next_free_min,
    openings,
)
from service.core.scheduling.spans import Span, union

spans = st.builds(lambda start, length: Span(start, start + length), st.integers(0, 150), st.integers(1, 60))


@st.composite
def resources(draw: st.DrawFn, number: int, with_companions: bool = True) -> Resource:
    lanes = draw(st.integers(1, 4))
    low = st.integers(0, lanes - 1)
    busy = st.builds(
        lambda span, low, more, kind: Busy(span, Lanes(low, low + more), kind),
        spans,
        low,
        st.integers(1, 3),
        st.sampled_from(Kind),
    )
    companions = None
    if with_companions and draw(st.booleans()):
        companions = tuple(draw(st.lists(resources(number * 10, with_companions=False), max_size=2)))
    return Resource(
        equipment_id=UUID(int=number),
        lanes=lanes,
        needs_lanes=draw(st.integers(1, lanes)),
        in_service=draw(st.sampled_from([True, True, True, False])),
        busy=tuple(draw(st.lists(busy, max_size=4))),
        companions=companions,
    )


def is_free(resource: Resource, open_spans: list[Span], stay: Span) -> bool:
    """The obvious way: look at every minute of every lane."""
    minutes = range(stay.starts_min, stay.ends_min)
    is_open = all(any(span.starts_min <= minute < span.ends_min for span in open_spans) for minute in minutes)
    free_lanes = [
        lane
        for lane in range(resource.lanes)
        if not any(
            busy.lanes.low <= lane < busy.lanes.high and busy.span.starts_min <= minute < busy.span.ends_min
            for busy in resource.busy
            for minute in minutes
        )
    ]
    accompanied = resource.companions is None or any(is_free(one, open_spans, stay) for one in resource.companions)
    return resource.in_service and is_open and len(free_lanes) >= resource.needs_lanes and accompanied


def slow_openings(found: list[Resource], open_spans: list[Span], minutes: int, limit: int) -> list[Slot]:
    return [
        Slot(start, start + minutes, resource.equipment_id)
        for start in range(0, 220, GRID_MINUTES)
        for resource in sorted(found, key=lambda one: one.equipment_id)
        if is_free(resource, open_spans, Span(start, start + minutes))
    ][:limit]


@given(
    found=st.integers(0, 3).flatmap(lambda n: st.tuples(*(resources(number) for number in range(1, n + 1)))),
    open_spans=st.lists(spans, max_size=3),
    minutes=st.integers(1, 70),
    limit=st.integers(1, 30),
)
def test_the_finder_agrees_with_its_slow_twin(
    found: tuple[Resource, ...], open_spans: list[Span], minutes: int, limit: int
) -> None:
    quick = openings([(resource, union(open_spans)) for resource in found], minutes, limit)
    assert list(quick) == slow_openings(list(found), open_spans, minutes, limit)


@given(resources(1), st.lists(spans, max_size=3), st.integers(1, 70))
def test_something_stands_in_the_way_exactly_when_no_minute_fits(
    resource: Resource, open_spans: list[Span], minutes: int
) -> None:
    fits = any(is_free(resource, open_spans, Span(start, start + minutes)) for start in range(220))
    assert (in_the_way(resource, union(open_spans), minutes) is None) == fits


@given(resources(1), spans)
def test_the_lanes_given_out_are_free_and_as_many_as_needed(resource: Resource, stay: Span) -> None:
    lanes = resource.free_lanes(stay)
    assert bool(lanes) == is_free(replace(resource, companions=None), [stay], stay)
    assert len(set(lanes)) in (0, resource.needs_lanes)
    for busy in resource.busy:
        assert not busy.span.overlaps(stay) or not any(busy.lanes.low <= lane < busy.lanes.high for lane in lanes)


def test_a_slot_may_begin_where_a_booking_ends() -> None:
    canner = Resource(UUID(int=1), busy=(Busy(Span(0, 60), Lanes(0, 1), Kind.BOOKING),))
    assert next_free_min(canner, (Span(0, 180),), 60) == 60


def test_each_obstacle_is_called_by_its_name() -> None:
    ids = count(1)

    def canner(kind: Kind | None = None, **more: object) -> Resource:
        busy = (Busy(Span(10, 20), Lanes(0, 1), kind),) if kind else ()
        return Resource(UUID(int=next(ids)), busy=busy, **more)  # type: ignore[arg-type]

    stay = (Span(0, 30),)
    assert in_the_way(canner(), (), 30) is Obstacle.CLOSED
    assert in_the_way(canner(Kind.CLOSURE), stay, 30) is Obstacle.CLOSED
    assert in_the_way(canner(Kind.OUTAGE), stay, 30) is Obstacle.OUT_OF_SERVICE
    assert in_the_way(canner(in_service=False), stay, 30) is Obstacle.OUT_OF_SERVICE
    assert in_the_way(canner(Kind.BOOKING), stay, 30) is Obstacle.TAKEN
    assert in_the_way(canner(Kind.HOLD), stay, 30) is Obstacle.TAKEN
    assert in_the_way(canner(companions=(canner(Kind.BOOKING),)), stay, 30) is Obstacle.NO_BURNER
    assert in_the_way(canner(companions=(canner(Kind.BOOKING), canner())), stay, 30) is None
