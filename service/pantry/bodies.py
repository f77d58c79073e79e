"""What is sent and answered about jars."""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import Field

from service.core.jars import clocks
from service.core.jars.clocks import Clock, EatBy
from service.core.jars.movements import Kind, Proof, State
from service.core.jars.years import Column, Row
from service.pantry import store
from service.published.bodies import PublishedSource
from service.published.loading import facts
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Flag, Id, Text, Timestamp, Whole

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
A_CAUTION: dict[str, Any] = {
    "rule": "discard-signs",
    "says": "Bulging or loose lid, leak, mould, off colour or smell: discard untasted.",
    "source": {
        "title": "Identifying and handling spoiled canned food",
        "publisher": "National Center for Home Food Preservation",
        "url": None,
        "evidence": "read",
    },
}
A_CLOCK = A_CAUTION | {"rule": "best-by-date", "says": "Best-by date defaults to 12 months after processing."}
A_YEAR = {"put_up": 48, "received": 6, "eaten": 20, "given": 10, "lost": 2}
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
        recipient=None,
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
    "who has them now, or had them last"
    recipient: str | None
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
            recipient=row.recipient,
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
        """Show them."""
        return cls.as_kept(
            lot_code=shelved.lot_code,
            title=shelved.title,
            family=shelved.family,
            product=shelved.product,
            jar_size=shelved.jar_size,
            count=shelved.jars,
            state=shelved.state,
            made_on=shelved.made_on,
            best_by=shelved.best_by,
            location=shelved.location,
        )


class PantryList(Listed[PantryItem]):
    """A page of a pantry, in the order asked for."""

    model_config = example(items=[AN_ITEM], next_cursor=None)


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


class Caution(Answer):
    """A published statement to show beside a jar."""

    model_config = example(**A_CAUTION)

    rule: str
    says: str
    source: PublishedSource

    @classmethod
    def of(cls, rule: str) -> "Caution":
        """Look a statement up."""
        statement = facts().statement[rule]
        return cls(rule=rule, says=statement.says, source=PublishedSource.of(statement.source))


class EatFirstItem(PantryItem):
    """Jars with the day until which they are at their best, and what says so."""

    model_config = example(**AN_ITEM, eat_by="2028-08-14", clock="best-by", since="2027-08-15", past=False)

    eat_by: date
    clock: Clock
    "best-by for sealed and frozen jars; opened and refrigerated ones have shorter clocks of their own"
    since: date
    "the day from which the clock runs; where jars came one after another, the first one's"
    past: Flag

    @classmethod
    def by(cls, shelved: store.Shelved, until: EatBy, since: date, today: date) -> "EatFirstItem":
        """Put the rows together with what runs for them."""
        item = PantryItem.of(shelved)
        past = until.eat_by < today
        return cls(**dict(item), eat_by=until.eat_by, clock=until.clock, since=since, past=past)


class EatFirst(Answer):
    """What is best eaten first at the top, with the statements behind each clock and the cautions for these jars."""

    model_config = example(
        items=[{**AN_ITEM, "eat_by": "2028-08-14", "clock": "best-by", "since": "2027-08-15", "past": False}],
        clocks={"best-by": A_CLOCK},
        cautions=[A_CAUTION],
    )

    items: tuple[EatFirstItem, ...]
    clocks: dict[str, Caution]
    cautions: tuple[Caution, ...]

    @classmethod
    def of(cls, items: Sequence[EatFirstItem]) -> "EatFirst":
        """Put the published statements beside the jars."""
        running = dict.fromkeys(item.clock for item in items)
        rules = dict.fromkeys(rule for item in items for rule in clocks.cautions(item.family))
        return cls(
            items=tuple(items),
            clocks={clock: Caution.of(clocks.STATEMENTS[clock]) for clock in running},
            cautions=tuple(Caution.of(rule) for rule in rules),
        )


class YearRow(Answer):
    """Jars of a year."""

    model_config = example(**A_YEAR)

    put_up: int
    received: int
    eaten: int
    given: int
    lost: int
    "broken, thrown away, or brought back because they were called back"


class YearGroup(YearRow):
    """Jars of a year, of one family and size."""

    model_config = example(family="jam", jar_size="half-pint", **A_YEAR)

    family: str | None
    jar_size: str


class PantryYear(YearRow):
    """What became of a member's jars in one year of the kitchen's calendar."""

    model_config = example(year=2027, **A_YEAR, groups=[{"family": "jam", "jar_size": "half-pint", **A_YEAR}])

    year: int
    groups: tuple[YearGroup, ...]

    @classmethod
    def of(cls, year: int, rows: Sequence[Row]) -> "PantryYear":
        """Add the groups up."""
        whole = sum((row.jars for row in rows), Counter[Column]())
        return cls(
            year=year,
            **{column.value: whole[column] for column in Column},
            groups=tuple(
                YearGroup(
                    family=row.family, jar_size=row.jar_size, **{column.value: row.jars[column] for column in Column}
                )
                for row in rows
            ),
        )


class MonthOfPantry(YearRow):
    """Jars of a month; 1 is January."""

    model_config = example(month=8, **A_YEAR)

    month: int


class PantryMonths(Answer):
    """What became of a member's jars in each month of a year of the kitchen's calendar."""

    model_config = example(year=2027, months=[{"month": 8, **A_YEAR}])

    year: int
    months: tuple[MonthOfPantry, ...]

    @classmethod
    def of(cls, year: int, months: Sequence[Sequence[Row]]) -> "PantryMonths":
        """Add each month up."""
        sums = [sum((row.jars for row in rows), Counter[Column]()) for rows in months]
        return cls(
            year=year,
            months=tuple(
                MonthOfPantry(month=number, **{column.value: jars[column] for column in Column})
                for number, jars in enumerate(sums, start=1)
            ),
        )


class WrongPlace(Answer):
    """A balance that isn't what its movements add up to."""

    lot_id: Id
    jar_size: str
    member_id: Id
    state: State


class LedgerProof(Answer):
    """Whether every balance is the sum of its movements, and every jar ever filled is somewhere."""

    model_config = example(holds=True, filled=96, held=80, ended=16, wrong=[])

    holds: Flag
    filled: int
    held: int
    "somebody's to look after"
    ended: int
    "used, given to outsiders, brought back or discarded"
    wrong: tuple[WrongPlace, ...]

    @classmethod
    def of(cls, proof: Proof) -> "LedgerProof":
        """Show a proof."""
        return cls(
            holds=proof.holds,
            filled=proof.filled,
            held=proof.held,
            ended=proof.ended,
            wrong=tuple(
                WrongPlace(lot_id=each.lot_id, jar_size=each.jar_size, member_id=each.holder_id, state=each.state)
                for each in proof.wrong
            ),
        )
