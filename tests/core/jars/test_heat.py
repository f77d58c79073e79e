"""Heat logs drawn by hand, and traces with answers worked out by hand.

A drawing has one character a minute: `#` at the required heat, `_` below it, a blank where nothing was read. The
restart from zero follows North Carolina State University specialists, "What to do if the canning process is
interrupted" (foodsafetysite.com, 2004): any interruption means the full time again.
"""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.jars.heat import (
    Evaluation,
    HeatAnswer,
    Instrument,
    Reading,
    Requirement,
    evaluate,
    in_order,
    judge,
    requirement,
)
from service.core.refusals import Refused
from tests.core.jars.make import NOON, load, log, minutes, process

HELD, RESTART, CANNOT_TELL = HeatAnswer.HELD, HeatAnswer.RESTART, HeatAnswer.CANNOT_TELL
THAT_DAY = NOON.date()


def needs(heat: float = 204.0, minutes: int = 5, gap_minutes: float = 2, **values: object) -> Requirement:
    return Requirement("F", heat, minutes, timedelta(minutes=gap_minutes), **values)  # type: ignore[arg-type]


def evaluated(trace: str, step_minutes: float = 1, gap_minutes: float = 2, needed: int = 5) -> Evaluation:
    return evaluate(log(trace, step_minutes), needs(minutes=needed, gap_minutes=gap_minutes))


@pytest.mark.parametrize(
    ("trace", "answer", "deciding_minutes"),
    [
        pytest.param("######", HELD, (0, 5), id="held for exactly the minutes"),
        pytest.param("__########_", HELD, (2, 9), id="come-up and cool-down around a whole process"),
        pytest.param("###_######", HELD, (4, 9), id="a dip, then the whole process again"),
        pytest.param("###_####", RESTART, (2, 3), id="a dip, then only the minutes that were missing"),
        pytest.param("#####_", RESTART, (4, 5), id="one minute short"),
        pytest.param("___", RESTART, (0,), id="never hot enough"),
        pytest.param("####", CANNOT_TELL, (0, 3), id="the log ends too soon"),
        pytest.param("##   ##", CANNOT_TELL, (1, 5), id="a gap of four minutes may hide a dip"),
        pytest.param("## ####", HELD, (0, 6), id="one reading left out is no gap"),
        pytest.param("##   _##", RESTART, (1, 5), id="a dip after a gap"),
        pytest.param("#_#_#_#_", RESTART, (6, 7), id="the last of many dips"),
        pytest.param(" ", CANNOT_TELL, (), id="nothing was read"),
        pytest.param("#", CANNOT_TELL, (0, 0), id="one reading"),
    ],
)
def test_a_log_says_whether_the_heat_held(trace: str, answer: HeatAnswer, deciding_minutes: tuple[int, ...]) -> None:
    evaluation = evaluated(trace)
    assert evaluation.answer is answer
    assert tuple(reading.at for reading in evaluation.deciding) == tuple(NOON + minutes(m) for m in deciding_minutes)


@pytest.mark.parametrize(
    ("trace", "held", "still"),
    [
        pytest.param("######", 5, 0, id="held"),
        pytest.param("##_####_###", 3, 3, id="the longest run counts, the last one goes on"),
        pytest.param("####_", 3, 5, id="all of it after a dip"),
        pytest.param("####_##", 3, 4, id="from zero since the dip"),
        pytest.param("###", 2, 3, id="what is left of a log that ends too soon"),
        pytest.param("##    ##", 1, 4, id="what is sure since the gap"),
        pytest.param("___", 0, 5, id="all of it"),
    ],
)
def test_what_has_to_follow_is_counted_from_zero(trace: str, held: float, still: float) -> None:
    evaluation = evaluated(trace)
    assert (evaluation.held_minutes, evaluation.still_needed_minutes) == (held, still)


# How often somebody has to look: common practice, no source.
@pytest.mark.parametrize(
    ("method", "step_minutes", "answer"),
    [
        pytest.param("boiling-water", 5, HELD, id="a pot of boiling water every five minutes"),
        pytest.param("boiling-water", 6, CANNOT_TELL, id="but not every six"),
        pytest.param("atmospheric-steam", 2, HELD, id="steam every two"),
        pytest.param("atmospheric-steam", 5, CANNOT_TELL, id="but not every five"),
        pytest.param("low-temperature-pasteurization", 5, CANNOT_TELL, id="nor water that mustn't boil"),
    ],
)
def test_what_changes_faster_is_looked_at_more_often(method: str, step_minutes: float, answer: HeatAnswer) -> None:
    needed = requirement(process(method, minutes=20), "F", 4200, None, Instrument(), THAT_DAY)
    assert isinstance(needed, Requirement)
    readings = [Reading(NOON + minutes(step_minutes * number), 205.0) for number in range(11)]
    assert evaluate(readings, needed).answer is answer


def test_two_readings_show_the_ends_of_a_process_and_nothing_of_it() -> None:
    assert evaluated("##", step_minutes=5, gap_minutes=5).answer is CANNOT_TELL
    assert evaluated("###", step_minutes=5, gap_minutes=5).answer is HELD


# Worked by hand. Water boils at 204.29 F at 4,200 ft, between 204.66 at 4,000 and 203.74 at 4,500: U.S. Standard
# Atmosphere, 1976, with IAPWS-IF97. Processes: USDA Complete Guide to Home Canning (AIB 539, 2015), as each says.
JAM = process(minutes=10)  # Guide 7: half-pints and pints, 1,001 to 6,000 ft
BEANS = process("pressure-dial", 25, 13)  # Guide 4: snap beans, quarts, dial gauge, 4,001 to 6,000 ft
PICKLES = process("low-temperature-pasteurization", 30)  # Guide 6: 180 to 185 F for 30 minutes
STEAM = process("atmospheric-steam", 10)
Points = Sequence[tuple[float, float]]


def steady(value: float, first: int, last: int, every: int = 1) -> Points:
    return [(minute, value) for minute in range(first, last + 1, every)]


@pytest.mark.parametrize(
    ("of", "unit", "points", "answer", "held", "still"),
    [
        # 15 to 25 minutes is ten.
        pytest.param(JAM, "F", [*steady(190, 0, 14), *steady(204.4, 15, 25)], HELD, 10, 0, id="jam, to the minute"),
        # 15 to 24 is nine; then the boil broke, so all ten are needed.
        pytest.param(
            JAM, "F", [*steady(204.4, 15, 24), (25, 204.0)], RESTART, 9, 10, id="jam, a minute short and then below"
        ),
        # 204.2 is a tenth below where water boils.
        pytest.param(JAM, "F", steady(204.2, 0, 30), RESTART, 0, 10, id="jam, just below the boil"),
        # 95.72 C is 204.29 F.
        pytest.param(JAM, "C", steady(95.8, 10, 20), HELD, 10, 0, id="jam in degrees C"),
        pytest.param(JAM, "C", steady(95.7, 10, 20), RESTART, 0, 10, id="jam in degrees C, just below"),
        # By hand every five minutes: 10, 15, 20 is ten minutes with three readings.
        pytest.param(JAM, "F", steady(205, 10, 20, 5), HELD, 10, 0, id="jam, three readings by hand"),
        # 10 and 20: ten minutes apart, and nobody looked.
        pytest.param(JAM, "F", steady(205, 10, 20, 10), CANNOT_TELL, 0, 10, id="jam, two readings by hand"),
        # 30 to 54 is 24 minutes; what follows the dip of half a pound at 55 runs from 56 to 60.
        pytest.param(
            BEANS,
            "psi",
            [*steady(13, 30, 54), (55, 12.5), *steady(13, 56, 60)],
            RESTART,
            24,
            21,
            id="beans, half a pound lost in the last minute",
        ),
        pytest.param(
            BEANS,
            "psi",
            [*steady(0, 0, 14), *steady(13, 15, 40)],
            HELD,
            25,
            0,
            id="beans, after much steam",
        ),
        # Every five minutes is too seldom for pressure.
        pytest.param(BEANS, "psi", steady(14, 15, 45, 5), CANNOT_TELL, 0, 25, id="beans, looked at every five minutes"),
        # 11 psi is what is published to 2,000 ft; here it is 13.
        pytest.param(BEANS, "psi", steady(11, 15, 60), RESTART, 0, 25, id="beans, at the pressure of the lowlands"),
        # Running above is fine.
        pytest.param(BEANS, "psi", steady(15, 15, 40), HELD, 25, 0, id="beans, above the pressure"),
        pytest.param(PICKLES, "F", steady(180, 5, 35), HELD, 30, 0, id="pickles, at 180 F exactly"),
        pytest.param(
            PICKLES, "F", [*steady(181, 5, 20), (21, 179.9), *steady(181, 22, 51)], RESTART, 29, 1, id="pickles, a dip"
        ),
        # 5 to 11 and 15 to 22: neither is ten, and between 11 and 15 nobody looked.
        pytest.param(
            STEAM, "F", [*steady(205, 5, 11), *steady(205, 15, 22)], CANNOT_TELL, 7, 3, id="steam, an unseen stretch"
        ),
    ],
)
def test_worked_traces(of: object, unit: str, points: Points, answer: HeatAnswer, held: float, still: float) -> None:
    needed = requirement(of, unit, 4200, None, Instrument(), THAT_DAY)  # type: ignore[arg-type]
    assert isinstance(needed, Requirement)
    readings = [Reading(NOON + minutes(minute), value) for minute, value in points]
    evaluation = judge(readings, load(process=of), needed, NOON + minutes(90))
    assert isinstance(evaluation, Evaluation)
    found = (evaluation.answer, evaluation.held_minutes, evaluation.still_needed_minutes)
    assert found == (answer, held, still)


@pytest.mark.parametrize(
    ("value", "instrument", "answer"),
    [
        pytest.param(13.0, Instrument(), HELD, id="a gauge that is right"),
        pytest.param(13.5, Instrument(reads_high=1), RESTART, id="it reads a pound high"),
        pytest.param(14.0, Instrument(reads_high=1), HELD, id="and the pound was added"),
        pytest.param(13.0, Instrument(step=1), CANNOT_TELL, id="13 on a gauge of whole pounds may be 12 1/2"),
        pytest.param(14.0, Instrument(step=1), HELD, id="14 is 13 1/2 at least"),
        pytest.param(12.0, Instrument(step=1), RESTART, id="12 is below 13 however it was rounded"),
        # Iowa State University Extension (2024): off by more than 2 psi, it is replaced.
        pytest.param(20.0, Instrument(reads_high=2), HELD, id="two pounds off is the most"),
        pytest.param(20.0, Instrument(reads_high=2.5), CANNOT_TELL, id="further off, it shows nothing"),
        # National Center for Home Food Preservation, "Dial gauge testing time": every year.
        pytest.param(13.0, Instrument(tested_on=date(2026, 8, 14)), HELD, id="tested a year ago"),
        pytest.param(13.0, Instrument(tested_on=date(2026, 8, 12)), CANNOT_TELL, id="tested longer ago"),
    ],
)
def test_a_gauges_error_and_rounding_count(value: float, instrument: Instrument, answer: HeatAnswer) -> None:
    needed = requirement(BEANS, "psi", 4200, None, instrument, THAT_DAY)
    assert isinstance(needed, Requirement)
    readings = [Reading(NOON + minutes(minute), value) for minute in range(31)]
    evaluation = evaluate(readings, needed)
    assert evaluation.answer is answer
    assert evaluation.deciding


def test_a_weighted_gauge_needs_no_yearly_test() -> None:
    weighted = process("pressure-weighted", 25, 15)
    needed = requirement(weighted, "psi", 4200, None, Instrument(tested_on=date(2020, 1, 1)), THAT_DAY)
    assert isinstance(needed, Requirement)
    assert needed.trusted


@pytest.mark.parametrize(
    ("method", "psi", "unit", "altitude_ft", "barometer_hpa", "expected"),
    [
        # Boiling points of the U.S. Standard Atmosphere, 1976, with IAPWS-IF97, computed.
        pytest.param("boiling-water", None, "F", 0, None, 211.95, id="boiling at the sea"),
        pytest.param("atmospheric-steam", None, "C", 0, None, 99.974, id="the same steam in degrees C"),
        pytest.param("boiling-water", None, "F", 4200, 1013.25, 211.95, id="by the barometer, whatever the altitude"),
        pytest.param("pressure-dial", 13, "psi", 4200, None, 13.0, id="the published pressure"),
        pytest.param("pressure-dial", 13, "psi", 4200, 840.0, 13.0, id="whatever the weather"),
        # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 6.
        pytest.param("low-temperature-pasteurization", None, "F", 4200, None, 180.0, id="warm water"),
    ],
)
def test_what_is_required_is_published_or_boiling(
    method: str, psi: int | None, unit: str, altitude_ft: int, barometer_hpa: float | None, expected: float
) -> None:
    needed = requirement(process(method, pressure_psi=psi), unit, altitude_ft, barometer_hpa, Instrument(), THAT_DAY)
    assert isinstance(needed, Requirement)
    assert needed.heat == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("psi", "unit", "hpa"), [(13, "F", None), (None, "psi", None), (None, "F", 780.0)])
def test_a_log_that_says_nothing_about_the_process_is_refused(psi: int | None, unit: str, hpa: float | None) -> None:
    assert isinstance(requirement(process(pressure_psi=psi), unit, 4200, hpa, Instrument(), THAT_DAY), Refused)


def test_only_readings_from_within_the_canner_count() -> None:
    lifted = load(process=process(minutes=5), in_at=NOON, out_at=NOON + minutes(4))
    answer = judge(log("#######"), lifted, needs(), NOON + minutes(60))
    assert isinstance(answer, Evaluation)
    assert answer.answer is CANNOT_TELL
    assert isinstance(judge(log("#######"), lifted, needs(), NOON), Refused)


def test_what_is_out_has_to_go_in_again_for_the_whole_time() -> None:
    lifted = load(process=process(minutes=5), out_at=NOON + minutes(8))
    answer = judge(log("##_####"), lifted, needs(), NOON + minutes(60))
    assert isinstance(answer, Evaluation)
    assert (answer.answer, answer.still_needed_minutes) == (RESTART, 5)


def test_come_up_and_venting_are_counted_from_when_the_load_went_in() -> None:
    needed = requirement(BEANS, "psi", 4200, None, Instrument(), THAT_DAY)
    assert isinstance(needed, Requirement)
    readings = [Reading(NOON + minutes(at), psi) for at, psi in ((0, 0), (9, 0), (10, 2), (12, 13), (13, 13))]
    in_the_canner = load(process=BEANS)
    answer = judge(readings, in_the_canner, needed, NOON + minutes(60))
    assert isinstance(answer, Evaluation)
    assert (answer.come_up_minutes, answer.vented_minutes_at_most) == (12, 10)
    seen = judge(readings, in_the_canner, needed, NOON + minutes(60), (NOON + minutes(2), NOON + minutes(9)))
    assert isinstance(seen, Evaluation)
    assert seen.vented_minutes_at_most == 7
    for vented in ((NOON - minutes(1), NOON), (NOON + minutes(9), NOON + minutes(2))):
        assert isinstance(judge(readings, in_the_canner, needed, NOON + minutes(60), vented), Refused)


def test_readings_are_put_in_order_and_the_colder_of_two_at_once_counts() -> None:
    assert in_order(log("#_#")[::-1]) == log("#_#")
    assert in_order([*log("###"), *log("  _")]) == log("##_")


def test_clocks_that_jump_change_nothing_since_the_offset_is_said() -> None:
    """At the end of daylight saving 1:30 comes twice; the two are an hour apart all the same."""
    summer, winter = timezone(timedelta(hours=-6)), timezone(timedelta(hours=-7))
    begins = datetime(2027, 11, 7, 1, 55, tzinfo=summer)
    in_utc = [Reading(begins.astimezone(UTC) + minutes(minute), 204.0) for minute in range(11)]
    by_the_wall = [
        Reading(each.at.astimezone(summer if n < 5 else winter), each.value) for n, each in enumerate(in_utc)
    ]
    assert [each.at.hour for each in by_the_wall] == [1] * 11
    assert in_order(by_the_wall) == in_utc
    assert evaluate(in_order(by_the_wall), needs(minutes=10)) == evaluate(in_utc, needs(minutes=10))


# A slow and obvious twin, and what no log may do

TRACES = st.text(alphabet="#_ ", min_size=1, max_size=40).filter(lambda trace: bool(trace.strip()))


@given(TRACES, st.integers(1, 12))
def test_the_answer_is_what_a_slow_look_at_every_stretch_finds(trace: str, needed: int) -> None:
    readings = log(trace)
    stretches = [readings[first : last + 1] for first in range(len(readings)) for last in range(first, len(readings))]
    hot = [
        stretch
        for stretch in stretches
        if all(reading.value >= 204 for reading in stretch) and stretch[-1].at - stretch[0].at >= minutes(needed)
    ]
    sure = [
        stretch for stretch in hot if len(stretch) >= 3 and all(b.at - a.at <= minutes(2) for a, b in pairwise(stretch))
    ]
    dipped = any(a.value >= 204 > b.value for a, b in pairwise(readings))
    never = all(reading.value < 204 for reading in readings)
    expected = HELD if sure else CANNOT_TELL if hot else RESTART if dipped or never else CANNOT_TELL
    assert evaluated(trace, needed=needed).answer is expected


@given(TRACES, st.integers(0, 45), st.integers(1, 12))
def test_a_hotter_reading_never_turns_held_into_anything_else(trace: str, at: int, needed: int) -> None:
    readings = log(trace)
    if evaluate(readings, needs(minutes=needed)).answer is HELD:
        more = in_order([*readings, Reading(NOON + minutes(at), 210.0)])
        assert evaluate(more, needs(minutes=needed)).answer is HELD


@given(st.integers(3, 40), st.data())
def test_a_dip_always_restarts(length: int, data: st.DataObject) -> None:
    """A process of exactly its minutes, with one reading anywhere in it below: never held, all minutes from the dip."""
    dip = data.draw(st.integers(0, length - 1))
    trace = "#" * dip + "_" + "#" * (length - dip - 1)
    evaluation = evaluated(trace, needed=length - 1)
    assert evaluation.answer is RESTART or (dip == 0 and evaluation.answer is CANNOT_TELL)
    assert evaluation.still_needed_minutes == (length - 1) - max(0, length - dip - 2)


@given(st.text(alphabet="#_", min_size=8, max_size=40), st.integers(0, 39))
def test_a_dip_more_never_turns_a_log_into_held(trace: str, at: int) -> None:
    worse = trace[: at % len(trace)] + "_" + trace[at % len(trace) + 1 :]
    if evaluated(worse).answer is HELD:
        assert evaluated(trace).answer is HELD


@given(
    st.lists(st.integers(-30, 30), min_size=1, max_size=40),
    st.integers(0, 3),
    st.integers(0, 2),
    st.permutations(range(40)),
)
def test_degrees_f_and_c_and_any_order_give_the_same_answer(
    tenths_off: list[int], high: int, step: int, order: list[int]
) -> None:
    """Readings a tenth of a degree apart around the boil; equal ones would hang on the last digit of a float."""
    in_f = requirement(JAM, "F", 4200, None, Instrument(high, step), THAT_DAY)
    in_c = requirement(JAM, "C", 4200, None, Instrument(high * 5 / 9, step * 5 / 9), THAT_DAY)
    assert isinstance(in_f, Requirement)
    assert isinstance(in_c, Requirement)
    values = [in_f.heat + 0.05 + tenths / 10 for tenths in tenths_off]
    warm = [Reading(NOON + minutes(at), value) for at, value in enumerate(values)]
    same = [Reading(each.at, (each.value - 32) * 5 / 9) for each in warm]
    mixed = [same[at] for at in order if at < len(same)]
    one, other = evaluate(in_order(warm), in_f), evaluate(in_order(mixed), in_c)
    assert (one.answer, one.says, one.held_minutes) == (other.answer, other.says, other.held_minutes)
    assert [each.at for each in one.deciding] == [each.at for each in other.deciding]
