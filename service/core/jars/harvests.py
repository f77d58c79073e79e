"""How many pots a harvest makes: whole pots of recipes as they are tested, never doubled, and what is left over."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from service.core.measures.bounds import Bounds

MOST_POTS = 60  # more than a kitchen makes before anything spoils


@dataclass(frozen=True, slots=True)
class Produce:
    """What was harvested, in pounds as far as they are known, and until when it keeps."""

    pounds: Bounds
    use_by: datetime


@dataclass(frozen=True, slots=True)
class Choice:
    """A recipe to choose: what one pot takes of each produce, in pounds, the jars it fills, and those held already."""

    needs: Mapping[int, Bounds]  # by the place of the produce in the list
    jars: int
    held: int = 0

    def use_by(self, produce: Sequence[Produce]) -> datetime:
        """Until when a pot of it has to be made."""
        return min(produce[at].use_by for at in self.needs)


def pots(produce: Sequence[Produce], choices: Sequence[Choice]) -> list[int]:
    """Which choices to make, one entry a pot, what spoils first at the front.

    Each pot goes to the recipe of which there would be fewest jars, in the pantry and planned; of equal ones to the one
    named first. Only pots count that are sure: the least that may have been harvested, the most that a pot may take.
    """
    left = [each.pounds.low for each in produce]
    there = [choice.held for choice in choices]
    made: list[int] = []
    while len(made) < MOST_POTS:
        fitting = [at for at, choice in enumerate(choices) if choice.needs and _fits(choice, left)]
        if not fitting:
            break
        at = min(fitting, key=lambda at: (there[at], at))
        there[at] += choices[at].jars
        for place, pounds in choices[at].needs.items():
            left[place] -= _most(pounds)
        made.append(at)
    return sorted(made, key=lambda at: (choices[at].use_by(produce), at))


def left_over(produce: Sequence[Produce], choices: Sequence[Choice], made: Sequence[int]) -> list[Bounds]:
    """What these pots leave of each produce, in pounds."""
    left = []
    for place, each in enumerate(produce):
        taken = Bounds.total(choices[at].needs[place] for at in made if place in choices[at].needs)
        low = max(each.pounds.low - _most(taken), Fraction(0))
        high = None if each.pounds.high is None else max(each.pounds.high - taken.low, Fraction(0))
        left.append(Bounds(low, high))
    return left


def _fits(choice: Choice, left: Sequence[Fraction]) -> bool:
    return all(pounds.high is not None and 0 < pounds.high <= left[place] for place, pounds in choice.needs.items())


def _most(pounds: Bounds) -> Fraction:
    return pounds.low if pounds.high is None else pounds.high
