"""A batch on its day: started, loads into canners, out again, and every lid looked at."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

from service.core.jars.movements import SealCheck
from service.core.measures.jars import held
from service.core.refusals import Refused

MOST_DAYS_BACK = 7
REST_HOURS = (12, 24)  # Cooling jars: Michigan State University Extension, from USDA AIB 539
VENT_MINUTES = 10  # Using and Caring for Your Pressure Canner, PNW 421
PH_LIMIT = 4.6  # 21 CFR 114.80
STRIP_PH_LIMIT = 4.0  # 21 CFR 114.80: above it, paper strips don't do

# Which canner a process method runs in. A method that isn't here needs no canner.
SUITS: Mapping[str, str] = {
    "boiling-water": "boiling-water",
    "low-temperature-pasteurization": "boiling-water",
    "atmospheric-steam": "atmospheric-steam",
    "pressure-dial": "pressure-dial",
    "pressure-weighted": "pressure-weighted",
}


@dataclass(frozen=True, slots=True)
class Process:
    """A published process for one jar size at the kitchen's altitude, looked up and never computed."""

    method: str
    minutes: int
    pressure_psi: int | None
    headspace_in: float | None

    @property
    def vent_minutes(self) -> int:
        return VENT_MINUTES if self.pressure_psi is not None else 0


@dataclass(frozen=True, slots=True)
class Canner:
    id: UUID
    kind: str
    capacity: Mapping[str, int]  # jar size: jars in one load

    def holds(self, jar_size: str) -> int | None:
        """Jars of this size in one load."""
        return held(self.capacity, jar_size)


@dataclass(frozen=True, slots=True)
class Load:
    """What goes into a canner at once: jars of one size."""

    number: int
    jar_size: str
    count: int
    canner_id: UUID
    process: Process
    in_at: datetime
    out_at: datetime | None = None
    heat: str | None = None  # what its last heat log said
    seals: SealCheck | None = None

    @property
    def out_too_early(self) -> bool:
        """Whether it was out before venting and the published minutes can have been over."""
        needed = timedelta(minutes=self.process.vent_minutes + self.process.minutes)
        return self.out_at is not None and self.out_at - self.in_at < needed

    @property
    def doubtful(self) -> bool:
        """Whether its jars wait for a person: too short, or a heat log that doesn't show the whole process."""
        return self.out_too_early or self.heat in ("restart", "cannot-tell")


@dataclass(frozen=True, slots=True)
class Batch:
    started_at: datetime
    canners: tuple[Canner, ...]  # the booked ones
    processes: Mapping[tuple[str, str], Process]  # (jar size, canner kind): the process that holds for it
    loads: tuple[Load, ...] = ()

    @property
    def done(self) -> bool:
        return bool(self.loads) and all(load.seals for load in self.loads)


def moment(at: datetime | None, now: datetime, after: datetime | None = None) -> datetime | Refused:
    """When an act happened: now unless it says otherwise, not ahead, not long ago, not before what it follows."""
    if at is None:
        at = now
    if at > now:
        return Refused("not-at-that-time", "What is recorded must have happened.")
    if at < now - timedelta(days=MOST_DAYS_BACK):
        return Refused("not-at-that-time", f"What is recorded happened within the last {MOST_DAYS_BACK} days.")
    if after is not None and at < after:
        return Refused(
            "not-at-that-time", "This can't have happened before what it follows.", extra={"not_before": after}
        )
    return at


def load_in(
    batch: Batch, jar_size: str, count: int, canner_id: UUID, at: datetime | None, now: datetime
) -> Load | Refused:
    """Put jars of one size into a booked canner."""
    canner = next((canner for canner in batch.canners if canner.id == canner_id), None)
    if canner is None:
        return Refused("not-possible", "This canner isn't one that the batch's booking holds.")
    if all(size != jar_size for size, _ in batch.processes):
        return Refused("not-possible", "The recipe and its booking have no jars of this size.")
    process = batch.processes.get((jar_size, canner.kind))
    if process is None:
        return Refused("does-not-fit", "No published process for this recipe and jar runs in this canner.")
    most = canner.holds(jar_size)
    if most is None or count > most:
        return Refused(
            "does-not-fit", "One load of this canner holds fewer jars of this size.", extra={"most": most or 0}
        )
    in_at = moment(at, now, batch.started_at)
    if isinstance(in_at, Refused):
        return in_at
    for load in batch.loads:
        if load.canner_id == canner_id and (load.out_at is None or in_at < load.out_at):
            return Refused("not-now", "The load before is still in this canner then.", extra={"load": load.number})
    return Load(len(batch.loads) + 1, jar_size, count, canner_id, process, in_at)


def take_out(load: Load, at: datetime | None, now: datetime) -> Load | Refused:
    """Lift a load out. Too early is recorded as it was, and its jars will wait for a person."""
    if load.out_at is not None:
        return Refused("already-done", "This load is out already.")
    out_at = moment(at, now, load.in_at)
    return out_at if isinstance(out_at, Refused) else replace(load, out_at=out_at)


def check_seals(load: Load, seals: SealCheck, at: datetime | None, now: datetime) -> Load | Refused:
    """Count the sealed, unsealed and broken jars of a rested load; together they are the load."""
    if load.seals is not None:
        return Refused("already-done", "The seals of this load were checked already.")
    if load.out_at is None:
        return Refused("not-now", "This load is still in its canner.")
    if seals.total != load.count:
        return Refused(
            "not-possible", "Sealed, unsealed and broken jars must add up to the load.", extra={"jars": load.count}
        )
    checked_at = moment(at, now, load.out_at)
    if isinstance(checked_at, Refused):
        return checked_at
    rested_at = load.out_at + timedelta(hours=REST_HOURS[0])
    if checked_at < rested_at:
        return Refused(
            "too-early",
            f"Jars rest {REST_HOURS[0]} hours before their seals are checked.",
            extra={"not_before": rested_at},
        )
    return replace(load, seals=seals)


def ph_holds_the_lot(ph: float, methods: set[str]) -> bool:
    """Whether this reading sets the lot aside: a food that rests on its acidity must be at the limit or below."""
    return ph > PH_LIMIT and any(not method.startswith("pressure-") for method in methods)


def ph_notes(ph: float, instrument: str, buffers: tuple[float, ...]) -> tuple[str, ...]:
    """What the record still lacks: a meter where strips don't do, and its calibration.

    Two fresh buffers around the food, 4.01 and 7.00: Oregon State University Extension.
    """
    if instrument != "meter":
        lacking = ph > STRIP_PH_LIMIT
        return (
            (f"Above pH {STRIP_PH_LIMIT} a strip doesn't do: read again with a calibrated meter.",) if lacking else ()
        )
    calibrated = bool(buffers) and min(buffers) <= 4.01 and max(buffers) >= 7.0
    return () if calibrated else ("Calibrate the meter at pH 4.01 and 7.00 on the day, then read again.",)


def load_plan(
    processes: Mapping[tuple[str, str], Process], canners: tuple[Canner, ...], jars: Mapping[str, int]
) -> list[tuple[Canner, str, int]]:
    """The fewest loads for these jars, one size at a time, in the booked canner that holds most of that size."""
    plan: list[tuple[Canner, str, int]] = []
    for jar_size, count in jars.items():
        fitting = [canner for canner in canners if (jar_size, canner.kind) in processes and canner.holds(jar_size)]
        if not fitting:
            continue
        canner = max(fitting, key=lambda canner: canner.holds(jar_size) or 0)
        most = canner.holds(jar_size) or count
        plan += [(canner, jar_size, min(most, count - done)) for done in range(0, count, most)]
    return plan
