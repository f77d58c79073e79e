"""Sharing the jars of a batch between those who worked on it or brought the produce."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from uuid import UUID

from service.core.jars.movements import Balances, Kind, Movement, Place, State
from service.core.measures.jars import JAR_ML
from service.core.refusals import Refused


def dealt(jars: Mapping[str, int], parts: Sequence[Fraction]) -> list[dict[str, int]]:
    """Deal jars, by size, in proportion to the parts; the answer has one deal for each part, in their order.

    Of each size everyone gets the whole jars of their exact share; those left over go out one each to the largest
    remainders. Of equal remainders the one comes first who is furthest behind in volume so far, then the one named
    first. Larger jars are dealt first. The parts together are more than nothing.
    """
    whole = sum(parts)
    deals: list[dict[str, int]] = [{} for _ in parts]
    behind_ml = [Fraction(0) for _ in parts]
    for size in sorted(jars, key=lambda size: (-JAR_ML.get(size, Fraction(0)), size)):
        exact = [jars[size] * part / whole for part in parts]
        counts = [int(share) for share in exact]
        order = sorted(range(len(parts)), key=lambda at: (counts[at] - exact[at], -behind_ml[at], at))
        for at in order[: jars[size] - sum(counts)]:
            counts[at] += 1
        for at, count in enumerate(counts):
            behind_ml[at] += (exact[at] - count) * JAR_ML.get(size, Fraction(0))
            if count:
                deals[at][size] = count
    return deals


@dataclass(frozen=True, slots=True)
class Share:
    """What one member gets: so many jars by size, or a part of all that is shared."""

    member_id: UUID
    jars: Mapping[str, int] | None = None
    part: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Shared:
    """Each share's jars by size, in the order of the shares, and the movements that bring them there."""

    deals: tuple[Mapping[str, int], ...]
    moved: tuple[Movement, ...]


def share(
    lot_id: UUID,
    holder_id: UUID,
    from_state: State,
    jars: Mapping[str, int] | None,
    shares: Sequence[Share],
    balances: Balances,
) -> Shared | Refused:
    """Share jars by parts, or, where `jars` is None, as each share says itself; what the sharer keeps doesn't move."""
    if len({each.member_id for each in shares}) < len(shares):
        return Refused("not-possible", "Each member has one share.")
    deals = _deals(jars, shares)
    if isinstance(deals, Refused):
        return deals
    for size in sorted({size for deal in deals for size in deal}):
        there = balances.get(Place(lot_id, size, holder_id, from_state), 0)
        if there < sum(deal.get(size, 0) for deal in deals):
            return Refused("too-few-jars", "Fewer jars than that are there.", extra={"jar_size": size, "jars": there})
    moved = tuple(
        Movement(
            Kind.SHARE,
            count,
            Place(lot_id, size, holder_id, from_state),
            Place(lot_id, size, each.member_id, from_state),
        )
        for each, deal in zip(shares, deals, strict=True)
        for size, count in deal.items()
        if each.member_id != holder_id
    )
    return Shared(tuple(deals), moved)


def _deals(jars: Mapping[str, int] | None, shares: Sequence[Share]) -> Sequence[Mapping[str, int]] | Refused:
    parts = [each.part for each in shares if each.part is not None]
    own = [each.jars for each in shares if each.jars]
    if jars is None and not parts and len(own) == len(shares):
        return own
    if not jars or own or len(parts) < len(shares):
        return Refused("not-possible", "By jars each share says its own; by work or produce all jars and each part.")
    if not any(parts):
        return Refused("not-possible", "Somebody has to have a part.")
    return dealt(jars, parts)
