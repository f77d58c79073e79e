"""What is answered about the use of canners."""

from collections.abc import Mapping
from datetime import date

from service.core.scheduling.uses import HourOfWeek
from service.equipment.bodies import WEEKDAYS, Weekday
from service.web.bodies import Answer, example

AN_HOUR = {"weekday": "saturday", "hour": 9, "booked_minutes": 480, "open_minutes": 960}


class CannerHour(Answer):
    """One hour of the week, all its days and all canners together."""

    model_config = example(**AN_HOUR)

    weekday: Weekday
    hour: int
    booked_minutes: int
    open_minutes: int
    "minutes in which the kitchen was open, for each canner there is now"


class CannerUse(Answer):
    """How much canners were booked, by weekday and hour of the kitchen's clock; only hours that are ever open."""

    model_config = example(**{"from_on": "2027-06-01", "to_on": "2027-08-31", "canners": 6, "hours": [AN_HOUR]})

    from_on: date
    to_on: date
    canners: int
    hours: tuple[CannerHour, ...]

    @classmethod
    def of(
        cls,
        from_on: date,
        to_on: date,
        canners: int,
        booked: Mapping[HourOfWeek, int],
        opened: Mapping[HourOfWeek, int],
    ) -> "CannerUse":
        """Put the minutes side by side, through the week."""
        return cls(
            from_on=from_on,
            to_on=to_on,
            canners=canners,
            hours=tuple(
                CannerHour(
                    weekday=WEEKDAYS[weekday],
                    hour=hour,
                    booked_minutes=booked.get((weekday, hour), 0),
                    open_minutes=canners * opened.get((weekday, hour), 0),
                )
                for weekday, hour in sorted({*booked, *opened})
            ),
        )
