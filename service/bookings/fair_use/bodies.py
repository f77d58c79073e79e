"""What is sent and answered about fair use."""

from datetime import date
from typing import Annotated, Any

from pydantic import Field

from service.core.scheduling import fair_use
from service.core.scheduling.fair_use import USUAL_OFFER_MINUTES
from service.web.bodies import Answer, Body, example
from service.web.types import Day, Name, Whole

TOMATO_WEEKS = {
    "name": "Tomato weeks",
    "first_on": "2027-08-15",
    "last_on": "2027-09-30",
    "days_ahead": 14,
    "open_bookings": 2,
    "canner_minutes_a_week": 300,
}
LIMITS = {
    "days_ahead": 60,
    "open_bookings": 5,
    "canner_minutes_a_week": 720,
    "offer_minutes": 120,
    "seasons": [TOMATO_WEEKS],
}

DaysAhead = Annotated[Whole, Field(ge=0, le=731)] | None
OpenBookings = Annotated[Whole, Field(ge=0, le=1000)] | None
CannerMinutes = Annotated[Whole, Field(ge=0, le=100_000)] | None


class SeasonSent(Body):
    """Days with limits of their own; one that isn't sent is that of the whole year."""

    model_config = example(**TOMATO_WEEKS)

    name: Annotated[Name, Field(max_length=100)]
    first_on: Day
    last_on: Day
    "the last day of the season, which still counts"
    days_ahead: DaysAhead = None
    open_bookings: OpenBookings = None
    canner_minutes_a_week: CannerMinutes = None


class FairUseSent(Body):
    """The most each member may take; what isn't sent has no limit."""

    model_config = example(**LIMITS)

    days_ahead: DaysAhead = None
    "a booking begins at most so many days of the kitchen's calendar after today"
    open_bookings: OpenBookings = None
    "confirmed bookings that aren't over"
    canner_minutes_a_week: CannerMinutes = None
    "minutes of all canners together, Monday to Sunday on the kitchen's own clock"
    offer_minutes: Annotated[Whole, Field(ge=5, le=2880)] = USUAL_OFFER_MINUTES
    "how long freed time is kept for whoever waits for it first"
    seasons: Annotated[tuple[SeasonSent, ...], Field(max_length=20)] = ()

    def rules(self) -> fair_use.FairUse:
        """Put the limits together as they decide."""
        seasons = tuple(fair_use.Season(each.name, each.first_on, each.last_on, _limits(each)) for each in self.seasons)
        return fair_use.FairUse(_limits(self), seasons, self.offer_minutes)


class SeasonAnswer(Answer):
    """Days with limits of their own; one that is null is that of the whole year."""

    model_config = example(**TOMATO_WEEKS)

    name: str
    first_on: date
    last_on: date
    days_ahead: int | None
    open_bookings: int | None
    canner_minutes_a_week: int | None


class FairUseAnswer(Answer):
    """The most each member may take; null is no limit."""

    model_config = example(**LIMITS)

    days_ahead: int | None
    open_bookings: int | None
    canner_minutes_a_week: int | None
    offer_minutes: int
    seasons: tuple[SeasonAnswer, ...]

    @classmethod
    def of(cls, rules: fair_use.FairUse) -> "FairUseAnswer":
        """Write the limits as they are read."""
        seasons = tuple(
            SeasonAnswer(name=each.name, first_on=each.first_on, last_on=each.last_on, **_figures(each.limits))
            for each in rules.seasons
        )
        return cls(**_figures(rules.limits), offer_minutes=rules.offer_minutes, seasons=seasons)


def _limits(sent: SeasonSent | FairUseSent) -> fair_use.Limits:
    return fair_use.Limits(sent.days_ahead, sent.open_bookings, sent.canner_minutes_a_week)


def _figures(limits: fair_use.Limits) -> dict[str, Any]:
    return {
        "days_ahead": limits.days_ahead,
        "open_bookings": limits.open_bookings,
        "canner_minutes_a_week": limits.canner_minutes_a_week,
    }
