"""Sharing the jars of a batch between those who worked on it or brought the produce."""

from collections.abc import Mapping, Sequence
from fractions import Fraction

from service.core.measures.jars import JAR_ML


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
