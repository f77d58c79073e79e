"""What a route asks for and answers, made out once, when it is first asked for.

FastAPI reads the signatures, and its validators and serialisers are those used here. By itself it also finds out anew
for each request what every dependency is and wants, opens stacks that nothing is put on and looks for who watches,
which took longer than what a route of ours asks for. A dependency here is a coroutine that waits for nothing but the
database, so a request is answered from end to end in the thread it is in.
"""

import json
from collections.abc import Callable, Coroutine, Hashable, Iterable
from inspect import iscoroutinefunction
from typing import Any, TypeVar

from fastapi import BackgroundTasks, Request, Response
from fastapi._compat import ModelField, Undefined
from fastapi.datastructures import DefaultPlaceholder
from fastapi.dependencies.models import Dependant
from fastapi.dependencies.utils import request_body_to_args, request_params_to_args
from fastapi.exceptions import RequestValidationError, ResponseValidationError
from fastapi.routing import APIRoute
from pydantic import BaseModel
from starlette.datastructures import QueryParams

from service.web.problems import Problem

_Returned = TypeVar("_Returned")
_NOTHING: tuple[Any, ...] = (Undefined, None, {})  # what may be sent where no field is known
_A_FIELD = {"type": "extra_forbidden", "loc": ("body", ""), "msg": ""}


class Found:
    """What one request has brought so far; what is wrong with its shape is in `errors`."""

    __slots__ = ("after", "body", "errors", "known", "request", "response")

    def __init__(self, request: Request, body: Any) -> None:
        """Begin with a request and its body, `Undefined` where it has none."""
        self.request = request
        self.body = body
        self.response: Response | None = None  # whose headers and status go into the answer
        self.after: BackgroundTasks | None = None
        self.known: dict[Any, Any] = {}  # what each dependency returned
        self.errors: list[Any] = []


class Wants:
    """What one function wants to be given, and what else has to be asked for that."""

    def __init__(self, dependant: Dependant, embeds: bool = False) -> None:
        """Read it off what FastAPI found in a signature; only what a kitchen's routes ask for is known here."""
        if dependant.cookie_params or dependant.websocket_param_name or dependant.security_scopes_param_name:
            raise TypeError(f"{dependant.call!r} asks for what isn't given here.")
        self.call: Any = dependant.call
        self.first = [(each.name, Wants(each)) for each in dependant.dependencies]
        for _, each in self.first:
            if not iscoroutinefunction(each.call):
                raise TypeError(f"{each.call!r} isn't an `async def`.")
        self.path, self.query, self.headers = dependant.path_params, dependant.query_params, dependant.header_params
        self.unsent = dict(each for field in self.query for each in _unsent(field))
        self.body, self.embeds = dependant.body_params, embeds
        self.request = dependant.request_param_name or dependant.http_connection_param_name
        self.response = dependant.response_param_name
        self.after = dependant.background_tasks_param_name

    def parameters(self) -> set[str]:
        """The names that may stand in a query."""
        names = {name for _, each in self.first for name in each.parameters()}
        for field in self.query:
            kind = field.field_info.annotation
            whole = isinstance(kind, type) and issubclass(kind, BaseModel)
            names |= set(kind.model_fields) if whole else {field.alias}  # type: ignore[union-attr]
        return names

    def given(self, found: Found) -> dict[str, Any] | None:
        """The arguments by name; `None` if something has the wrong shape, which `found.errors` then says."""
        values: dict[str, Any] = {}
        errors, request = found.errors, found.request
        as_many = len(errors)
        for name, wants in self.first:
            if wants.call not in found.known:
                arguments = wants.given(found)
                if arguments is None:
                    continue
                found.known[wants.call] = at_once(wants.call(**arguments))
            if name is not None:
                values[name] = found.known[wants.call]
        if self.path:
            _take(request_params_to_args(self.path, request.path_params), values, errors)
        if self.query:
            values |= self.unsent
            sent = request.query_params
            asked = [each for each in self.query if each.alias in sent or each.name not in self.unsent]
            if asked:
                _take(request_params_to_args(asked, sent), values, errors)
        if self.headers:
            _take(request_params_to_args(self.headers, request.headers), values, errors)
        if self.body:
            _take(at_once(request_body_to_args(self.body, found.body, self.embeds)), values, errors)
        if self.request:
            values[self.request] = request
        if self.response:
            values[self.response] = found.response = found.response or _blank()
        if self.after:
            values[self.after] = found.after = found.after or BackgroundTasks()
        return values if len(errors) == as_many else None


class Answers:
    """One route's own work: from a request and its body to the answer."""

    def __init__(self, route: APIRoute, sent_json: bool = True) -> None:
        """Make out what the route asks for, and how what it returns is written; whether what is sent to it is JSON."""
        self.wants = Wants(route.dependant, route._embed_body_fields)
        self.parameters = self.wants.parameters()
        self.has_fields = route.body_field is not None
        self.reads_json = sent_json and route.methods != {"GET"}
        self.waits = not iscoroutinefunction(self.wants.call)  # for a database or for its own sums
        self.status: int | None = route.status_code
        self.field: ModelField | None = route.response_field
        self.kind: Callable[..., Response] | None = None
        if not isinstance(route.response_class, DefaultPlaceholder):
            self.kind = route.response_class

    def __call__(self, request: Request) -> Response:
        """Do it. Raises `RequestValidationError` where the request, whose body is here, has the wrong shape."""
        sent = at_once(request.body()) if self.reads_json else b""
        found = Found(request, read_json(sent) if sent else Undefined)
        arguments = self.wants.given(found)
        if not self.has_fields and found.body not in _NOTHING:
            found.errors.append(_A_FIELD)
        if arguments is None or found.errors:
            raise RequestValidationError(found.errors, body=None if found.body is Undefined else found.body)
        returned = self.wants.call(**arguments)
        if not self.waits:
            returned = at_once(returned)
        if isinstance(returned, Response):
            answer = returned
        else:
            own = found.response
            answer = self._written(returned, (own and own.status_code) or self.status or 200)
            if own:
                answer.raw_headers += own.raw_headers
        answer.background = answer.background or found.after
        return answer

    def _written(self, returned: Any, status: int) -> Response:
        if self.kind is not None:
            return self.kind(returned, status)
        if self.field is None:
            assert returned is None
            return Response(b"", status, media_type="application/json")
        value, errors = self.field.validate(returned, {}, loc=("response",))
        if errors:
            raise ResponseValidationError(errors=errors, body=returned)
        return Response(self.field.serialize_json(value), status, media_type="application/json")


def read_json(sent: bytes) -> Any:
    """Read JSON that means one thing only: in UTF-8, and each name of an object once (RFC 7493, section 2)."""
    try:
        return _JSON.decode(sent.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise Problem("unreadable-json", "The body can't be read as JSON.") from None


def each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Put an object together. Raises ValueError where a name of it stands twice."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("A name stands twice in an object.")
    return found


_JSON = json.JSONDecoder(object_pairs_hook=each_once)


def at_once(work: Coroutine[Any, Any, _Returned]) -> _Returned:
    """What a coroutine returns that never waits for the event loop."""
    try:
        work.send(None)
    except StopIteration as done:
        returned: _Returned = done.value
        return returned
    work.close()
    raise RuntimeError("A route waited for the event loop.")


def _unsent(field: ModelField) -> Iterable[tuple[str, Any]]:
    """What a parameter is that isn't sent: most aren't, and FastAPI takes as long to find that out as to read one."""
    kind = field.field_info.annotation
    if not (isinstance(kind, type) and issubclass(kind, BaseModel)):
        values, errors = request_params_to_args([field], QueryParams())
        if not errors and all(isinstance(each, Hashable) for each in values.values()):  # else each gets one of its own
            return values.items()
    return ()


def _take(solved: tuple[dict[str, Any], list[Any]], values: dict[str, Any], errors: list[Any]) -> None:
    values.update(solved[0])
    errors += solved[1]


def _blank() -> Response:
    """A response that says nothing yet."""
    response = Response()
    response.raw_headers.clear()
    response.status_code = None  # type: ignore[assignment]
    return response
