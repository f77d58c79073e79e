"""Every "no" of the service as a problem document (RFC 9457): the catalogue, and what turns errors into it."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from time import monotonic
from typing import Any
from uuid import UUID

from fastapi import Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from sqlalchemy.exc import DBAPIError
from sqlalchemy.exc import TimeoutError as NoConnectionError
from starlette.exceptions import HTTPException
from starlette.routing import Route

from service.core.refusals import Refused
from service.web.types import write_timestamp

MEDIA_TYPE = "application/problem+json"
RETRY_AFTER_SECONDS = "1"
OF_ANOTHER_KIND = frozenset({"string-type", "model-attributes-type"})  # what was sent is no text, or no object
# Connection, shutdown, resources, system errors and a server that only reads (PostgreSQL's classes of SQLSTATE); a disk
# that fails or only reads (SQLite's result codes).
AWAY = ("08", "57P", "53", "58", "25006", "SQLITE_IOERR", "SQLITE_CANTOPEN", "SQLITE_READONLY")
AUTHENTICATE = 'Bearer realm="kitchen"'


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of problem: its status, its title and the page that explains it."""

    status: int
    title: str
    explanation: str


CATALOGUE: dict[str, Kind] = {
    "unreadable-json": Kind(400, "That isn't JSON", "The body couldn't be read as JSON in UTF-8."),
    "token-needed": Kind(
        401, "A token is needed", "Send `Authorization: Bearer <token>` with a token of this kitchen."
    ),
    "token-refused": Kind(401, "That token isn't good", "The token is malformed, unknown, expired or revoked."),
    "role-needed": Kind(403, "Not yours to do", "This takes another role: a trainer's or a coordinator's."),
    "scope-needed": Kind(403, "Not this token's to do", "The token has a narrower scope than this takes."),
    "not-from-here": Kind(403, "Not from here", "A form is taken only from a page of this service."),
    "sign-off-missing": Kind(403, "A sign-off is missing", "A trainer has to sign the member off for this first."),
    "not-found": Kind(404, "Not here", "There is no such thing in this kitchen, or it isn't yours to see."),
    "misread-lot-code": Kind(404, "That lot code was misread", "Its check character doesn't fit the other ones."),
    "method-not-allowed": Kind(405, "Not done that way", "The path exists; `Allow` lists the methods it takes."),
    "slot-taken": Kind(
        409, "That time is taken", "Somebody has booked it; `next_free_at` is the next time it is free."
    ),
    "kitchen-closed": Kind(409, "The kitchen is closed", "The time lies outside the opening hours or in a closure."),
    "out-of-service": Kind(409, "Out of service", "The equipment can't be used then."),
    "fair-use": Kind(
        409, "More than a fair share", "A limit of the kitchen; `possible_at` is when the same request is within it."
    ),
    "member-busy": Kind(
        409, "Hands are full", "The member's own hands are wanted elsewhere then; `next_free_at` is the next time."
    ),
    "too-few-jars": Kind(409, "Too few jars", "The shelf doesn't hold that many jars of the lot."),
    "already-done": Kind(409, "Already done", "That has been done before and can be done once only."),
    "already-cancelled": Kind(409, "Already cancelled", "The booking was cancelled before."),
    "plan-stale": Kind(409, "The plan is stale", "The kitchen has changed since; order the plan again."),
    "not-now": Kind(409, "Not in this state", "What it is about is in a state that doesn't allow this."),
    "too-early": Kind(409, "Too early", "It can be recorded later; `not_before` says when."),
    "too-late": Kind(409, "Too late", "Until `not_after` it could have been done; now the jars can only be discarded."),
    "held-unsafe": Kind(
        409, "Held for safety", "A published rule against illness was broken: such jars never go back to the shelf."
    ),
    "recalled": Kind(409, "Recalled", "The lot was recalled: its jars may only be discarded."),
    "stale": Kind(412, "Changed meanwhile", "Somebody changed it first: read it again, then send the new ETag."),
    "too-slow": Kind(408, "Too slow", "The body didn't arrive in time; repeating is safe."),
    "too-large": Kind(413, "Too large", "The body is larger than this path takes."),
    "json-needed": Kind(415, "Send JSON", "A body is sent as `application/json`."),
    "invalid-request": Kind(422, "Not in the right shape", "`errors` names each place that has the wrong shape."),
    "key-reused": Kind(422, "That key was used", "The Idempotency-Key was used before for another request."),
    "bad-cursor": Kind(422, "Not one of our cursors", "Send `next_cursor` back as it was given, to the same list."),
    "ends-before-start": Kind(422, "Ends before it starts", "The end has to lie after the start."),
    "in-the-past": Kind(422, "In the past", "Only what lies ahead can be booked."),
    "not-at-that-time": Kind(422, "Not at that time", "A record lies at most 7 days back, never ahead, and in order."),
    "not-ready": Kind(422, "Not ready", "The recipe's check has to be `ready`; its findings say what to change."),
    "altitude-needed": Kind(422, "Say the altitude", "Without a token, `altitude_ft` says where the food is canned."),
    "wrong-altitude": Kind(422, "Another altitude", "A kitchen's own altitude counts for its members."),
    "unknown-time-zone": Kind(422, "No such time zone", "Use a name of the IANA time zone database."),
    "no-such-local-time": Kind(
        422, "No such local time", "The clocks skip it; `next_local_time` is the next there is."
    ),
    "does-not-fit": Kind(422, "Does not fit", "The equipment doesn't hold that much."),
    "not-possible": Kind(422, "Not possible", "It makes no sense in a kitchen; the detail says why."),
    "version-needed": Kind(428, "Say which version", "Send `If-Match` with the ETag that was read."),
    "too-many-requests": Kind(429, "Too many requests", "Wait for the seconds in `Retry-After`."),
    "internal-error": Kind(500, "Our fault", "Something went wrong here. The log has it under the request's id."),
    "busy": Kind(503, "Busy", "Too much at once; repeating with the same Idempotency-Key is safe."),
    "database-unavailable": Kind(503, "No database", "The database doesn't answer; repeating is safe."),
    "storage-full": Kind(503, "Storage is full", "There is no room to write; nothing was changed."),
}


class Problem(HTTPException):
    """A "no" on its way out of a route."""

    def __init__(self, code: str, detail: str, *, headers: Mapping[str, str] | None = None, **extra: Any) -> None:
        """State the code of the catalogue, a detail without anything the caller sent, and fields to go beside it."""
        super().__init__(CATALOGUE[code].status, detail, headers)
        self.code = code
        self.extra = extra

    @classmethod
    def of(cls, refused: Refused) -> "Problem":
        """Say what the kitchen refused."""
        return cls(refused.code, refused.detail, **dict[str, Any](refused.extra))

    @classmethod
    def not_found(cls) -> "Problem":
        """Say that it isn't there, or isn't the caller's to know of."""
        return cls("not-found", "There is no such thing in this kitchen.")

    def document(self, request_id: str) -> dict[str, Any]:
        """Write the problem as the document a client gets."""
        kind = CATALOGUE[self.code]
        return {
            "type": f"/problems/{self.code}",
            "title": kind.title,
            "status": kind.status,
            "code": self.code,
            "detail": self.detail,
            "instance": f"urn:uuid:{request_id}",
            **self.extra,
        }

    def response(self, request_id: str) -> Response:
        """Write the problem as an answer."""
        headers = dict(self.headers or {})
        if self.status_code == 503:
            headers.setdefault("Retry-After", RETRY_AFTER_SECONDS)
        if self.status_code == 401:
            error = ', error="invalid_token"' if self.code == "token-refused" else ""
            headers["WWW-Authenticate"] = AUTHENTICATE + error
        content = json.dumps(self.document(request_id), default=_plain, ensure_ascii=False, allow_nan=False)
        return Response(content, self.status_code, headers, media_type=MEDIA_TYPE)


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return write_timestamp(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal | Fraction):
        return float(value)
    if isinstance(value, UUID):
        return str(value)
    raise TypeError(f"A problem can't carry a {type(value).__name__}.")


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The problems a route's own rules may answer, for its contract; what any route may answer is added to all."""
    return {status: {"description": titles(status)} for status in statuses}


def titles(status: int) -> str:
    """Every title that goes with a status."""
    return "; ".join(kind.title for kind in CATALOGUE.values() if kind.status == status) + "."


def invalid(errors: Iterable[Mapping[str, str]]) -> Problem:
    """Say which places of a request have the wrong shape."""
    return Problem("invalid-request", "The request doesn't have the right shape.", errors=list(errors))


def invalid_parameter(name: str, detail: str) -> Problem:
    """Say what is wrong with one parameter or header."""
    return invalid([{"parameter": name, "code": "invalid", "detail": detail}])


def shape_errors(errors: Iterable[Mapping[str, Any]], body: object) -> list[dict[str, str]]:
    """Turn the validator's errors into ours: where, which and why, without a word of the caller's.

    A list from which the validator has taken what is wrong in it isn't too short by that. Where one of two kinds may
    stand, nothing is said of the other kind than the one that was sent.
    """
    found = list(errors)
    within = {error["loc"][:place] for error in found for place in range(len(error["loc"]))}
    told = [error for error in found if error["type"] != "too_short" or error["loc"] not in within]
    shown = [_shape_error(error, body) for error in told]
    of_its_kind = [each.get("pointer", "").split("/") for each in shown if each["code"] not in OF_ANOTHER_KIND]
    known = {"/".join(steps[:place]) for steps in of_its_kind for place in range(1, len(steps) + 1)}
    return [each for each in shown if each["code"] not in OF_ANOTHER_KIND or each.get("pointer") not in known]


def errors_in_body(wrong: ValidationError, body: object) -> list[dict[str, str]]:
    """The same for a body that a route, a page or a command validated by itself."""
    return shape_errors(({**error, "loc": ("body", *error["loc"])} for error in wrong.errors(include_url=False)), body)


def _shape_error(error: Mapping[str, Any], body: object) -> dict[str, str]:
    kind = error["type"]
    place, *path = error["loc"] or ("body",)
    detail = "That field isn't known here." if kind == "extra_forbidden" else str(error["msg"])
    if kind == "union_tag_invalid":  # the validator's own message repeats what was sent
        detail = "That isn't one of the kinds known here."
    said = {"code": kind.replace("_", "-"), "detail": detail.removeprefix("Value error, ")}
    if place != "body":
        return {"parameter": str(path[0]) if path else str(place), **said}
    return {"pointer": _pointer(path, body, kind), **said}


def _pointer(path: list[int | str], body: object, kind: str) -> str:
    """Keep the steps that lead somewhere in the body: the others are the validator's names for its choices."""
    steps: list[str] = []
    if kind == "extra_forbidden":  # the last step is the caller's own word
        path = path[:-1]
    for index, step in enumerate(path):
        if (isinstance(body, dict) and step in body) or (
            isinstance(body, list) and isinstance(step, int) and step < len(body)
        ):
            body = body[step]  # type: ignore[index]
        elif not (kind == "missing" and index == len(path) - 1):
            continue
        steps.append(str(step).replace("~", "~0").replace("/", "~1"))
    return "/".join(["#", *steps])


def request_id_of(request: Request) -> str:
    """The id the log has for this request."""
    return str(request.state.request_id)


async def answer_problem(request: Request, error: Exception) -> Response:
    """Answer a problem a route raised, and what the framework raises by itself."""
    assert isinstance(error, HTTPException)
    return _answer(request, error if isinstance(error, Problem) else _of_framework(request, error))


async def answer_invalid(request: Request, error: Exception) -> Response:
    """Answer a request whose shape the validator refused."""
    assert isinstance(error, RequestValidationError)
    return _answer(request, invalid(shape_errors(error.errors(), error.body)))


async def answer_database(request: Request, error: Exception) -> Response:
    """Answer what the database couldn't do; what it shouldn't have been asked stays a bug."""
    problem = of_database(error)
    if problem is None:
        raise error
    if problem.code == "storage-full":
        request.app.state.storage_full_at = monotonic()
    return _answer(request, problem)


def _answer(request: Request, problem: Problem) -> Response:
    request.state.problem = problem.code
    return problem.response(request_id_of(request))


def of_database(error: Exception) -> Problem | None:
    """Say what a failing database means to a caller, or `None` if it means a bug of ours."""
    if isinstance(error, NoConnectionError):
        return Problem("busy", "Every connection to the database is in use.")
    if not isinstance(error, DBAPIError):
        return None
    state = _state(error)
    if state in {"55P03", "57014"} or undone_by_others(error):
        return Problem("busy", "Others are writing at the same time.")
    if state in {"53100", "SQLITE_FULL"}:
        return Problem("storage-full", "There is no room to write.")
    away = state.startswith(AWAY)
    if away or error.connection_invalidated or (not state and type(error).__name__ == "OperationalError"):
        return Problem("database-unavailable", "The database doesn't answer.")
    return None


def undone_by_others(error: DBAPIError) -> bool:
    """Whether nothing was written because others wrote at the same time: deadlock, serialization failure, busy."""
    state = _state(error)
    return state in {"40P01", "40001"} or state.startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))


def _state(error: DBAPIError) -> str:
    driver: Any = error.orig
    return getattr(driver, "sqlstate", None) or getattr(driver, "sqlite_errorname", None) or ""


def _of_framework(request: Request, error: HTTPException) -> Problem:
    if error.status_code == 405:
        allowed = ", ".join(sorted(_methods_of(request)))
        return Problem("method-not-allowed", "The path doesn't take this method.", headers={"Allow": allowed})
    if error.status_code == 404:
        return Problem("not-found", "There is nothing at this path.")
    if error.status_code == 400:
        return Problem("unreadable-json", "The body can't be read as JSON.")
    raise error


def _methods_of(request: Request) -> set[str]:
    """Every method the path has, whichever routes have them."""
    path = request.scope["path"]
    methods: set[str] = set()
    for route in request.app.routes:
        if isinstance(route, Route) and route.path_regex.match(path):
            methods |= route.methods or set()
    return methods | ({"HEAD"} if "GET" in methods else set())
