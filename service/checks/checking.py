"""From a body to a recipe, through the rulebook, to the answer."""

from service.checks.bodies import CheckAnswer, RecipeCheckRequest


def check_recipe(body: RecipeCheckRequest, altitude_ft: int) -> CheckAnswer:
    """What the published figures say about this recipe at this altitude. Stores nothing."""
    raise NotImplementedError
