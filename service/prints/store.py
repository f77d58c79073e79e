"""Reading what papers need beyond what the other stores answer: names, and what is in the jars of a lot."""

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache
from uuid import UUID

from sqlmodel import Session, select

from service.batches import store as batches
from service.bookings import store as bookings
from service.checks import checking
from service.checks.bodies import RecipeCheckRequest
from service.core.jars.allergens import NOT_KNOWN, Food, allergens
from service.core.rules import formula
from service.core.rules.recognition import Recogniser, recogniser
from service.members.tables import Kitchen
from service.published.loading import facts

MOST_BOOKINGS = 1000


def kitchen_name(session: Session, kitchen_id: UUID) -> str:
    return session.exec(select(Kitchen.name).where(Kitchen.id == kitchen_id)).one()


def day(session: Session, kitchen_id: UUID, from_at: datetime, to_at: datetime) -> Sequence[bookings.Listed]:
    """Everybody's bookings that touch a time."""
    return bookings.bookings_between(session, kitchen_id, from_at, to_at, None, (), None, MOST_BOOKINGS)


def allergen_lines(session: Session, kitchen_id: UUID, altitude_ft: int, lot_code: str) -> tuple[str, ...]:
    """What a label of this lot says of allergens; that it isn't known where no recipe says what is in the jars."""
    kept = batches.batch_of_lot(session, kitchen_id, lot_code)
    booked = kept and batches.booked(session, kitchen_id, kept.row.booking_id, None)
    if not booked or booked.recipe is None:
        return NOT_KNOWN
    body = RecipeCheckRequest.model_validate(booked.recipe.revision.body)
    parts = formula.parts(checking.recipe(body, altitude_ft).lines, None, _known())
    if not parts:
        return NOT_KNOWN
    foods = [
        Food(part.ingredient.name, part.ingredient.id, part.ingredient.kind, part.ingredient.group)
        if part.ingredient
        else Food(part.name or part.as_written)
        for part in parts
    ]
    return allergens(foods).lines()


@lru_cache(maxsize=1)
def _known() -> Recogniser:
    return recogniser(facts())
