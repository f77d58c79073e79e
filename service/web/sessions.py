"""The two ways a route meets the database: `Reading`, and `Writing`, which commits before the answer leaves."""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Annotated, Any, NamedTuple
from uuid import UUID

from fastapi import Depends, Request, Response
from pydantic import TypeAdapter, ValidationError
from sqlalchemy import Connection, event
from sqlalchemy.orm import SessionTransaction
from sqlmodel import Session

from service.database.prepared import Prepared, Rows, at_work, write
from service.web import store
from service.web.callers import Caller, Kitchen, Now, member
from service.web.looking import look_no_more, reading_session
from service.web.problems import Problem, invalid_parameter
from service.web.sealing import seal, unseal
from service.web.types import Key

KEY_HEADER = "Idempotency-Key"
REPEATED_HEADERS = ("location", "etag", "content-type", "cache-control")
_KEY: TypeAdapter[str] = TypeAdapter(Key)


@dataclass(frozen=True, slots=True)
class Repeatable:
    """A POST with a key: the same key and the same request get the first answer again."""

    key: str
    request_sha256: str


class RepeatedError(Exception):
    """The way out of a route whose answer is known already."""

    def __init__(self, answer: store.Stored) -> None:
        """Carry the first answer."""
        super().__init__("answered before")
        self.answer = answer


class AskedFirst(NamedTuple):
    """What is asked first of all, in one statement (`asked_first` in `app`)."""

    still_speaks: bool
    was_answered: bool
    anybody_overdue: bool
    last_number: int | None
    last_sha256: str | None


class _Alone(Session):
    """A session each of whose transactions holds the kitchen's lock from its first statement on."""

    def __init__(self, request: Request, caller: Caller, about: dict[str, Any]) -> None:
        """Begin nothing yet."""
        super().__init__(request.app.state.database.writer, expire_on_commit=False)
        self.lock: Callable[[Connection, UUID], None] = request.app.state.lock_kitchen
        self.kitchen_id = caller.kitchen_id
        self.asked_first: Prepared = request.app.state.asked_first
        self.about = about
        self.found: AskedFirst


@event.listens_for(_Alone, "after_begin")
def _lock(session: _Alone, _transaction: SessionTransaction, connection: Connection) -> None:
    session.lock(connection, session.kitchen_id)
    session.found = AskedFirst(*session.asked_first.rows(connection, **session.about)[0])


async def repeatable(request: Request) -> Repeatable | None:
    """Read the key of a POST and take the hash of the whole request."""
    given = request.headers.getlist(KEY_HEADER)
    if not given or request.method != "POST":
        return None
    if len(given) > 1:
        raise invalid_parameter(KEY_HEADER, "A request has one key.")
    try:
        key = _KEY.validate_python(given[0])
    except ValidationError:
        raise invalid_parameter(KEY_HEADER, "A key is 1 to 255 printable ASCII characters.") from None
    whole = hashlib.sha256(f"{request.method} {request.scope['path']}?".encode())
    whole.update(request.scope["query_string"] + b"\n")
    whole.update(await request.body())
    return Repeatable(key, whole.hexdigest())


async def reading(request: Request) -> Session:
    """Hand in the session in which this request reads."""
    return reading_session(request)


async def writing(
    request: Request,
    caller: Annotated[Caller, Depends(member)],
    repeat: Annotated[Repeatable | None, Depends(repeatable)],
    at: Now,
) -> Session:
    """Open a session that holds the kitchen's lock from its first statement on, and commit it if all went well."""
    look_no_more(request)
    session: Session = request.state.work.enter_context(_transaction(request, caller, repeat, at))
    return session


@contextmanager
def _transaction(request: Request, caller: Caller, repeat: Repeatable | None, at: datetime) -> Iterator[Session]:
    entry: Callable[..., Rows] = request.app.state.entry  # who did what
    settle: Callable[[Session, Kitchen, datetime], None] = request.app.state.settle  # what the clock decided meanwhile
    with _Alone(request, caller, _about(caller, repeat, at)) as session:
        session.connection()
        if not session.found.still_speaks:  # between the look at the token and the lock somebody may have left
            raise Problem("token-refused", "The token was ended a moment ago, or its member's role was changed.")
        first = repeat and session.found.was_answered and store.first_answer(session, caller.id, repeat.key, at)
        if repeat and first:
            if first.request_sha256 != repeat.request_sha256:
                raise Problem("key-reused", "The key was used before for another request.")
            raise RepeatedError(_opened(first, request))
        if session.found.anybody_overdue:
            settle(session, caller.kitchen, at)
        yield session
        answer: Response = request.state.answer
        about = answer.headers.get("location", request.scope["path"])
        act = request.scope["route"].name + (" refused" if answer.status_code >= 400 else "")
        kept = []
        if request.method != "GET":  # what a reading writes is the clock's doing, and nobody's act
            last = (session.found.last_number, session.found.last_sha256) if session.found.last_number else None
            kept.append(entry(session, caller.kitchen_id, caller.id, act, about, request.state.request_id, at, last))
        if repeat:
            kept.append(store.remembered(caller.id, repeat.key, _stored(repeat, answer, request), at))
        if kept:
            write(at_work(session), *kept)
        session.commit()


def _about(caller: Caller, repeat: Repeatable | None, at: datetime) -> dict[str, Any]:
    """What is asked first of all, in one statement, is about this."""
    return {
        "token": caller.token_id,
        "role": caller.role,
        "member": caller.id,
        "kitchen": caller.kitchen_id,
        "key": repeat.key if repeat else None,
        "now": at,
    }


def _stored(repeat: Repeatable, answer: Response, request: Request) -> store.Stored:
    headers = {name: answer.headers[name] for name in REPEATED_HEADERS if name in answer.headers}
    body = bytes(answer.body).decode()
    if _holds_a_secret(headers):
        body = seal(body, request.headers["authorization"])
    return store.Stored(repeat.request_sha256, answer.status_code, headers, body)


def _opened(first: store.Stored, request: Request) -> store.Stored:
    if not _holds_a_secret(first.headers):
        return first
    body = unseal(first.body, request.headers["authorization"])
    if body is None:
        raise Problem("key-reused", "The answer holds a secret, which only the token that asked for it gets again.")
    return replace(first, body=body)


def _holds_a_secret(headers: Mapping[str, str]) -> bool:
    return headers.get("cache-control") == "no-store"


async def answer_repeated(_request: Request, error: Exception) -> Response:
    """Give the first answer again."""
    assert isinstance(error, RepeatedError)
    headers = {**error.answer.headers, "Idempotency-Replayed": "true"}
    return Response(error.answer.body, error.answer.status, headers)


Reading = Annotated[Session, Depends(reading)]
Writing = Annotated[Session, Depends(writing)]
