"""Papers as pages for a browser to print. They load nothing from elsewhere and run nothing."""

from base64 import b64encode
from functools import lru_cache
from hashlib import sha256
from importlib.resources import files
from typing import Any

from markupsafe import Markup

from service.prints import codes
from service.prints.formats import Format, PaperSize
from service.web.html import fill

MEDIA_TYPE = "text/html; charset=utf-8"
POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"


def page(template: str, size: PaperSize, **values: Any) -> str:
    """Write a page from its template; every text is escaped."""
    return fill(f"prints/{template}.html", size=size.value, **values)


def labels(made: list[tuple[Any, float]], form: Format, first: int, code_mm: float) -> str:
    """Labels, each with its size of type in points, in the same places as on the PDF."""
    sheets: list[list[dict[str, Any]]] = []
    for number, (label, points) in enumerate(made, first - 1):
        if number % form.per_page == 0 or not sheets:
            sheets.append([])
        left, top = form.place_mm(number)
        side, drawn = codes.path(label.opens)
        sheets[-1].append({"label": label, "points": points, "left": left, "top": top, "side": side, "drawn": drawn})
    width, height = form.page_mm
    return fill(
        "prints/labels.html",
        title=", ".join(dict.fromkeys(each.title for each, _ in made)),
        sheets=sheets,
        form=form,
        width=width,
        height=height,
        code_mm=code_mm,
        size=f"{width}mm {height}mm",
    )


@lru_cache(maxsize=1)
def _script() -> str:
    return (files("service.prints") / "templates" / "lot.js").read_text(encoding="utf-8")


def lot(code: str) -> tuple[str, str]:
    """The page that a label's code opens, and its policy: it runs its own script and asks nobody but this service."""
    script = _script()
    digest = b64encode(sha256(script.encode()).digest()).decode()
    policy = f"{POLICY}; script-src 'sha256-{digest}'; connect-src 'self'"
    text = fill(
        "prints/lot.html",
        title=f"Lot {code}",
        size=PaperSize.LETTER.value,
        code=code,
        script=Markup(script),  # noqa: S704 (our own script)
    )
    return text, policy
