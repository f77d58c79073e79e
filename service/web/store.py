"""Reading and writing the answers to POSTs that may be repeated, and reading what the service signs with."""

import json
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, and_, bindparam, exists
from sqlmodel import Session, col, delete, select

from service.database.engine import Database
from service.database.prepared import Prepared
from service.web.tables import AnsweredPost, SigningKey

KEPT_FOR = timedelta(days=7)
KEY_BYTES = 32

_WAS_ANSWERED = and_(
    col(AnsweredPost.member_id) == bindparam("member"),
    col(AnsweredPost.key) == bindparam("key"),
    col(AnsweredPost.answered_at) > bindparam("kept_since"),
)
was_answered = exists().where(_WAS_ANSWERED).label("was_answered")
"""Whether a member was answered for a key in the last seven days."""


class AlreadyAnsweredError(Exception):
    """A second answer for a key that has one: nobody who holds the kitchen's lock gets here."""


@dataclass(frozen=True, slots=True)
class Stored:
    """An answer as it was given, with the hash of the request it answers."""

    request_sha256: str
    status: int
    headers: dict[str, str]
    body: str


def first_answer(session: Session, member_id: UUID, key: str, at: datetime) -> Stored | None:
    """Find what a member was answered for a key in the last seven days."""
    query = select(AnsweredPost).where(_WAS_ANSWERED)
    found = session.exec(query, params={"member": member_id, "key": key, "kept_since": at - KEPT_FOR}).first()
    return Stored(found.request_sha256, found.status, json.loads(found.headers), found.body) if found else None


def remember(session: Session, member_id: UUID, key: str, answer: Stored, at: datetime) -> None:
    """Keep an answer beside the work it answers; only one that is forgotten by now may make way for it."""
    written = _in_place_of_a_forgotten_one(session.connection().dialect.name).write(
        session,
        {
            "member_id": member_id,
            "key": key,
            "request_sha256": answer.request_sha256,
            "status": answer.status,
            "headers": json.dumps(answer.headers),
            "body": answer.body,
            "answered_at": at,
            "kept_since": at - KEPT_FOR,
        },
    )
    if written != 1:
        raise AlreadyAnsweredError


@cache
def _in_place_of_a_forgotten_one(dialect: str) -> Prepared:
    new = _insert(dialect)(AnsweredPost)
    kept = ("request_sha256", "status", "headers", "body", "answered_at")
    return Prepared(
        new.on_conflict_do_update(
            index_elements=["member_id", "key"],
            set_={name: new.excluded[name] for name in kept},
            where=col(AnsweredPost.answered_at) <= bindparam("kept_since"),
        )
    )


def forget(connection: Connection, member_id: UUID, at: datetime) -> None:
    """Delete the answers of a member that were kept for long enough."""
    connection.execute(
        delete(AnsweredPost).where(
            col(AnsweredPost.member_id) == member_id, col(AnsweredPost.answered_at) <= at - KEPT_FOR
        )
    )


def signing_key(database: Database, purpose: str) -> bytes:
    """The key for a purpose, the same for every process on this database; whoever asks first makes it."""
    query = select(col(SigningKey.key_hex)).where(col(SigningKey.purpose) == purpose)
    with database.reader.connect() as connection:
        known = connection.execute(query).scalar_one_or_none()
    if known is None:
        new = _insert(database.dialect)(SigningKey).on_conflict_do_nothing()
        with database.writer.begin() as connection:
            connection.execute(new, {"purpose": purpose, "key_hex": secrets.token_hex(KEY_BYTES)})
            known = connection.execute(query).scalar_one()
    return bytes.fromhex(known)


def _insert(dialect: str) -> Any:
    """The INSERT of a database; each is loaded with all that its dialect knows, and one of them is enough."""
    if dialect == "postgresql":
        from sqlalchemy.dialects import postgresql

        return postgresql.insert
    from sqlalchemy.dialects import sqlite

    return sqlite.insert
