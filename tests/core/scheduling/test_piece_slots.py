"""The search for a single piece of equipment, against a twin that tries every start and looks at every minute.

Each time that is offered is also looked at by a verifier that knows the constraints and nothing of the search.
"""

import os
from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from uuid import UUID

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from service.core.scheduling.bookings import Claim, Piece
from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.piece_bookings import blocked, options
from service.core.scheduling.searches import Option
from service.core.scheduling.slots import Busy, Kind, Lanes, Obstacle, Resource, laid, levels
from service.core.scheduling.spans import EPOCH, Span
from tests.core.scheduling.verifier import alone

EXAMPLES = int(os.environ.get("SEARCH_EXAMPLES", "100"))
LAST_MIN = 240
ALWAYS = (Span(0, LAST_MIN),)
NOBODY = Cook()
spans = st.builds(lambda start, length: Span(start, start + length), st.integers(0, 200), st.integers(1, 60))


@st.composite
def resources(draw: st.DrawFn, number: int, lanes: int) -> Resource:
    low = st.integers(0, lanes - 1)
    busy = st.builds(
        lambda span, low, more, kind: Busy(span, Lanes(low, low + more), kind),
        spans,
        low,
        st.integers(1, 3),
        st.sampled_from([Kind.BOOKING, Kind.BOOKING, Kind.HOLD, Kind.OUTAGE]),
    )
    found: list[Busy] = []
    for one in draw(st.lists(busy, max_size=4)):
        if one.kind is Kind.OUTAGE:
            one = replace(one, lanes=Lanes(0, lanes))
        if not any(_meet(one, other) for other in found):
            found.append(one)
    return Resource(UUID(int=number), lanes, draw(st.integers(0, 7)) > 0, tuple(found))


def _meet(one: Busy, other: Busy) -> bool:
    return one.span.overlaps(other.span) and one.lanes.low < other.lanes.high and other.lanes.low < one.lanes.high


@st.composite
def kitchens(draw: st.DrawFn, kind: EquipmentKind) -> Kitchen:
    kinds = [kind] * draw(st.integers(1, 3)) + [EquipmentKind.BURNER] * draw(st.integers(0, 2))
    pieces = []
    for number, each in enumerate(kinds, 1):
        lanes = draw(st.integers(1, 4)) if each is EquipmentKind.RACK else 1
        canner_kind = draw(st.sampled_from(CannerKind)) if each is EquipmentKind.CANNER else None
        takes_burner = each is EquipmentKind.CANNER and draw(st.booleans())
        pieces.append(Piece(draw(resources(number, lanes)), each, canner_kind, needs_burner=takes_burner))
    closed = draw(st.lists(spans, max_size=1))
    return Kitchen(tuple(_closed(piece, closed) for piece in pieces), tuple(draw(hours)))


def _closed(piece: Piece, closed: list[Span]) -> Piece:
    """Nothing else is booked while the kitchen is closed: what was is displaced."""
    kept = tuple(busy for busy in piece.resource.busy if not any(busy.span.overlaps(span) for span in closed))
    block = tuple(Busy(span, Lanes(0, piece.resource.lanes), Kind.CLOSURE) for span in closed)
    return replace(piece, resource=replace(piece.resource, busy=(*kept, *block)))


hours = st.one_of(
    st.just([Span(0, LAST_MIN)]),
    st.lists(st.integers(0, LAST_MIN), min_size=2, max_size=4, unique=True).map(
        lambda edges: [Span(low, high) for low, high in zip(sorted(edges)[::2], sorted(edges)[1::2], strict=False)]
    ),
)
cooks = st.builds(
    Cook,
    busy=st.lists(spans, max_size=2).map(tuple),
    trained_until_min=st.sampled_from([LAST_MIN, LAST_MIN, 0, 90]),
)


def slow_openings(
    kitchen: Kitchen, cook: Cook, wanted: set[UUID], minutes: int, within: Span
) -> Iterator[tuple[int, UUID]]:
    """The obvious way: every start of the grid on every piece, minute by minute and lane by lane."""
    pieces = sorted(kitchen.pieces, key=lambda piece: piece.resource.equipment_id)
    for start in range(0, LAST_MIN, 5):
        stay = range(start, start + minutes)
        for piece in pieces:
            if (
                piece.resource.equipment_id in wanted
                and within.starts_min <= start
                and stay.stop <= within.ends_min
                and _is_free(kitchen, piece, stay)
                and (not piece.needs_burner or any(_is_free(kitchen, each, stay) for each in _burners(kitchen)))
                and (not piece.needs_training or stay.stop <= cook.trained_until_min)
                and (piece.kind not in ("table", "burner") or not _busy(cook, stay))
            ):
                yield start, piece.resource.equipment_id


def _burners(kitchen: Kitchen) -> list[Piece]:
    return [piece for piece in kitchen.pieces if piece.kind is EquipmentKind.BURNER]


def _busy(cook: Cook, stay: range) -> bool:
    return any(minute in _minutes(span) for minute in stay for span in cook.busy)


def _minutes(span: Span) -> range:
    return range(span.starts_min, span.ends_min)


def _is_free(kitchen: Kitchen, piece: Piece, stay: range) -> bool:
    is_open = all(any(minute in _minutes(span) for span in kitchen.open_spans) for minute in stay)
    taken = any(
        busy.lanes.low <= lane < busy.lanes.high and minute in _minutes(busy.span)
        for busy in piece.resource.busy
        for lane in range(piece.resource.lanes)
        for minute in stay
    )
    return piece.resource.in_service and is_open and not taken


@settings(max_examples=EXAMPLES)
@given(
    kitchen=st.sampled_from(EquipmentKind).flatmap(kitchens),
    cook=cooks,
    minutes=st.integers(1, 70),
    within=st.one_of(st.just(Span(0, LAST_MIN)), spans),
    limit=st.integers(1, 60),
)
def test_every_time_there_is_is_found_in_order_and_keeps_every_constraint(
    kitchen: Kitchen, cook: Cook, minutes: int, within: Span, limit: int
) -> None:
    kind = kitchen.pieces[0].kind
    wanted = {piece.resource.equipment_id for piece in kitchen.pieces if piece.kind is kind}
    found = options(kitchen, cook, wanted, minutes, within, limit)
    slow = list(slow_openings(kitchen, cook, wanted, minutes, within))
    event("some time" if found else "no time")
    assert [(_minute(each), each.claims[0].equipment_id) for each in found] == slow[:limit]
    for each in found:
        assert alone(kitchen, each.claims, cook.busy, cook.trained_until_min) == []
    if not found:
        for each in blocked(kitchen, cook, wanted, minutes, within, LAST_MIN):
            later = slow_openings(kitchen, cook, {each.equipment_id}, minutes, Span(within.starts_min, 2 * LAST_MIN))
            following = next(later, None)
            assert (each.next_free_at and (each.next_free_at - EPOCH).total_seconds() / 60) == (
                following and following[0]
            )
            assert _lifted(each.obstacle, kitchen, cook, each.equipment_id, minutes, within)


def _minute(option: Option) -> int:
    return int((option.starts_at - EPOCH).total_seconds()) // 60


def _lifted(obstacle: Obstacle, kitchen: Kitchen, cook: Cook, wanted: UUID, minutes: int, within: Span) -> bool:
    """What is named is in the way: as long as it is, nothing fits, whatever else there was."""
    kept = {
        Obstacle.CLOSED: {Kind.CLOSURE},
        Obstacle.OUT_OF_SERVICE: {Kind.CLOSURE, Kind.OUTAGE},
    }.get(obstacle, set(Kind))
    pieces = tuple(
        replace(
            piece,
            needs_burner=piece.needs_burner and obstacle not in (Obstacle.TAKEN, *_BEFORE),
            resource=replace(
                piece.resource,
                in_service=piece.resource.in_service,
                busy=tuple(busy for busy in piece.resource.busy if busy.kind in kept),
            ),
        )
        for piece in kitchen.pieces
    )
    idle = cook if obstacle is Obstacle.HANDS else replace(cook, busy=())
    able = idle if obstacle in (Obstacle.HANDS, Obstacle.SIGN_OFF) else replace(idle, trained_until_min=LAST_MIN)
    return not list(slow_openings(replace(kitchen, pieces=pieces), able, {wanted}, minutes, within))


_BEFORE = (Obstacle.CLOSED, Obstacle.OUT_OF_SERVICE)


@given(st.integers(1, 6).flatmap(lambda lanes: resources(1, lanes)), spans, st.integers(1, 6))
def test_the_lanes_given_out_are_free_and_as_many_as_needed(resource: Resource, stay: Span, lanes: int) -> None:
    spare = min(
        sum(
            not any(
                busy.lanes.low <= lane < busy.lanes.high and minute in _minutes(busy.span) for busy in resource.busy
            )
            for lane in range(resource.lanes)
        )
        for minute in _minutes(stay)
    )
    assert resource.spare(stay) == (spare if resource.in_service else 0)
    if lanes <= resource.spare(stay):
        given_out = laid(resource, lanes, stay)
        for minute in _minutes(stay):
            now = [busy for busy in given_out if minute in _minutes(busy.span)]
            assert sum(busy.lanes.high - busy.lanes.low for busy in now) == lanes
            assert not any(_meet(one, other) for one in now for other in resource.busy)


def test_levels_leave_out_what_is_free() -> None:
    resource = Resource(UUID(int=1), 4, busy=(Busy(Span(0, 10), Lanes(0, 3), Kind.BOOKING),) * 1)
    assert list(levels(resource)) == [(Span(0, 10), 3)]


def search(*pieces: Piece, cook: Cook = NOBODY, open_spans: tuple[Span, ...] = ALWAYS, minutes: int = 60) -> list[int]:
    found = options(
        Kitchen(pieces, open_spans), cook, {pieces[0].resource.equipment_id}, minutes, Span(0, LAST_MIN), 100
    )
    return [_minute(each) for each in found]


def table(*busy: Span) -> Piece:
    taken = tuple(Busy(span, Lanes(0, 1), Kind.BOOKING) for span in busy)
    return Piece(Resource(UUID(int=1), busy=taken), EquipmentKind.TABLE)


def test_a_time_may_begin_where_a_booking_ends_and_end_where_one_begins_to_the_minute() -> None:
    assert search(table(Span(0, 60), Span(122, 200)), minutes=62) == [60]
    assert search(table(Span(0, 60), Span(121, 200)), minutes=62) == []
    assert search(table(Span(0, 61), Span(122, 200)), minutes=57) == [65]


@pytest.mark.parametrize(("kind", "first"), [(EquipmentKind.TABLE, 120), (EquipmentKind.CANNER, 0)])
def test_a_members_own_work_is_in_the_way_where_their_hands_are_needed(kind: EquipmentKind, first: int) -> None:
    kettle = CannerKind.BOILING_WATER if kind is EquipmentKind.CANNER else None
    piece = Piece(Resource(UUID(int=1)), kind, kettle)
    assert search(piece, cook=Cook(busy=(Span(30, 120),)))[0] == first


def test_each_obstacle_is_called_by_its_name() -> None:
    ids = count(1)

    def named(kind: Kind | None = None, *, burners: int | None = None, **more: object) -> Obstacle:
        busy = (Busy(Span(10, 20), Lanes(0, 1), kind),) if kind else ()
        number = next(ids)
        piece = Piece(
            Resource(UUID(int=number), busy=busy, in_service=bool(more.get("in_service", True))),
            more.get("piece_kind", EquipmentKind.CANNER),  # type: ignore[arg-type]
            more.get("canner_kind", CannerKind.BOILING_WATER),  # type: ignore[arg-type]
            needs_burner=burners is not None,
        )
        taken = (Busy(Span(10, 20), Lanes(0, 1), Kind.BOOKING),)
        others = tuple(
            Piece(Resource(UUID(int=next(ids)), busy=taken), EquipmentKind.BURNER) for _ in range(burners or 0)
        )
        (found,) = blocked(
            Kitchen((piece, *others), more.get("open_spans", ALWAYS)),  # type: ignore[arg-type]
            Cook(busy=(Span(10, 20),), trained_until_min=0),
            {UUID(int=number)},
            30,
            Span(0, 30),
            60,
        )
        return found.obstacle

    assert named(open_spans=()) is Obstacle.CLOSED
    assert named(Kind.CLOSURE) is Obstacle.CLOSED
    assert named(Kind.OUTAGE) is Obstacle.OUT_OF_SERVICE
    assert named(in_service=False) is Obstacle.OUT_OF_SERVICE
    assert named(Kind.BOOKING) is Obstacle.TAKEN
    assert named(Kind.HOLD) is Obstacle.TAKEN
    assert named(burners=2) is Obstacle.NO_BURNER
    assert named(burners=0) is Obstacle.NO_BURNER
    assert named(canner_kind=CannerKind.PRESSURE_DIAL) is Obstacle.SIGN_OFF
    assert named(piece_kind=EquipmentKind.TABLE, canner_kind=None) is Obstacle.HANDS


def test_claims_name_the_piece_and_the_burner_it_takes_along() -> None:
    taken = (Busy(Span(0, 30), Lanes(0, 1), Kind.BOOKING),)
    kettle = Piece(
        Resource(UUID(int=1)), EquipmentKind.CANNER, CannerKind.BOILING_WATER, {"pint": 9}, needs_burner=True
    )
    burners = (
        Piece(Resource(UUID(int=2), busy=taken), EquipmentKind.BURNER),
        Piece(Resource(UUID(int=3)), EquipmentKind.BURNER),
    )
    (first, *_) = options(Kitchen((kettle, *burners), ALWAYS), Cook(), {UUID(int=1)}, 30, Span(0, LAST_MIN), 5)
    own, burner = first.claims
    assert isinstance(own, Claim)
    assert [own.equipment_id, burner.equipment_id] == [UUID(int=1), UUID(int=3)]
    assert [own.unit_fixed, burner.unit_fixed] == [True, False]
