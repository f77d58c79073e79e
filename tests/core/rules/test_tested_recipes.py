"""Every published tested recipe, unchanged, in each of its processes, jar sizes and altitude bands."""

import pytest

from service.core.rules import facts as figures
from service.published.loading import facts
from tests.checks.tally import is_ready
from tests.checks.tested_recipes import cells_of


@pytest.mark.parametrize("as_lines", [False, True], ids=["as fields", "as lines"])
@pytest.mark.parametrize("recipe", facts().tested_recipes, ids=lambda recipe: recipe.id)
def test_a_tested_recipe_is_ready_wherever_it_was_published_for(recipe: figures.TestedRecipe, as_lines: bool) -> None:
    refused = {}
    for cell in cells_of(recipe):
        ready, answer = is_ready(cell, as_lines=as_lines)
        if not ready:
            refused[str(cell)] = [f"{finding.rule}: {finding.message}" for finding in answer.findings]
    assert refused == {}


def test_every_publication_is_tried_in_every_cell_it_prints() -> None:
    recipes = facts().tested_recipes
    assert len(recipes) == 118
    assert sum(len(list(cells_of(recipe))) for recipe in recipes) == 1183
