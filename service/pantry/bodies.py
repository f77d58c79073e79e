"""What is sent and answered about jars."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from service.core.jars.movements import Kind, State
from service.pantry import store
from service.web.bodies import Answer, Body, example
from service.web.types import Id, Text, Timestamp, Whole

A_LOT = "270814-01-P"
A_MEMBER = "0f9c2c1e-5f0b-4a2e-9b57-3d7f6f1f2a10"
AN_ITEM: dict[str, Any] = {
    "lot_code": A_LOT,
    "title": "Plum jam",
    "family": "jam",
    "product": "jam-or-jelly-with-pectin",
    "jar_size": "half-pint",
    "count": 7,
    "state": "shelf",
    "made_on": "2027-08-14",
    "best_by": "2028-08-14",
    "location": "left shelf",
}
A_HOLDER: dict[str, Any] = {
    "member_id": A_MEMBER,
    "name": "Ada",
    "jar_size": "half-pint",
    "state": "shelf",
    "count": 7,
    "location": None,
}
Act = Literal["give", "use", "open", "discard", "chill", "freeze", "relocate"]
HeldState = Literal["shelf", "refrigerator", "freezer", "opened", "hold", "recalled"]
Jars = Annotated[Whole, Field(ge=1, le=10_000)]
JarSize = Annotated[Text, Field(min_length=1, max_length=40)]
LotCode = Annotated[Text, Field(min_length=1, max_length=40)]
Recipient = Annotated[Text, Field(min_length=1, max_length=200)]
Location = Annotated[Text, Field(min_length=1, max_length=200)]


class NewMovement(Body):
    """What to do with jars of one lot."""

    model_config = example(
        kind="give",
        lot_code=A_LOT,
        jar_size="half-pint",
        count=2,
        from_state="shelf",
        to_member_id=A_MEMBER,
    )

    kind: Act
    lot_code: LotCode
    jar_size: JarSize
    count: Jars
    from_state: HeldState = "shelf"
    "the state the jars are in now"
    to_member_id: Id | None = None
    "who gets them; only with `give`"
    recipient: Recipient | None = None
    "who outside the kitchen gets them, in place of a member: whom to ask if the lot is called back"
    location: Location | None = None
    "a note on where they stand: one for all jars of this lot, size and state; needed with `relocate`"


class MovementAnswer(Answer):
    """A movement as it stands in the ledger."""

    model_config = example(
        id="c1f7c7e2-74f0-4b8f-8a52-4a9d1a0f5f11",
        kind="give",
        lot_code=A_LOT,
        jar_size="half-pint",
        count=2,
        from_state="shelf",
        to_state="shelf",
        to_member_id=A_MEMBER,
        location=None,
        moved_at="2027-08-20T09:00:00Z",
    )

    id: Id
    kind: Kind
    lot_code: str
    jar_size: str
    count: int
    from_state: State | None
    to_state: State
    to_member_id: Id
    "who has them now"
    location: str | None
    moved_at: Timestamp

    @classmethod
    def of(cls, written: store.Written) -> "MovementAnswer":
        """Put the rows together."""
        row = written.movement
        return cls(
            id=row.id,
            kind=row.kind,
            lot_code=written.lot.code,
            jar_size=row.jar_size,
            count=row.jars,
            from_state=row.source_state,
            to_state=row.target_state,
            to_member_id=row.target_holder_id,
            location=row.location,
            moved_at=row.moved_at,
        )


class PantryItem(Answer):
    """Jars of one lot, size and state."""

    model_config = example(**AN_ITEM)

    lot_code: str
    title: str
    family: str | None
    product: str | None
    jar_size: str
    count: int
    state: State
    made_on: date
    best_by: date
    location: str | None

    @classmethod
    def of(cls, shelved: store.Shelved) -> "PantryItem":
        """Put the rows together."""
        lot, balance = shelved.lot, shelved.balance
        return cls(
            lot_code=lot.code,
            title=lot.title,
            family=lot.family,
            product=lot.product,
            jar_size=balance.jar_size,
            count=balance.jars,
            state=balance.state,
            made_on=lot.made_on,
            best_by=lot.best_by,
            location=balance.location,
        )


class PantryList(Answer):
    """A page of a pantry, what is best eaten first at the top."""

    model_config = example(items=[AN_ITEM], next_cursor=None)

    items: tuple[PantryItem, ...]
    next_cursor: str | None


class PantryGroup(Answer):
    """Jars of one family, size and state."""

    model_config = example(family="jam", jar_size="half-pint", state="shelf", count=7, first_best_by="2028-08-14")

    family: str | None
    jar_size: str
    state: State
    count: int
    first_best_by: date


class PantrySummary(Answer):
    """What a pantry holds, added up."""

    model_config = example(
        jars=7,
        by_state={"shelf": 7},
        by_family={"jam": 7},
        by_jar_size={"half-pint": 7},
        first_best_by="2028-08-14",
        groups=[
            {"family": "jam", "jar_size": "half-pint", "state": "shelf", "count": 7, "first_best_by": "2028-08-14"}
        ],
    )

    jars: int
    by_state: dict[str, int]
    by_family: dict[str, int]
    by_jar_size: dict[str, int]
    first_best_by: date | None
    groups: tuple[PantryGroup, ...]

    @classmethod
    def of(cls, groups: Sequence[PantryGroup]) -> "PantrySummary":
        """Add the groups up."""
        return cls(
            jars=sum(group.count for group in groups),
            by_state=_added((group.state, group.count) for group in groups),
            by_family=_added((group.family or "other", group.count) for group in groups),
            by_jar_size=_added((group.jar_size, group.count) for group in groups),
            first_best_by=min((group.first_best_by for group in groups), default=None),
            groups=tuple(groups),
        )


def _added(counted: Iterable[tuple[str, int]]) -> dict[str, int]:
    sums: dict[str, int] = {}
    for name, count in counted:
        sums[name] = sums.get(name, 0) + count
    return sums


class LotHolder(Answer):
    """Jars of a lot that one member has, or used or discarded."""

    model_config = example(**A_HOLDER)

    member_id: Id
    name: str
    jar_size: str
    state: State
    count: int
    location: str | None


class LotAnswer(Answer):
    """A lot with every holder, as far as the caller may see them; all counts together are the jars ever filled."""

    model_config = example(
        lot_code=A_LOT,
        title="Plum jam",
        family="jam",
        product="jam-or-jelly-with-pectin",
        made_on="2027-08-14",
        best_by="2028-08-14",
        recalled_at=None,
        recall_reason=None,
        holders=[A_HOLDER],
    )

    lot_code: str
    title: str
    family: str | None
    product: str | None
    made_on: date
    best_by: date
    recalled_at: Timestamp | None
    recall_reason: str | None
    holders: tuple[LotHolder, ...]

    @classmethod
    def of(cls, seen: store.Seen) -> "LotAnswer":
        """Put the rows together, places that jars have left out."""
        lot = seen.lot
        return cls(
            lot_code=lot.code,
            title=lot.title,
            family=lot.family,
            product=lot.product,
            made_on=lot.made_on,
            best_by=lot.best_by,
            recalled_at=lot.recalled_at,
            recall_reason=lot.recall_reason,
            holders=tuple(
                LotHolder(
                    member_id=each.balance.holder_id,
                    name=each.name,
                    jar_size=each.balance.jar_size,
                    state=each.balance.state,
                    count=each.balance.jars,
                    location=each.balance.location,
                )
                for each in seen.holders
                if each.balance.jars
            ),
        )


class NewRecall(Body):
    """Why a lot is called back."""

    model_config = example(reason="Seals let go in two jars of this lot.")

    reason: Annotated[Text, Field(min_length=1, max_length=1000)]
