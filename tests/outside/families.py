"""Four families of published scheduling problems, read from their files into problems of the solver.

A file is a text as its authors publish it, or one of ours. Ours holds one family: `problem` names it, `instances` lists
its members with the shape its `format` explains.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from service.core.scheduling.solving import Activity, Linear, Mode, Problem, Use
from tests.outside import texts


@dataclass(frozen=True)
class Instance:
    """One published problem, and the makespan published for it; none where no schedule exists."""

    name: str
    optimum: int | None
    problem: Problem
    is_known: bool = True  # whether the file tells the optimum


def read(path: Path) -> Iterator[Instance]:
    """Read one instance of a file after another; OSError or ValueError say why that can't be done."""
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
        ours = text.lstrip("\ufeff \t\r\n").startswith("{")
        instances = json.loads(text.lstrip("\ufeff"))["instances"] if ours else texts.read(path.stem, text)
        for each in instances:
            yield Instance(each["name"], each.get("optimum"), _family(each)(each), "optimum" in each)
    except (KeyError, IndexError, TypeError) as wrong:
        raise ValueError("A part of an instance is missing, or isn't what it has to be.") from wrong


def _family(instance: dict[str, Any]) -> Callable[[dict[str, Any]], Problem]:
    """Tell a family by what its instances have."""
    for field, build in (("lags", _with_lags), ("successors", _project), ("machines", _job_shop), ("jobs", _flexible)):
        if field in instance:
            return build
    raise ValueError("None of the four families has instances of this shape.")


def _job_shop(instance: dict[str, Any]) -> Problem:
    """Each operation of a job has one machine and one duration."""
    jobs = [
        [[(machine, duration)] for machine, duration in zip(machines, durations, strict=True)]
        for machines, durations in zip(instance["machines"], instance["durations"], strict=True)
    ]
    return _shop(jobs)


def _flexible(instance: dict[str, Any]) -> Problem:
    """Each operation of a job may be done on one of several machines."""
    return _shop([[[(machine, length) for machine, length in modes] for modes in job] for job in instance["jobs"]])


def _shop(jobs: list[list[list[tuple[int, int]]]]) -> Problem:
    problem = Problem()
    machines = sorted({machine for job in jobs for operation in job for machine, _ in operation})
    pools = {machine: problem.pool(1) for machine in machines}
    horizon = sum(max(length for _, length in operation) for job in jobs for operation in job)
    last: list[Activity] = []
    for job in jobs:
        before: Activity | None = None
        for operation in job:
            start = problem.number(range(horizon + 1))
            modes = [Mode(length, (Use(pools[machine]),)) for machine, length in operation]
            activity = problem.activity(start, modes)
            if before is not None:
                problem.at_least(start, before.end)
            before = activity
        if before is not None:
            last.append(before)
    return _shortest(problem, last, horizon)


def _project(instance: dict[str, Any]) -> Problem:
    """An activity starts when those before it have ended; resources are shared."""
    durations = instance["durations"]
    lags = [
        (place, successor - 1, durations[place])
        for place, successors in enumerate(instance["successors"])
        for successor in successors
    ]
    return _shared(instance, lags, horizon=sum(durations))


def _with_lags(instance: dict[str, Any]) -> Problem:
    """An activity starts so long after another at least, or at most where the lag is negative."""
    lags = [(one, other, lag) for one, other, lag in instance["lags"]]
    longest = [
        max([length, *(lag for one, _, lag in lags if one == place)])
        for place, length in enumerate(instance["durations"])
    ]
    return _shared(instance, lags, horizon=sum(longest))


def _shared(instance: dict[str, Any], lags: list[tuple[int, int, int]], horizon: int) -> Problem:
    problem = Problem()
    pools = [problem.pool(capacity) for capacity in instance["capacities"]]
    activities = [
        problem.activity(
            problem.number(range(horizon + 1)),
            [Mode(length, tuple(Use(pool, demand) for pool, demand in zip(pools, demands, strict=True) if demand))],
        )
        for length, demands in zip(instance["durations"], instance["demands"], strict=True)
    ]
    for one, other, lag in lags:
        problem.at_least(activities[other].start, activities[one].start + lag)
    return _shortest(problem, activities, horizon)


def _shortest(problem: Problem, activities: list[Activity], horizon: int) -> Problem:
    """Ask for the earliest end of everything."""
    makespan: Linear = problem.number(range(horizon + 1))
    for activity in activities:
        problem.at_least(makespan, activity.end)
    problem.goals.append(makespan)
    return problem
