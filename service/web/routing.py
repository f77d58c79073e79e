"""The kind of route every feature uses: `router = Routes("/v1/bookings", "bookings")`."""

from asyncio import get_running_loop
from collections.abc import Callable, Collection, Coroutine
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from threading import RLock
from typing import Any, TypeVar

from fastapi import APIRouter, Request, Response
from fastapi.routing import APIRoute
from sqlalchemy.exc import DBAPIError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.routing import Match, compile_path
from starlette.types import Receive, Scope, Send

from service.web.asking import Answers
from service.web.callers import says_who_may_come
from service.web.etags import unchanged
from service.web.problems import Problem, invalid, undone_by_others

KIB = 1024
MIB = 1024 * KIB
TRIES = 3
THREADS = ThreadPoolExecutor(40, "requests")  # more than the gate lets in, so that health never waits for one
BODY_LIMIT_BYTES = 64 * KIB
_MAKING = RLock()
ANY = "*"  # no word of a path of ours
_BODY_LIMIT = "__body_limit_bytes__"
_Endpoint = TypeVar("_Endpoint", bound=Callable[..., Any])


def takes_up_to(limit_bytes: int) -> Callable[[_Endpoint], _Endpoint]:
    """Let a route take a larger body than most: stands below `@router.post(…)`."""

    def mark(endpoint: _Endpoint) -> _Endpoint:
        setattr(endpoint, _BODY_LIMIT, limit_bytes)
        return endpoint

    return mark


def body_limit_bytes(route: Any) -> int:
    """How much a route takes."""
    return int(getattr(route.endpoint, _BODY_LIMIT, BODY_LIMIT_BYTES))


class KitchenRoute(APIRoute):
    """A route with the manners of the service: one kind of body, bounded, no parameter it doesn't know."""

    takes = "application/json"

    def __init__(
        self, path: str, endpoint: Callable[..., Any], *, methods: Collection[str] | None = None, **rest: Any
    ) -> None:
        """Know the way here, which is all that a start needs: the rest is made when it is first asked for.

        To make out every signature, its parameters and their validators takes a sixth of a start and of its memory.
        """
        if not says_who_may_come(endpoint, rest.get("dependencies") or ()):
            raise RuntimeError(f"{path} doesn't say who may use it.")
        self.path, self.endpoint, self.methods = path, endpoint, set(methods or ["GET"])
        self.path_regex, self.path_format, self.param_convertors = compile_path(path)
        self._rest = {"methods": methods, **rest}

    def __getattr__(self, name: str) -> Any:
        """Make the rest; whoever else asks meanwhile, in another thread, waits for it."""
        with _MAKING:
            rest = self.__dict__.pop("_rest", None)
            if rest is not None:
                super().__init__(self.path, self.endpoint, **rest)
        return object.__getattribute__(self, name)

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look at the body's type and length before anything reads it; then work, and answer."""
        request = Request(scope, receive)
        headers, limit_bytes = request.headers, body_limit_bytes(self)
        announced = headers.get("content-length", "0")
        if announced != "0" or "transfer-encoding" in headers:
            kinds = [each.partition(";")[0].strip().lower() for each in headers.getlist("content-type")]
            if kinds != [self.takes] or headers.get("content-encoding", "identity").lower() != "identity":
                raise Problem("json-needed", f"A body is {self.takes}, as it is.", headers={"Accept": self.takes})
            if not announced.isdecimal() or int(announced[:12]) > limit_bytes:
                raise _too_large(limit_bytes)
        if scope["method"] not in (self.methods or ()):
            raise HTTPException(405)
        if scope["method"] != "GET":  # for whoever has left before it was whole, nothing is begun
            request._body = await _body(receive, limit_bytes)  # where `body()` looks first, in the thread of the work
        response = await self._answered(request)
        await response(scope, receive, send)

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Make out what the route asks for, in place of the handler by which FastAPI does so for each request."""
        self.answers = Answers(self, sent_json=self.takes == KitchenRoute.takes)
        return self._answered

    async def _answered(self, request: Request) -> Response:
        """Do all of a request's work in one thread, now that its body is here; refuse parameters that aren't known.

        By itself FastAPI goes into a thread and back for each look at a token, each session begun and ended, each
        route and each answer written, which takes longer than most of what is done there.
        """
        answers = self.answers
        if request.scope["query_string"]:
            given = [name for name, _ in request.query_params.multi_items()]
            if not set(given) <= answers.parameters:
                takes = ", ".join(sorted(answers.parameters)) or "none"
                raise invalid([{"parameter": "query", "code": "unknown", "detail": f"Parameters known here: {takes}."}])
            if len(set(given)) < len(given):
                raise invalid([{"parameter": "query", "code": "repeated", "detail": "A parameter stands once."}])
        if not answers.waits:
            return _worked(answers, request)
        return await get_running_loop().run_in_executor(THREADS, _worked, answers, request)


async def _body(receive: Receive, limit_bytes: int) -> bytes:
    parts, length, more = [], 0, True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            raise ClientDisconnect
        parts.append(message.get("body", b""))
        length += len(parts[-1])
        if length > limit_bytes:
            raise _too_large(limit_bytes)
        more = message.get("more_body", False)
    return parts[0] if len(parts) == 1 else b"".join(parts)


def _worked(answers: Answers, request: Request) -> Response:
    """The answer, or word that the reader has it already."""
    response = _patiently(answers, request)
    known = request.headers.get("if-none-match") if request.method == "GET" else None
    if known and unchanged(known, response.headers.get("etag")):
        kept = {name: response.headers[name] for name in ("etag", "cache-control") if name in response.headers}
        return Response(status_code=304, headers=kept)
    return response


def _patiently(answers: Answers, request: Request) -> Response:
    """Load, decide and save once more from the start if the database undid everything because of other writers."""
    for tries_left in reversed(range(TRIES)):
        try:
            with ExitStack() as work:  # the route's transaction ends in here, so that it can be repeated
                request.state.work, request.state.looking = work, None
                response = answers(request)
                request.state.answer = response
            break
        except DBAPIError as error:
            if not tries_left or not undone_by_others(error):
                raise
    return response


def _too_large(limit_bytes: int) -> Problem:
    return Problem("too-large", f"This path takes {limit_bytes} bytes.")


class Directory:
    """Leads a request to its route by the first words of its path, in place of trying one route after another.

    What is found here, but not with this method, goes the router's own way, which says so.
    """

    def __init__(self, router: APIRouter) -> None:
        """Sort a router's routes by how many words their paths have and by the first two."""
        self.router = router
        self.routes: dict[tuple[int, str, str], list[APIRoute]] = {}
        for route in router.routes:
            assert isinstance(route, APIRoute)
            words, first, second = _first_words(route.path_format)
            place = (words, first, ANY if second.startswith("{") else second)
            self.routes.setdefault(place, []).append(route)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on. Raises `HTTPException` for a path that no route has."""
        if scope["type"] == "http":
            words, first, second = _first_words(scope["path"])
            known = False
            for place in ((words, first, second), (words, first, ANY)):
                for route in self.routes.get(place, ()):
                    match, found = route.matches(scope)
                    if match is Match.FULL:
                        scope.update(found, router=self.router)
                        await route.handle(scope, receive, send)
                        return
                    known = known or match is Match.PARTIAL
            if not known:
                raise HTTPException(404)
        await self.router.app(scope, receive, send)


def _first_words(path: str) -> tuple[int, str, str]:
    _, first, second, *_ = [*path.split("/", 3), "", ""]
    return path.count("/"), first, second


class Routes(APIRouter):
    """A router of kitchen routes; a route's operation id is its function's name."""

    def __init__(self, prefix: str, tag: str) -> None:
        """Start an empty list of routes below a path."""
        super().__init__(
            prefix=prefix,
            tags=[tag],
            route_class=KitchenRoute,
            generate_unique_id_function=lambda route: route.name,
        )
