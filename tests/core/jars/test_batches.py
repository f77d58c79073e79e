from datetime import datetime, timedelta
from uuid import UUID

import pytest

from service.core.jars.batches import (
    Canner,
    Load,
    check_seals,
    load_in,
    load_plan,
    moment,
    ph_holds_the_lot,
    ph_notes,
    take_out,
)
from service.core.jars.movements import SealCheck
from service.core.refusals import Refused
from tests.core.jars.make import KETTLE, NOON, PRESSURE, batch, canner, load, minutes, process

LATER = NOON + timedelta(days=2)


def code(answer: object) -> str:
    assert isinstance(answer, Refused)
    return answer.code


def test_a_load_goes_into_a_booked_canner_with_its_published_process() -> None:
    assert load_in(batch(), "pint", 8, KETTLE, NOON + minutes(45), LATER) == load(in_at=NOON + minutes(45))


@pytest.mark.parametrize(
    ("jar_size", "count", "canner_id", "at", "expected"),
    [
        pytest.param("pint", 8, UUID(int=99), NOON, "not-possible", id="another's canner"),
        pytest.param("quart", 7, KETTLE, NOON, "not-possible", id="jars the recipe has no process for"),
        pytest.param("pint", 8, PRESSURE, NOON, "does-not-fit", id="a pressure canner for jam"),
        pytest.param("pint", 10, KETTLE, NOON, "does-not-fit", id="more than the canner holds"),
        pytest.param("pint", 8, KETTLE, NOON - minutes(1), "not-at-that-time", id="before the batch began"),
        pytest.param("pint", 8, KETTLE, LATER + minutes(1), "not-at-that-time", id="ahead of time"),
    ],
)
def test_a_load_that_cannot_be_is_refused(
    jar_size: str, count: int, canner_id: UUID, at: datetime, expected: str
) -> None:
    assert code(load_in(batch(), jar_size, count, canner_id, at, LATER)) == expected


def test_a_canner_holds_one_load_at_a_time() -> None:
    first = load(out_at=NOON + minutes(30))
    assert code(load_in(batch(load()), "pint", 8, KETTLE, NOON + minutes(60), LATER)) == "not-now"
    assert code(load_in(batch(first), "pint", 8, KETTLE, NOON + minutes(29), LATER)) == "not-now"
    second = load_in(batch(first), "pint", 8, KETTLE, NOON + minutes(30), LATER)
    assert isinstance(second, Load)
    assert second.number == 2


@pytest.mark.parametrize(
    ("jar_size", "most"),
    [
        pytest.param("pint", 9, id="a size it lists"),
        pytest.param("quarter-pint", 12, id="a smaller one stands where a larger would"),
        pytest.param("twelve-ounce", 9, id="between two sizes, the larger one's number"),
        pytest.param("half-gallon", None, id="larger than any it lists"),
        pytest.param("bucket", None, id="no jar at all"),
    ],
)
def test_a_canner_knows_how_many_jars_it_holds(jar_size: str, most: int | None) -> None:
    assert canner().holds(jar_size) == most


@pytest.mark.parametrize(
    ("lifted", "in_minutes", "early"),
    [
        pytest.param(load(), 10, False, id="the published minutes"),
        pytest.param(load(), 9, True, id="a minute less"),
        pytest.param(load(process=process("pressure-dial", 25, 13)), 35, False, id="venting and the minutes"),
        pytest.param(load(process=process("pressure-dial", 25, 13)), 34, True, id="no time to vent"),
    ],
)
def test_a_load_out_too_early_is_recorded_and_doubted(lifted: Load, in_minutes: int, early: bool) -> None:
    out = take_out(lifted, NOON + minutes(in_minutes), LATER)
    assert isinstance(out, Load)
    assert out.doubtful == early


def test_a_load_comes_out_once_and_after_it_went_in() -> None:
    assert code(take_out(load(), NOON - minutes(1), LATER)) == "not-at-that-time"
    assert code(take_out(load(out_at=NOON), NOON, LATER)) == "already-done"


@pytest.mark.parametrize(
    ("heat", "doubtful"), [(None, False), ("held", False), ("restart", True), ("cannot-tell", True)]
)
def test_a_heat_log_that_shows_no_whole_process_is_doubted(heat: str | None, doubtful: bool) -> None:
    assert load(heat=heat, out_at=NOON + minutes(30)).doubtful == doubtful


def test_seals_are_checked_after_twelve_hours_and_every_jar_is_counted() -> None:
    rested = load(out_at=NOON)
    twelve = NOON + timedelta(hours=12)
    assert code(check_seals(load(), SealCheck(8, 0, 0), twelve, LATER)) == "not-now"
    assert code(check_seals(rested, SealCheck(8, 0, 0), twelve - minutes(1), LATER)) == "too-early"
    assert code(check_seals(rested, SealCheck(7, 0, 0), twelve, LATER)) == "not-possible"
    assert code(check_seals(rested, SealCheck(8, 1, 0), twelve, LATER)) == "not-possible"
    checked = check_seals(rested, SealCheck(6, 1, 1), twelve, LATER)
    assert isinstance(checked, Load)
    assert code(check_seals(checked, SealCheck(6, 1, 1), twelve, LATER)) == "already-done"


def test_a_batch_is_done_when_every_load_is_checked() -> None:
    assert not batch().done
    assert not batch(load()).done
    assert batch(load(seals=SealCheck(8, 0, 0))).done


@pytest.mark.parametrize(
    "at",
    [
        pytest.param(NOON + timedelta(seconds=1), id="a second ahead"),
        pytest.param(NOON - timedelta(days=7, seconds=1), id="more than a week ago"),
    ],
)
def test_what_is_recorded_happened_within_the_last_week(at: datetime) -> None:
    assert code(moment(at, NOON)) == "not-at-that-time"
    assert moment(NOON - timedelta(days=7), NOON) == NOON - timedelta(days=7)
    assert moment(None, NOON) == NOON


@pytest.mark.parametrize(
    ("ph", "methods", "held"),
    [
        pytest.param(4.6, {"boiling-water"}, False, id="at the limit of 21 CFR 114.80"),
        pytest.param(4.61, {"boiling-water"}, True, id="above it"),
        pytest.param(6.0, {"pressure-dial"}, False, id="low-acid food under pressure doesn't rest on acid"),
        pytest.param(5.0, {"pressure-dial", "boiling-water"}, True, id="any load that rests on acid"),
    ],
)
def test_a_reading_above_the_limit_holds_food_that_rests_on_acid(ph: float, methods: set[str], held: bool) -> None:
    assert ph_holds_the_lot(ph, methods) == held


def test_loads_are_planned_by_size_in_the_canner_that_holds_most() -> None:
    small = Canner(UUID(int=9), "boiling-water", {"half-pint": 8, "pint": 7, "quart": 4})
    processes = {("pint", "boiling-water"): process(), ("half-pint", "boiling-water"): process()}
    plan = load_plan(processes, (small, canner()), {"pint": 20, "half-pint": 3})
    assert plan == [(canner(), "pint", 9), (canner(), "pint", 9), (canner(), "pint", 2), (canner(), "half-pint", 3)]


@pytest.mark.parametrize(
    ("ph", "instrument", "buffers", "lacking"),
    [
        pytest.param(3.9, "meter", (4.01, 7.0), False, id="a calibrated meter"),
        pytest.param(3.9, "meter", (7.0,), True, id="one buffer only"),
        pytest.param(4.0, "strip", (), False, id="a strip in sour food"),
        pytest.param(4.1, "strip", (), True, id="a strip where 21 CFR 114.80 wants a meter"),
    ],
)
def test_a_reading_says_what_its_record_lacks(
    ph: float, instrument: str, buffers: tuple[float, ...], lacking: bool
) -> None:
    assert bool(ph_notes(ph, instrument, buffers)) == lacking
