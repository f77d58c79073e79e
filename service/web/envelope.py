"""What is the same around every request: its id, the headers of its answer, HEAD for GET, one line in the log."""

import json
import logging
import re
from functools import cache, lru_cache
from time import perf_counter
from traceback import format_tb
from uuid import uuid4

from prometheus_client import Counter, Histogram
from starlette.requests import ClientDisconnect
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.web import metrics
from service.web.problems import Problem

LOG = logging.getLogger("canning.requests")
SECURITY_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}
"""On every answer (OWASP REST Security Cheat Sheet and Secure Headers Project)."""
LOADS_NOTHING = "default-src 'none'; frame-ancestors 'none'"
"""The policy of an answer that isn't a page; a page states its own."""
USUAL_HEADERS = [
    (name.lower().encode(), value.encode())
    for name, value in {
        **SECURITY_HEADERS,
        "Content-Security-Policy": LOADS_NOTHING,
        "Cache-Control": "private, no-cache",
    }.items()
]
"""On every answer that doesn't say otherwise, as ASGI wants them."""
TLS_ONLY = (b"strict-transport-security", b"max-age=31536000")
ERRORS = logging.getLogger("canning.errors")
METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"})
_REQUEST_ID = re.compile(rb"[A-Za-z0-9-]{8,64}")


class Envelope:
    """The outermost layer, pure ASGI."""

    def __init__(self, app: ASGIApp) -> None:
        """Wrap the rest of the service."""
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request through and note how it went."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        offered = next((value for name, value in scope["headers"] if name == b"x-request-id"), b"")
        request_id = offered.decode("latin-1") if _REQUEST_ID.fullmatch(offered) else str(uuid4())
        method = scope["method"]
        inner = {**scope, "method": "GET" if method == "HEAD" else method}
        state = inner["state"] = {**scope.get("state", {}), "request_id": request_id}
        started = perf_counter()
        status = 0

        async def answer(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                stated = {name for name, _ in message["headers"]}
                headers = [*message["headers"], (b"x-request-id", request_id.encode())]
                headers += [each for each in USUAL_HEADERS if each[0] not in stated]
                if scope.get("scheme") == "https":
                    headers.append(TLS_ONLY)
                if allowance := state.get("allowance_headers"):
                    headers += [(name.lower().encode(), value.encode()) for name, value in allowance.items()]
                message = {**message, "headers": headers}
            elif method == "HEAD":
                message = {**message, "body": b""}
            await send(message)

        try:
            await self.app(inner, receive, answer)
        except ClientDisconnect:
            state["problem"] = "caller-left"  # before their request was whole: nothing was begun
        except Exception as error:
            ERRORS.error("request %s failed: %s", request_id, without_words(error))
            state["problem"] = "internal-error"
            if status:
                raise
            failed = Problem("internal-error", "Something went wrong here.").response(request_id)
            await failed(inner, receive, answer)
        finally:
            seconds = perf_counter() - started
            LOG.info(_line(inner, method, request_id, status, seconds))
            _count(inner, method, status, seconds)


def _route(scope: Scope) -> str | None:
    return getattr(scope.get("route"), "path", None)


def _count(scope: Scope, method: str, status: int, seconds: float) -> None:
    """Add a request to the metrics; what a caller made up is no label."""
    route, method = _route(scope) or "none", method if method in METHODS else "other"
    taken, answers = _counted(method, route, str(status))
    taken.observe(seconds)
    answers.inc()
    if code := scope["state"].get("problem"):
        metrics.PROBLEMS.labels(route, code).inc()


@cache  # of labels that are all ours
def _counted(method: str, route: str, status: str) -> tuple[Histogram, Counter]:
    return metrics.REQUEST_SECONDS.labels(method, route), metrics.ANSWERS.labels(method, route, status)


def without_words(error: BaseException) -> str:
    """Where an error came from and of what kind it is; its message may hold what a caller or a member wrote."""
    told = []
    step: BaseException | None = error
    while step is not None:
        state = getattr(step, "sqlstate", None) or getattr(step, "sqlite_errorname", None) or ""
        told.append(f"{type(step).__qualname__} {state}\n{''.join(format_tb(step.__traceback__))}")
        step = step.__cause__ or step.__context__
    return "because of ".join(told)


def _line(scope: Scope, method: str, request_id: str, status: int, seconds: float) -> str:
    """What the log keeps, as JSON: the route's template, never the path itself, which may hold ids and secrets."""
    caller = scope["state"].get("caller")
    return (
        f'{{"id": "{request_id}", "method": {_quoted(method)}, "route": {_quoted(_route(scope))}, "status": {status}, '
        f'"milliseconds": {seconds * 1000:.1f}, "member": {_quoted(caller and str(caller.id))}}}'
    )


_quoted = lru_cache(maxsize=1024)(json.dumps)
