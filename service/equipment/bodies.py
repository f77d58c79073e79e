"""What is sent and answered about equipment and opening hours."""

import re
from collections.abc import Iterable, Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, WithJsonSchema

from service.core.refusals import Refused
from service.core.scheduling import hours
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.slots import MOST_LANES
from service.published.bodies import PublishedSource
from service.published.rows import KitchenFigure
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Flag, Id, Name, Text, Whole

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
WEEKDAYS: tuple[Weekday, ...] = get_args(Weekday)
A_CANNER = "2c5b1d6e-1f0a-4d57-9a3e-8b6a4f0c7d31"

A_FIGURE: dict[str, Any] = {
    "name": "vent_minutes",
    "says": "Steam flowing from a pressure canner before its vent is closed.",
    "minutes": 10,
    "usual_minutes": 10,
    "least": 10,
    "most": 30,
    "source": {
        "title": "Using and Caring for Your Pressure Canner (PNW 421)",
        "publisher": "Pacific Northwest Extension (Washington, Oregon, Idaho)",
        "url": "https://extension.oregonstate.edu/",
        "evidence": "read",
    },
}

_CLOCK = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])|(24):(00)", re.ASCII)


def _read_clock(value: object) -> int:
    found = _CLOCK.fullmatch(value) if isinstance(value, str) else None
    if found is None:
        raise ValueError("A time of day is written like 08:00; 24:00 is midnight at its end.")
    hour, minute = (int(part) for part in found.groups() if part is not None)
    return hour * 60 + minute


def _write_clock(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


Clock = Annotated[
    int,
    BeforeValidator(_read_clock),
    WithJsonSchema({"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$|^24:00$", "examples": ["08:00"]}),
]
"""A time of the local day, in minutes inside."""

Capacity = Annotated[
    dict[Annotated[Text, Field(max_length=40)], Annotated[Whole, Field(ge=1, le=200)]], Field(max_length=20)
]
"""Jars of each size that one load of a canner holds."""


class NewEquipment(Body):
    """A piece of equipment to enter. A canner has a kind and a capacity; a rack has places for jars."""

    model_config = example(
        kind="canner",
        name="Blue kettle",
        canner_kind="boiling-water",
        capacity={"half-pint": 12, "pint": 9, "quart": 7},
    )

    kind: EquipmentKind
    name: Annotated[Name, Field(max_length=100)]
    canner_kind: CannerKind | None = None
    capacity: Capacity | None = None
    places: Annotated[Whole, Field(ge=1, le=MOST_LANES)] = 1
    "jar places of a rack"
    needs_burner: Flag = False
    "whether a canner booked alone takes a burner of the kitchen along"
    in_service: Flag = True


class EquipmentChange(Body):
    """What to change about a piece of equipment; what isn't sent stays."""

    model_config = example(in_service=False)

    name: Annotated[Name, Field(max_length=100)] | None = None
    capacity: Capacity | None = None
    needs_burner: Flag | None = None
    in_service: Flag | None = None


class EquipmentAnswer(Answer):
    """A piece of equipment."""

    model_config = example(
        id=A_CANNER,
        kind="canner",
        name="Blue kettle",
        canner_kind="boiling-water",
        capacity={"half-pint": 12, "pint": 9, "quart": 7},
        places=1,
        needs_burner=False,
        in_service=True,
    )

    id: Id
    kind: EquipmentKind
    name: str
    canner_kind: CannerKind | None
    capacity: dict[str, int] | None
    places: int
    needs_burner: bool
    in_service: bool


class EquipmentList(Listed[EquipmentAnswer]):
    """A page of equipment, in the order it was entered."""

    model_config = example(items=[], next_cursor=None)


class OpeningSent(Body):
    """One opening of one weekday, by the kitchen's own clock."""

    model_config = example(weekday="saturday", opens="08:00", closes="20:00")

    weekday: Weekday
    opens: Clock
    closes: Clock


class OpeningHoursSent(Body):
    """The whole week; a day that isn't named is closed. Bookings already made stay: a closure displaces them."""

    model_config = example(openings=[{"weekday": "saturday", "opens": "08:00", "closes": "20:00"}])

    openings: Annotated[tuple[OpeningSent, ...], Field(max_length=50)]

    def week(self) -> hours.Week | Refused:
        """Put the hours in order, if they make sense."""
        return hours.week(
            hours.Opening(WEEKDAYS.index(each.weekday), each.opens, each.closes) for each in self.openings
        )


class OpeningAnswer(Answer):
    """One opening of one weekday, by the kitchen's own clock."""

    model_config = example(weekday="saturday", opens="08:00", closes="20:00")

    weekday: Weekday
    opens: str
    closes: str


class OpeningHoursAnswer(Answer):
    """When the kitchen is open, week by week."""

    model_config = example(
        time_zone="America/Denver", openings=[{"weekday": "saturday", "opens": "08:00", "closes": "20:00"}]
    )

    time_zone: str
    openings: tuple[OpeningAnswer, ...]

    @classmethod
    def of(cls, time_zone: str, week: hours.Week) -> "OpeningHoursAnswer":
        """Write minutes of the day as people do."""
        return cls(
            time_zone=time_zone,
            openings=tuple(
                OpeningAnswer(
                    weekday=WEEKDAYS[opening.weekday],
                    opens=_write_clock(opening.opens_minute),
                    closes=_write_clock(opening.closes_minute),
                )
                for opening in week
            ),
        )


class KitchenFiguresSent(Body):
    """What takes another time in this kitchen, in minutes; what isn't sent takes the usual time.

    The minutes of a process aren't among them: they are published, and nobody sets them.
    """

    model_config = example(minutes={"prep_minutes": 45, "cleaning_minutes": 15})

    minutes: Annotated[
        dict[Annotated[Text, Field(max_length=40)], Annotated[Whole, Field(ge=0, le=1440)]], Field(max_length=40)
    ]


class KitchenFigureAnswer(Answer):
    """How long one step takes here and usually, how far a kitchen may set it, and where that comes from."""

    model_config = example(**A_FIGURE)

    name: str
    says: str
    minutes: int
    usual_minutes: int
    least: int
    most: int
    source: PublishedSource


class KitchenFiguresAnswer(Answer):
    """How long the steps of a batch take, beside the published process itself."""

    model_config = example(figures=[A_FIGURE])

    figures: tuple[KitchenFigureAnswer, ...]

    @classmethod
    def of(cls, published: Iterable[KitchenFigure], own: Mapping[str, int]) -> "KitchenFiguresAnswer":
        """Show each published figure with the kitchen's own in its place."""
        return cls(
            figures=tuple(
                KitchenFigureAnswer(
                    name=each.figure.name,
                    says=each.figure.says,
                    minutes=own.get(each.figure.name, each.figure.minutes),
                    usual_minutes=each.figure.minutes,
                    least=each.figure.least,
                    most=each.figure.most,
                    source=PublishedSource.of(each.source),
                )
                for each in published
            )
        )
