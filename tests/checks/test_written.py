"""An answer is written without its models; what is written is what they would write."""

from itertools import islice

import pytest

from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.checks.checking import answer, recipe, written
from service.core.rules.check import check
from service.published.loading import facts
from tests.checks.tested_recipes import body_of, cells

EDITS = [
    {},
    {"ingredients": ["2 cups mystery", "salt to taste", "3 lb onions or leeks, chopped"]},
    {"altitude_ft": 9_000},
    {"jars": [{"size": "gallon", "count": 3}]},
    {"handling": {"skipped_steps": ["process"], "storage": "refrigerator"}},
]


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: next(iter(edit), "as tested"))
def test_what_is_written_is_what_the_models_would_write(edit):
    for cell in islice(cells(), 0, None, 10 if edit else 1):
        body = RecipeCheckRequest.model_validate({**body_of(cell), **edit})
        checked = check(recipe(body, body.altitude_ft or 0), facts())
        said = written(checked)
        assert said.decode() == answer(checked).model_dump_json()
        assert CheckAnswer.model_validate_json(said, strict=True) == answer(checked)
