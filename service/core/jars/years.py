"""A year of a pantry: what was put up, received, eaten, given and lost."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from service.core.jars.movements import Place, State


class Column(StrEnum):
    """What a movement means for one member's year."""

    PUT_UP = "put_up"
    RECEIVED = "received"
    EATEN = "eaten"
    GIVEN = "given"  # to members and to others
    LOST = "lost"  # broken, thrown away, or brought back because it was called back


LOST = (State.DISCARDED, State.RETURNED)


def column(source: Place | None, target: Place, member_id: UUID) -> Column | None:
    """Where a movement counts in a member's year; None for jars that only changed their state."""
    if target.state in LOST:
        return Column.LOST
    if source is None:
        return Column.PUT_UP
    if source.holder_id != target.holder_id:
        return Column.RECEIVED if target.holder_id == member_id else Column.GIVEN
    return {State.USED: Column.EATEN, State.GIVEN: Column.GIVEN}.get(target.state)


@dataclass(frozen=True, slots=True)
class Moved:
    """Jars of one family and size that went from one kind of place to another, added up over lots."""

    family: str | None
    jar_size: str
    source: Place | None
    target: Place
    jars: int


@dataclass(frozen=True, slots=True)
class Row:
    """A member's year in one family and jar size."""

    family: str | None
    jar_size: str
    jars: Counter[Column]


def rows(moved: Iterable[Moved], member_id: UUID) -> list[Row]:
    """A member's year by family and jar size, in the order they come; what only changed its state has no row."""
    found: dict[tuple[str | None, str], Counter[Column]] = {}
    for each in moved:
        counts = column(each.source, each.target, member_id)
        if counts is not None:
            found.setdefault((each.family, each.jar_size), Counter())[counts] += each.jars
    return [Row(family, jar_size, jars) for (family, jar_size), jars in found.items()]
