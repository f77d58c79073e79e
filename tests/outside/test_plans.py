"""Plans in random kitchens, in short; the command of the same module tries as many as one likes."""

import pytest

from tests.outside.plans import first_start, planned


@pytest.mark.parametrize("seed", [1, 2, 3, 5, 7, 8])
def test_a_plan_passes_both_verifiers_and_the_search_agrees_with_the_solver(seed: int) -> None:
    assert planned(seed).faults == ()
    assert first_start(seed).faults == ()
