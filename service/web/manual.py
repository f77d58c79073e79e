"""The contract as this service states it, and a page to read it and try it on."""

from typing import Any

from fastapi import Request
from fastapi.openapi.docs import get_swagger_ui_html
from fastapi.responses import HTMLResponse, JSONResponse

from service.web.callers import OpenToAll
from service.web.routing import Routes

router = Routes("", "service")


@router.get("/openapi.json", dependencies=[OpenToAll], include_in_schema=False)
def show_contract(request: Request) -> JSONResponse:
    """Give the OpenAPI document."""
    document: dict[str, Any] = request.app.openapi()
    return JSONResponse(document, headers={"Cache-Control": "public, max-age=300"})


@router.get("/docs", dependencies=[OpenToAll], include_in_schema=False)
def show_manual(request: Request) -> HTMLResponse:
    """Show the contract as a page, whose script and style come from the public registry that its library names."""
    return get_swagger_ui_html(openapi_url="openapi.json", title=request.app.title)
