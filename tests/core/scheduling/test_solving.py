"""The solver, against a twin that tries every start of every activity in every mode."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.scheduling.solving import Effort, Mode, Outcome, Problem, Use, solve

HORIZON = 6
EFFORT = Effort(seconds=10, repeatable=True)
Lag = tuple[int, int, int]  # the second starts so long after the first at least; a negative lag is a longest wait


@dataclass(frozen=True)
class Job:
    modes: tuple[tuple[int, int, int], ...]  # length, pool, demand


jobs = st.lists(
    st.builds(
        Job,
        st.lists(st.tuples(st.integers(0, 3), st.integers(0, 1), st.integers(1, 2)), min_size=1, max_size=2).map(tuple),
    ),
    min_size=1,
    max_size=3,
)
lags = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 2), st.integers(-3, 3)), max_size=4)


def slow_makespan(jobs: Sequence[Job], capacities: tuple[int, int], lags: Sequence[Lag]) -> int | None:
    """The obvious way: every start, every mode, every step of time."""
    best: int | None = None
    for starts in product(range(HORIZON + 1), repeat=len(jobs)):
        if any(starts[other] < starts[one] + lag for one, other, lag in lags):
            continue
        for modes in product(*(job.modes for job in jobs)):
            ends = [start + length for start, (length, _, _) in zip(starts, modes, strict=True)]
            fits = all(
                sum(
                    demand
                    for start, end, (_, used, demand) in zip(starts, ends, modes, strict=True)
                    if used == pool and start <= time < end
                )
                <= capacity
                for time in range(max(ends))
                for pool, capacity in enumerate(capacities)
            )
            if fits and max(ends) <= HORIZON:
                best = max(ends) if best is None else min(best, max(ends))
    return best


@settings(max_examples=60)
@given(jobs, st.tuples(st.integers(1, 2), st.integers(1, 3)), lags)
def test_the_solver_agrees_with_its_slow_twin(jobs: list[Job], capacities: tuple[int, int], lags: list[Lag]) -> None:
    lags = [(one, other, lag) for one, other, lag in lags if max(one, other) < len(jobs)]
    problem = Problem()
    pools = [problem.pool(capacity) for capacity in capacities]
    makespan = problem.number(range(HORIZON + 1))
    activities = [
        problem.activity(
            problem.number(range(HORIZON + 1)),
            [Mode(length, (Use(pools[pool], demand),)) for length, pool, demand in job.modes],
        )
        for job in jobs
    ]
    for one, other, lag in lags:
        problem.at_least(activities[other].start, activities[one].start + lag)
    for activity in activities:
        problem.at_least(makespan, activity.end)
    problem.goals.append(makespan)
    solution = solve(problem, EFFORT)
    expected = slow_makespan(jobs, capacities, lags)
    if expected is None:
        assert solution.outcome is Outcome.IMPOSSIBLE
    else:
        assert (solution.levels[0].value, solution.levels[0].bound) == (expected, expected)


def test_a_goal_never_gives_up_what_the_one_before_it_reached() -> None:
    problem = Problem()
    one, other = problem.number(range(10)), problem.number(range(10))
    problem.at_least(one + other, 7)
    problem.goals += [one, other]
    assert [level.value for level in solve(problem, EFFORT).levels] == [0, 7]


def test_a_stay_may_have_a_length_that_is_itself_decided() -> None:
    problem = Problem()
    pool = problem.pool(1)
    pool.add(problem.number(range(1)), 3)
    start, length, end = problem.number(range(10)), problem.number(range(2, 5)), problem.number(range(10))
    problem.equal(end, start + length)
    pool.add_between(start, end, length)
    problem.goals.append(end)
    assert solve(problem, EFFORT).levels[0].value == 5


def test_each_better_solution_is_told_of() -> None:
    problem = Problem()
    number = problem.number(range(10))
    problem.at_least(number, 4)
    problem.goals.append(number)
    told: list[tuple[int, int, int]] = []
    solve(problem, EFFORT, lambda *each: told.append(each))
    assert told[-1][:2] == (0, 4)


def test_the_same_seed_gives_the_same_numbers() -> None:
    problem = Problem()
    numbers = [problem.number(range(100)) for _ in range(6)]
    problem.at_least(numbers[0] + numbers[1] * 3 + numbers[2], numbers[3] + 50)
    problem.at_least(numbers[4] + numbers[5], numbers[0] + 7)
    problem.goals.append(numbers[1] + numbers[4])
    again = [solve(problem, Effort(1, repeatable=True, seed=3)).values for _ in range(3)]
    assert again[0] == again[1] == again[2]
