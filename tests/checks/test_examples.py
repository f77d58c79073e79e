"""The contract's example of a check is what the service says."""

from service.checks import examples
from service.checks.bodies import RecipeCheckRequest
from service.checks.checking import check_recipe


def test_the_example_recipe_gets_the_example_answer() -> None:
    recipe = RecipeCheckRequest.model_validate(examples.RECIPE)
    answer = check_recipe(recipe, examples.RECIPE["altitude_ft"]).model_dump(mode="json")
    assert answer.pop("process")["status"] == examples.ANSWER["process"]["status"]
    assert answer == {name: value for name, value in examples.ANSWER.items() if name != "process"}
