"""Planning whole days: many batches at once, beside what is booked already.

First each batch is placed as early as it can be, in the order of asking and in the order of due times. The better of
the two is where the solver starts, so that a plan is never worse than first come, first served. Of the ways to divide
a batch into loads the plan keeps the one which that placement took; its bounds are those of plans with these loads.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from uuid import UUID

from service.core.scheduling.bookings import Move
from service.core.scheduling.chains import Chain
from service.core.scheduling.modelling import Model
from service.core.scheduling.seating import Seating, greedy
from service.core.scheduling.solving import Budget, Effort, Outcome, solve
from service.core.scheduling.spans import Span, around, common
from service.core.scheduling.timetables import Batch, Goal, Order, Timed

SHARE_OF_ALL_BUT_IDLE = 0.85  # of the effort; what is left is for canners that stand about
SHARE_OF_ALONE = 0.1  # of the effort at the most, for a bound of each member's own work


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
    first_come = greedy(order, order.batches)
    by_due = greedy(order, sorted(order.batches, key=lambda batch: batch.due_min))
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
    if not order.batches:
        return start
    budget = Budget(effort)
    timed = {each.batch.id: each for each in start.timed} if isinstance(start, Plan) else {}
    chains = {batch.id: timed[batch.id].chain if timed else batch.chains[0] for batch in order.batches}
    model = Model(order, chains, timed)
    if model.without_day:
        return NoPlan(True, tuple(model.without_day))
    alone, spent = _alone(order, chains, replace(effort, seconds=effort.seconds * SHARE_OF_ALONE))
    budget.spend(spent)
    soonest = max(model.soonest(), alone)
    model.problem.at_least(model.last_free, soonest)
    done_by = {Goal.MAKESPAN: model.minutes(model.goals.index(Goal.MAKESPAN), soonest)}

    def reached(place: int, value: int, bound: int) -> Reached:
        return Reached(model.minutes(place, value), model.minutes(place, bound))

    def tell(place: int, value: int, bound: int) -> None:
        if told:
            told(model.goals[place], reached(place, value, bound))

    until_idle = budget.left - effort.seconds * (1 - SHARE_OF_ALL_BUT_IDLE)
    solution = solve(model.problem, replace(effort, seconds=until_idle), tell)
    budget.spend(solution.seconds)
    if solution.outcome is Outcome.FOUND:
        found = done_by | {
            goal: reached(place, level.value, level.bound).bound
            for place, (goal, level) in enumerate(zip(model.goals, solution.levels, strict=False))
        }
        before = budget.left
        better = _plan(order, model, solution.values, found)
        units_took = before - budget.left
        if better and (isinstance(start, NoPlan) or _rank_of(better) <= _rank_of(start)):
            first_come = start.first_come if isinstance(start, Plan) else None
            left = replace(effort, seconds=budget.left - units_took)  # as it may take as long once more
            return replace(_tidied(order, chains, better, model, solution.values, left), first_come=first_come)
    if isinstance(start, NoPlan):
        return NoPlan(solution.outcome is Outcome.IMPOSSIBLE, start.without_place)
    known = done_by | {model.goals[0]: solution.bound}
    goals = {goal: _reached(each.minutes, known.get(goal, 0)) for goal, each in start.goals.items()}
    return replace(start, goals=goals)


def measured(order: Order, timed: Collection[Timed]) -> dict[Goal, int]:
    """How well a timetable meets each goal."""
    late: Counter[UUID] = Counter()
    for each in timed:
        late[each.batch.member_id] += each.batch.weight * each.late_minutes
    opens_min = common(order.kitchen.usable_spans, (order.within,))[0].starts_min
    minutes = {
        Goal.LATENESS: late.total(),
        Goal.MOVED: sum(each.moved for each in timed),
        Goal.SHIFT: sum(each.shift_minutes for each in timed),
        Goal.WORST_OFF: max(late.values(), default=0),
        Goal.MAKESPAN: max((each.free_min for each in timed), default=opens_min) - opens_min,
        Goal.IDLE: _idle(order, timed),
    }
    return {goal: minutes[goal] for goal in order.goals}


def _idle(order: Order, timed: Iterable[Timed]) -> int:
    """How long canners stand about between two loads of the same opening."""
    canners = {piece.resource.equipment_id for piece in order.kitchen.pieces if piece.canner_kind}
    held: dict[UUID, list[Span]] = {}
    for claim in (claim for each in timed for claim in each.claims if claim.equipment_id in canners):
        held.setdefault(claim.equipment_id, []).append(around(claim.starts_at, claim.ends_at))
    openings = order.kitchen.usable_spans
    return sum(
        later.starts_min - earlier.ends_min
        for spans in held.values()
        for earlier, later in pairwise(sorted(spans))
        if any(each.holds(Span(earlier.starts_min, later.ends_min)) for each in openings)
    )


def _alone(order: Order, chains: Mapping[UUID, Chain], effort: Effort) -> tuple[int, float]:
    """The soonest that any one member could be done with nobody else there: together they aren't done before that.

    In slots, with the seconds it took. A member with several batches has but two hands, which the solver is slow to see
    among all the others.
    """
    soonest, budget = 0, Budget(effort)
    of_member: dict[UUID, list[Batch]] = {}
    for batch in order.batches:
        of_member.setdefault(batch.member_id, []).append(batch)
    for theirs in sorted(of_member.values(), key=len, reverse=True):
        if budget.left <= 0:
            break
        model = Model(replace(order, batches=tuple(theirs)), {each.id: chains[each.id] for each in theirs}, {})
        model.problem.goals = [model.last_free]
        solution = solve(model.problem, replace(effort, seconds=budget.left))
        budget.spend(solution.seconds)
        soonest = max(soonest, solution.bound)
    return soonest, budget.spent


def _tidied(
    order: Order, chains: Mapping[UUID, Chain], plan: Plan, model: Model, values: Sequence[int], effort: Effort
) -> Plan:
    """The same plan, or one as good in all other goals with canners that stand about less."""
    if effort.seconds <= 0 or plan.moves or plan.goals[Goal.IDLE].minutes == 0:
        return plan
    reached = {goal: of.value(values) for goal, of in zip(model.goals, model.problem.goals, strict=True)}
    budget = Budget(effort)
    one_by_one = Model(order, chains, {each.batch.id: each for each in plan.timed}, reached)
    solution = solve(one_by_one.problem, replace(effort, seconds=budget.left))
    if solution.outcome is not Outcome.FOUND:
        return plan
    bounds = {goal: each.bound for goal, each in plan.goals.items()}
    bounds[Goal.IDLE] = one_by_one.minutes(0, solution.levels[0].bound)
    tidier = _plan(order, one_by_one, solution.values, bounds)
    if tidier and _rank_of(tidier) <= _rank_of(plan):
        return tidier
    return replace(plan, goals={**plan.goals, Goal.IDLE: _reached(plan.goals[Goal.IDLE].minutes, bounds[Goal.IDLE])})


def _plan(order: Order, model: Model, values: Sequence[int], bounds: Mapping[Goal, int]) -> Plan | None:
    """The solution with a unit for everything."""
    seating = _seated(order, model, values)
    if seating is None:
        return None
    goals = {goal: _reached(minutes, bounds.get(goal, 0)) for goal, minutes in measured(order, seating.timed).items()}
    return Plan(seating.timed, seating.moves, goals)


def _reached(minutes: int, bound: int) -> Reached:
    return Reached(minutes, max(0, min(minutes, bound)))


def _seated(order: Order, model: Model, values: Sequence[int]) -> Seating | None:
    """Units for a solution. Where some units are fixed, as many as are needed may be free and none throughout.

    Whoever keeps the promised time keeps the promised units, unless something has come in the way of those.
    """
    seating, chosen = Seating(order.kitchen, order.cooks, movable=True), list(model.placed(values))
    stays = [each for each in chosen if each.placed == each.batch.promised and seating.keep(each.batch)]
    for each in chosen:
        units = seating.likely(each.chain, each.placed, each.canners, each.racks)
        if each not in stays and not seating.seat(each.batch, each.chain, each.placed, units):
            return None
    return seating


def _rank_of(plan: Plan) -> tuple[int, ...]:
    return _rank({goal: each.minutes for goal, each in plan.goals.items()})


def _rank(minutes: Mapping[Goal, int]) -> tuple[int, ...]:
    return tuple(minutes[goal] for goal in Goal if goal in minutes)
