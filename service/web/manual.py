"""The contract as this service states it, and a page to read it and try it on."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi import Request, Response
from fastapi.responses import HTMLResponse

from service.web.callers import OpenToAll
from service.web.html import fill
from service.web.problems import Problem
from service.web.routing import Routes

router = Routes("", "service")

# What the page loads comes from this service: the library's script and style, and the few lines that start them.
MANUAL_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; connect-src 'self';"
    " frame-ancestors 'none'"
)
LIBRARY = {"swagger-ui-bundle.js": "text/javascript", "swagger-ui.css": "text/css"}
START = """\
SwaggerUIBundle({
  url: "openapi.json", dom_id: "#manual", deepLinking: true, tryItOutEnabled: true, displayOperationId: true,
  defaultModelsExpandDepth: 0, validatorUrl: null,
});
"""
CACHE_SECONDS = 86_400


@dataclass(frozen=True, slots=True)
class Written:
    """The contract as it is sent, with its ETag."""

    content: bytes
    etag: str


def written_once(document: Callable[[], dict[str, Any]]) -> Callable[[], Written]:
    """Write the contract when it is first asked for: it takes half a second, and anybody may ask."""

    @cache
    def written() -> Written:
        content = json.dumps(document(), ensure_ascii=False, separators=(",", ":")).encode()
        return Written(content, f'"{hashlib.sha256(content).hexdigest()[:16]}"')

    return written


@router.get("/openapi.json", dependencies=[OpenToAll], include_in_schema=False)
def show_contract(request: Request) -> Response:
    """Give the OpenAPI document."""
    written: Written = request.app.state.contract()
    headers = {"Cache-Control": "public, max-age=300", "ETag": written.etag}
    return Response(written.content, headers=headers, media_type="application/json")


@router.get("/docs", dependencies=[OpenToAll], include_in_schema=False)
def show_manual(request: Request) -> HTMLResponse:
    """Show the contract as a page to read it and try it on; it loads nothing from elsewhere."""
    page = fill("web/manual.html", title=request.app.title)
    return HTMLResponse(page, headers={"Content-Security-Policy": MANUAL_POLICY})


@router.get("/docs/{name}", dependencies=[OpenToAll], include_in_schema=False)
def show_manual_part(name: str) -> Response:
    """Give what the page is made of."""
    if name == "start.js":
        return _part(START.encode(), "text/javascript")
    if name not in LIBRARY:
        raise Problem.not_found()
    return _part(_library(name), LIBRARY[name])


def _part(content: bytes, media_type: str) -> Response:
    etag = f'"{hashlib.sha256(content).hexdigest()[:16]}"'
    headers = {"Cache-Control": f"public, max-age={CACHE_SECONDS}", "ETag": etag}
    return Response(content, headers=headers, media_type=media_type)


def _library(name: str) -> bytes:
    return (files("fastapi_swagger.resources") / name).read_bytes()
