"""Reading and writing recipes, their revisions and checks."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import func, or_
from sqlmodel import Session, col, select

from service.members.tables import Kitchen
from service.recipes.tables import Check, Recipe, Revision


@dataclass(frozen=True, slots=True)
class Kept:
    """One revision of a recipe with the newest check it got."""

    recipe: Recipe
    revision: Revision
    check: Check


@dataclass(frozen=True, slots=True)
class RevisionVerdict:
    """What the newest check of a revision said, and whose recipe it is."""

    verdict: str
    severities: tuple[str, ...]
    member_id: UUID


@dataclass(frozen=True, slots=True)
class Judged:
    """A recipe as it was sent, and the check it got."""

    title: str
    body: dict[str, Any]
    rulebook: str
    altitude_ft: int
    verdict: str
    severities: tuple[str, ...]
    answer: dict[str, Any]


def add(session: Session, kitchen_id: UUID, member_id: UUID, judged: Judged, at: datetime) -> Kept:
    """Keep a recipe as its first revision."""
    recipe = Recipe(kitchen_id=kitchen_id, member_id=member_id, made_at=at)
    session.add(recipe)
    session.flush()
    return _revise(session, recipe, 1, member_id, judged, at)


def revise(session: Session, recipe: Recipe, by: UUID, judged: Judged, at: datetime) -> Kept:
    """Keep one more revision; those before stay as they are."""
    query = select(func.max(Revision.number)).where(Revision.recipe_id == recipe.id)
    return _revise(session, recipe, (session.exec(query).one() or 0) + 1, by, judged, at)


def _revise(session: Session, recipe: Recipe, number: int, by: UUID, judged: Judged, at: datetime) -> Kept:
    revision = Revision(
        recipe_id=recipe.id, number=number, title=judged.title, body=judged.body, made_by=by, made_at=at
    )
    session.add(revision)
    session.flush()
    check = Check(
        recipe_id=recipe.id,
        revision=number,
        rulebook=judged.rulebook,
        altitude_ft=judged.altitude_ft,
        verdict=judged.verdict,
        severities=list(judged.severities),
        answer=judged.answer,
        judged_at=at,
    )
    session.add(check)
    session.flush()
    return Kept(recipe, revision, check)


def recipe(session: Session, kitchen_id: UUID, recipe_id: UUID, member_id: UUID | None) -> Recipe | None:
    """One recipe of a member, or of anybody in the kitchen if no member is named."""
    query = select(Recipe).where(Recipe.kitchen_id == kitchen_id, Recipe.id == recipe_id)
    if member_id is not None:
        query = query.where(Recipe.member_id == member_id)
    return session.exec(query).one_or_none()


def page(
    session: Session, kitchen_id: UUID, member_id: UUID | None, limit: int, after: tuple[datetime, UUID] | None
) -> list[Kept]:
    """Recipes with their newest revisions, newest recipe first, one more than asked for."""
    query = select(Recipe).where(Recipe.kitchen_id == kitchen_id)
    if member_id is not None:
        query = query.where(Recipe.member_id == member_id)
    if after is not None:
        made_at, last = after
        query = query.where(
            or_(col(Recipe.made_at) < made_at, (col(Recipe.made_at) == made_at) & (col(Recipe.id) < last))
        )
    rows = session.exec(query.order_by(col(Recipe.made_at).desc(), col(Recipe.id).desc()).limit(limit + 1)).all()
    newest = {kept.recipe.id: kept for kept in _kept(session, rows)}
    return [newest[row.id] for row in rows]


def revisions(session: Session, found: Recipe) -> list[Kept]:
    """Every revision of a recipe, the first one first."""
    return _kept(session, [found])


def revision(session: Session, found: Recipe, number: int) -> Kept | None:
    """One revision of a recipe."""
    return next((kept for kept in _kept(session, [found]) if kept.revision.number == number), None)


def _kept(session: Session, rows: Sequence[Recipe]) -> list[Kept]:
    recipes = {row.id: row for row in rows}
    query = (
        select(Revision, Check)
        .join(Check, (col(Check.recipe_id) == Revision.recipe_id) & (col(Check.revision) == Revision.number))
        .where(col(Revision.recipe_id).in_(recipes))
        .order_by(col(Revision.number), col(Check.judged_at), col(Check.rulebook))
    )
    newest: dict[tuple[UUID, int], Kept] = {}
    for row, check in session.exec(query):
        newest[(row.recipe_id, row.number)] = Kept(recipes[row.recipe_id], row, check)
    return list(newest.values())


def revision_verdict(session: Session, kitchen_id: UUID, recipe_id: UUID, revision: int) -> RevisionVerdict | None:
    """What a revision's newest check said; None where this kitchen has no such revision.

    A check made at another altitude than the kitchen's says nothing: the revision is untested here.
    """
    query = (
        select(Check, Recipe.member_id, Kitchen.altitude_ft)
        .join(Recipe, col(Recipe.id) == Check.recipe_id)
        .join(Kitchen, col(Kitchen.id) == Recipe.kitchen_id)
        .where(Recipe.kitchen_id == kitchen_id, Check.recipe_id == recipe_id, Check.revision == revision)
        .order_by(col(Check.judged_at).desc(), col(Check.rulebook).desc())
    )
    found = session.exec(query).first()
    if found is None:
        return None
    check, member_id, altitude_ft = found
    if check.altitude_ft != altitude_ft:
        return RevisionVerdict("untested", ("untested",), member_id)
    return RevisionVerdict(check.verdict, tuple(check.severities), member_id)


def newest(found: Iterable[Kept]) -> Kept:
    """The last of a recipe's revisions."""
    return max(found, key=lambda kept: kept.revision.number)
