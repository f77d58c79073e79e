"""What can go wrong on a batch day, and what becomes of the lot: each broken rule sets it aside until a person decides.

21 CFR 114.89 is the pattern: a lot that deviates is let go only after a full new process, or after a process authority
has judged it in writing; otherwise it is destroyed.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.core.jars.movements import Kind, Movement, Place, State
from service.core.refusals import Refused


class DeviationSeverity(StrEnum):
    """How much stands against the lot, in the words of a verdict."""

    UNSAFE = "unsafe"  # never to the shelf
    UNTESTED = "untested"  # only after a written evaluation, or a reading that clears it
    PAPERWORK = "paperwork"  # a person's word is enough


class BrokenRule(StrEnum):
    """A broken rule of the day."""

    INTERRUPTED = "interrupted"
    PRESSURE_DROPPED = "pressure-dropped"
    HEAT_NOT_SHOWN = "heat-not-shown"
    OUT_TOO_EARLY = "out-too-early"
    VENT_TOO_SHORT = "vent-too-short"
    COOLED_BY_FORCE = "cooled-by-force"
    CANNER_SWAPPED = "canner-swapped"
    CANNER_OVERFILLED = "canner-overfilled"
    PH_ABOVE_LIMIT = "ph-above-limit"
    PH_UNCALIBRATED = "ph-uncalibrated"
    PH_TOO_EARLY = "ph-too-early"
    PH_BY_STRIP = "ph-by-strip"
    PH_OF_THE_LIQUID = "ph-of-the-liquid"
    SOMETHING_ELSE = "something-else"


@dataclass(frozen=True, slots=True)
class About:
    """What a cause means: how severe it is, the published rule it breaks, whether the food was heated too little."""

    severity: DeviationSeverity
    rule: str
    says: str
    under_processed: bool = False


_UNSAFE, _UNTESTED, _PAPERWORK = DeviationSeverity

ABOUT: Mapping[BrokenRule, About] = {
    BrokenRule.INTERRUPTED: About(
        _UNSAFE,
        "boil-break-restart",
        "The heat fell or never came, and the whole time wasn't run again from zero.",
        under_processed=True,
    ),
    BrokenRule.PRESSURE_DROPPED: About(
        _UNSAFE,
        "pressure-drop-restart",
        "The pressure fell or never came, and the whole time wasn't run again from zero.",
        under_processed=True,
    ),
    BrokenRule.HEAT_NOT_SHOWN: About(
        _UNTESTED, "seal-not-safety", "The heat log doesn't show the whole process.", under_processed=True
    ),
    BrokenRule.OUT_TOO_EARLY: About(
        _UNSAFE,
        "process-time-floor",
        "The load was out before venting and the published minutes can have been over.",
        under_processed=True,
    ),
    BrokenRule.VENT_TOO_SHORT: About(
        _UNSAFE,
        "vent-ten-minutes",
        "Steam can't have flowed long enough to drive the air out.",
        under_processed=True,
    ),
    BrokenRule.COOLED_BY_FORCE: About(
        _UNSAFE,
        "natural-depressurise",
        "The canner was cooled or opened before its pressure fell by itself.",
        under_processed=True,
    ),
    BrokenRule.CANNER_SWAPPED: About(_PAPERWORK, "deviation-log", "The load went into a canner that wasn't booked."),
    BrokenRule.CANNER_OVERFILLED: About(
        _UNTESTED,
        "deviation-hold",
        "More jars went into the canner than it is published to hold.",
        under_processed=True,
    ),
    BrokenRule.PH_ABOVE_LIMIT: About(_UNSAFE, "equilibrium-ph-limit", "The finished food reads above pH 4.6."),
    BrokenRule.PH_UNCALIBRATED: About(
        _UNTESTED, "ph-meter-calibration", "The meter wasn't calibrated at pH 4.01 and 7.00 that day."
    ),
    BrokenRule.PH_TOO_EARLY: About(
        _UNTESTED, "ph-wait-for-equilibrium", "The reading was taken within 24 hours of processing."
    ),
    BrokenRule.PH_BY_STRIP: About(_UNTESTED, "ph-meter-above-four", "Above pH 4.0 a paper strip doesn't do."),
    BrokenRule.PH_OF_THE_LIQUID: About(
        _UNTESTED, "ph-wait-for-equilibrium", "The liquid alone says nothing of the solids in it."
    ),
    BrokenRule.SOMETHING_ELSE: About(_UNTESTED, "deviation-hold", "The process was departed from."),
}

CLEARED_BY_A_READING = frozenset(
    {
        BrokenRule.PH_UNCALIBRATED,
        BrokenRule.PH_TOO_EARLY,
        BrokenRule.PH_BY_STRIP,
        BrokenRule.PH_OF_THE_LIQUID,
    }
)


@dataclass(frozen=True, slots=True)
class Deviation:
    """A broken rule as it stands against a load, or against the whole pot where no load is named."""

    cause: BrokenRule
    load: int | None
    out_at: datetime | None  # of that load: its clocks run from there

    @property
    def about(self) -> About:
        return ABOUT[self.cause]


class HoldOutcome(StrEnum):
    """What a trainer or coordinator decides about jars on hold."""

    RELEASE = "release"
    REPROCESS = "reprocess"
    DESTROY = "destroy"


@dataclass(frozen=True, slots=True)
class Wish:
    """What a person wants done with the jars on hold."""

    decision: HoldOutcome
    to_state: State = State.SHELF  # only with release
    evaluated: bool = False  # a process authority has judged the lot in writing


@dataclass(frozen=True, slots=True)
class Held:
    """A lot as far as a decision needs it: what stands against it, and its jars on hold by where they came from."""

    open: tuple[Deviation, ...]
    jars: Mapping[Place, Mapping[State, int]]
    cleared: bool = False  # a good pH reading was taken since
    recalled: bool = False


def decide(held: Held, wish: Wish, now: datetime) -> list[Movement] | Refused:
    """The movements that a decision means, or why it can't be taken.

    A release brings each jar back to where it was; to the cold it may also bring what wasn't heated enough, while that
    is still in time. Reprocessing moves nothing yet: it lets a new load take the jars.
    """
    if held.recalled:
        return Refused("recalled", "The lot was recalled: its jars may only be discarded.")
    if not any(count for origin in held.jars.values() for count in origin.values()):
        return Refused("not-now", "No counted jar of this lot is on hold.")
    if wish.decision is HoldOutcome.DESTROY:
        return [
            Movement(Kind.DISCARD, sum(origin.values()), place, _in(place, State.DISCARDED))
            for place, origin in held.jars.items()
            if sum(origin.values())
        ]
    if wish.decision is HoldOutcome.REPROCESS:
        return _may_go_in_again(held.open, now) or []
    refused = _may_be_let_go(held, wish, now)
    if refused:
        return refused
    return [
        Movement(Kind.RELEASE, count, place, _in(place, came_from if wish.to_state is State.SHELF else wish.to_state))
        for place, origin in held.jars.items()
        for came_from, count in origin.items()
        if count
    ]


def _may_go_in_again(open_ones: Iterable[Deviation], now: datetime) -> Refused | None:
    heated_too_little = [each for each in open_ones if each.about.under_processed and each.out_at]
    if not heated_too_little or any(_beyond_heat(each) for each in open_ones):
        return Refused("not-possible", "A second process mends only what wasn't heated enough.")
    return _too_late(heated_too_little, now)


def _may_be_let_go(held: Held, wish: Wish, now: datetime) -> Refused | None:
    against = [each for each in held.open if each.about.severity is not DeviationSeverity.PAPERWORK]
    doubts = [
        each
        for each in against
        if each.about.severity is DeviationSeverity.UNTESTED
        and not wish.evaluated
        and not (held.cleared and each.cause in CLEARED_BY_A_READING)
    ]
    unsafe = [each for each in against if each.about.severity is DeviationSeverity.UNSAFE]
    if wish.to_state is not State.SHELF and all(each.about.under_processed for each in (*unsafe, *doubts)):
        return _too_late([*unsafe, *doubts], now)
    if unsafe:
        return Refused(
            "held-unsafe",
            "A published rule against illness was broken: these jars never go back to the shelf.",
            {"causes": [each.cause.value for each in unsafe]},
        )
    if doubts:
        return Refused(
            "not-now",
            "Nothing shows that this lot is safe: a process authority's written evaluation or a good reading would.",
            {"causes": [each.cause.value for each in doubts]},
        )
    return None


def _beyond_heat(each: Deviation) -> bool:
    return each.about.severity is DeviationSeverity.UNSAFE and not each.about.under_processed


def _too_late(against: Iterable[Deviation], now: datetime) -> Refused | None:
    ends = [decided_by(each.out_at) for each in against if each.out_at]
    if ends and now > min(ends):
        return Refused("too-late", "They stood too long: they can only be destroyed.", {"not_after": min(ends)})
    return None


def origins(ledger: Iterable[Movement]) -> dict[Place, dict[State, int]]:
    """Jars on hold by the state each place got them from. Which one left isn't known, so the sealed ones left first."""
    found: dict[Place, dict[State, int]] = {}
    gone: dict[Place, int] = {}
    for movement in ledger:
        if movement.target.state is State.HOLD and movement.source != movement.target:
            # What a seal check put on hold had sealed.
            counted = movement.kind in (Kind.FILL, Kind.SEAL_CHECK) or movement.source is None
            came_from = State.SHELF if counted or movement.source is None else movement.source.state
            origin = found.setdefault(movement.target, {})
            origin[came_from] = origin.get(came_from, 0) + movement.jars
        if movement.source is not None and movement.source.state is State.HOLD and movement.source != movement.target:
            gone[movement.source] = gone.get(movement.source, 0) + movement.jars
    for place, count in gone.items():
        origin = found.get(place, {})
        for state in sorted(origin, key=lambda state: state is not State.SHELF):
            taken = min(count, origin[state])
            origin[state] -= taken
            count -= taken
    return found


def _in(place: Place, state: State) -> Place:
    return Place(place.lot_id, place.jar_size, place.holder_id, state)


# The clocks

# Saving home-canned food when jars do not seal, University of Nebraska-Lincoln Extension: 24 hours where only the seal
# failed, 2 where the process itself was wrong. USDA and Utah State University Extension know 24 for both: between the
# two a person decides, and past the later one nobody.
UNSEALED_HOURS = 24
UNDER_PROCESSED_HOURS = 2
LATEST_HOURS = 24


def unsealed_by(out_at: datetime) -> datetime:
    """Until when jars that didn't seal may go in again with new lids."""
    return out_at + timedelta(hours=UNSEALED_HOURS)


def under_processed_by(out_at: datetime) -> datetime:
    """Until when whoever runs the batch may put jars in again that weren't heated enough."""
    return out_at + timedelta(hours=UNDER_PROCESSED_HOURS)


def decided_by(out_at: datetime) -> datetime:
    """Until when a trainer or coordinator may still have them processed again or kept cold."""
    return out_at + timedelta(hours=LATEST_HOURS)
