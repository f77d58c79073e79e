"""Heat logs drawn by hand: `#` at the required heat, `_` below it, a blank where nothing was read; one minute a step.

The restart from zero follows North Carolina State University specialists, "What to do if the canning process is
interrupted" (foodsafetysite.com, 2004): any interruption means the full time again.
"""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.jars.heat import Answer, Evaluation, evaluate
from service.core.refusals import Refused
from tests.core.jars.make import NOON, log, minutes


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
