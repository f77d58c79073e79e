"""The contract as this service states it, and a page to read it and try it on."""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from fastapi import Request, Response
from fastapi.openapi.docs import get_swagger_ui_html
from fastapi.responses import HTMLResponse

from service.web.callers import OpenToAll
from service.web.routing import Routes

router = Routes("", "service")

# What the page loads: the script and style its library names, and the script that starts them.
MANUAL_POLICY = (
    "default-src 'none'; script-src https://cdn.jsdelivr.net 'unsafe-inline'; style-src https://cdn.jsdelivr.net"
    " 'unsafe-inline'; img-src 'self' data: https://fastapi.tiangolo.com; connect-src 'self'; frame-ancestors 'none'"
)


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
    """Show the contract as a page, whose script and style come from the public registry that its library names."""
    page = get_swagger_ui_html(openapi_url="openapi.json", title=request.app.title)
    page.headers["Content-Security-Policy"] = MANUAL_POLICY
    return page
