"""The published statements as a page to read and print, for whoever reviews them and reads no program."""

from collections.abc import Iterable
from functools import lru_cache
from html import escape

from service.core.rules.facts import Facts, Source, Statement
from service.core.rules.rulebook import RULES

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
STYLE = """
:root { color-scheme: light dark }
body { max-width: 44rem; margin: 0 auto; padding: 1rem; font: 1.05rem/1.5 Georgia, serif; overflow-wrap: anywhere }
h1, h2, h3, dt, .marks { font-family: Verdana, sans-serif }
h1 { font-size: 1.5rem } h2 { font-size: 1.25rem; margin-top: 3rem; border-bottom: 3px double } h3 { font-size: 1rem }
article { margin: 1.5rem 0; padding-left: .8rem; border-left: .3rem solid #7a8b6f }
article.unsafe, article.untested { border-left-color: #a3402f }
dt { font-size: .85rem; font-weight: bold } dd { margin: 0 0 .6rem } dd ul { margin: 0; padding-left: 1.2rem }
.marks { font-size: .85rem; padding: 0; list-style: none } .marks li { display: inline-block; margin-right: 1.2rem }
@media print { nav { display: none } article { break-inside: avoid } }
"""

_JUDGED = {rule.id: rule.says for rule in RULES}


@lru_cache(maxsize=1)
def rules_page(figures: Facts) -> str:
    """Write the whole page: every statement under its area, in the catalogue's order."""
    by_area: dict[str, list[Statement]] = {}
    for statement in figures.statements:
        by_area.setdefault(statement.area, []).append(statement)
    contents = "".join(
        f'<li><a href="#area-{escape(area)}">{_words(area)}</a> ({len(listed)})</li>'
        for area, listed in by_area.items()
    )
    areas = "".join(
        f'<section><h2 id="area-{escape(area)}">{_words(area)}</h2>{"".join(map(_article, listed))}</section>'
        for area, listed in by_area.items()
    )
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>The published rules</title><style>{STYLE}</style></head><body>"
        "<header><h1>The published rules</h1>"
        f"<p>All {len(figures.statements)} statements of rulebook {escape(figures.rulebook)}, with their figures and "
        "where each was published. A recipe is checked against them; they are advice from published figures, and no "
        "certificate.</p></header>"
        f'<nav aria-label="Areas"><h2>Areas</h2><ul>{contents}</ul></nav>'
        f"<section><h2>How to read them</h2>{_legend('Severity', SEVERITIES)}{_legend('Home', HOMES)}"
        f"{_legend('Evidence', EVIDENCE)}</section>"
        f"<main>{areas}</main></body></html>"
    )


def _legend(title: str, meanings: dict[str, str]) -> str:
    listed = "".join(f"<dt>{_words(word)}</dt><dd>{escape(meaning)}</dd>" for word, meaning in meanings.items())
    return f"<h3>{escape(title)}</h3><dl>{listed}</dl>"


def _article(statement: Statement) -> str:
    marks = [_words(statement.severity), _words(statement.home)]
    marks += ["Permits a change"] if statement.permits else []
    marks += ["Not asked of a tested recipe's own formula"] if statement.skipped_for_tested_formula else []
    figures = [f"{name.replace('_', ' ')}: {value}" for name, value in statement.figures.items()]
    judged = _JUDGED.get(statement.id)
    shown = (
        ("What to do", escape(statement.fix)),
        ("In the check", escape(judged or "")),
        ("Figures", _list(map(escape, figures))),
        ("As it should be", escape(statement.example_ok)),
        ("Not so", escape(statement.example_bad)),
        ("Exceptions", _list(map(escape, statement.exceptions))),
        ("Source", _source(statement.source)),
    )
    details = "".join(f"<dt>{name}</dt><dd>{value}</dd>" for name, value in shown if value)
    name = escape(statement.id)
    return (
        f'<article class="{escape(statement.severity)}" id="{name}"><h3><a href="#{name}">{name}</a></h3>'
        f'<ul class="marks">{"".join(f"<li>{mark}</li>" for mark in marks)}</ul>'
        f"<p>{escape(statement.says)}</p><dl>{details}</dl></article>"
    )


def _source(source: Source) -> str:
    title = f"<cite>{escape(source.title)}</cite>"
    if source.url is not None and source.url.startswith(("https://", "http://")):
        title = f'<a href="{escape(source.url)}">{title}</a>'
    publisher = f", {escape(source.publisher)}" if source.publisher else ""
    return f"{title}{publisher} <strong>({escape(EVIDENCE[source.evidence])})</strong>"


def _list(items: Iterable[str]) -> str:
    listed = "".join(f"<li>{item}</li>" for item in items)
    return f"<ul>{listed}</ul>" if listed else ""


def _words(name: str) -> str:
    return escape(name.replace("-", " ").capitalize())
