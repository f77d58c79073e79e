"""Planning whole days: many batches at once, beside what is booked already.

First each batch is placed as early as it can be, in the order of asking and in the order of due times. The better of
the two is where the solver starts, so that a plan is never worse than first come, first served. Of the ways to divide
a batch into loads the plan keeps the one which that placement took; its bounds are those of plans with these loads.
"""

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from service.core.scheduling.bookings import Move
from service.core.scheduling.modelling import Model
from service.core.scheduling.seating import Seating, greedy
from service.core.scheduling.solving import Effort, Outcome, solve
from service.core.scheduling.spans import common
from service.core.scheduling.timetables import Goal, Order, Timed


@dataclass(frozen=True, slots=True)
class Reached:
    """How well a goal is met; below the bound nothing can be, as long as the goals before it are met as well."""

    minutes: int
    bound: int

    @property
    def proven(self) -> bool:
        return self.minutes == self.bound


@dataclass(frozen=True, slots=True)
class Plan:
    """A timetable, the bookings that get another unit for it, and how good it is."""

    timed: tuple[Timed, ...]
    moves: tuple[Move, ...]
    goals: Mapping[Goal, Reached]
    first_come: Mapping[Goal, int] | None = None  # first come, first served; None: it leaves some without a place


@dataclass(frozen=True, slots=True)
class NoPlan:
    """There is none, if that is proven; else none was found in time. Some batches had no place beside the others."""

    proven: bool
    without_place: tuple[UUID, ...]


def first_plan(order: Order) -> Plan | NoPlan:
    """The better of two quick ways, with nothing proven."""
    first_come = greedy(order.kitchen, order.cooks, order.within, order.batches)
    by_due = greedy(order.kitchen, order.cooks, order.within, sorted(order.batches, key=lambda batch: batch.due_min))
    whole = [each for each in (first_come, by_due) if len(each.timed) == len(order.batches)]
    if not whole:
        placed = {timed.batch.id for timed in by_due.timed}
        return NoPlan(False, tuple(batch.id for batch in order.batches if batch.id not in placed))
    best = min(whole, key=lambda each: _rank(measured(order, each.timed)))
    reached = {goal: Reached(minutes, 0) for goal, minutes in measured(order, best.timed).items()}
    before = measured(order, first_come.timed) if first_come in whole else None
    return Plan(best.timed, best.moves, reached, before)


def improved(
    order: Order, start: Plan | NoPlan, effort: Effort, told: Callable[[Goal, Reached], None] | None = None
) -> Plan | NoPlan:
    """The best plan found within the effort, never worse than the one to start from."""
    timed = {each.batch.id: each for each in start.timed} if isinstance(start, Plan) else {}
    chains = {batch.id: timed[batch.id].chain if timed else batch.chains[0] for batch in order.batches}
    model = Model(order, chains, timed)
    if model.without_day:
        return NoPlan(True, tuple(model.without_day))

    def reached(place: int, value: int, bound: int) -> Reached:
        return Reached(model.minutes(place, value), model.minutes(place, bound))

    def tell(place: int, value: int, bound: int) -> None:
        if told:
            told(order.goals[place], reached(place, value, bound))

    solution = solve(model.problem, effort, tell)
    if solution.outcome is Outcome.FOUND:
        seating = _seated(order, model, solution.values)
        if seating:
            found = [reached(place, level.value, level.bound) for place, level in enumerate(solution.levels)]
            minutes = measured(order, seating.timed)
            goals = {
                goal: found[place] if place < len(found) else Reached(minutes[goal], 0)
                for place, goal in enumerate(order.goals)
            }
            better = Plan(seating.timed, seating.moves, goals, None)
            if isinstance(start, NoPlan):
                return better
            if _rank(minutes) <= _rank({goal: each.minutes for goal, each in start.goals.items()}):
                return replace(better, first_come=start.first_come)
    if isinstance(start, NoPlan):
        return NoPlan(solution.outcome is Outcome.IMPOSSIBLE, start.without_place)
    first = start.goals[order.goals[0]].minutes
    bound = max(0, min(solution.bound, first))
    return replace(start, goals={**start.goals, order.goals[0]: Reached(first, bound)})


def measured(order: Order, timed: Collection[Timed]) -> dict[Goal, int]:
    """How well a timetable meets each goal."""
    late: Counter[UUID] = Counter()
    for each in timed:
        late[each.batch.member_id] += each.batch.weight * each.late_minutes
    opens_min = common(order.kitchen.usable_spans, (order.within,))[0].starts_min
    minutes = {
        Goal.MOVED: sum(each.moved for each in timed),
        Goal.LATENESS: late.total(),
        Goal.WORST_OFF: max(late.values()),
        Goal.MAKESPAN: max(each.free_min for each in timed) - opens_min,
    }
    return {goal: minutes[goal] for goal in order.goals}


def _seated(order: Order, model: Model, values: Sequence[int]) -> Seating | None:
    """Units for a solution. Where some units are fixed, as many as are needed may be free and none throughout."""
    seating = Seating(order.kitchen, order.cooks, movable=True)
    for batch, chain, placed, sorts in model.placed(values):
        if not seating.seat(batch, chain, placed, sorts):
            return None
    return seating


def _rank(minutes: Mapping[Goal, int]) -> tuple[int, ...]:
    return tuple(minutes[goal] for goal in Goal if goal in minutes)
