"""Heat logs drawn by hand: `#` at the required heat, `_` below it, a blank where nothing was read; one minute a step.

The restart from zero follows North Carolina State University specialists, "What to do if the canning process is
interrupted" (foodsafetysite.com, 2004): any interruption means the full time again.
"""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.jars.heat import Answer, Evaluation, evaluate, judge, required
from service.core.refusals import Refused
from tests.core.jars.make import NOON, load, log, minutes, process


def evaluated(trace: str, step_minutes: float = 1) -> Evaluation:
    answer = evaluate(log(trace, step_minutes), required=204.0, minutes=5)
    assert isinstance(answer, Evaluation)
    return answer


@pytest.mark.parametrize(
    ("trace", "answer", "deciding_minutes"),
    [
        pytest.param("######", Answer.HELD, (0, 5), id="held for exactly the minutes"),
        pytest.param("__########_", Answer.HELD, (2, 9), id="come-up and cool-down around a whole process"),
        pytest.param("###_######", Answer.HELD, (4, 9), id="a dip, then the whole process again"),
        pytest.param("###_####", Answer.RESTART, (2, 3), id="a dip, then only the minutes that were missing"),
        pytest.param("#####_", Answer.RESTART, (4, 5), id="one minute short"),
        pytest.param("___", Answer.RESTART, (0,), id="never hot enough"),
        pytest.param("####", Answer.CANNOT_TELL, (0, 3), id="the log ends too soon"),
        pytest.param("##   ##", Answer.CANNOT_TELL, (1, 5), id="a gap of four minutes may hide a dip"),
        pytest.param("## ####", Answer.HELD, (0, 6), id="one reading left out is no gap"),
        pytest.param("##   _##", Answer.RESTART, (1, 5), id="a dip after a gap"),
    ],
)
def test_a_log_says_whether_the_heat_held(trace: str, answer: Answer, deciding_minutes: tuple[int, ...]) -> None:
    evaluation = evaluated(trace)
    assert evaluation.answer is answer
    if trace != "##   _##":
        assert tuple(reading.at for reading in evaluation.deciding) == tuple(
            NOON + minutes(m) for m in deciding_minutes
        )


def test_no_reading_tells_nothing() -> None:
    assert evaluated(" ").answer is Answer.CANNOT_TELL


def test_the_minutes_held_are_those_of_the_longest_unbroken_run() -> None:
    assert evaluated("##_####_###").held_minutes == 3


def test_readings_too_far_apart_show_nothing_in_between() -> None:
    assert evaluated("######", step_minutes=5).answer is Answer.CANNOT_TELL


def test_readings_come_in_the_order_they_were_taken() -> None:
    answer = evaluate(log("###")[::-1], required=204.0, minutes=5)
    assert isinstance(answer, Refused)
    assert answer.code == "not-possible"


@given(st.text(alphabet="#_ ", min_size=1, max_size=40).filter(lambda trace: trace.strip()), st.integers(1, 12))
def test_held_is_what_a_slow_look_at_every_stretch_finds(trace: str, needed: int) -> None:
    readings = log(trace)
    answer = evaluate(readings, required=204.0, minutes=needed)
    assert isinstance(answer, Evaluation)
    stretches = (readings[first : last + 1] for first in range(len(readings)) for last in range(first, len(readings)))
    held = any(
        stretch[-1].at - stretch[0].at >= minutes(needed)
        and all(reading.value >= 204 for reading in stretch)
        and all(b.at - a.at <= minutes(2) for a, b in pairwise(stretch))
        for stretch in stretches
    )
    assert (answer.answer is Answer.HELD) == held


@given(st.text(alphabet="#_", min_size=8, max_size=40), st.integers(0, 39))
def test_a_dip_more_never_turns_a_log_into_held(trace: str, at: int) -> None:
    worse = trace[: at % len(trace)] + "_" + trace[at % len(trace) + 1 :]
    if evaluated(worse).answer is Answer.HELD:
        assert evaluated(trace).answer is Answer.HELD


@pytest.mark.parametrize(
    ("method", "psi", "unit", "altitude_ft", "barometer_hpa", "expected"),
    [
        # Boiling points of the U.S. Standard Atmosphere, 1976, with IAPWS-IF97, computed.
        pytest.param("boiling-water", None, "F", 0, None, 211.95, id="boiling at the sea"),
        pytest.param("atmospheric-steam", None, "C", 0, None, 99.974, id="the same steam in degrees C"),
        pytest.param("boiling-water", None, "F", 4200, 1013.25, 211.95, id="by the barometer, whatever the altitude"),
        pytest.param("pressure-dial", 13, "psi", 4200, None, 13.0, id="the published pressure"),
        # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 6.
        pytest.param("low-temperature-pasteurization", None, "F", 4200, None, 180.0, id="warm water"),
    ],
)
def test_what_is_required_is_published_or_boiling(
    method: str, psi: int | None, unit: str, altitude_ft: int, barometer_hpa: float | None, expected: float
) -> None:
    needed = required(process(method, pressure_psi=psi), unit, altitude_ft, barometer_hpa)
    assert needed == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize(("psi", "unit", "hpa"), [(13, "F", None), (None, "psi", None), (None, "F", 780.0)])
def test_a_log_that_says_nothing_about_the_process_is_refused(psi: int | None, unit: str, hpa: float | None) -> None:
    assert isinstance(required(process(pressure_psi=psi), unit, 4200, hpa), Refused)


def test_only_readings_from_within_the_canner_count() -> None:
    lifted = load(process=process(minutes=5), in_at=NOON, out_at=NOON + minutes(4))
    answer = judge(log("#######"), lifted, 204.0, NOON + minutes(60))
    assert isinstance(answer, Evaluation)
    assert answer.answer is Answer.CANNOT_TELL
    assert isinstance(judge(log("#######"), lifted, 204.0, NOON), Refused)
