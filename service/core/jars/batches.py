"""A batch on its day: started, loads into canners, out again, and every lid looked at."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from uuid import UUID

from service.core.jars import deviations
from service.core.jars.deviations import BrokenRule, Deviation
from service.core.jars.movements import SealCheck
from service.core.measures.jars import held
from service.core.refusals import Refused

MOST_DAYS_BACK = 7
REST_HOURS = (12, 24)  # Cooling jars: Michigan State University Extension, from USDA AIB 539
VENT_MINUTES = 10  # Using and Caring for Your Pressure Canner, PNW 421

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
    vent_minutes: int = 0  # that steam flows before a pressure canner is closed


def vented(pressure_psi: int | None, vent_minutes: int | None) -> int:
    """The minutes that steam flows: as stated, else the usual ones under pressure."""
    usual = VENT_MINUTES if pressure_psi is not None else 0
    return usual if vent_minutes is None else vent_minutes


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
    vented_minutes_at_most: float | None = None  # as far as that log, or whoever watched, can tell
    seals: SealCheck | None = None
    again: int | None = None  # the load whose jars went in once more

    @property
    def earliest_out_at(self) -> datetime:
        """When venting and the published minutes can be over, had both begun as the jars went in: never before."""
        return self.in_at + timedelta(minutes=self.process.vent_minutes + self.process.minutes)

    @property
    def out_too_early(self) -> bool:
        """Whether it was out before venting and the published minutes can have been over."""
        return self.out_at is not None and self.out_at < self.earliest_out_at

    @property
    def broken_rules(self) -> tuple[BrokenRule, ...]:
        """What its record shows to be wrong once it is out: in the canner it can still be put right."""
        found = []
        if self.out_too_early:
            found.append(BrokenRule.OUT_TOO_EARLY)
        if self.heat == "restart":
            pressed = self.process.pressure_psi is not None
            found.append(BrokenRule.PRESSURE_DROPPED if pressed else BrokenRule.INTERRUPTED)
        if self.heat == "cannot-tell":
            found.append(BrokenRule.HEAT_NOT_SHOWN)
        at_most = self.vented_minutes_at_most
        if at_most is not None and at_most < self.process.vent_minutes:
            found.append(BrokenRule.VENT_TOO_SHORT)
        return tuple(found) if self.out_at else ()


@dataclass(frozen=True, slots=True)
class Batch:
    started_at: datetime
    canners: tuple[Canner, ...]  # the booked ones
    other_canners: tuple[Canner, ...]  # the kitchen's
    processes: Mapping[tuple[str, str], Process]  # (jar size, canner kind): the process that holds for it
    loads: tuple[Load, ...] = ()
    deviations: tuple[Deviation, ...] = ()  # the open ones


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


@dataclass(frozen=True, slots=True)
class Loaded:
    """A load that went in, and the rules that its going in broke."""

    load: Load
    broken_rules: tuple[BrokenRule, ...] = ()


def load_in(
    batch: Batch,
    jar_size: str,
    count: int,
    canner_id: UUID,
    at: datetime | None,
    now: datetime,
    *,
    as_it_was: bool = False,
) -> Loaded | Refused:
    """Put jars of one size into a booked canner.

    What went in otherwise is refused, unless it is to be recorded `as_it_was`: then the lot waits for a person.
    """
    booked = next((canner for canner in batch.canners if canner.id == canner_id), None)
    other = next((canner for canner in batch.other_canners if canner.id == canner_id), None) if as_it_was else None
    canner = booked or other
    if canner is None:
        return Refused("not-possible", "This canner isn't one that the batch's booking holds.")
    if all(size != jar_size for size, _ in batch.processes):
        return Refused("not-possible", "The recipe and its booking have no jars of this size.")
    process = batch.processes.get((jar_size, canner.kind))
    if process is None:
        return Refused("does-not-fit", "No published process for this recipe and jar runs in this canner.")
    broken = [] if booked else [BrokenRule.CANNER_SWAPPED]
    most = canner.holds(jar_size)
    if most is None or (count > most and not as_it_was):
        return Refused(
            "does-not-fit", "One load of this canner holds fewer jars of this size.", extra={"most": most or 0}
        )
    if count > most:
        broken.append(BrokenRule.CANNER_OVERFILLED)
    in_at = moment(at, now, batch.started_at)
    if isinstance(in_at, Refused):
        return in_at
    for load in batch.loads:
        if load.canner_id == canner_id and (load.out_at is None or in_at < load.out_at):
            return Refused("not-now", "The load before is still in this canner then.", extra={"load": load.number})
    return Loaded(Load(len(batch.loads) + 1, jar_size, count, canner_id, process, in_at), tuple(broken))


class Opened(StrEnum):
    """Which jars of an earlier load go in again: all of a load whose seals weren't checked yet, what a person
    decided about on hold, or what didn't seal.
    """

    RESTING = "resting"
    HELD = "held"
    UNSEALED = "unsealed"


def again(batch: Batch, load: Load, number: int, discarded: int, on_hold: int, *, decided: bool) -> Opened | Refused:
    """Which jars of load `number` this new load takes, opened and closed with new lids, if there is still time.

    `on_hold` is how many held jars of that size the member has; `decided` whether a trainer or coordinator wants them
    processed again. `discarded` jars of the earlier load come to nothing now.
    """
    before = next((each for each in batch.loads if each.number == number), None)
    if before is None or before.out_at is None or load.in_at < before.out_at:
        return Refused("not-now", "That load isn't out of its canner then.")
    if before.jar_size != load.jar_size:
        return Refused("not-possible", "Jars go in again in the size they were filled in.")
    heated_too_little = any(each.about.under_processed and each.load == number for each in batch.deviations)
    if not heated_too_little:
        if before.seals is None:
            return Refused("not-now", "Nothing says that this load has to go in again.")
        if discarded:
            return Refused("not-possible", "Jars that didn't seal are discarded from the pantry.")
        return _in_time(load.in_at, deviations.unsealed_by(before.out_at)) or Opened.UNSEALED
    by = deviations.decided_by(before.out_at) if decided else deviations.under_processed_by(before.out_at)
    late = _in_time(load.in_at, by)
    if late:
        return late
    if before.seals and not decided:
        return Refused("not-now", "A trainer or coordinator decides about jars on hold.")
    jars = min(before.count - before.seals.broken, on_hold) if before.seals else before.count
    if load.count + discarded != jars:
        return Refused("not-possible", "All jars of that load go in again or are discarded.", extra={"jars": jars})
    return Opened.HELD if before.seals else Opened.RESTING


def _in_time(at: datetime, by: datetime) -> Refused | None:
    return (
        Refused("too-late", "They stood too long: they can only be discarded.", {"not_after": by}) if at > by else None
    )


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


def unsealed_note(by: str, *, twice: bool) -> str:
    """What to do with jars that didn't seal; `by` is the moment by which they may go in again."""
    again = f", or process again with new lids by {by}" if twice else ""
    return f"did not seal: eat within days, freeze{again}"


def processed_at(loads: Sequence[Load]) -> datetime | None:
    """When the last load came out; None while one is in, or before the first."""
    outs = [load.out_at for load in loads]
    return max((at for at in outs if at), default=None) if None not in outs else None


UNTIL_OUT = frozenset({BrokenRule.INTERRUPTED, BrokenRule.PRESSURE_DROPPED, BrokenRule.VENT_TOO_SHORT})


def report(cause: BrokenRule, load: Load | None) -> BrokenRule | Refused:
    """A rule somebody says was broken. What can still be put right in the canner stands once the load is out."""
    if deviations.ABOUT[cause].under_processed and load is None:
        return Refused("not-possible", "Say which load it was.")
    if load is not None and load.out_at is None and cause in UNTIL_OUT:
        return Refused("not-now", "The load is still in: put it right and run the whole time again, from zero.")
    return cause


def put_cold(load: Load, cold: int, discarded: int, at: datetime | None, now: datetime) -> datetime | Refused:
    """When a load that wasn't heated enough went into the cold instead, before its seals were checked; all of it."""
    if load.seals is not None:
        return Refused("already-done", "The seals of this load were checked already.")
    if load.out_at is None:
        return Refused("not-now", "This load is still in its canner.")
    if cold + discarded != load.count:
        return Refused("not-possible", "Every jar of the load goes somewhere.", extra={"jars": load.count})
    put_at = moment(at, now, load.out_at)
    if isinstance(put_at, Refused):
        return put_at
    late = _in_time(put_at, deviations.under_processed_by(load.out_at)) if cold else None
    return late or put_at


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
