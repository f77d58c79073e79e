"""What is sent and answered about free time, bookings, outages and closures."""

import re
from collections.abc import Iterable
from datetime import datetime
from typing import Annotated, Any

from pydantic import BeforeValidator, Discriminator, Field, Tag, WithJsonSchema

from service.bookings import store
from service.core.scheduling.bookings import Claim, Status, Step
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.slots import Obstacle
from service.equipment.bodies import EquipmentAnswer
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import FIRST_YEAR, LAST_YEAR, Flag, Id, Text, Timestamp, Whole

A_BOOKING = "b1d9a0c4-6a3e-4f0b-8f55-0c1c2f7a9e10"
A_CANNER = "2c5b1d6e-1f0a-4d57-9a3e-8b6a4f0c7d31"
A_RECIPE = "7a0c2d64-0b7e-4f0e-9c7a-6b1f0f3d2a55"
A_MEMBER = "0f9c2c1e-5f0b-4a2e-9b57-3d7f6f1f2a10"
SOME_TIME = {"starts_at": "2027-08-14T16:00:00Z", "ends_at": "2027-08-14T17:30:00Z"}
A_CLAIM = {"step": "process", "equipment_id": A_CANNER, "unit_fixed": True, **SOME_TIME, "attended": False}
BOOKED = {
    "id": A_BOOKING,
    "member_id": A_MEMBER,
    "status": "confirmed",
    "purpose": "Plum jam",
    "recipe_id": None,
    "revision": None,
    "jars": [{"size": "half-pint", "count": 8}],
    **SOME_TIME,
    "claims": [A_CLAIM],
    "beyond_limits_because": None,
}
LOST = {"booking_id": A_BOOKING, "member_id": A_MEMBER, "member_name": "Ada", **SOME_TIME, "purpose": "Plum jam"}

AN_OUTAGE = {
    "id": "7e9f5f0c-8a41-4a3c-9a55-3e1b7c0d2f66",
    "equipment_id": A_CANNER,
    **SOME_TIME,
    "reason": "The gauge reads high; it goes to be tested.",
}

Reason = Annotated[Text, Field(min_length=1, max_length=500)]
Purpose = Annotated[Text, Field(min_length=1, max_length=500)]
_LOCAL = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}", re.ASCII)


def _read_local(value: object) -> datetime:
    if not isinstance(value, str) or not _LOCAL.fullmatch(value):
        raise ValueError("A local time is written like 2027-12-24T12:00.")
    try:
        local = datetime.fromisoformat(value)
    except ValueError:
        raise ValueError("There is no such time.") from None
    if not FIRST_YEAR <= local.year <= LAST_YEAR:
        raise ValueError(f"A time lies between {FIRST_YEAR} and {LAST_YEAR}.")
    return local


LocalTime = Annotated[
    datetime,
    BeforeValidator(_read_local),
    WithJsonSchema({"type": "string", "examples": ["2027-12-24T12:00"]}),
]
"""What the clock on the kitchen's wall shows."""


class JarsBooked(Body):
    """How many jars of one size."""

    model_config = example(size="half-pint", count=8)

    size: Annotated[Text, Field(min_length=1, max_length=40)]
    count: Annotated[Whole, Field(ge=1, le=10_000)]


def examples(*bodies: type[Body]) -> list[Any]:
    """The example of each body that one route takes."""
    return [each for body in bodies for each in body.model_json_schema()["examples"]]


def jars_by_size(jars: Iterable[JarsBooked]) -> dict[str, int]:
    """Count each size once."""
    found: dict[str, int] = {}
    for each in jars:
        found[each.size] = found.get(each.size, 0) + each.count
    return found


JarsToFill = Annotated[tuple[JarsBooked, ...], Field(min_length=1, max_length=20)]


class SlotSearch(Body):
    """When could I have one of these for so long?"""

    model_config = example(
        equipment_kind="canner",
        canner_kind="boiling-water",
        minutes=60,
        not_before="2027-08-14T14:00:00Z",
        not_after="2027-08-16T02:00:00Z",
        limit=5,
    )

    equipment_kind: EquipmentKind
    canner_kind: CannerKind | None = None
    minutes: Annotated[Whole, Field(ge=1, le=1440)]
    not_before: Timestamp | None = None
    "now, if none is sent"
    not_after: Timestamp | None = None
    "the latest end; two weeks later, if none is sent"
    limit: Annotated[Whole, Field(ge=1, le=100)] = 10


class BatchSlotSearch(Body):
    """When could I make this batch, from preparing the food to jars at rest?"""

    model_config = example(
        recipe_id=A_RECIPE,
        revision=1,
        jars=[{"size": "half-pint", "count": 8}],
        not_before="2027-08-14T14:00:00Z",
        not_after="2027-08-16T02:00:00Z",
        limit=5,
    )

    recipe_id: Id
    revision: Annotated[Whole, Field(ge=1)]
    jars: JarsToFill
    not_before: Timestamp | None = None
    "now, if none is sent"
    not_after: Timestamp | None = None
    "when the last canner is free again at the latest: jars may rest on; two weeks later, if none is sent"
    limit: Annotated[Whole, Field(ge=1, le=100)] = 10


def what_is_searched(sent: object) -> str:
    """Whether it is about a whole batch or one piece of equipment."""
    return "batch" if isinstance(sent, dict) and {"recipe_id", "revision", "jars"} & sent.keys() else "equipment"


AnySlotSearch = Annotated[
    Annotated[SlotSearch, Tag("equipment")] | Annotated[BatchSlotSearch, Tag("batch")],
    Discriminator(what_is_searched),
    Field(examples=examples(SlotSearch, BatchSlotSearch)),
]


class ClaimAnswer(Answer):
    """A piece of equipment for one step. A unit that isn't fixed may change to an identical one until the day."""

    model_config = example(**A_CLAIM)

    step: Step
    equipment_id: Id
    unit_fixed: bool
    starts_at: Timestamp
    ends_at: Timestamp
    attended: bool


class SlotOption(Answer):
    """A time at which everything is free; it can be booked as it stands."""

    model_config = example(**SOME_TIME, claims=[A_CLAIM])

    starts_at: Timestamp
    ends_at: Timestamp
    claims: tuple[ClaimAnswer, ...]


class BlockedBy(Answer):
    """What stands in the way, of one piece or of every piece of a kind, and when nothing does any more."""

    model_config = example(
        equipment_id=A_CANNER, equipment_kind="canner", obstacle="slot-taken", next_free_at="2027-08-16T14:00:00Z"
    )

    equipment_id: Id | None
    equipment_kind: EquipmentKind | None
    obstacle: Obstacle
    next_free_at: Timestamp | None


class SearchCutShort(Answer):
    """How far a search came that took too long: what it didn't find may still be there."""

    model_config = example(looked_until="2027-08-15T16:00:00Z", undecided_starts=12)

    looked_until: Timestamp | None
    "starts from then on weren't looked at; null if all were that were asked for"
    undecided_starts: int
    "starts before that which were given up"


class SlotsFound(Answer):
    """Options, earliest first; or, if there are none, why. A search that was cut short says so, and never "none"."""

    model_config = example(options=[{**SOME_TIME, "claims": [A_CLAIM]}], blocked_by=[])

    options: tuple[SlotOption, ...]
    blocked_by: tuple[BlockedBy, ...]
    cut_short: SearchCutShort | None = Field(None, exclude_if=lambda cut: cut is None)


class NewBooking(Body):
    """A piece of equipment to have for a time, and what for."""

    model_config = example(
        equipment_id=A_CANNER, **SOME_TIME, purpose="Plum jam", jars=[{"size": "half-pint", "count": 8}]
    )

    equipment_id: Id
    starts_at: Timestamp
    ends_at: Timestamp
    purpose: Purpose
    recipe_id: Id | None = None
    revision: Annotated[Whole, Field(ge=1)] | None = None
    jars: Annotated[tuple[JarsBooked, ...], Field(max_length=20)] = ()
    acknowledged: Flag = False
    "that the check found something about the quality of the food, and it is to be canned all the same"
    member_id: Id | None = None
    "for coordinators, who may book for somebody else"
    beyond_limits_because: Reason | None = None
    "for coordinators: why this booking goes past the limits of fair use"


class ClaimSent(Body):
    """A claim as it was offered."""

    model_config = example(**A_CLAIM)

    step: Step
    equipment_id: Id
    unit_fixed: Flag
    starts_at: Timestamp
    ends_at: Timestamp
    attended: Flag

    def claim(self) -> Claim:
        """Hand it to the core, which asks what it would occupy."""
        return Claim(self.step, self.equipment_id, self.unit_fixed, self.starts_at, self.ends_at, self.attended, ())


class NewBatchBooking(Body):
    """A whole batch at a time that was offered for it: all that it claims, or nothing."""

    model_config = example(recipe_id=A_RECIPE, revision=1, jars=[{"size": "half-pint", "count": 8}], claims=[A_CLAIM])

    recipe_id: Id
    revision: Annotated[Whole, Field(ge=1)]
    jars: JarsToFill
    claims: Annotated[tuple[ClaimSent, ...], Field(min_length=1, max_length=500)]
    purpose: Purpose | None = None
    "the title of the recipe, if none is sent"
    acknowledged: Flag = False
    "that the check found something about the quality of the food, and it is to be canned all the same"
    member_id: Id | None = None
    "for coordinators, who may book for somebody else"
    beyond_limits_because: Reason | None = None
    "for coordinators, who may let a booking go past the limits of fair use"


def _what_is_booked(sent: object) -> str:
    return "batch" if isinstance(sent, dict) and "claims" in sent else "equipment"


AnyNewBooking = Annotated[
    Annotated[NewBooking, Tag("equipment")] | Annotated[NewBatchBooking, Tag("batch")],
    Discriminator(_what_is_booked),
    Field(examples=examples(NewBooking, NewBatchBooking)),
]


class BookingAnswer(Answer):
    """A booking and what it claims."""

    model_config = example(**BOOKED)

    id: Id
    member_id: Id
    status: Status
    purpose: str
    recipe_id: Id | None
    revision: int | None
    jars: tuple[JarsBooked, ...]
    starts_at: Timestamp
    ends_at: Timestamp
    claims: tuple[ClaimAnswer, ...]
    beyond_limits_because: str | None

    @classmethod
    def of(cls, kept: store.Kept | store.Listed) -> "BookingAnswer":
        """Put the rows together."""
        row = kept.booking
        return cls.as_kept(
            id=row.id,
            member_id=row.member_id,
            status=row.status,
            purpose=row.purpose,
            recipe_id=row.recipe_id,
            revision=row.revision,
            jars=tuple(JarsBooked(size=size, count=count) for size, count in row.jars.items()),
            starts_at=row.starts_at,
            ends_at=row.ends_at,
            claims=tuple(
                ClaimAnswer.as_kept(
                    step=claim.step,
                    equipment_id=claim.equipment_id,
                    unit_fixed=claim.unit_fixed,
                    starts_at=claim.starts_at,
                    ends_at=claim.ends_at,
                    attended=claim.attended,
                )
                for claim in kept.claims
            ),
            beyond_limits_because=row.beyond_limits_because,
        )


class BookingList(Listed[BookingAnswer]):
    """A page of bookings, earliest first."""

    model_config = example(items=[BOOKED], next_cursor=None)


class DisplacedBooking(Answer):
    """A booking that lost its equipment, and whose it was. Its member was told."""

    model_config = example(**LOST)

    booking_id: Id
    member_id: Id
    member_name: str
    starts_at: Timestamp
    ends_at: Timestamp
    purpose: str

    @classmethod
    def of(cls, each: store.Displaced) -> "DisplacedBooking":
        """Name the booking and its member."""
        row = each.booking
        return cls(
            booking_id=row.id,
            member_id=row.member_id,
            member_name=each.member_name,
            starts_at=row.starts_at,
            ends_at=row.ends_at,
            purpose=row.purpose,
        )


def displaced(found: Iterable[store.Displaced]) -> tuple[DisplacedBooking, ...]:
    """Write the displaced bookings as they are answered."""
    return tuple(DisplacedBooking.of(each) for each in found)


class ChangedEquipment(EquipmentAnswer):
    """A piece of equipment after a change, and the bookings the change displaced."""

    displaced: tuple[DisplacedBooking, ...]

    @classmethod
    def of(cls, row: object, lost: Iterable[store.Displaced]) -> "ChangedEquipment":
        """Put the equipment and the bookings together."""
        equipment = EquipmentAnswer.model_validate(row)
        return cls(**equipment.model_dump(), displaced=displaced(lost))


class NewOutage(Body):
    """A time at which a piece of equipment can't be used."""

    model_config = example(**SOME_TIME, reason="The gauge reads high; it goes to be tested.")

    starts_at: Timestamp
    ends_at: Timestamp
    reason: Reason


class EquipmentOutage(Answer):
    """An outage of a piece of equipment."""

    model_config = example(**AN_OUTAGE)

    id: Id
    equipment_id: Id
    starts_at: Timestamp
    ends_at: Timestamp
    reason: str


class OutageAnswer(EquipmentOutage):
    """An outage, and the bookings it displaced."""

    model_config = example(**AN_OUTAGE, displaced=[LOST])

    displaced: tuple[DisplacedBooking, ...]


class OutageList(Listed[EquipmentOutage]):
    """A page of the outages of one piece of equipment, earliest first."""

    model_config = example(items=[AN_OUTAGE], next_cursor=None)


class NewClosure(Body):
    """A time at which the kitchen is closed: two moments, or two times by the clock on its wall."""

    model_config = example(starts_local="2027-12-24T12:00", ends_local="2027-12-27T00:00", reason="Holidays")

    starts_at: Timestamp | None = None
    ends_at: Timestamp | None = None
    starts_local: LocalTime | None = None
    ends_local: LocalTime | None = None
    reason: Reason


class ClosureAnswer(Answer):
    """A closure."""

    model_config = example(id="4bb5b8a7-62f0-4a86-9b1f-6f5b1c9e8d02", **SOME_TIME, reason="Holidays")

    id: Id
    starts_at: Timestamp
    ends_at: Timestamp
    reason: str


class NewClosureAnswer(ClosureAnswer):
    """A closure, and the bookings it displaced."""

    model_config = example(id="4bb5b8a7-62f0-4a86-9b1f-6f5b1c9e8d02", **SOME_TIME, reason="Holidays", displaced=[LOST])

    displaced: tuple[DisplacedBooking, ...]


class ClosureList(Listed[ClosureAnswer]):
    """A page of closures, earliest first."""

    model_config = example(items=[], next_cursor=None)
