"""What a heat log shows: whether the heat held without a break for the published minutes."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import pairwise

from service.core.jars.batches import Load, Process
from service.core.measures.altitude import air_pressure_pa, boiling_f, to_celsius
from service.core.refusals import Refused

PASTEURIZATION_F = 180.0  # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 6: water never below it
# A barometer lower than any weather makes it would excuse water that doesn't boil. Common practice, no source.
LOWEST_SHARE_OF_STANDARD_AIR = 0.92

# A dip between two readings further apart than this would go unseen. Common practice, no source.
LONGEST_GAP = timedelta(minutes=2)


class Answer(StrEnum):
    HELD = "held"
    RESTART = "restart"  # the heat fell, or never came: the whole process again, from zero
    CANNOT_TELL = "cannot-tell"  # the log leaves time unseen in which the heat may have fallen


@dataclass(frozen=True, slots=True)
class Reading:
    at: datetime
    value: float  # in the unit of what is required: degrees F, or psi by the gauge


@dataclass(frozen=True, slots=True)
class Evaluation:
    """The answer, why, the longest unbroken time at the required heat, and the readings that decided."""

    answer: Answer
    says: str
    held_minutes: float
    deciding: tuple[Reading, ...]


def required(process: Process, unit: str, altitude_ft: int, barometer_hpa: float | None) -> float | Refused:
    """What the readings must reach, in their unit: boiling water's heat here, or the published pressure."""
    if (process.pressure_psi is not None) != (unit == "psi"):
        return Refused("not-possible", "A pressure process is read in psi, any other in degrees.")
    if process.pressure_psi is not None:
        return float(process.pressure_psi)
    standard_hpa = air_pressure_pa(altitude_ft) / 100
    if barometer_hpa is not None and barometer_hpa < LOWEST_SHARE_OF_STANDARD_AIR * standard_hpa:
        return Refused("not-possible", "The air is never that thin at the kitchen's altitude.")
    pasteurized = process.method == "low-temperature-pasteurization"
    heat_f = PASTEURIZATION_F if pasteurized else boiling_f(altitude_ft, barometer_hpa)
    return heat_f if unit == "F" else to_celsius(heat_f)


def judge(readings: Sequence[Reading], load: Load, heat: float, now: datetime) -> Evaluation | Refused:
    """What the readings taken while the load was in its canner show."""
    if any(reading.at > now for reading in readings):
        return Refused("not-at-that-time", "A reading can't lie ahead.")
    until = load.out_at or now
    within = [reading for reading in readings if load.in_at <= reading.at <= until]
    return evaluate(within, heat, load.process.minutes)


def evaluate(readings: Sequence[Reading], required: float, minutes: int) -> Evaluation | Refused:
    """Look for one unbroken run of readings at or above what is required, as long as the published minutes.

    A source for both restarts: North Carolina State University specialists, "What to do if the canning process is
    interrupted" (2004): any interruption means the full time again.
    """
    if any(later.at < earlier.at for earlier, later in pairwise(readings)):
        return Refused("not-possible", "Each reading must be no earlier than the one before.")
    if not readings:
        return Evaluation(Answer.CANNOT_TELL, "No reading lies within the time in the canner.", 0.0, ())
    seen = _runs(readings, required, LONGEST_GAP)
    longest = max(seen, key=_span, default=None)
    held_minutes = _span(longest) / timedelta(minutes=1) if longest else 0.0
    if longest is None:
        hottest = max(readings, key=lambda reading: reading.value)
        return Evaluation(Answer.RESTART, "The required heat was never reached.", 0.0, (hottest,))
    needed = timedelta(minutes=minutes)
    if _span(longest) >= needed:
        return Evaluation(Answer.HELD, "The heat held for the whole process.", held_minutes, (longest[0], longest[-1]))
    unseen = max(_runs(readings, required, None), key=_span)
    if _span(unseen) >= needed:
        gap = max(pairwise(unseen), key=lambda pair: pair[1].at - pair[0].at)
        return Evaluation(Answer.CANNOT_TELL, "A gap in the log may hide a dip.", held_minutes, gap)
    dip = _dip(readings, required)
    if dip:
        return Evaluation(
            Answer.RESTART, "The heat fell before the time was up: start again from zero.", held_minutes, dip
        )
    ends = (unseen[0], unseen[-1])
    return Evaluation(Answer.CANNOT_TELL, "The log ends before the time is up.", held_minutes, ends)


Run = list[Reading]


def _span(run: Run) -> timedelta:
    return run[-1].at - run[0].at


def _runs(readings: Sequence[Reading], required: float, longest_gap: timedelta | None) -> list[Run]:
    """Unbroken stretches at or above what is required; a gap longer than `longest_gap` breaks one too."""
    runs: list[Run] = []
    before: Reading | None = None
    for reading in readings:
        if reading.value >= required:
            follows = before is not None and before.value >= required
            if follows and before is not None and (longest_gap is None or reading.at - before.at <= longest_gap):
                runs[-1].append(reading)
            else:
                runs.append([reading])
        before = reading
    return runs


def _dip(readings: Sequence[Reading], required: float) -> tuple[Reading, Reading] | None:
    """The last fall below what is required: the reading before it and the one that shows it."""
    falls = [pair for pair in pairwise(readings) if pair[0].value >= required > pair[1].value]
    return falls[-1] if falls else None
