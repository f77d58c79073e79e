"""Waiting for time to be freed: who is ahead, how long an offer lasts, and what may still be done with it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from service.core.refusals import Refused
from service.core.scheduling.equipment import CannerKind, EquipmentKind

MOST_AT_ONCE = 5  # so that nobody waits for everything


class State(StrEnum):
    """Where somebody stands who waits; only an offered time is held for them."""

    WAITING = "waiting"
    OFFERED = "offered"
    BOOKED = "booked"
    LEFT = "left"
    LAPSED = "lapsed"


OPEN = (State.WAITING, State.OFFERED)


@dataclass(frozen=True, slots=True)
class Want:
    """What somebody waits for, within which time."""

    kind: EquipmentKind | None  # None: all that a batch takes
    canner_kind: CannerKind | None
    not_before: datetime
    not_after: datetime

    def rivals(self, other: "Want") -> bool:
        """Whether one freed time could suit both."""
        kinds = {self.canner_kind, other.canner_kind}
        alike = None in (self.kind, other.kind) or (self.kind is other.kind and (len(kinds) == 1 or None in kinds))
        return alike and self.not_before < other.not_after and other.not_before < self.not_after


def misplaced(kind: EquipmentKind | None, canner_kind: CannerKind | None, waits_for: int) -> Refused | None:
    """Why a member who waits for so many things can't wait for this too."""
    if canner_kind is not None and kind is not EquipmentKind.CANNER:
        return Refused("not-possible", "Only a canner has a kind.")
    if waits_for >= MOST_AT_ONCE:
        return Refused("not-now", f"A member waits for at most {MOST_AT_ONCE} things at once.")
    return None


def offered_until(now: datetime, minutes: int, starts_at: datetime) -> datetime:
    """When an offer lapses: after the kitchen's time to answer, and no later than the time that is offered begins."""
    return min(now + timedelta(minutes=minutes), starts_at)


def unanswerable(state: State) -> Refused | None:
    """Why there is no offer to accept or decline, if there is none."""
    if state is State.OFFERED:
        return None
    if state is State.BOOKED:
        return Refused("already-done", "The offer was accepted before.")
    if state is State.LAPSED:
        return Refused("not-now", "The offer wasn't answered in time, or the time that was waited for is over.")
    return Refused("not-now", "Nothing is offered at the moment.")


def unleavable(state: State) -> Refused | None:
    """Why nobody waits here any more, if so."""
    return None if state in OPEN else Refused("not-now", "Nobody waits here any more.")
