"""What is sent and answered about lots, sharing them and calling them back."""

from collections.abc import Sequence
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from service.core.jars import clocks
from service.core.jars.movements import ENDS, State
from service.core.jars.recalls import TO_ACCOUNT_FOR, Outcome
from service.core.jars.sharing import Shared
from service.pantry.bodies import A_CAUTION, A_LOT, A_MEMBER, Caution, Jars, JarSize
from service.pantry.lots import store
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Amount, Id, Text, Timestamp

A_HOLDER: dict[str, Any] = {
    "member_id": A_MEMBER,
    "name": "Ada",
    "jar_size": "half-pint",
    "state": "shelf",
    "count": 7,
    "location": None,
}
A_GIFT: dict[str, Any] = {
    "member_id": A_MEMBER,
    "recipient": "a neighbour, 14 Mill Lane",
    "jar_size": "half-pint",
    "count": 1,
    "given_at": "2027-08-20T09:00:00Z",
}
A_RECALL: dict[str, Any] = {
    "status": "open",
    "to_account_for": 6,
    "returned": 1,
    "destroyed": 0,
    "eaten": 1,
    "to_tell": [{"member_id": A_MEMBER, "name": "Ada", "to_account_for": 6, "gifts": [A_GIFT]}],
}
A_WHOLE_LOT: dict[str, Any] = {
    "lot_code": A_LOT,
    "title": "Plum jam",
    "family": "jam",
    "product": "jam-or-jelly-with-pectin",
    "made_on": "2027-08-14",
    "best_by": "2028-08-14",
    "recalled_at": None,
    "recall_reason": None,
    "filled": 8,
    "left": 7,
    "holders": [A_HOLDER, A_HOLDER | {"state": "used", "count": 1}],
    "gifts": [],
    "recall": None,
    "cautions": [A_CAUTION],
}

KeptState = Literal["shelf", "refrigerator", "freezer"]


class LotHolder(Answer):
    """Jars of a lot that one member has, or used or discarded."""

    model_config = example(**A_HOLDER)

    member_id: Id
    name: str
    jar_size: str
    state: State
    count: int
    location: str | None

    @classmethod
    def of(cls, holder: store.Holder) -> "LotHolder":
        """Show them."""
        return cls.as_kept(
            member_id=holder.member_id,
            name=holder.name,
            jar_size=holder.jar_size,
            state=holder.state,
            count=holder.jars,
            location=holder.location,
        )


class LotGift(Answer):
    """Jars of a lot that a member gave to somebody outside the kitchen."""

    model_config = example(**A_GIFT)

    member_id: Id
    "the giver"
    recipient: str
    jar_size: str
    count: int
    given_at: Timestamp

    @classmethod
    def of(cls, gift: store.Gift) -> "LotGift":
        """Show a gift."""
        return cls(
            member_id=gift.giver_id,
            recipient=gift.recipient,
            jar_size=gift.jar_size,
            count=gift.jars,
            given_at=gift.given_at,
        )


class RecallContact(Answer):
    """A member who has or had jars of a lot that is called back: whom to tell, and whom they have to tell."""

    model_config = example(**A_RECALL["to_tell"][0])

    member_id: Id
    name: str
    to_account_for: int
    gifts: tuple[LotGift, ...]


class RecallAnswer(Answer):
    """How far a recall has got: open until every jar that was called back is accounted for."""

    model_config = example(**A_RECALL)

    status: Literal["open", "closed"]
    to_account_for: int
    returned: int
    destroyed: int
    eaten: int
    to_tell: tuple[RecallContact, ...]

    @classmethod
    def of(cls, seen: store.Seen) -> "RecallAnswer":
        """Add up what became of the jars."""
        left = _to_account_for(seen.holders)
        names = {each.member_id: each.name for each in seen.holders}
        return cls(
            status="open" if left else "closed",
            to_account_for=left,
            returned=seen.accounted[State.RETURNED],
            destroyed=seen.accounted[State.DISCARDED],
            eaten=seen.accounted[State.USED],
            to_tell=tuple(
                RecallContact(
                    member_id=member_id,
                    name=name,
                    to_account_for=_to_account_for([each for each in seen.holders if each.member_id == member_id]),
                    gifts=tuple(LotGift.of(each) for each in seen.gifts if each.giver_id == member_id),
                )
                for member_id, name in names.items()
            ),
        )


def _to_account_for(holders: Sequence[store.Holder]) -> int:
    return sum(each.jars for each in holders if each.state in TO_ACCOUNT_FOR)


class LotAnswer(Answer):
    """A lot with every holder, as far as the caller may see them; all counts together are the jars ever filled."""

    model_config = example(**A_WHOLE_LOT)

    lot_code: str
    title: str
    family: str | None
    product: str | None
    made_on: date
    best_by: date
    recalled_at: Timestamp | None
    recall_reason: str | None
    filled: int
    left: int
    "jars that aren't eaten, given to outsiders, brought back or discarded"
    holders: tuple[LotHolder, ...]
    gifts: tuple[LotGift, ...]
    recall: RecallAnswer | None
    cautions: tuple[Caution, ...]

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
            filled=sum(each.jars for each in seen.holders),
            left=sum(each.jars for each in seen.holders if each.state not in ENDS),
            holders=tuple(LotHolder.of(each) for each in seen.holders if each.jars),
            gifts=tuple(LotGift.of(each) for each in seen.gifts),
            recall=RecallAnswer.of(seen) if lot.recalled_at else None,
            cautions=tuple(Caution.of(rule) for rule in clocks.cautions(lot.family)),
        )


class NewRecall(Body):
    """Why a lot is called back."""

    model_config = example(reason="Seals let go in two jars of this lot.")

    reason: Annotated[Text, Field(min_length=1, max_length=1000)]


class NewOutcome(Body):
    """What became of called-back jars; a coordinator may say it for a member."""

    model_config = example(outcome="returned", jar_size="half-pint", count=2)

    outcome: Outcome
    jar_size: JarSize
    count: Jars
    member_id: Id | None = None


class RecallItem(Answer):
    """A lot that was called back."""

    model_config = example(
        lot_code=A_LOT,
        title="Plum jam",
        recalled_at="2027-11-02T08:00:00Z",
        recall_reason="Seals let go in two jars of this lot.",
        status="open",
        to_account_for=6,
    )

    lot_code: str
    title: str
    recalled_at: Timestamp
    recall_reason: str
    status: Literal["open", "closed"]
    to_account_for: int

    @classmethod
    def of(cls, recalled: store.Recalled) -> "RecallItem":
        """Put the rows together."""
        row, left = recalled.lot, recalled.to_account_for
        assert row.recalled_at is not None
        assert row.recall_reason is not None
        return cls(
            lot_code=row.code,
            title=row.title,
            recalled_at=row.recalled_at,
            recall_reason=row.recall_reason,
            status="open" if left else "closed",
            to_account_for=left,
        )


class RecallList(Listed[RecallItem]):
    """A page of recalls, the last first."""

    model_config = example(items=[], next_cursor=None)


class SharedJars(Body):
    """So many jars of one size."""

    model_config = example(size="half-pint", count=8)

    size: JarSize
    count: Jars


JarList = Annotated[tuple[SharedJars, ...], Field(min_length=1, max_length=20)]


class NewShare(Body):
    """What one member gets: jars, or a part of all jars that are shared."""

    model_config = example(member_id=A_MEMBER, part=2.5)

    member_id: Id
    jars: JarList | None = None
    part: Annotated[Amount, Field(ge=0, le=1_000_000)] | None = None
    "hours worked or pounds brought; only its ratio to the other parts counts"


class NewShares(Body):
    """How jars of a lot are shared. By work or produce all jars are dealt in proportion to the parts."""

    model_config = example(
        by="work",
        jars=[{"size": "half-pint", "count": 8}],
        shares=[{"member_id": A_MEMBER, "part": 2.5}, {"member_id": "5a3f7c58-7a0d-4b7e-8a9c-0d6f2b9c4e21", "part": 1}],
    )

    by: Literal["jars", "work", "produce"]
    shares: Annotated[tuple[NewShare, ...], Field(min_length=1, max_length=100)]
    jars: JarList | None = None
    "all jars that are shared; only by work or produce"
    from_state: KeptState = "shelf"
    from_member_id: Id | None = None
    "whose jars they are; only a coordinator may share another's"


class SharedOut(Answer):
    """What one member got."""

    member_id: Id
    jars: dict[str, int]


class SharesAnswer(Answer):
    """Who got which jars, in the order of the shares.

    Of each size everyone gets the whole jars of their exact share; the rest goes to the largest remainders, of equal
    ones to whoever is furthest behind in volume, then to the one named first. Larger jars are dealt first.
    """

    model_config = example(
        lot_code=A_LOT,
        by="work",
        shares=[
            {"member_id": A_MEMBER, "jars": {"half-pint": 6}},
            {"member_id": "5a3f7c58-7a0d-4b7e-8a9c-0d6f2b9c4e21", "jars": {"half-pint": 2}},
        ],
    )

    lot_code: str
    by: str
    shares: tuple[SharedOut, ...]

    @classmethod
    def of(cls, lot_code: str, new: NewShares, shared: Shared) -> "SharesAnswer":
        """Say who got what."""
        return cls(
            lot_code=lot_code,
            by=new.by,
            shares=tuple(
                SharedOut(member_id=each.member_id, jars=dict(deal))
                for each, deal in zip(new.shares, shared.deals, strict=True)
            ),
        )
