"""The routes that judge a recipe: open to anyone, and nothing is stored."""

from typing import Any

from fastapi import Request
from pydantic import ValidationError

from service.checks import bodies
from service.checks.checking import check_recipe
from service.web import MIB, Caller, CostMore, OptionalMember, Problem, Routes, problems, takes_up_to
from service.web.bodies import ProblemDetails
from service.web.problems import invalid, request_id_of, shape_errors

router = Routes("/v1/recipe-checks", "checks")


@router.post("", responses=problems(422))
def check_one_recipe(recipe: bodies.RecipeCheckRequest, caller: OptionalMember) -> bodies.CheckAnswer:
    """Say what the published figures say about a recipe, at the kitchen's altitude or the one that is sent."""
    return check_recipe(recipe, _altitude_ft(recipe, caller))


@router.post("/batch", responses=problems(422))
@takes_up_to(2 * MIB)
def check_many_recipes(
    batch: bodies.RecipeCheckBatch, caller: OptionalMember, cost_more: CostMore, request: Request
) -> bodies.CheckAnswers:
    """Check up to 200 recipes, each by itself, in order."""
    cost_more(len(batch.recipes) - 1)
    return bodies.CheckAnswers(results=[_one_of_many(sent, caller, request) for sent in batch.recipes])


def _one_of_many(
    sent: dict[str, Any], caller: Caller | None, request: Request
) -> bodies.CheckAnswer | bodies.NotChecked:
    try:
        recipe = bodies.RecipeCheckRequest.model_validate(sent)
        return check_recipe(recipe, _altitude_ft(recipe, caller))
    except ValidationError as wrong:
        errors = [{**error, "loc": ("body", *error["loc"])} for error in wrong.errors(include_url=False)]
        problem = invalid(shape_errors(errors, sent))
    except Problem as refused:
        problem = refused
    return bodies.NotChecked(problem=ProblemDetails.model_validate(problem.document(request_id_of(request))))


def _altitude_ft(recipe: bodies.RecipeCheckRequest, caller: Caller | None) -> int:
    """A member's kitchen stands where it stands; anybody else has to say where."""
    if caller is None:
        if recipe.altitude_ft is None:
            raise Problem("altitude-needed", "Say at what altitude in feet the food is canned, as altitude_ft.")
        return recipe.altitude_ft
    altitude_ft = caller.kitchen.altitude_ft
    if recipe.altitude_ft not in (None, altitude_ft):
        raise Problem("wrong-altitude", "The kitchen's own altitude counts; leave it out.", altitude_ft=altitude_ft)
    return altitude_ft
