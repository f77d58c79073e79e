"""A recipe with the check it gets, as both are kept."""

from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.checks.checking import check_recipe
from service.recipes import store


def judge(new: RecipeCheckRequest, altitude_ft: int) -> tuple[CheckAnswer, store.Judged]:
    """Check a recipe at the kitchen's altitude."""
    check = check_recipe(new, altitude_ft)
    return check, store.Judged(
        title=new.title,
        body=kept_body(new),
        rulebook=check.rulebook,
        altitude_ft=altitude_ft,
        verdict=check.verdict,
        severities=tuple(finding.severity for finding in check.findings),
        answer=check.model_dump(mode="json", by_alias=True),
    )


def kept_body(new: RecipeCheckRequest) -> dict[str, object]:
    """A recipe as it was sent."""
    return new.model_dump(mode="json", exclude_unset=True)
