"""A recall ends when every jar that was called back is accounted for."""

from collections.abc import Mapping
from enum import StrEnum

from service.core.jars.movements import Balances, Kind, Movement, Place, State
from service.core.refusals import Refused


class Outcome(StrEnum):
    """What became of a jar that was called back."""

    RETURNED = "returned"
    DESTROYED = "destroyed"
    EATEN = "eaten"  # before the recall was heard of


ENDS_AS: Mapping[Outcome, tuple[Kind, State]] = {
    Outcome.RETURNED: (Kind.RETURN, State.RETURNED),
    Outcome.DESTROYED: (Kind.DISCARD, State.DISCARDED),
    Outcome.EATEN: (Kind.USE, State.USED),
}
TO_ACCOUNT_FOR = (State.RECALLED, State.BATCH)  # those in a canner once more are called back when they come out


def account(outcome: Outcome, count: int, source: Place, balances: Balances) -> Movement | Refused:
    """The movement that takes called-back jars out of `source` to their end, or why it can't be done."""
    there = balances.get(source, 0)
    if there < count:
        return Refused("too-few-jars", "Fewer jars than that are still to be accounted for.", extra={"jars": there})
    kind, state = ENDS_AS[outcome]
    return Movement(kind, count, source, Place(source.lot_id, source.jar_size, source.holder_id, state))
