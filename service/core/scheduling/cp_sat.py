"""What hands problems of `solving.py` to CP-SAT; nothing else knows that solver, and it is loaded on first use."""

from collections.abc import Callable, Sequence
from math import ceil

from ortools.sat.python import cp_model

from service.core.scheduling.solving import Budget, Effort, Level, Linear, Outcome, Problem, Solution, Stay

WORKERS = 2  # this release corrupts its memory with four and more
SEARCHES = ("no_lp", "core")  # the usual pair doesn't prove the hardest published job shop in a minute
LATER_SEARCHES = ("quick_restart", "core")  # of three runs of a 20-batch day 565 to 595 minutes, not 580 to 630
SHARE_OF_A_GOAL = 0.6  # of the time that is left, while other goals wait
ROUNDING = 1e-6


def solve(problem: Problem, effort: Effort, found: Callable[[int, int, int], None] | None = None) -> Solution:
    """Do what `solving.solve` says."""
    budget = Budget(effort)
    model, numbers = _model(problem)
    values: tuple[int, ...] = ()
    levels: list[Level] = []
    first_bound = 0
    for place, goal in enumerate(problem.goals):
        model.clear_hints()
        for number, value in dict(enumerate(values)).items() or problem.likely.items():
            model.add_hint(numbers[number], value)
        model.minimize(_sum(goal, numbers))
        left = budget.left
        if left <= 0:
            break
        seconds = left if place == len(problem.goals) - 1 else left * SHARE_OF_A_GOAL
        solver = _solver(effort, seconds, LATER_SEARCHES if values else SEARCHES)
        status = solver.solve(model, _Teller(place, found) if found else None)
        budget.spend(solver.response_proto.deterministic_time if effort.repeatable else solver.wall_time)
        bound = ceil(solver.best_objective_bound - ROUNDING)
        if place == 0:
            first_bound = bound
        if status == cp_model.INFEASIBLE:
            return Solution(Outcome.IMPOSSIBLE, (), (), first_bound, budget.spent)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            break
        values = tuple(solver.value(number) for number in numbers)
        reached = goal.value(values)
        levels.append(Level(reached, reached if status == cp_model.OPTIMAL else bound))
        model.add(_sum(goal, numbers) <= reached)
    return Solution(Outcome.FOUND if levels else Outcome.UNKNOWN, values, tuple(levels), first_bound, budget.spent)


class _Teller(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]  # the solver has no types
    def __init__(self, place: int, found: Callable[[int, int, int], None]) -> None:
        super().__init__()
        self.place = place
        self.found = found

    def on_solution_callback(self) -> None:
        self.found(self.place, round(self.objective_value), ceil(self.best_objective_bound - ROUNDING))


def _solver(effort: Effort, seconds: float, searches: Sequence[str]) -> cp_model.CpSolver:
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = effort.seed
    if effort.repeatable:
        solver.parameters.num_workers = 1
        solver.parameters.max_deterministic_time = seconds
    else:
        solver.parameters.num_workers = WORKERS
        solver.parameters.subsolvers.extend(searches)
        solver.parameters.max_time_in_seconds = seconds
    return solver


def _model(problem: Problem) -> tuple[cp_model.CpModel, list[cp_model.IntVar]]:
    model = cp_model.CpModel()
    numbers = [
        model.new_int_var_from_domain(
            cp_model.Domain.from_intervals([[part.start, part.stop - 1] for part in domain]), f"n{place}"
        )
        for place, domain in enumerate(problem.domains)
    ]
    for row in problem.rows:
        constraint = model.add(_sum(row.at_least_zero, numbers) >= 0)
        if row.when is not None:
            constraint.only_enforce_if(_literal(row.when, numbers))
    for pool in problem.pools:
        intervals = [_interval(model, stay, numbers) for stay in pool.stays]
        demands = [stay.demand for stay in pool.stays]
        if pool.capacity == 1 and set(demands) <= {1}:
            model.add_no_overlap(intervals)
        else:
            model.add_cumulative(intervals, demands, pool.capacity)
    return model, numbers


def _interval(model: cp_model.CpModel, stay: Stay, numbers: Sequence[cp_model.IntVar]) -> cp_model.IntervalVar:
    start, length, end = (_sum(each, numbers) for each in (stay.start, stay.length, stay.end))
    if stay.when is None:
        return model.new_interval_var(start, length, end, "")
    return model.new_optional_interval_var(start, length, end, _literal(stay.when, numbers), "")


def _sum(linear: Linear, numbers: Sequence[cp_model.IntVar]) -> cp_model.LinearExprT:
    return (
        cp_model.LinearExpr.weighted_sum([numbers[number] for number in linear.terms], list(linear.terms.values()))
        + linear.constant
    )


def _literal(choice: Linear, numbers: Sequence[cp_model.IntVar]) -> cp_model.IntVar:
    (number,) = choice.terms
    return numbers[number]
