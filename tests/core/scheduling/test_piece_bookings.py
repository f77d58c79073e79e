"""What a booking claims, and each way in which it is refused."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest

from service.core.refusals import Refused
from service.core.scheduling.bookings import Booked, Piece, Standing, Step
from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.piece_bookings import Wish, next_free_at
from service.core.scheduling.piece_bookings import book as book_in
from service.core.scheduling.slots import Busy, Kind, Lanes, Resource
from service.core.scheduling.spans import LAST_MINUTE, Span, minute_of

NOW = datetime(2027, 8, 14, 9, 0, 30, tzinfo=UTC)
OPENS = datetime(2027, 8, 14, 8, 0, tzinfo=UTC)
OPEN = tuple(Span(minute_of(OPENS) + day * 1440, minute_of(OPENS) + day * 1440 + 720) for day in range(7))
READY = Standing("ready")
UNTRAINED = Cook()


def at(hour: int, minute: int = 0, day: int = 14, second: int = 0) -> datetime:
    return datetime(2027, 8, day, hour, minute, second, tzinfo=UTC)


NOON, ONE = at(12), at(13)


def wish(starts_at: datetime = NOON, ends_at: datetime = ONE, **more: object) -> Wish:
    return Wish(UUID(int=1), starts_at, ends_at, **more)  # type: ignore[arg-type]


def busy(starts_at: datetime, ends_at: datetime, kind: Kind = Kind.BOOKING, low: int = 0, high: int = 1) -> Busy:
    return Busy(Span(minute_of(starts_at), minute_of(ends_at)), Lanes(low, high), kind)


def canner(
    *occupied: Busy, kind: CannerKind = CannerKind.BOILING_WATER, burners: tuple[Resource, ...] | None = None
) -> tuple[Piece, ...]:
    """A canner, with the burners of its kitchen if it takes one along."""
    resource = Resource(UUID(int=1), busy=occupied)
    own = Piece(resource, EquipmentKind.CANNER, kind, {"pint": 9, "quart": 7}, needs_burner=burners is not None)
    return own, *(Piece(burner, EquipmentKind.BURNER) for burner in burners or ())


def rack(*occupied: Busy, places: int = 10) -> tuple[Piece, ...]:
    return (Piece(Resource(UUID(int=1), lanes=places, busy=occupied), EquipmentKind.RACK),)


def book(
    wish: Wish, pieces: tuple[Piece, ...], open_spans: tuple[Span, ...] = OPEN, cook: Cook = UNTRAINED
) -> Booked | Refused:
    return book_in(wish, Kitchen(pieces, open_spans), cook, NOW)


def refusal(wish: Wish, pieces: tuple[Piece, ...], open_spans: tuple[Span, ...] = OPEN) -> tuple[str, datetime | None]:
    answer = book(wish, pieces, open_spans)
    assert isinstance(answer, Refused)
    assert answer.extra["next_free_at"] is None  # whoever books looks for it where there is a refusal
    within = wish.offered_within(NOW, 8 * 1440)
    return answer.code, next_free_at(wish, Kitchen(pieces, open_spans), UNTRAINED, within)


def test_a_free_canner_is_claimed_for_the_time_asked() -> None:
    answer = book(wish(), canner())
    assert not isinstance(answer, Refused)
    (claim,) = answer.claims
    assert (claim.step, claim.unit_fixed, claim.attended) == (Step.PROCESS, True, False)
    assert (claim.starts_at, claim.ends_at) == (at(12), at(13))
    assert [place.lanes for place in claim.places] == [Lanes(0, 1)]


def test_a_booking_may_begin_in_the_minute_that_runs() -> None:
    assert not isinstance(book(wish(at(9), at(10)), canner()), Refused)


@pytest.mark.parametrize(
    ("asked", "code", "free_at"),
    [
        pytest.param(wish(at(13), at(12)), "ends-before-start", at(13), id="ends before it starts"),
        pytest.param(wish(at(12), at(12)), "ends-before-start", at(12), id="lasts no time"),
        pytest.param(wish(at(12), at(13, second=1)), "not-possible", at(12), id="has seconds"),
        pytest.param(wish(at(12), at(12, 1, day=15)), "not-possible", at(12), id="lasts a minute over a day"),
        pytest.param(wish(at(8), at(9)), "in-the-past", at(9, 5), id="began before now"),
        pytest.param(wish(at(19), at(21)), "kitchen-closed", at(8, day=15), id="runs into the night"),
        pytest.param(wish(at(3, day=15), at(4, day=15)), "kitchen-closed", at(8, day=15), id="at night"),
    ],
)
def test_a_wish_of_the_wrong_shape_or_hour_is_refused_with_the_next_free_time(
    asked: Wish, code: str, free_at: datetime
) -> None:
    assert refusal(asked, canner()) == (code, free_at)


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        (Kind.BOOKING, "slot-taken"),
        (Kind.HOLD, "slot-taken"),
        (Kind.OUTAGE, "out-of-service"),
        (Kind.CLOSURE, "kitchen-closed"),
    ],
)
def test_whatever_occupies_the_time_is_named(kind: Kind, code: str) -> None:
    assert refusal(wish(), canner(busy(at(12, 30), at(14, 2), kind))) == (code, at(14, 5))


def test_equipment_out_of_service_has_no_next_free_time() -> None:
    (piece,) = canner()
    broken = replace(piece, resource=replace(piece.resource, in_service=False))
    assert refusal(wish(), (broken,)) == ("out-of-service", None)


def test_bookings_that_touch_dont_overlap() -> None:
    piece = canner(busy(at(11), at(12)), busy(at(13), at(14)))
    assert not isinstance(book(wish(), piece), Refused)


def test_a_coordinator_enters_what_has_already_happened() -> None:
    assert not isinstance(book(wish(at(8), at(9), in_the_past_too=True), canner()), Refused)


@pytest.mark.parametrize("kind", [CannerKind.PRESSURE_DIAL, CannerKind.PRESSURE_WEIGHTED])
def test_a_pressure_canner_needs_the_sign_off(kind: CannerKind) -> None:
    assert refusal(wish(), canner(kind=kind)) == ("sign-off-missing", at(12))
    assert not isinstance(book(wish(), canner(kind=kind), cook=Cook(trained_until_min=LAST_MINUTE)), Refused)
    ends_meanwhile = Cook(trained_until_min=minute_of(ONE) - 1)
    assert isinstance(book(wish(), canner(kind=kind), cook=ends_meanwhile), Refused)


@pytest.mark.parametrize(
    ("standing", "acknowledged", "booked"),
    [
        pytest.param(READY, False, True, id="ready"),
        pytest.param(Standing("revise", ("quality", "quality")), True, True, id="only quality, acknowledged"),
        pytest.param(Standing("revise", ("quality",)), False, False, id="only quality, not acknowledged"),
        pytest.param(Standing("revise", ("quality", "spoilage")), True, False, id="more than quality, acknowledged"),
        pytest.param(Standing("untested", ()), True, False, id="untested without a finding"),
        pytest.param(Standing("unsafe", ("unsafe",)), True, False, id="unsafe, acknowledged"),
    ],
)
def test_only_a_revision_that_is_ready_is_canned(standing: Standing, acknowledged: bool, booked: bool) -> None:
    asked = wish(standing=standing, acknowledged=acknowledged)
    if booked:
        assert not isinstance(book(asked, canner()), Refused)
    else:
        assert refusal(asked, canner()) == ("not-ready", at(12))


@pytest.mark.parametrize(
    ("jars", "booked"),
    [
        pytest.param({"pint": 30}, True, id="several loads of a size it holds"),
        pytest.param({"half-gallon": 1}, False, id="a size it doesn't hold"),
    ],
)
def test_a_canner_takes_the_sizes_it_has_a_capacity_for(jars: Mapping[str, int], booked: bool) -> None:
    answer = book(wish(jars=jars), canner())
    assert isinstance(answer, Refused) != booked
    assert booked or refusal(wish(jars=jars), canner())[0] == "does-not-fit"


def test_a_rack_gives_each_jar_a_place_around_those_already_there() -> None:
    answer = book(wish(jars={"pint": 5}), rack(busy(at(11), at(20), low=2, high=4)))
    assert not isinstance(answer, Refused)
    assert tuple(place.lanes for place in answer.claims[0].places) == (Lanes(0, 2), Lanes(4, 7))


def test_a_rack_with_too_few_places_left_is_taken() -> None:
    assert refusal(wish(jars={"pint": 9}), rack(busy(at(11), at(14), low=2, high=4))) == ("slot-taken", at(14))


def test_jars_find_places_one_after_another_where_none_is_free_throughout() -> None:
    standing = rack(busy(at(11), at(12, 30), low=0, high=5), busy(at(12, 30), at(14), low=5, high=10))
    answer = book(wish(jars={"pint": 5}), standing)
    assert not isinstance(answer, Refused)
    assert [(place.span.minutes, place.lanes) for place in answer.claims[0].places] == [
        (30, Lanes(5, 10)),
        (30, Lanes(0, 5)),
    ]


def test_a_rack_with_too_few_places_at_all_says_so() -> None:
    assert refusal(wish(jars={"pint": 11}), rack())[0] == "does-not-fit"


def test_a_rack_booked_without_jars_is_taken_whole() -> None:
    answer = book(wish(), rack())
    assert not isinstance(answer, Refused)
    assert tuple(place.lanes for place in answer.claims[0].places) == (Lanes(0, 10),)


def test_a_canner_that_needs_one_takes_the_first_free_burner_along() -> None:
    taken = Resource(UUID(int=8), busy=(busy(at(12), at(13)),))
    free = Resource(UUID(int=9))
    answer = book(wish(), canner(burners=(taken, free)))
    assert not isinstance(answer, Refused)
    own, burner = answer.claims
    assert (own.equipment_id, own.unit_fixed) == (UUID(int=1), True)
    assert (burner.equipment_id, burner.unit_fixed) == (UUID(int=9), False)


def test_a_canner_that_needs_a_burner_waits_for_one() -> None:
    taken = Resource(UUID(int=8), busy=(busy(at(12), at(13)),))
    assert refusal(wish(), canner(burners=(taken,))) == ("slot-taken", at(13))
    assert refusal(wish(), canner(burners=())) == ("slot-taken", None)


def test_in_a_kitchen_that_never_opens_nothing_is_ever_free() -> None:
    assert refusal(wish(), canner(), ()) == ("kitchen-closed", None)


def test_the_next_free_time_lies_ahead_even_of_a_wish_in_the_past() -> None:
    assert refusal(
        wish(NOW - timedelta(days=9, seconds=30), at(9) - timedelta(days=9) + timedelta(hours=1)), canner()
    ) == (
        "in-the-past",
        at(9, 5),
    )
