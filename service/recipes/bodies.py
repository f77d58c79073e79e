"""What is answered about recipes; what is sent is the body of a check."""

from typing import Any

from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.recipes import store
from service.web.bodies import Answer, Listed, example
from service.web.types import Id, Timestamp

A_RECIPE = "7a0c2d64-0b7e-4f0e-9c7a-6b1f0f3d2a55"
AN_ITEM: dict[str, Any] = {
    "id": A_RECIPE,
    "member_id": "0f9c2c1e-5f0b-4a2e-9b57-3d7f6f1f2a10",
    "title": "Plum jam",
    "revision": 1,
    "verdict": "ready",
    "made_at": "2027-08-01T09:00:00Z",
}
A_RECIPE_BODY: dict[str, Any] = {
    "title": "Plum jam",
    "family": "jam",
    "ingredients": ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"],
    "jars": [{"size": "half-pint", "count": 8}],
}
A_CHECK: dict[str, Any] = {
    "verdict": "ready",
    "family": "jam",
    "product": "jam-or-jelly-with-pectin",
    "inferred": ["product"],
    "findings": [],
    "notes": [],
    "formula": {
        "ingredients": [],
        "total_grams": None,
        "soluble_solids": None,
        "fruit_to_sugar": None,
        "prepared_fruit_cups": None,
    },
    "process": {"status": "published", "options": []},
    "yield": None,
    "tested_recipe": None,
    "rulebook": "2026.1",
    "notice": "The service advises and never certifies.",
}


class NewRevision(Answer):
    """A revision that was kept, with the check it got."""

    model_config = example(id=A_RECIPE, revision=1, check=A_CHECK)

    id: Id
    revision: int
    check: CheckAnswer

    @classmethod
    def of(cls, kept: store.Kept, check: CheckAnswer) -> "NewRevision":
        """Put the rows together."""
        return cls(id=kept.recipe.id, revision=kept.revision.number, check=check)


class RecipeItem(Answer):
    """A recipe by its newest revision."""

    model_config = example(**AN_ITEM)

    id: Id
    member_id: Id
    title: str
    revision: int
    verdict: str
    made_at: Timestamp

    @classmethod
    def of(cls, kept: store.Kept) -> "RecipeItem":
        """Put the rows together."""
        return cls(
            id=kept.recipe.id,
            member_id=kept.recipe.member_id,
            title=kept.revision.title,
            revision=kept.revision.number,
            verdict=kept.check.verdict,
            made_at=kept.revision.made_at,
        )


class RecipeList(Listed[RecipeItem]):
    """A page of recipes, the newest first."""

    model_config = example(items=[AN_ITEM], next_cursor=None)


class RevisionAnswer(RecipeItem):
    """One revision: the recipe as it was sent, and what the rulebook said."""

    model_config = example(**AN_ITEM, rulebook="2026.1", recipe=A_RECIPE_BODY, check=A_CHECK)

    rulebook: str
    recipe: RecipeCheckRequest
    check: CheckAnswer

    @classmethod
    def of(cls, kept: store.Kept) -> "RevisionAnswer":
        """Put the rows together."""
        return cls(
            **RecipeItem.of(kept).model_dump(),
            rulebook=kept.check.rulebook,
            recipe=RecipeCheckRequest.model_validate(kept.revision.body),
            check=CheckAnswer.model_validate(kept.check.answer),
        )


class RecipeAnswer(RevisionAnswer):
    """A recipe's newest revision, with the list of all."""

    model_config = example(**AN_ITEM, rulebook="2026.1", recipe=A_RECIPE_BODY, check=A_CHECK, revisions=[AN_ITEM])

    revisions: tuple[RecipeItem, ...]

    @classmethod
    def whole(cls, all_kept: list[store.Kept]) -> "RecipeAnswer":
        """Put the rows together, the newest revision in front."""
        shown = RevisionAnswer.of(store.newest(all_kept))
        return cls(**dict(shown), revisions=tuple(RecipeItem.of(kept) for kept in all_kept))
