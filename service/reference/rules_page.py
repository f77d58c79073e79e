"""The published statements as a page to read and print, for whoever reviews them and reads no program."""

from functools import lru_cache

from service.core.rules.facts import Facts, Statement
from service.core.rules.rulebook import RULES
from service.web import html

SEVERITIES = {
    "unsafe": "The food may make people ill.",
    "untested": "Nothing published covers it, so it isn't kept on a shelf.",
    "spoilage": "It may spoil.",
    "set-failure": "It may not set.",
    "quality": "It may look, feel or taste worse than it should.",
    "paperwork": "A label, a record or a permit is missing.",
}
HOMES = {
    "recipe-check": "Judged whenever a recipe is checked.",
    "batch-day": "Asked on the day, at the canner.",
    "records-and-sale": "For labels, records and sale.",
    "advice": "Shown, never judged.",
}
EVIDENCE = {
    "read": "read on the page named",
    "computed": "computed from figures on the page named",
    "memory": "from memory, still to be confirmed",
    "common-practice": "common practice, no source",
}

_JUDGED = {rule.id: rule.says for rule in RULES}


@lru_cache(maxsize=1)
def rules_page(figures: Facts) -> str:
    """Write the whole page: every statement under its area, in the catalogue's order."""
    by_area: dict[str, list[Statement]] = {}
    for statement in figures.statements:
        by_area.setdefault(statement.area, []).append(statement)
    return html.fill(
        "reference/rules.html",
        figures=figures,
        areas=by_area,
        judged=_JUDGED,
        severities=SEVERITIES,
        homes=HOMES,
        evidence=EVIDENCE,
    )
