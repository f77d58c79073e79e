"""Jars move between holders and states. A movement is written once; a balance is the sum of movements."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from service.core.refusals import Refused


class JarState(StrEnum):
    """Where a jar is. The last four are where jars end; all others are someone's to look after."""

    BATCH = "batch"  # in a canner once more: its seal isn't checked yet
    SHELF = "shelf"
    REFRIGERATOR = "refrigerator"
    FREEZER = "freezer"
    OPENED = "opened"
    HOLD = "hold"  # set aside until a person decides
    RECALLED = "recalled"
    USED = "used"
    GIVEN = "given"  # to somebody outside the kitchen
    RETURNED = "returned"  # brought back because it was called back
    DISCARDED = "discarded"


class MovementKind(StrEnum):
    """What moved the jars. A member does the first seven, a batch day and the kitchen the rest."""

    GIVE = "give"
    USE = "use"
    OPEN = "open"
    DISCARD = "discard"
    CHILL = "chill"
    FREEZE = "freeze"
    RELOCATE = "relocate"
    FILL = "fill"
    HOLD = "hold"
    RECALL = "recall"
    REPROCESS = "reprocess"
    SEAL_CHECK = "seal-check"  # of jars that went through a canner once more
    RELEASE = "release"
    SHARE = "share"
    RETURN = "return"


# The contract goes by the names of the classes; here the module says whose state and kind they are.
State = JarState
Kind = MovementKind

KEPT = (State.SHELF, State.REFRIGERATOR, State.FREEZER)
EATABLE = (*KEPT, State.OPENED)
HELD = (*EATABLE, State.HOLD, State.RECALLED)
ENDS = (State.USED, State.GIVEN, State.RETURNED, State.DISCARDED)

# From which states a member's act takes jars. No act brings a jar back to the shelf.
TAKES_FROM: Mapping[Kind, tuple[State, ...]] = {
    Kind.GIVE: KEPT,
    Kind.USE: EATABLE,
    Kind.OPEN: KEPT,
    Kind.DISCARD: HELD,
    Kind.CHILL: (State.SHELF, State.FREEZER),
    Kind.FREEZE: (State.SHELF, State.REFRIGERATOR),
    Kind.RELOCATE: HELD,
}
LEADS_TO: Mapping[Kind, State] = {
    Kind.USE: State.USED,
    Kind.OPEN: State.OPENED,
    Kind.DISCARD: State.DISCARDED,
    Kind.CHILL: State.REFRIGERATOR,
    Kind.FREEZE: State.FREEZER,
    Kind.HOLD: State.HOLD,
    Kind.RECALL: State.RECALLED,
}


@dataclass(frozen=True, slots=True)
class Place:
    """One member's jars of one size of one lot, in one state."""

    lot_id: UUID
    jar_size: str
    holder_id: UUID
    state: State


@dataclass(frozen=True, slots=True)
class Movement:
    """Jars out of one place and into another, so none appears or is lost; only a fill comes from no place."""

    kind: Kind
    jars: int
    source: Place | None
    target: Place
    location: str | None = None  # the note on where the target's jars stand; None leaves it
    recipient: str | None = None  # who outside the kitchen has them now


@dataclass(frozen=True, slots=True)
class Wish:
    """What a member wants done with jars of theirs."""

    kind: Kind
    lot_id: UUID
    jar_size: str
    count: int
    from_state: State = State.SHELF
    to_member_id: UUID | None = None
    recipient: str | None = None
    location: str | None = None


@dataclass(frozen=True, slots=True)
class SealCheck:
    sealed: int
    unsealed: int
    broken: int

    @property
    def total(self) -> int:
        return self.sealed + self.unsealed + self.broken


Balances = Mapping[Place, int]


def move(wish: Wish, holder_id: UUID, balances: Balances) -> Movement | Refused:
    """The movement that does what the member wants, or why it can't be done."""
    receivers = [each for each in (wish.to_member_id, wish.recipient) if each is not None]
    if len(receivers) != (wish.kind is Kind.GIVE):
        return Refused("not-possible", "Jars are given to one member or one outsider; nothing else has a receiver.")
    if wish.to_member_id == holder_id:
        return Refused("not-possible", "Jars can't be given to the member who has them.")
    if wish.kind is Kind.RELOCATE and wish.location is None:
        return Refused("not-possible", "Say where the jars stand now.")
    if wish.from_state not in TAKES_FROM[wish.kind]:
        if wish.from_state is State.RECALLED:
            return Refused("recalled", "Recalled jars may only be discarded.")
        return Refused("not-now", f"Jars in the state {wish.from_state} can't be moved that way.")
    source = Place(wish.lot_id, wish.jar_size, holder_id, wish.from_state)
    there = balances.get(source, 0)
    if there < wish.count:
        return Refused("too-few-jars", "Fewer jars than that are there.", extra={"jars": there})
    to_state = State.GIVEN if wish.recipient else LEADS_TO.get(wish.kind, wish.from_state)
    target = Place(wish.lot_id, wish.jar_size, wish.to_member_id or holder_id, to_state)
    return Movement(wish.kind, wish.count, source, target, wish.location, wish.recipient)


def fill(
    lot_id: UUID,
    jar_size: str,
    holder_id: UUID,
    seals: SealCheck,
    sealed_to: State,
    note: str,
    *,
    once_more: bool = False,
) -> list[Movement]:
    """The jars of one checked load reach their member: sealed, unsealed and broken, every one counted.

    `sealed_to` is the shelf, hold for a doubtful load, or recalled where the lot was called back meanwhile; then the
    unsealed ones go there too. `note` says what to do with those. Jars that went through a canner `once_more` were
    filled before and come from the batch.
    """
    kind, source = Kind.FILL, None
    if once_more:
        kind, source = Kind.SEAL_CHECK, Place(lot_id, jar_size, holder_id, State.BATCH)
    unsealed_to = State.RECALLED if sealed_to is State.RECALLED else State.REFRIGERATOR
    counted = (
        (sealed_to, seals.sealed, None),
        (unsealed_to, seals.unsealed, note),
        (State.DISCARDED, seals.broken, None),
    )
    return [
        Movement(kind, jars, source, Place(lot_id, jar_size, holder_id, state), location)
        for state, jars, location in counted
        if jars
    ]


def hold(balances: Balances) -> list[Movement]:
    """Everything that could still be eaten is set aside until a person decides."""
    return _gather(Kind.HOLD, balances, EATABLE)


def recall(balances: Balances) -> list[Movement]:
    """Every jar that anyone still has is called back; those given away are for the giver to ask after."""
    return _gather(Kind.RECALL, balances, (*EATABLE, State.HOLD, State.GIVEN))


def _gather(kind: Kind, balances: Balances, states: tuple[State, ...]) -> list[Movement]:
    return [
        Movement(kind, jars, place, Place(place.lot_id, place.jar_size, place.holder_id, LEADS_TO[kind]))
        for place, jars in balances.items()
        if jars and place.state in states
    ]


def balances(movements: Iterable[Movement]) -> dict[Place, int]:
    """What the ledger adds up to, empty places left out."""
    sums: dict[Place, int] = {}
    for movement in movements:
        if movement.source is not None:
            sums[movement.source] = sums.get(movement.source, 0) - movement.jars
        sums[movement.target] = sums.get(movement.target, 0) + movement.jars
    return {place: jars for place, jars in sums.items() if jars}


@dataclass(frozen=True, slots=True)
class Proof:
    """Whether the balances are what the movements add up to; `wrong` names each place where they aren't."""

    filled: int
    held: int
    ended: int
    wrong: tuple[Place, ...]

    @property
    def holds(self) -> bool:
        return not self.wrong and self.filled == self.held + self.ended


def prove(movements: Iterable[Movement], kept: Balances) -> Proof:
    """Compare the balances kept beside the ledger with its sum, place by place, and all jars with all fills."""
    written = tuple(movements)
    sums = balances(written)
    wrong = tuple(place for place in {*sums, *kept} if sums.get(place, 0) != kept.get(place, 0))
    return Proof(
        filled=sum(movement.jars for movement in written if movement.source is None),
        held=sum(jars for place, jars in kept.items() if place.state not in ENDS),
        ended=sum(jars for place, jars in kept.items() if place.state in ENDS),
        wrong=wrong,
    )
