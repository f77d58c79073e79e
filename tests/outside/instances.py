"""The solver on published problems: `python -m tests.outside.instances [--seconds N] FILE…`.

A file is one of `tests/data/scheduling`, or a text of those four families as it is published. One line for each
instance: `instance makespan bound proven seconds`. The makespan is `infeasible` where no schedule exists, and `unknown`
where the time ended before one was found. The seconds are those of the clock, from building the problem on. Exit status
1 if a published optimum was missed or something is unproven, and 2 if a file couldn't be read: a line on the standard
error says why, and the others are solved all the same.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from time import monotonic

from service.core.scheduling.solving import Effort, Outcome, Solution, solve
from tests.outside.families import Instance, read

SECONDS = 60


def main() -> int:
    parser = argparse.ArgumentParser(description="Solve published scheduling problems.")
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    parser.add_argument("--seconds", type=float, default=SECONDS, help="the longest to try one instance")
    asked = parser.parse_args()
    missed = unreadable = 0
    for path in asked.files:
        try:
            missed += sum(not _is_proven(instance, asked.seconds) for instance in _timed(read(path)))
        except (OSError, ValueError) as wrong:
            unreadable += 1
            print(f"{path} can't be read: {wrong}", file=sys.stderr, flush=True)
    return 2 if unreadable else 1 if missed else 0


def _timed(instances: Iterator[Instance]) -> Iterator[tuple[Instance, float]]:
    """Each instance, and when its building began."""
    while True:
        began = monotonic()
        instance = next(instances, None)
        if instance is None:
            return
        yield instance, began


def _is_proven(timed: tuple[Instance, float], seconds: float) -> bool:
    """Solve one instance and print its line; whether it is proven, and as published."""
    instance, began = timed
    left = Effort(seconds - (monotonic() - began), clock=monotonic)
    solution = solve(instance.problem, left)
    solution = replace(solution, seconds=monotonic() - began)
    print(instance.name, line(solution), flush=True)
    return solution.proven and (not instance.is_known or makespan(solution) == instance.optimum)


def makespan(solution: Solution) -> int | None:
    return solution.levels[0].value if solution.levels else None


def line(solution: Solution) -> str:
    """Write one solution: makespan, bound, whether it is proven, and the seconds it took."""
    proven = "true" if solution.proven else "false"
    if solution.outcome is Outcome.IMPOSSIBLE:
        return f"infeasible - {proven} {solution.seconds:.2f}"
    found = makespan(solution)
    bound = solution.levels[0].bound if solution.levels else solution.bound
    return f"{'unknown' if found is None else found} {bound} {proven} {solution.seconds:.2f}"


if __name__ == "__main__":
    raise SystemExit(main())
