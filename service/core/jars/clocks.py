"""Which jars are best eaten first: each state has its own clock, and the shortest published time counts."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from service.core.jars.movements import State


class Clock(StrEnum):
    """What runs for a jar."""

    BEST_BY = "best-by"
    REFRIGERATED = "refrigerated"
    OPENED = "opened"


# Families that are acid by what they are made of. All others get the cautions for low-acid food: pie filling may hold
# meat, and the published way to dispose of a suspect jar is for low-acid and tomato jars alike.
ACID_FAMILIES = frozenset(
    {
        "jam",
        "jelly",
        "preserve",
        "marmalade",
        "fruit-butter",
        "conserve",
        "fruit",
        "juice",
        "pickle",
        "relish",
        "chutney",
        "ferment",
    }
)
SPREADS = frozenset({"jam", "jelly", "preserve", "marmalade", "fruit-butter", "conserve"})
SPREAD_DAYS = 21  # opened: 3 to 4 weeks where it is low in sugar, which a lot doesn't say
OTHER_DAYS = 3  # opened: 3 to 5 days; refrigerated without a seal: 3 to 4

# The published statement behind each clock.
STATEMENTS: Mapping[Clock, str] = {
    Clock.BEST_BY: "best-by-date",
    Clock.REFRIGERATED: "own-mixture-default",
    Clock.OPENED: "opened-refrigerate",
}
CLOCKS: Mapping[State, Clock] = {
    State.SHELF: Clock.BEST_BY,
    State.FREEZER: Clock.BEST_BY,
    State.REFRIGERATOR: Clock.REFRIGERATED,
    State.OPENED: Clock.OPENED,
}
SIGNS = "discard-signs"
LOW_ACID_CAUTIONS = ("altitude-detox-boil", "spoiled-low-acid-sealed", "spoiled-low-acid-open")


RUNNING = (State.REFRIGERATOR, State.OPENED, State.HOLD)  # time that has passed here isn't given back elsewhere


@dataclass(frozen=True, slots=True)
class EatBy:
    clock: Clock
    eat_by: date


def since(source: State, source_since_at: datetime | None, at: datetime) -> datetime:
    """From when the clock of jars counts that are moved at `at` out of a state they came to at `source_since_at`."""
    return source_since_at if source in RUNNING and source_since_at is not None else at


def eat_by(state: State, family: str | None, best_by: date, since_on: date) -> EatBy | None:
    """Until when jars in a state are at their best, `since_on` the day they came to it; None for what isn't eaten.

    A sealed jar in the refrigerator can't be told from one that didn't seal, so the shorter time counts for both.
    """
    clock = CLOCKS.get(state)
    if clock is None:
        return None
    if clock is Clock.BEST_BY:
        return EatBy(clock, best_by)
    days = SPREAD_DAYS if family in SPREADS else OTHER_DAYS
    return EatBy(clock, min(best_by, since_on + timedelta(days=days)))


def cautions(family: str | None) -> tuple[str, ...]:
    """The published statements to show beside a jar: the signs of spoiling, and for low-acid food what they mean."""
    return (SIGNS,) if family in ACID_FAMILIES else (SIGNS, *LOW_ACID_CAUTIONS)
