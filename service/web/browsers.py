"""What a browser needs beside the API: a cookie that holds the token, forms, and problems as pages.

A page's cookie is read as the `Authorization` header it stands for, on pages only: the API never looks at a cookie,
and pages have no second way of knowing who is there. The cookie is HttpOnly and SameSite=Strict, goes to `/board`
alone, and every POST that comes with it must say that it comes from a page of this service.
"""

import json
from collections.abc import Awaitable, Callable
from datetime import UTC, datetime
from typing import Annotated, Any
from urllib.parse import parse_qsl, urlsplit
from zoneinfo import ZoneInfo

from fastapi import Depends, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.datastructures import Headers, ImmutableMultiDict, QueryParams
from starlette.requests import cookie_parser
from starlette.types import Receive, Scope, Send

from service.web import html
from service.web.callers import Caller
from service.web.problems import CATALOGUE, Problem, invalid
from service.web.routing import KitchenRoute, Routes
from service.web.sessions import KEY_HEADER
from service.web.types import Key

HOME = "/board"
SIGN_IN = f"{HOME}/sign-in"
COOKIE = "canning_kitchen"
KEY = "key"
MOST_FIELDS = 500
TIMES = {  # of a problem, as its page says them
    "next_free_at": "Free again on",
    "possible_at": "Possible on",
    "not_before": "Not before",
    "not_after": "It was possible until",
}
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'"
)

Fields = ImmutableMultiDict[str, str]
Answering = Callable[[Request, Exception], Awaitable[Response]]


class PageRoute(KitchenRoute):
    """A route for people: it takes forms, and knows who is there by a cookie."""

    takes = "application/x-www-form-urlencoded"

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Put the token of the cookie, and the key of a form, where the API has them."""
        headers = Headers(scope=scope)
        key = QueryParams(scope["query_string"]).get(KEY)
        if key and KEY_HEADER not in headers:
            scope["headers"] = [*scope["headers"], (KEY_HEADER.lower().encode(), key.encode())]
        token = None if "authorization" in headers else cookie_parser(headers.get("cookie", "")).get(COOKIE)
        if token:
            if scope["method"] == "POST":
                require_own_page(headers)
            scope["headers"] = [*scope["headers"], (b"authorization", b"Bearer " + token.encode("latin-1"))]
        await super().handle(scope, receive, send)


class Pages(Routes):
    """A router of pages; none of them is part of the contract."""

    def __init__(self, prefix: str, tag: str) -> None:
        """Start an empty list of pages below a path."""
        super().__init__(prefix, tag)
        self.route_class = PageRoute
        self.include_in_schema = False
        self.default_response_class = HTMLResponse


def require_own_page(headers: Headers) -> None:
    """Refuse a form that another site's page sends.

    Browsers say themselves where a request comes from, and no page can make them say otherwise; one that doesn't yet
    (Sec-Fetch-Site is of 2023) names the page's origin. A request that says neither comes from no browser's form.
    """
    site, origin = headers.get("sec-fetch-site"), urlsplit(headers.get("origin", "")).netloc
    own = site == "same-origin" if site else bool(origin) and origin == headers.get("host")
    if not own:
        raise Problem("not-from-here", "The form wasn't sent by a page of this service.")


async def own_page(request: Request) -> None:
    """The same for a form that comes without a cookie."""
    require_own_page(request.headers)


OwnPage = Depends(own_page)


async def once(key: Annotated[Key | None, Query()] = None) -> None:
    """A key that the page gave its form, so that a form sent twice is done once: it goes where a key belongs."""


Once = Depends(once)


async def fields(request: Request) -> Fields:
    """The fields of a form as they were filled in; those left empty aren't there."""
    try:
        pairs = parse_qsl((await request.body()).decode(), errors="strict", max_num_fields=MOST_FIELDS)
    except ValueError:
        raise invalid([{"pointer": "#", "code": "form", "detail": "The form can't be read."}]) from None
    lines = ((name, value.replace("\r\n", "\n").strip()) for name, value in pairs)
    return ImmutableMultiDict([(name, value) for name, value in lines if value])


Form = Annotated[Fields, Depends(fields)]


def page(template: str, status: int = 200, **values: object) -> HTMLResponse:
    """Answer a page that runs and loads nothing but this service's own files."""
    headers = {"Content-Security-Policy": POLICY, "Referrer-Policy": "same-origin"}
    return HTMLResponse(html.fill(template, **values), status, headers)


def see(path: str) -> RedirectResponse:
    """Send the browser on after a form, so that a page that is loaded again sends nothing again."""
    return RedirectResponse(path, 303)


def remember(request: Request, response: Response, token: str, seconds: int | None) -> None:
    """Let the browser keep a token, until it is closed or for so many seconds."""
    response.set_cookie(
        COOKIE,
        token,
        max_age=seconds,
        path=HOME,
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="strict",
    )


def forget(response: Response) -> None:
    """Let the browser drop its token."""
    response.delete_cookie(COOKIE, path=HOME, httponly=True, samesite="strict")


def for_people(answering: Answering) -> Answering:
    """The same answer, but as a page where a browser asked for a page."""

    async def answer(request: Request, error: Exception) -> Response:
        response = await answering(request, error)
        route = request.scope.get("route")
        asks_for_a_page = "text/html" in request.headers.get("accept", "")
        if not isinstance(route, PageRoute) or not asks_for_a_page or response.status_code < 400:
            return response
        if response.status_code == 401:
            home = see(SIGN_IN)
            forget(home)
            return home
        return _as_page(request, response)

    return answer


def _as_page(request: Request, response: Response) -> Response:
    problem: dict[str, Any] = json.loads(bytes(response.body))
    caller: Caller | None = getattr(request.state, "caller", None)
    zone = ZoneInfo(caller.kitchen.time_zone) if caller else UTC
    shown = page(
        "web/problem.html",
        response.status_code,
        caller=caller,
        problem=problem,
        explanation=CATALOGUE[problem["code"]].explanation,
        times=[
            (says, f"{datetime.fromisoformat(problem[name]).astimezone(zone):%A %d %B %Y, %H:%M}")
            for name, says in TIMES.items()
            if problem.get(name)
        ],
    )
    for name in ("retry-after", "allow"):
        if name in response.headers:
            shown.headers[name] = response.headers[name]
    return shown
