"""The published figures, open to anyone."""

from collections.abc import Sequence
from typing import Annotated, Literal, TypeVar

from fastapi import Depends, Query, Response
from fastapi.responses import HTMLResponse
from pydantic import Field

from service.core.rules import processes
from service.core.rules.facts import Facts, Ingredient
from service.published.bodies import PublishedProcess
from service.published.loading import facts
from service.reference import bodies
from service.reference.rules_page import rules_page
from service.web.callers import OpenToAll
from service.web.etags import UNCHANGED
from service.web.pages import Asked, Page
from service.web.problems import Problem, problems
from service.web.routing import Routes
from service.web.types import Text, WholeQuery

router = Routes("/v1/reference", "reference")
pages = Routes("", "reference")

T = TypeVar("T")

CACHE_SECONDS = 300

Word = Annotated[Text, Field(min_length=1, max_length=120)]
Altitude = Annotated[WholeQuery, Field(ge=-1_400, le=29_100)]
JarSize = Literal["quarter-pint", "half-pint", "twelve-ounce", "pint", "pint-and-half", "quart", "half-gallon"]
Method = Literal["boiling-water", "atmospheric-steam", "pressure-dial", "pressure-weighted"]


async def published(response: Response) -> Facts:
    """Hand the figures in; whoever has them needs no new ones until the next edition."""
    figures = facts()
    response.headers["Cache-Control"] = f"public, max-age={CACHE_SECONDS}"
    response.headers["ETag"] = f'"{figures.rulebook}"'
    return figures


Published = Annotated[Facts, Depends(published)]


@router.get("/rules", dependencies=[OpenToAll], responses=UNCHANGED)
def list_rules(figures: Published, page: Page) -> bodies.RulePage:
    """Show the published statements, each with its source."""
    kept, cursor = _cut(page, figures.statements)
    return bodies.RulePage(items=tuple(bodies.RuleItem.of(each) for each in kept), next_cursor=cursor)


@pages.get("/rules", dependencies=[OpenToAll], response_class=HTMLResponse, include_in_schema=False)
def read_rules(figures: Published, response: Response) -> str:
    """Show the published statements as a page that loads nothing from elsewhere and runs nothing."""
    response.headers["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'"
    return rules_page(figures)


@router.get("/processes", dependencies=[OpenToAll], responses=UNCHANGED)
def list_processes(
    figures: Published,
    page: Page,
    product: Word | None = None,
    family: Word | None = None,
    method: Method | None = None,
    jar_size: JarSize | None = None,
    altitude_ft: Altitude | None = None,
) -> bodies.ProcessPage:
    """Show the published processes, one item per row and altitude band.

    With `altitude_ft` only the band that holds it; with `jar_size` only rows that print the size, or cover it by a
    published equivalence, named in `by`. `method=atmospheric-steam` gives the derived rows.
    """
    options = processes.options_at(
        figures, altitude_ft, product=product, family=family, method=method, jar_size=jar_size
    )
    kept, cursor = _cut(page, list(options))
    return bodies.ProcessPage(items=tuple(PublishedProcess.of(each) for each in kept), next_cursor=cursor)


@router.get("/tested-recipes", dependencies=[OpenToAll], responses=UNCHANGED)
def list_tested_recipes(figures: Published, page: Page) -> bodies.TestedRecipePage:
    """Show the research-tested recipes with the processes printed for them."""
    kept, cursor = _cut(page, figures.tested_recipes)
    return bodies.TestedRecipePage(items=tuple(bodies.TestedRecipeItem.of(each) for each in kept), next_cursor=cursor)


@router.get("/tested-recipes/{id}", dependencies=[OpenToAll], responses=UNCHANGED | problems(404))
def read_tested_recipe(figures: Published, id: str) -> bodies.TestedRecipeItem:
    """Show one research-tested recipe."""
    recipe = figures.tested_recipe.get(id)
    if recipe is None:
        raise Problem.not_found()
    return bodies.TestedRecipeItem.of(recipe)


@router.get("/ingredients", dependencies=[OpenToAll], responses=UNCHANGED)
def list_ingredients(
    figures: Published,
    page: Page,
    q: Annotated[Word | None, Query(description="a part of a name")] = None,
) -> bodies.IngredientPage:
    """Look ingredients up by a part of their name, the closest first."""
    found = figures.ingredients if q is None else _called(figures.ingredients, q)
    kept, cursor = _cut(page, found)
    return bodies.IngredientPage(items=tuple(bodies.IngredientItem.of(each) for each in kept), next_cursor=cursor)


def _cut(page: Asked, rows: Sequence[T]) -> tuple[list[T], str | None]:
    """One page of a list that doesn't change while the service runs: a row's place is its number."""
    place = page.after(int)
    first = 0 if place is None else place[0] + 1
    numbered = list(enumerate(rows[first : first + page.limit + 1], start=first))
    kept, cursor = page.page(numbered, lambda row: (row[0],))
    return [row for _, row in kept], cursor


def _called(ingredients: Sequence[Ingredient], part: str) -> list[Ingredient]:
    """Ingredients with this part in a name: the whole name before a beginning, a beginning before the rest."""
    wanted = part.strip().casefold()
    ranked: list[tuple[int, int]] = []
    for place, ingredient in enumerate(ingredients):
        names = [name.casefold() for name in (ingredient.name, *ingredient.aliases)]
        ranks = [0 if name == wanted else 1 if name.startswith(wanted) else 2 for name in names if wanted in name]
        if ranks:
            ranked.append((min(ranks), place))
    return [ingredients[place] for _, place in sorted(ranked)]
