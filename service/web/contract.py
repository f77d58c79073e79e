"""The OpenAPI document: what FastAPI writes, with our problems in the place of its own."""

from collections.abc import Callable
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute

from service.web.bodies import ProblemDetails
from service.web.callers import access_of, scopes_of
from service.web.problems import MEDIA_TYPE, titles
from service.web.sessions import KEY_HEADER, writing

PROBLEM = "#/components/schemas/ProblemDetails"
KEY_PARAMETER = {
    "name": KEY_HEADER,
    "in": "header",
    "required": False,
    "description": "A name of the caller's for this request: sent again, it gets the first answer again.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[ -~]+$"},
    "example": "booking-of-the-plums",
}


def contract(app: FastAPI) -> dict[str, Any]:
    """Write the whole contract of an application."""
    document = get_openapi(
        title=app.title, version=app.version, description=app.description, routes=app.routes, openapi_version="3.1.0"
    )
    schemas = document.setdefault("components", {}).setdefault("schemas", {})
    for stock in ("HTTPValidationError", "ValidationError"):
        schemas.pop(stock, None)
    own = ProblemDetails.model_json_schema(ref_template="#/components/schemas/{model}")
    schemas.update(own.pop("$defs"), ProblemDetails=own)
    document["components"]["securitySchemes"] = {"token": {"type": "http", "scheme": "bearer"}}
    for route in app.routes:
        if isinstance(route, APIRoute) and route.include_in_schema:
            for method in route.methods or ():
                _complete(document["paths"][route.path_format][method.lower()], route, method)
    return document


def _complete(operation: dict[str, Any], route: APIRoute, method: str) -> None:
    answers = operation["responses"]
    access = access_of(route)
    possible = {422, 500, 503}
    if "/healthz" not in route.path:
        possible |= {401, 429}
    if access != "anyone":
        operation["security"] = [{"token": sorted(scopes_of(route))}]
        possible.add(403)
    elif possible & {401}:
        operation["security"] = [{}, {"token": []}]
    if method in {"POST", "PUT", "PATCH"}:
        possible |= {400, 408, 413, 415}
    if "{" in route.path:
        possible.add(404)
    for status in possible:
        answers[str(status)] = {"description": titles(status)}
    for status, answer in answers.items():
        if int(status) >= 400:
            answer["content"] = {MEDIA_TYPE: {"schema": {"$ref": PROBLEM}}}
    if method == "POST" and depends_on(writing, route.dependant):
        operation.setdefault("parameters", []).append(KEY_PARAMETER)
    operation["responses"] = dict(sorted(answers.items()))


def depends_on(call: Callable[..., Any], dependant: Any) -> bool:
    """Whether a route asks for something, itself or by what it asks for."""
    return any(each.call is call or depends_on(call, each) for each in dependant.dependencies)
