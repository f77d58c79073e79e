"""What is sent and answered about waiting."""

from typing import Annotated

from pydantic import Discriminator, Field, Tag

from service.bookings.bodies import (
    A_CANNER,
    A_MEMBER,
    A_RECIPE,
    SOME_TIME,
    ClaimAnswer,
    JarsBooked,
    JarsToFill,
    Purpose,
    examples,
    what_is_searched,
)
from service.bookings.waiting import store
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.waiting import State
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Flag, Id, Timestamp, Whole

WANTED = {
    "equipment_kind": "canner",
    "canner_kind": "boiling-water",
    "minutes": 90,
    "not_before": "2027-08-14T14:00:00Z",
    "not_after": "2027-08-16T02:00:00Z",
    "purpose": "Plum jam",
}
AN_OFFER = {"equipment_id": A_CANNER, **SOME_TIME, "claims": [], "offered_until": "2027-08-13T20:00:00Z"}
SOMEBODY_WAITS = {
    "id": "5b0f9a43-58c7-4a0c-8a3e-0c6a7b0f1d2e",
    "member_id": A_MEMBER,
    **WANTED,
    "recipe_id": None,
    "revision": None,
    "jars": [],
    "state": "offered",
    "position": 1,
    "offer": AN_OFFER,
    "booking_id": None,
}


class NewWaiting(Body):
    """What to wait for, and until when."""

    model_config = example(**WANTED)

    equipment_kind: EquipmentKind
    canner_kind: CannerKind | None = None
    minutes: Annotated[Whole, Field(ge=1, le=1440)]
    not_before: Timestamp | None = None
    "now, if none is sent"
    not_after: Timestamp | None = None
    "the latest end; two weeks later, if none is sent"
    purpose: Purpose


class NewBatchWaiting(Body):
    """A batch to wait for, and until when: a time is offered at which all that it takes is free."""

    model_config = example(
        recipe_id=A_RECIPE,
        revision=1,
        jars=[{"size": "half-pint", "count": 8}],
        not_before="2027-08-14T14:00:00Z",
        not_after="2027-08-16T02:00:00Z",
    )

    recipe_id: Id
    revision: Annotated[Whole, Field(ge=1)]
    jars: JarsToFill
    not_before: Timestamp | None = None
    "now, if none is sent"
    not_after: Timestamp | None = None
    "when the last canner is free again at the latest; two weeks later, if none is sent"
    purpose: Purpose | None = None
    "the title of the recipe, if none is sent"
    acknowledged: Flag = False
    "that the check found something about the quality of the food, and it is to be canned all the same"


AnyNewWaiting = Annotated[
    Annotated[NewWaiting, Tag("equipment")] | Annotated[NewBatchWaiting, Tag("batch")],
    Discriminator(what_is_searched),
    Field(examples=examples(NewWaiting, NewBatchWaiting)),
]


class OfferAnswer(Answer):
    """A time that nobody else can book until the offer ends: of a piece of equipment, or a batch's claims."""

    model_config = example(**AN_OFFER)

    equipment_id: Id | None
    starts_at: Timestamp
    ends_at: Timestamp
    claims: tuple[ClaimAnswer, ...]
    offered_until: Timestamp

    @classmethod
    def of(cls, row: store.Waiting) -> "OfferAnswer":
        """Show what is held, and until when."""
        assert row.starts_at
        assert row.ends_at
        assert row.offered_until
        return cls(
            equipment_id=row.equipment_id,
            starts_at=row.starts_at,
            ends_at=row.ends_at,
            claims=tuple(ClaimAnswer.model_validate(claim) for claim in store.claims(row)),
            offered_until=row.offered_until,
        )


class WaitingAnswer(Answer):
    """A place on the waiting list; among those whom the same time could suit, `position` 1 is asked first."""

    model_config = example(**SOMEBODY_WAITS)

    id: Id
    member_id: Id
    equipment_kind: EquipmentKind | None
    canner_kind: CannerKind | None
    minutes: int | None
    recipe_id: Id | None
    revision: int | None
    jars: tuple[JarsBooked, ...]
    not_before: Timestamp
    not_after: Timestamp
    purpose: str
    state: State
    position: int | None
    offer: OfferAnswer | None
    booking_id: Id | None

    @classmethod
    def of(cls, row: store.Waiting, position: int | None) -> "WaitingAnswer":
        """Show a place with its offer, if there is one."""
        return cls(
            id=row.id,
            member_id=row.member_id,
            equipment_kind=row.equipment_kind,
            canner_kind=row.canner_kind,
            minutes=row.minutes,
            recipe_id=row.recipe_id,
            revision=row.revision,
            jars=tuple(JarsBooked(size=size, count=count) for size, count in row.jars.items()),
            not_before=row.not_before,
            not_after=row.not_after,
            purpose=row.purpose,
            state=row.state,
            position=position,
            offer=OfferAnswer.of(row) if row.state is State.OFFERED else None,
            booking_id=row.booking_id,
        )


class WaitingList(Listed[WaitingAnswer]):
    """A page of the waiting list, first come first."""

    model_config = example(items=[SOMEBODY_WAITS], next_cursor=None)
