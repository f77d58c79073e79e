"""What a pH reading is worth: only a good instrument, at the right time, on the food itself, shows an acid lot."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.core.jars.deviations import BrokenRule

PH_LIMIT = 4.6  # 21 CFR 114.80
PH_TARGET = 4.2  # so that meter error and raw material don't cross the limit. Common practice, no source.
STRIP_PH_LIMIT = 4.0  # 21 CFR 114.80: above it, paper strips don't do
EQUILIBRIUM_HOURS = 24  # "Purchasing and using a pH meter", read in a copy: about a day after processing
# Two fresh buffers around the food: Oregon State University Extension. Their labels differ by a little with the maker
# and the temperature; the width is common practice, no source.
BUFFERS = (4.01, 7.00)
BUFFER_WIDTH = 0.05
CALIBRATION_HOURS = 24  # on each day of use. Common practice, no source.


@dataclass(frozen=True, slots=True)
class PhReading:
    """What was read, with what, in which part of the food."""

    ph: float
    at: datetime
    instrument: str = "meter"  # or strip
    buffers: tuple[float, ...] = ()  # that a meter was set by
    calibrated_at: datetime | None = None  # None: not said, so that day
    sample: str = "blended"  # the drained solids, blended; or the liquid alone


def rests_on_acid(methods: Iterable[str]) -> bool:
    """Whether a food cooked by these methods is safe by its acidity: low-acid food under pressure isn't."""
    return any(not method.startswith("pressure-") for method in methods)


def faults(reading: PhReading, processed_at: datetime | None) -> tuple[BrokenRule, ...]:
    """What is wrong with a reading or with the food it shows. `processed_at`: when the last load came out."""
    found = []
    if reading.instrument == "strip":
        if reading.ph > STRIP_PH_LIMIT:
            found.append(BrokenRule.PH_BY_STRIP)
    elif not _calibrated(reading):
        found.append(BrokenRule.PH_UNCALIBRATED)
    if processed_at is None or reading.at < processed_at + timedelta(hours=EQUILIBRIUM_HOURS):
        found.append(BrokenRule.PH_TOO_EARLY)
    if reading.sample == "liquid":
        found.append(BrokenRule.PH_OF_THE_LIQUID)
    if reading.ph > PH_LIMIT and not found:
        found.append(BrokenRule.PH_ABOVE_LIMIT)
    return tuple(found)


def caution(ph: float) -> str | None:
    """What to think of an acid food near the limit."""
    if PH_TARGET < ph <= PH_LIMIT:
        return f"Between pH {PH_TARGET} and {PH_LIMIT} the meter's error and the next basket of produce decide."
    return None


def _calibrated(reading: PhReading) -> bool:
    around = all(any(abs(buffer - each) <= BUFFER_WIDTH for each in reading.buffers) for buffer in BUFFERS)
    at = reading.calibrated_at
    return around and (at is None or timedelta() <= reading.at - at <= timedelta(hours=CALIBRATION_HOURS))
