"""What a heat log shows: whether the heat held without a break for the published minutes."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from itertools import pairwise

from service.core.jars.batches import Load, Process
from service.core.measures.altitude import air_pressure_pa, boiling_f, to_celsius
from service.core.refusals import Refused

PASTEURIZATION_F = 180.0  # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 6: water never below it
# A barometer lower than any weather makes it would excuse water that doesn't boil. Common practice, no source.
LOWEST_SHARE_OF_STANDARD_AIR = 0.92

# A dip between two readings further apart than this would go unseen. Common practice, no source: a full pot of
# boiling water changes slowly enough to be looked at every five minutes; steam and pressure follow the flame at once,
# and water kept below boiling has no boil to be seen by.
LONGEST_GAP = timedelta(minutes=2)
LONGEST_GAP_IN_BOILING_WATER = timedelta(minutes=5)
FEWEST_READINGS = 3  # two show the ends of a process and nothing of it. Common practice, no source.

MOST_PSI_HIGH = 2.0  # Iowa State University Extension, "Time to test pressure canner dial gauges" (2024): then replace
GAUGE_TEST_DAYS = 366  # a dial gauge is tested every year: University of Georgia, NCHFP, "Dial gauge testing"


Span = tuple[datetime, datetime]


class HeatAnswer(StrEnum):
    HELD = "held"
    RESTART = "restart"  # the heat fell, or never came: the whole process again, from zero
    CANNOT_TELL = "cannot-tell"  # the log leaves time unseen in which the heat may have fallen


@dataclass(frozen=True, slots=True)
class Reading:
    at: datetime
    value: float  # in the unit of what is required: degrees F or C, or psi by the gauge


Run = list[Reading]


@dataclass(frozen=True, slots=True)
class Instrument:
    """What a thermometer or gauge was found to be: how much it reads high, its smallest step, the day of its test."""

    reads_high: float = 0.0
    step: float = 0.0
    tested_on: date | None = None


@dataclass(frozen=True, slots=True)
class Requirement:
    """What readings must reach: the heat or pressure itself, and what the instrument's error and rounding add to it."""

    unit: str
    heat: float
    minutes: int
    longest_gap: timedelta
    reads_high: float = 0.0
    step: float = 0.0
    trusted: bool = True  # a gauge that is too far off, or wasn't tested for a year, shows nothing

    @property
    def reading(self) -> float:
        """What the instrument has to show."""
        return self.heat + self.reads_high + self.step / 2

    def reached(self, reading: Reading) -> bool:
        """Whether the heat was there even if the reading was rounded up."""
        return self.trusted and reading.value >= self.reading

    def missed(self, reading: Reading) -> bool:
        """Whether the heat wasn't there even if the reading was rounded down."""
        return self.trusted and reading.value < self.reading - self.step


@dataclass(frozen=True, slots=True)
class Evaluation:
    """The answer, why, and the readings that decided; minutes counted from the load's going in where it is known.

    `still_needed_minutes` is what has to follow the last reading without a break: all of it after a dip.
    """

    answer: HeatAnswer
    says: str
    held_minutes: float
    still_needed_minutes: float
    deciding: tuple[Reading, ...]
    come_up_minutes: float | None = None
    vented_minutes_at_most: float | None = None


def requirement(
    process: Process,
    unit: str,
    altitude_ft: int,
    barometer_hpa: float | None,
    instrument: Instrument,
    on_day: date,
) -> Requirement | Refused:
    """What the readings must reach, in their unit: boiling water's heat here, or the published pressure.

    A pressure process is checked by the pressure it was published with, never by a temperature worked out from it.
    """
    if (process.pressure_psi is not None) != (unit == "psi"):
        return Refused("not-possible", "A pressure process is read in psi, any other in degrees.")
    trusted = True
    if process.pressure_psi is not None:
        heat = float(process.pressure_psi)
        tested_on = instrument.tested_on
        old = tested_on is not None and (on_day - tested_on).days > GAUGE_TEST_DAYS
        trusted = instrument.reads_high <= MOST_PSI_HIGH and not (process.method == "pressure-dial" and old)
    else:
        standard_hpa = air_pressure_pa(altitude_ft) / 100
        if barometer_hpa is not None and barometer_hpa < LOWEST_SHARE_OF_STANDARD_AIR * standard_hpa:
            return Refused("not-possible", "The air is never that thin at the kitchen's altitude.")
        pasteurized = process.method == "low-temperature-pasteurization"
        heat_f = PASTEURIZATION_F if pasteurized else boiling_f(altitude_ft, barometer_hpa)
        heat = heat_f if unit == "F" else to_celsius(heat_f)
    gap = LONGEST_GAP_IN_BOILING_WATER if process.method == "boiling-water" else LONGEST_GAP
    return Requirement(unit, heat, process.minutes, gap, instrument.reads_high, instrument.step, trusted)


def judge(
    readings: Sequence[Reading], load: Load, needed: Requirement, now: datetime, vented: Span | None = None
) -> Evaluation | Refused:
    """What the readings taken while the load was in its canner show, and how long steam can have flowed before.

    `vented` is from when to when somebody saw steam flow; a gauge that rises sooner shows that it can't have been.
    """
    if any(at > now for at in (*(reading.at for reading in readings), *(vented or ()))):
        return Refused("not-at-that-time", "A reading can't lie ahead.")
    if vented is not None and not load.in_at <= vented[0] <= vented[1]:
        return Refused("not-possible", "Steam flows after the load is in, and begins before it ends.")
    until = load.out_at or now
    within = in_order([reading for reading in readings if load.in_at <= reading.at <= until])
    evaluation = evaluate(within, needed)
    if load.out_at is not None and evaluation.answer is not HeatAnswer.HELD:
        evaluation = replace(evaluation, still_needed_minutes=float(needed.minutes))
    come_up = next((reading for reading in within if needed.reached(reading)), None)
    pressed = next((reading for reading in within if reading.value > 0), None) if needed.unit == "psi" else None
    venting = [pressed.at - load.in_at] if pressed else []
    venting += [vented[1] - vented[0]] if vented else []
    return replace(
        evaluation,
        come_up_minutes=_minutes(come_up.at - load.in_at) if come_up else None,
        vented_minutes_at_most=_minutes(min(venting)) if venting else None,
    )


def in_order(readings: Sequence[Reading]) -> list[Reading]:
    """Readings in the order of time, whatever order or offset they were written in; of two at once, the colder."""
    coldest: dict[datetime, Reading] = {}
    for reading in readings:
        kept = coldest.get(reading.at)
        if kept is None or reading.value < kept.value:
            coldest[reading.at] = reading
    return [coldest[at] for at in sorted(coldest)]


def evaluate(readings: Sequence[Reading], needed: Requirement) -> Evaluation:
    """Look for one unbroken run of readings at or above what is required, as long as the published minutes.

    The readings are in order. A source for the restart: North Carolina State University specialists, "What to do if the
    canning process is interrupted" (2004): any interruption means the full time again.
    """
    minutes = float(needed.minutes)
    if not readings:
        says = "No reading lies within the time in the canner."
        return Evaluation(HeatAnswer.CANNOT_TELL, says, 0.0, minutes, ())
    seen = _runs(readings, needed, seen=True)
    longest = max(seen, key=_span, default=[])
    held_minutes = _span(longest)
    if held_minutes >= minutes and len(longest) >= FEWEST_READINGS:
        ends = (longest[0], longest[-1])
        return Evaluation(HeatAnswer.HELD, "The heat held for the whole process.", held_minutes, 0.0, ends)
    running = seen[-1] if seen and seen[-1][-1] is readings[-1] else []
    still = max(0.0, minutes - _span(running))
    possible = max(_runs(readings, needed, seen=False), key=_span, default=[])
    if not needed.trusted or (possible and _span(possible) >= minutes):
        says, deciding = _doubt(possible, needed)
        return Evaluation(HeatAnswer.CANNOT_TELL, says, held_minutes, still, deciding)
    dips = [pair for pair in pairwise(readings) if not needed.missed(pair[0]) and needed.missed(pair[1])]
    if dips:
        says = "The heat fell before the time was up: start again from zero."
        return Evaluation(HeatAnswer.RESTART, says, held_minutes, still, dips[-1])
    if not possible:
        hottest = max(readings, key=lambda reading: reading.value)
        says = "The required heat was never reached."
        return Evaluation(HeatAnswer.RESTART, says, held_minutes, still, (hottest,))
    says = "The log ends before the time is up."
    return Evaluation(HeatAnswer.CANNOT_TELL, says, held_minutes, still, (possible[0], possible[-1]))


def _minutes(span: timedelta) -> float:
    return span / timedelta(minutes=1)


def _span(run: Run) -> float:
    return _minutes(run[-1].at - run[0].at) if run else 0.0


def _runs(readings: Sequence[Reading], needed: Requirement, *, seen: bool) -> list[Run]:
    """Stretches in which the heat was there: `seen` to be, or else only never seen to be missing."""
    runs: list[Run] = []
    before: Reading | None = None
    for reading in readings:
        there = needed.reached(reading) if seen else not needed.missed(reading)
        if not there:
            before = None
            continue
        if before is not None and (not seen or reading.at - before.at <= needed.longest_gap):
            runs[-1].append(reading)
        else:
            runs.append([reading])
        before = reading
    return runs


def _doubt(run: Run, needed: Requirement) -> tuple[str, tuple[Reading, ...]]:
    """What keeps a run that was never seen to break from being trusted: the gauge, a doubtful reading, or a gap."""
    if not needed.trusted:
        return "A gauge that reads this high, or wasn't tested within a year, shows nothing for certain.", tuple(
            run[:1]
        )
    doubtful = next((reading for reading in run if not needed.reached(reading)), None)
    if doubtful is not None:
        return "A reading is within the instrument's rounding of what is required.", (doubtful,)
    gap = max(pairwise(run), key=lambda pair: pair[1].at - pair[0].at)
    if gap[1].at - gap[0].at > needed.longest_gap:
        return "A gap in the log may hide a dip.", gap
    return "There are too few readings.", (run[0], run[-1])
