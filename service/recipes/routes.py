"""The routes of recipes."""

from datetime import datetime
from typing import Annotated

from fastapi import Path, Response

from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.recipes import bodies, store
from service.recipes.judging import judge
from service.web import Caller, Member, Now, Page, Problem, Reading, Routes, Writing, problems
from service.web.types import Id, WholeQuery

router = Routes("/v1/recipes", "recipes")

Number = Annotated[WholeQuery, Path(ge=1)]


@router.post("", status_code=201)
def add_recipe(
    new: RecipeCheckRequest, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.NewRevision:
    """Keep a recipe with the check it gets at the kitchen's altitude."""
    check, judged = _judge(new, caller)
    kept = store.add(session, caller.kitchen_id, caller.id, judged, now)
    response.headers["Location"] = f"/v1/recipes/{kept.recipe.id}/revisions/1"
    return bodies.NewRevision.of(kept, check)


@router.post("/{recipe_id}/revisions", status_code=201, responses=problems(404))
def add_revision(
    recipe_id: Id, new: RecipeCheckRequest, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.NewRevision:
    """Keep one more revision of a recipe; those before never change."""
    recipe = store.recipe(session, caller.kitchen_id, recipe_id, _whose(caller))
    if recipe is None:
        raise Problem.not_found()
    check, judged = _judge(new, caller)
    kept = store.revise(session, recipe, caller.id, judged, now)
    response.headers["Location"] = f"/v1/recipes/{recipe.id}/revisions/{kept.revision.number}"
    return bodies.NewRevision.of(kept, check)


@router.get("")
def list_recipes(caller: Member, session: Reading, page: Page) -> bodies.RecipeList:
    """List one's recipes, the newest first; a coordinator sees everybody's."""
    found = store.page(session, caller.kitchen_id, _whose(caller), page.limit, page.after(datetime, Id))
    kept, next_cursor = page.page(found, place=lambda each: (each.recipe.made_at, each.recipe.id))
    return bodies.RecipeList(items=tuple(bodies.RecipeItem.of(each) for each in kept), next_cursor=next_cursor)


@router.get("/{recipe_id}", responses=problems(404))
def get_recipe(recipe_id: Id, caller: Member, session: Reading) -> bodies.RecipeAnswer:
    """Read a recipe's newest revision, and which there are."""
    recipe = store.recipe(session, caller.kitchen_id, recipe_id, _whose(caller))
    if recipe is None:
        raise Problem.not_found()
    return bodies.RecipeAnswer.whole(store.revisions(session, recipe))


@router.get("/{recipe_id}/revisions/{number}", responses=problems(404))
def get_revision(recipe_id: Id, number: Number, caller: Member, session: Reading) -> bodies.RevisionAnswer:
    """Read one revision with the check it got."""
    recipe = store.recipe(session, caller.kitchen_id, recipe_id, _whose(caller))
    kept = store.revision(session, recipe, number) if recipe else None
    if kept is None:
        raise Problem.not_found()
    return bodies.RevisionAnswer.of(kept)


def _whose(caller: Caller) -> Id | None:
    """A member's own recipes, or for a coordinator everybody's."""
    return None if caller.is_coordinator else caller.id


def _judge(new: RecipeCheckRequest, caller: Caller) -> tuple[CheckAnswer, store.Judged]:
    altitude_ft = caller.kitchen.altitude_ft
    if new.altitude_ft not in (None, altitude_ft):
        raise Problem("wrong-altitude", "The kitchen's own altitude counts; leave it out.", altitude_ft=altitude_ft)
    return judge(new, altitude_ft)
