from datetime import datetime, timedelta

import pytest

from service.core.jars.deviations import BrokenRule
from service.core.jars.ph import PhReading, caution, faults, rests_on_acid
from tests.core.jars.make import NOON

A_DAY_ON = NOON + timedelta(hours=24)


def reading(ph: float = 3.9, **values: object) -> PhReading:
    kept: dict[str, object] = {"ph": ph, "at": A_DAY_ON, "buffers": (4.01, 7.0)}
    return PhReading(**(kept | values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("read", "processed_at", "wrong"),
    [
        # 21 CFR 114.80: 4.6 at most, and above 4.0 a meter; Oregon State University Extension: buffers 4.01 and 7.00.
        pytest.param(reading(), NOON, (), id="a calibrated meter, a day after"),
        pytest.param(reading(4.6), NOON, (), id="at the limit"),
        pytest.param(reading(4.61), NOON, (BrokenRule.PH_ABOVE_LIMIT,), id="above it"),
        pytest.param(reading(buffers=(4.0, 7.0)), NOON, (), id="buffers as some labels say them"),
        pytest.param(reading(buffers=(7.0,)), NOON, (BrokenRule.PH_UNCALIBRATED,), id="one buffer only"),
        pytest.param(reading(buffers=(7.0, 10.0)), NOON, (BrokenRule.PH_UNCALIBRATED,), id="not around the food"),
        pytest.param(
            reading(calibrated_at=A_DAY_ON - timedelta(hours=25)),
            NOON,
            (BrokenRule.PH_UNCALIBRATED,),
            id="a day before",
        ),
        pytest.param(
            reading(calibrated_at=A_DAY_ON + timedelta(minutes=1)), NOON, (BrokenRule.PH_UNCALIBRATED,), id="afterwards"
        ),
        pytest.param(reading(4.7, buffers=()), NOON, (BrokenRule.PH_UNCALIBRATED,), id="a bad reading says no more"),
        pytest.param(reading(4.0, instrument="strip", buffers=()), NOON, (), id="a strip in sour food"),
        pytest.param(
            reading(4.1, instrument="strip", buffers=()),
            NOON,
            (BrokenRule.PH_BY_STRIP,),
            id="a meter is due",
        ),
        pytest.param(reading(at=A_DAY_ON - timedelta(seconds=1)), NOON, (BrokenRule.PH_TOO_EARLY,), id="too soon"),
        pytest.param(reading(), None, (BrokenRule.PH_TOO_EARLY,), id="before the last load was out"),
        pytest.param(reading(sample="liquid"), NOON, (BrokenRule.PH_OF_THE_LIQUID,), id="the brine alone"),
    ],
)
def test_a_reading_counts_only_if_all_about_it_is_right(
    read: PhReading, processed_at: datetime | None, wrong: tuple[BrokenRule, ...]
) -> None:
    assert faults(read, processed_at) == wrong


def test_only_what_is_not_under_pressure_rests_on_its_acid() -> None:
    assert rests_on_acid({"boiling-water"})
    assert rests_on_acid({"pressure-dial", "atmospheric-steam"})
    assert not rests_on_acid({"pressure-dial", "pressure-weighted"})


def test_near_the_limit_a_caution_is_said() -> None:
    assert caution(4.2) is None
    assert caution(4.3)
    assert caution(4.6)
    assert caution(4.61) is None
