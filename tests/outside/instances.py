"""The solver on published problems: `python -m tests.outside.instances [--seconds N] FILE…`.

A file is one of `tests/data/scheduling`, or a text of those four families as it is published. One line for each
instance: `instance makespan bound proven seconds`. The makespan is `infeasible` where no schedule exists, and `unknown`
where the time ended before one was found. Exit status 1 if a published optimum was missed or something is unproven.
"""

import argparse
from pathlib import Path

from service.core.scheduling.solving import Effort, Outcome, Solution, solve
from tests.outside.families import read

SECONDS = 60


def main() -> int:
    parser = argparse.ArgumentParser(description="Solve published scheduling problems.")
    parser.add_argument("files", nargs="+", type=Path, metavar="FILE")
    parser.add_argument("--seconds", type=float, default=SECONDS, help="the longest to try one instance")
    asked = parser.parse_args()
    missed = 0
    for path in asked.files:
        for instance in read(path):
            solution = solve(instance.problem, Effort(asked.seconds))
            print(instance.name, line(solution), flush=True)
            missed += not solution.proven or (instance.is_known and makespan(solution) != instance.optimum)
    return 1 if missed else 0


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
