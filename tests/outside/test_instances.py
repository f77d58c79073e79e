"""The solver against optima that others published and proved.

Each file of `tests/data/scheduling` names the publication of its instances, where they were copied from, and that
copy's licence. No set with the longest lags between starts is among them, as none has a licence: those are tried
against a slow twin beside the solver's own tests.
"""

from pathlib import Path

import pytest

from service.core.scheduling.solving import Effort, solve
from tests.outside.families import Instance, read
from tests.outside.instances import line, makespan

FILES = sorted((Path(__file__).parents[1] / "data" / "scheduling").glob("*.json"))
INSTANCES = [instance for path in FILES for instance in read(path)]


@pytest.mark.parametrize("instance", [pytest.param(each, id=each.name) for each in INSTANCES])
def test_the_published_optimum_is_found_and_proven(instance: Instance) -> None:
    solution = solve(instance.problem, Effort(seconds=20, repeatable=True))
    assert (makespan(solution), solution.proven) == (instance.optimum, True)


def test_a_line_says_makespan_bound_whether_it_is_proven_and_seconds() -> None:
    solution = solve(INSTANCES[0].problem, Effort(seconds=20, repeatable=True))
    found, bound, proven, seconds = line(solution).split()
    assert int(found) == int(bound) == INSTANCES[0].optimum
    assert proven == "true"
    assert float(seconds) >= 0
