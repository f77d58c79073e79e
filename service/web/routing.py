"""The kind of route every feature uses: `router = Routes("/v1/bookings", "bookings")`."""

import json
from asyncio import get_running_loop
from collections.abc import Callable, Collection, Coroutine
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from functools import wraps
from inspect import iscoroutinefunction
from threading import RLock
from typing import Any, TypeVar

from fastapi import APIRouter, Request, Response
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute
from pydantic import BaseModel
from sqlalchemy.exc import DBAPIError
from starlette.datastructures import Headers
from starlette.routing import Match, compile_path
from starlette.types import Message, Receive, Scope, Send

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


class KitchenRequest(Request):
    """A request whose JSON means one thing only: UTF-8, and each name of an object once (RFC 7493, section 2)."""

    async def json(self) -> Any:
        """Read the body. Raises `ValueError` for what isn't that."""
        if not hasattr(self, "_json"):
            self._json = _JSON.decode((await self.body()).decode("utf-8-sig"))
        return self._json


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("A name stands twice in an object.")
    return found


_JSON = json.JSONDecoder(object_pairs_hook=_each_once)


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
        """Look at the body's type and length before anything reads it."""
        headers = Headers(scope=scope)
        announced = headers.get("content-length", "0")
        limit_bytes = body_limit_bytes(self)
        if announced != "0" or "transfer-encoding" in headers:
            kinds = [each.partition(";")[0].strip().lower() for each in headers.getlist("content-type")]
            if kinds != [self.takes] or headers.get("content-encoding", "identity").lower() != "identity":
                raise Problem("json-needed", f"A body is {self.takes}, as it is.", headers={"Accept": self.takes})
            if not announced.isdecimal() or int(announced[:12]) > limit_bytes:
                raise _too_large(limit_bytes)
        taken_bytes = 0

        async def bounded() -> Message:
            nonlocal taken_bytes
            message = await receive()
            taken_bytes += len(message.get("body", b""))
            if taken_bytes > limit_bytes:
                raise _too_large(limit_bytes)
            return message

        await super().handle(scope, bounded, send)

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """Do all of a request's work in one thread, once its body is here; refuse parameters that aren't known.

        By itself FastAPI goes into a thread and back for each look at a token, each session begun and ended, each
        route and each answer written, which takes longer than most of what is done there.
        """
        endpoint, known = self.endpoint, set(_parameters(self.dependant))
        _require_no_threads(self.dependant)
        waits = not iscoroutinefunction(endpoint)  # for a database or for its own sums
        if waits:
            self.dependant.call = _in_place(endpoint)
        answer = super().get_route_handler()

        def work(request: Request) -> Response:
            response = _patiently(answer, request)
            if request.method == "GET" and unchanged(
                request.headers.get("if-none-match"), response.headers.get("etag")
            ):
                kept = {name: response.headers[name] for name in ("etag", "cache-control") if name in response.headers}
                return Response(status_code=304, headers=kept)
            return response

        async def handler(asked: Request) -> Response:
            request = KitchenRequest(asked.scope, asked.receive)
            given = [name for name, _ in request.query_params.multi_items()]
            if not set(given) <= known:
                takes = ", ".join(sorted(known)) or "none"
                raise invalid([{"parameter": "query", "code": "unknown", "detail": f"Parameters known here: {takes}."}])
            if len(set(given)) < len(given):
                raise invalid([{"parameter": "query", "code": "repeated", "detail": "A parameter stands once."}])
            if request.method != "GET":
                await request.body()
            return await get_running_loop().run_in_executor(THREADS, work, request) if waits else work(request)

        return handler


def _in_place(endpoint: Callable[..., Any]) -> Callable[..., Coroutine[Any, Any, Any]]:
    """The same as a coroutine that waits for nothing, which FastAPI runs in the thread it is in."""

    @wraps(endpoint)
    async def called(**values: Any) -> Any:
        return endpoint(**values)

    return called


def _require_no_threads(dependant: Dependant) -> None:
    """Dependencies are coroutines that wait for nothing but the database, so that they need no thread of their own."""
    for each in dependant.dependencies:
        if not iscoroutinefunction(each.call):
            raise TypeError(f"{each.call!r} isn't an `async def`.")
        _require_no_threads(each)


def _at_once(work: Coroutine[Any, Any, Response]) -> Response:
    """What a coroutine returns that never waits for the event loop."""
    try:
        work.send(None)
    except StopIteration as done:
        returned: Response = done.value
        return returned
    work.close()
    raise RuntimeError("A route waited for the event loop.")


def _patiently(answer: Callable[[Request], Coroutine[Any, Any, Response]], request: Request) -> Response:
    """Load, decide and save once more from the start if the database undid everything because of other writers."""
    for tries_left in reversed(range(TRIES)):
        try:
            with ExitStack() as work:  # the route's transaction ends in here, so that it can be repeated
                request.state.work, request.state.looking = work, None
                response = _at_once(answer(request))
                request.state.answer = response
            break
        except DBAPIError as error:
            if not tries_left or not undone_by_others(error):
                raise
    return response


def _too_large(limit_bytes: int) -> Problem:
    return Problem("too-large", f"This path takes {limit_bytes} bytes.")


def _parameters(dependant: Dependant) -> list[str]:
    names: list[str] = []
    for field in dependant.query_params:
        kind = field.field_info.annotation
        whole = isinstance(kind, type) and issubclass(kind, BaseModel)
        names += list(kind.model_fields) if whole else [field.alias]  # type: ignore[union-attr]
    return names + [name for each in dependant.dependencies for name in _parameters(each)]


class Directory:
    """Leads a request to its route by the first words of its path, in place of trying one route after another.

    What isn't found here, or not with this method, goes the router's own way, which says so.
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
        """Pass one request on."""
        if scope["type"] == "http":
            words, first, second = _first_words(scope["path"])
            for place in ((words, first, second), (words, first, ANY)):
                for route in self.routes.get(place, ()):
                    match, found = route.matches(scope)
                    if match is Match.FULL:
                        scope.update(found, router=self.router)
                        await route.handle(scope, receive, send)
                        return
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
