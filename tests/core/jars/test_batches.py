from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

import pytest

from service.core.jars.batches import (
    Canner,
    Load,
    Loaded,
    Opened,
    again,
    check_seals,
    load_in,
    load_plan,
    moment,
    processed_at,
    put_cold,
    report,
    take_out,
    unsealed_note,
)
from service.core.jars.deviations import BrokenRule, Deviation
from service.core.jars.movements import SealCheck
from service.core.refusals import Refused
from tests.core.jars.make import KETTLE, NOON, PRESSURE, SPARE, batch, canner, load, minutes, process

LATER = NOON + timedelta(days=2)


def code(answer: object) -> str:
    assert isinstance(answer, Refused)
    return answer.code


def test_a_load_goes_into_a_booked_canner_with_its_published_process() -> None:
    assert load_in(batch(), "pint", 8, KETTLE, NOON + minutes(45), LATER) == Loaded(load(in_at=NOON + minutes(45)))


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
    assert isinstance(second, Loaded)
    assert second.load.number == 2


@pytest.mark.parametrize(
    ("count", "canner_id", "broken"),
    [
        pytest.param(8, KETTLE, (), id="as planned after all"),
        pytest.param(8, SPARE, (BrokenRule.CANNER_SWAPPED,), id="another canner of the kitchen"),
        pytest.param(10, KETTLE, (BrokenRule.CANNER_OVERFILLED,), id="more than it holds"),
        pytest.param(10, SPARE, (BrokenRule.CANNER_SWAPPED, BrokenRule.CANNER_OVERFILLED), id="both"),
    ],
)
def test_what_went_in_otherwise_is_recorded_as_it_was(
    count: int, canner_id: UUID, broken: tuple[BrokenRule, ...]
) -> None:
    loaded = load_in(batch(), "pint", count, canner_id, NOON, LATER, as_it_was=True)
    assert isinstance(loaded, Loaded)
    assert loaded.broken_rules == broken
    assert code(load_in(batch(), "pint", 8, UUID(int=99), NOON, LATER, as_it_was=True)) == "not-possible"


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
    assert out.broken_rules == ((BrokenRule.OUT_TOO_EARLY,) if early else ())


def test_a_load_comes_out_once_and_after_it_went_in() -> None:
    assert code(take_out(load(), NOON - minutes(1), LATER)) == "not-at-that-time"
    assert code(take_out(load(out_at=NOON), NOON, LATER)) == "already-done"


@pytest.mark.parametrize(
    ("lifted", "broken"),
    [
        pytest.param(load(), (), id="nothing was read"),
        pytest.param(load(heat="held"), (), id="held"),
        pytest.param(load(heat="restart"), (BrokenRule.INTERRUPTED,), id="the boil broke"),
        pytest.param(load(heat="cannot-tell"), (BrokenRule.HEAT_NOT_SHOWN,), id="nobody can tell"),
        pytest.param(
            load(heat="restart", process=process("pressure-dial", 25, 13)),
            (BrokenRule.PRESSURE_DROPPED,),
            id="the pressure fell",
        ),
        pytest.param(
            load(heat="held", process=process("pressure-dial", 25, 13), vented_minutes_at_most=9.5),
            (BrokenRule.VENT_TOO_SHORT,),
            id="steam flowed for less than ten minutes",
        ),
        pytest.param(
            load(heat="held", process=process("pressure-dial", 25, 13), vented_minutes_at_most=10), (), id="for ten"
        ),
    ],
)
def test_what_a_load_shows_to_be_wrong_stands_once_it_is_out(lifted: Load, broken: tuple[BrokenRule, ...]) -> None:
    assert lifted.broken_rules == ()
    assert replace(lifted, out_at=NOON + minutes(60)).broken_rules == broken


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


TWO_HOURS, A_DAY = minutes(120), minutes(24 * 60)
OUT = NOON + minutes(30)
DROPPED = Deviation(BrokenRule.INTERRUPTED, 1, OUT)
RESTING, SEALED = load(out_at=OUT), load(out_at=OUT, seals=SealCheck(5, 2, 1))


# Saving home-canned food when jars do not seal, University of Nebraska-Lincoln Extension: 24 hours, or 2 where the
# process itself was wrong; USDA and Utah State University Extension: 24.
@pytest.mark.parametrize(
    ("before", "wrong", "count", "discarded", "in_at", "on_hold", "decided", "answer"),
    [
        pytest.param(RESTING, (DROPPED,), 8, 0, OUT + TWO_HOURS, 0, False, Opened.RESTING, id="a load, in two hours"),
        pytest.param(RESTING, (DROPPED,), 7, 1, OUT, 0, False, Opened.RESTING, id="but for a jar that is discarded"),
        pytest.param(RESTING, (DROPPED,), 7, 0, OUT, 0, False, "not-possible", id="a jar is left over"),
        pytest.param(
            RESTING, (DROPPED,), 8, 0, OUT + TWO_HOURS + minutes(1), 0, False, "too-late", id="after two hours"
        ),
        pytest.param(
            RESTING, (DROPPED,), 8, 0, OUT + A_DAY, 0, True, Opened.RESTING, id="a person decided, within a day"
        ),
        pytest.param(RESTING, (DROPPED,), 8, 0, OUT + A_DAY + minutes(1), 0, True, "too-late", id="nobody, after it"),
        pytest.param(RESTING, (), 8, 0, OUT, 0, False, "not-now", id="nothing was wrong"),
        pytest.param(load(), (DROPPED,), 8, 0, OUT, 0, False, "not-now", id="it is still in"),
        pytest.param(RESTING, (DROPPED,), 8, 0, OUT - minutes(1), 0, False, "not-now", id="before it came out"),
        pytest.param(SEALED, (), 2, 0, OUT + A_DAY, 0, False, Opened.UNSEALED, id="what didn't seal, within a day"),
        pytest.param(SEALED, (), 2, 0, OUT + A_DAY + minutes(1), 0, False, "too-late", id="after a day"),
        pytest.param(SEALED, (), 1, 1, OUT + minutes(800), 0, False, "not-possible", id="discarded elsewhere"),
        pytest.param(SEALED, (DROPPED,), 7, 0, OUT + A_DAY, 7, True, Opened.HELD, id="held, and a person decided"),
        pytest.param(SEALED, (DROPPED,), 7, 0, OUT, 7, False, "not-now", id="held, and nobody decided"),
        pytest.param(SEALED, (DROPPED,), 3, 1, OUT, 4, True, Opened.HELD, id="held, some discarded before"),
    ],
)
def test_jars_go_in_again_within_their_time(
    before: Load,
    wrong: tuple[Deviation, ...],
    count: int,
    discarded: int,
    in_at: datetime,
    on_hold: int,
    decided: bool,
    answer: object,
) -> None:
    new = load(number=2, count=count, in_at=in_at)
    found = again(batch(before, deviations=wrong), new, 1, discarded, on_hold, decided=decided)
    assert (found.code if isinstance(found, Refused) else found) == answer


def test_jars_go_in_again_in_the_size_they_were_filled_in() -> None:
    quarts = load(number=2, jar_size="quart", in_at=OUT)
    assert code(again(batch(RESTING, deviations=(DROPPED,)), quarts, 1, 0, 0, decided=False)) == "not-possible"
    assert code(again(batch(), load(), 1, 0, 0, decided=False)) == "not-now"


def test_a_load_that_was_not_heated_enough_goes_into_the_cold_in_two_hours() -> None:
    assert put_cold(RESTING, 7, 1, OUT + TWO_HOURS, LATER) == OUT + TWO_HOURS
    assert code(put_cold(RESTING, 7, 1, OUT + TWO_HOURS + minutes(1), LATER)) == "too-late"
    assert put_cold(RESTING, 0, 8, OUT + A_DAY, LATER) == OUT + A_DAY
    assert code(put_cold(RESTING, 7, 0, OUT, LATER)) == "not-possible"
    assert code(put_cold(load(), 8, 0, OUT, LATER)) == "not-now"
    assert code(put_cold(SEALED, 8, 0, OUT, LATER)) == "already-done"


def test_what_is_still_in_is_put_right_and_not_reported() -> None:
    assert code(report(BrokenRule.PRESSURE_DROPPED, load())) == "not-now"
    assert report(BrokenRule.PRESSURE_DROPPED, RESTING) is BrokenRule.PRESSURE_DROPPED
    assert code(report(BrokenRule.COOLED_BY_FORCE, None)) == "not-possible"
    assert report(BrokenRule.SOMETHING_ELSE, None) is BrokenRule.SOMETHING_ELSE


def test_a_pot_is_processed_when_its_last_load_is_out() -> None:
    assert processed_at([]) is None
    assert processed_at([RESTING, load(number=2)]) is None
    assert processed_at([RESTING, load(number=2, out_at=OUT + minutes(30))]) == OUT + minutes(30)


def test_a_jar_that_did_not_seal_says_what_to_do_with_it() -> None:
    assert unsealed_note("2027-08-15 12:30", twice=True).endswith("with new lids by 2027-08-15 12:30")
    assert "again" not in unsealed_note("2027-08-15 12:30", twice=False)


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


def test_loads_are_planned_by_size_in_the_canner_that_holds_most() -> None:
    small = Canner(UUID(int=9), "boiling-water", {"half-pint": 8, "pint": 7, "quart": 4})
    processes = {("pint", "boiling-water"): process(), ("half-pint", "boiling-water"): process()}
    plan = load_plan(processes, (small, canner()), {"pint": 20, "half-pint": 3})
    assert plan == [(canner(), "pint", 9), (canner(), "pint", 9), (canner(), "pint", 2), (canner(), "half-pint", 3)]
