"""The routes that judge a recipe: open to anyone, and nothing is stored."""

from fastapi import Request, Response
from pydantic import ValidationError
from pydantic_core import to_json

from service.checks import bodies
from service.checks.checking import recipe, written
from service.core.rules.case import Recipe
from service.core.rules.check import check
from service.published.loading import facts
from service.web import MIB, Caller, CostMore, OptionalMember, Problem, Routes, problems, takes_up_to
from service.web.bodies import ProblemDetails
from service.web.problems import errors_in_body, invalid, request_id_of

router = Routes("/v1/recipe-checks", "checks")


@router.post("", response_model=bodies.CheckAnswer, responses=problems(422))
def check_one_recipe(sent: bodies.RecipeCheckRequest, caller: OptionalMember) -> Response:
    """Say what the published figures say about a recipe, at the kitchen's altitude or the one that is sent."""
    return _json(written(check(recipe(sent, altitude_ft(sent, caller)), facts())))


@router.post("/batch", response_model=bodies.CheckAnswers, responses=problems(422))
@takes_up_to(2 * MIB)
def check_many_recipes(
    batch: bodies.RecipeCheckBatch, caller: OptionalMember, cost_more: CostMore, request: Request
) -> Response:
    """Check up to 200 recipes, each by itself, in order."""
    cost_more(len(batch.recipes) - 1)
    # Each step is taken for all before the next: what it needs stays in the processor's caches, which takes a tenth off
    # the whole.
    valid = [_valid(sent, request) for sent in batch.recipes]
    read = [_read(one, caller, request) if isinstance(one, bodies.RecipeCheckRequest) else one for one in valid]
    checked = [check(one, facts()) if isinstance(one, Recipe) else one for one in read]
    return _json(b'{"results":[%b]}' % b",".join([one if isinstance(one, bytes) else written(one) for one in checked]))


def _valid(sent: object, request: Request) -> bodies.RecipeCheckRequest | bytes:
    """One recipe of many, or the answer that says what is wrong with its shape."""
    try:
        return bodies.RecipeCheckRequest.model_validate(sent)
    except ValidationError as wrong:
        return _not_checked(invalid(errors_in_body(wrong, sent)), request)


def _read(body: bodies.RecipeCheckRequest, caller: Caller | None, request: Request) -> Recipe | bytes:
    """What is to be checked, or the answer that says why it can't be."""
    try:
        return recipe(body, altitude_ft(body, caller))
    except Problem as refused:
        return _not_checked(refused, request)


def _not_checked(problem: Problem, request: Request) -> bytes:
    details = ProblemDetails.model_validate(problem.document(request_id_of(request)))
    return to_json(bodies.NotChecked(problem=details).model_dump(exclude_none=True))


def _json(answer: bytes) -> Response:
    return Response(answer, media_type="application/json")


def altitude_ft(sent: bodies.RecipeCheckRequest, caller: Caller | None) -> int:
    """A member's kitchen stands where it stands; anybody else has to say where."""
    if caller is None:
        if sent.altitude_ft is None:
            raise Problem("altitude-needed", "Say at what altitude in feet the food is canned, as altitude_ft.")
        return sent.altitude_ft
    own_ft = caller.kitchen.altitude_ft
    if sent.altitude_ft not in (None, own_ft):
        raise Problem("wrong-altitude", "The kitchen's own altitude counts; leave it out.", altitude_ft=own_ft)
    return own_ft
