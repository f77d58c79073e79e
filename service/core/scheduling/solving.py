"""The solver of day plans: whole numbers, rows over them, pools that several share, and goals in order of weight.

A problem is made of our own values, so that nothing else here knows the solver. Times are whole steps of whatever
grid the caller counts in; spans are half-open. Goals are met one by one, each without giving up what the ones before
it reached: one sum with large weights would be quicker to write, and has been proven wrongly by this solver.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import reduce
from operator import add


@dataclass(frozen=True, slots=True)
class Linear:
    """A sum of a problem's numbers, each so many times, and a constant."""

    terms: Mapping[int, int] = field(default_factory=dict)
    constant: int = 0

    def __add__(self, other: "Linear | int") -> "Linear":
        if isinstance(other, int):
            return Linear(self.terms, self.constant + other)
        terms = dict(self.terms)
        for number, times in other.terms.items():
            terms[number] = terms.get(number, 0) + times
        return Linear(terms, self.constant + other.constant)

    def __sub__(self, other: "Linear | int") -> "Linear":
        return self + (-1 * other)

    def __mul__(self, times: int) -> "Linear":
        return Linear({number: each * times for number, each in self.terms.items()}, self.constant * times)

    __radd__ = __add__
    __rmul__ = __mul__

    def value(self, values: Sequence[int]) -> int:
        return self.constant + sum(times * values[number] for number, times in self.terms.items())


def total(parts: Iterable[Linear]) -> Linear:
    return reduce(add, parts, Linear())


@dataclass(frozen=True, slots=True)
class Row:
    """Says that the sum isn't below zero, always or when something was chosen."""

    at_least_zero: Linear
    when: Linear | None


@dataclass(frozen=True, slots=True)
class Stay:
    """So many units of a pool taken for a time, always or when something was chosen."""

    start: Linear
    length: Linear
    end: Linear
    demand: int
    when: Linear | None


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """Units that are alike; with a capacity of one, a single piece that one uses at a time."""

    capacity: int
    stays: list[Stay] = field(default_factory=list)

    def add(self, start: Linear, length: int, demand: int = 1, when: Linear | None = None) -> None:
        self.stays.append(Stay(start, Linear(constant=length), start + length, demand, when))

    def add_between(
        self, start: Linear, end: Linear, length: Linear, demand: int = 1, when: Linear | None = None
    ) -> None:
        """Take units for a time whose length is itself one of the numbers, or follows from one."""
        self.stays.append(Stay(start, length, end, demand, when))


@dataclass(frozen=True, slots=True)
class Use:
    """What an activity takes of a pool: for all of its time, or a part that begins so long after it does."""

    pool: Pool
    demand: int = 1
    after: int = 0
    length: int | None = None


@dataclass(frozen=True, slots=True)
class Mode:
    """One way to do an activity."""

    length: int
    uses: tuple[Use, ...] = ()

    @property
    def stays(self) -> tuple[Use, ...]:
        """What it uses, each with its length."""
        return tuple(replace(use, length=self.length) if use.length is None else use for use in self.uses)


@dataclass(frozen=True, slots=True)
class Activity:
    """When something happens, and which of its modes was chosen."""

    start: Linear
    end: Linear
    chosen: tuple[Linear, ...]


@dataclass(slots=True)
class Problem:
    """What is to be decided. Goals are sums to make small, the weightiest first."""

    domains: list[tuple[range, ...]] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    pools: list[Pool] = field(default_factory=list)
    goals: list[Linear] = field(default_factory=list)
    likely: dict[int, int] = field(default_factory=dict)  # where to start; lost unless every number has a value

    def number(self, *domain: range) -> Linear:
        self.domains.append(domain)
        return Linear({len(self.domains) - 1: 1})

    def choice(self) -> Linear:
        return self.number(range(2))

    def start_from(self, number: Linear, value: int) -> None:
        for place in number.terms:
            self.likely[place] = value

    def pool(self, capacity: int) -> Pool:
        self.pools.append(Pool(capacity))
        return self.pools[-1]

    def at_least(self, larger: Linear, smaller: Linear | int, when: Linear | None = None) -> None:
        self.rows.append(Row(larger - smaller, when))

    def equal(self, one: Linear, other: Linear | int) -> None:
        self.rows.append(Row(one - other, None))
        self.rows.append(Row(-1 * one + other, None))

    def activity(self, start: Linear, modes: Sequence[Mode]) -> Activity:
        """Do something in exactly one of its modes; what every mode takes alike doesn't wait for the choice."""
        if len(modes) == 1:
            chosen: tuple[Linear, ...] = (Linear(constant=1),)
        else:
            chosen = tuple(self.choice() for _ in modes)
            self.equal(total(chosen), 1)
        for place, mode in enumerate(modes):
            for use in mode.stays:
                alike = all(use in other.stays for other in modes)
                if place == 0 or not alike:
                    when = None if alike else chosen[place]
                    use.pool.add(start + use.after, use.length or 0, use.demand, when)
        end = start + total(mode.length * each for mode, each in zip(modes, chosen, strict=True))
        return Activity(start, end, chosen)


@dataclass(frozen=True, slots=True)
class Effort:
    """How long to try. Repeatable: one worker whose own steps are counted, so that the clock changes nothing.

    By the caller's clock, in seconds, all the work counts that leads up to a solution; without one only the solver's.
    """

    seconds: float
    repeatable: bool = False
    seed: int = 0
    clock: Callable[[], float] | None = None


class Budget:
    """What is left of an effort."""

    def __init__(self, effort: Effort) -> None:
        """Begin now."""
        self._seconds = effort.seconds
        self._clock = None if effort.repeatable else effort.clock
        self._began = self._clock() if self._clock else 0.0
        self._told = 0.0

    def spend(self, seconds: float) -> None:
        """Count what the solver took, unless the clock does."""
        self._told += seconds

    @property
    def spent(self) -> float:
        return self._clock() - self._began if self._clock else self._told

    @property
    def left(self) -> float:
        return self._seconds - self.spent


class Outcome(StrEnum):
    """What came of trying."""

    FOUND = "found"
    IMPOSSIBLE = "impossible"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Level:
    """How well a goal is met, and the bound below which nothing can be as long as the goals before it are met so."""

    value: int
    bound: int

    @property
    def proven(self) -> bool:
        return self.value == self.bound


@dataclass(frozen=True, slots=True)
class Solution:
    """The numbers found, how well each goal is met, and the bound of the first goal even if nothing was found."""

    outcome: Outcome
    values: tuple[int, ...]
    levels: tuple[Level, ...]
    bound: int
    seconds: float

    @property
    def proven(self) -> bool:
        return self.outcome is Outcome.IMPOSSIBLE or (bool(self.levels) and all(each.proven for each in self.levels))


def solve(problem: Problem, effort: Effort, found: Callable[[int, int, int], None] | None = None) -> Solution:
    """Meet the goals in their order within the time.

    `found` is told of each better solution: the place of the goal, its value and the bound known by then.
    """
    from service.core.scheduling import cp_sat  # on first use: half a second and 90 MB that a web worker never needs

    return cp_sat.solve(problem, effort, found)
