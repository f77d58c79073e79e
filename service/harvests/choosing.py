"""What a harvest weighs, and what one pot of a recipe takes of it: from published yields and the recipe's own check."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from uuid import UUID

from sqlmodel import Session

from service.checks.bodies import CheckAnswer, FormulaIngredient, RecipeCheckRequest
from service.core.jars.harvests import Choice
from service.core.measures.bounds import Bounds
from service.core.measures.units import GRAMS_PER_POUND
from service.core.rules.recognition import words_of
from service.pantry import store as pantry
from service.published.loading import facts
from service.recipes import store as recipes
from service.web.callers import Caller

WEIGHTS = {
    "lb": Fraction(1),
    "oz": Fraction(1, 16),
    "kg": 1000 / GRAMS_PER_POUND,
    "g": 1 / GRAMS_PER_POUND,
}
PRODUCE_ROLES = frozenset({"fruit", "tomato", "vegetable", "legume"})


@dataclass(frozen=True, slots=True)
class Recipe:
    """A recipe that may be chosen, with its newest revision's body and check."""

    id: UUID
    revision: int
    title: str
    check: CheckAnswer
    jars: Mapping[str, Bounds]  # from one pot, by size

    @property
    def booked_jars(self) -> dict[str, int]:
        """Whole jars to book equipment for: as many as one pot may fill."""
        return {
            size: -int(-(count.low if count.high is None else count.high) // 1) for size, count in self.jars.items()
        }


def pounds(name: str, amount: Fraction, unit: str) -> Bounds | None:
    """What so much produce weighs; None where nothing published says what such a container or piece weighs."""
    if unit in WEIGHTS:
        return Bounds.exactly(amount * WEIGHTS[unit])
    found = [
        weight
        for row in facts().produce_yields
        if set(words_of(name)) <= set(words_of(row.produce))
        for container, weight in row.containers.items()
        if unit in words_of(container)
    ]
    if not found:
        return None
    highest = max(weight.low if weight.high is None else weight.high for weight in found)
    return Bounds(amount * min(weight.low for weight in found), amount * highest)


def recipe(session: Session, caller: Caller, recipe_id: UUID) -> Recipe | None:
    """The newest revision of a recipe of the caller's."""
    row = recipes.recipe(session, caller.kitchen_id, recipe_id, None if caller.is_coordinator else caller.id)
    if row is None:
        return None
    kept = recipes.newest(recipes.revisions(session, row))
    body, check = RecipeCheckRequest.model_validate(kept.revision.body), CheckAnswer.model_validate(kept.check.answer)
    jars = {jar.size: Bounds.exactly(jar.count) for jar in body.jars or ()}
    if not jars and check.expected_yield:
        jars = {
            jar.size: Bounds(Fraction(jar.count.low or 0), None if jar.count.high is None else Fraction(jar.count.high))
            for jar in check.expected_yield.jars[:1]
        }
    return Recipe(row.id, kept.revision.number, kept.revision.title, check, jars)


def takes(ingredient: FormulaIngredient, names: Sequence[str]) -> int | None:
    """Which of the harvested foods an ingredient is; None for what has to be bought."""
    if ingredient.role not in PRODUCE_ROLES:
        return None
    words = set(words_of(f"{ingredient.name} {ingredient.as_written}"))
    return next((at for at, name in enumerate(names) if words_of(name) and set(words_of(name)) <= words), None)


def choice(session: Session, caller: Caller, found: Recipe, names: Sequence[str]) -> Choice:
    """What one pot of a recipe takes of the harvest; a food of unknown weight is taken to be without end."""
    needs: dict[int, Bounds] = {}
    for ingredient in found.check.formula.ingredients:
        at = takes(ingredient, names)
        if at is not None:
            grams = ingredient.grams
            low = Fraction(grams.low or 0) / GRAMS_PER_POUND if grams else Fraction(0)
            high = Fraction(grams.high) / GRAMS_PER_POUND if grams and grams.high is not None else None
            needs[at] = Bounds.total([needs.get(at, Bounds.exactly(0)), Bounds(low, high)])
    held = sum(
        each.jars
        for each in pantry.eatable(session, caller.kitchen_id, caller.id)
        if each.title == found.title or (each.product and each.product == found.check.product)
    )
    return Choice(needs, sum(found.booked_jars.values()), held)
