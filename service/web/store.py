"""Reading and writing the answers to POSTs that may be repeated, and reading what the service signs with."""

import json
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, and_, bindparam, exists, insert
from sqlmodel import Session, col, delete, select

from service.database.engine import Database
from service.database.prepared import Prepared, Rows
from service.web.tables import AnsweredPost, SigningKey

KEPT_FOR = timedelta(days=7)
KEY_BYTES = 32

_FOR_THIS_KEY = and_(col(AnsweredPost.member_id) == bindparam("member"), col(AnsweredPost.key) == bindparam("key"))
was_answered = exists().where(_FOR_THIS_KEY).label("was_answered")
"""Whether a member was ever answered for a key, as far as is known."""
_ADD = Prepared(insert(AnsweredPost))


@dataclass(frozen=True, slots=True)
class Stored:
    """An answer as it was given, with the hash of the request it answers."""

    request_sha256: str
    status: int
    headers: dict[str, str]
    body: str


def first_answer(session: Session, member_id: UUID, key: str, at: datetime) -> Stored | None:
    """Find what a member was answered for a key in the last seven days; what was said before then makes way."""
    query = select(AnsweredPost).where(_FOR_THIS_KEY)
    found = session.exec(query, params={"member": member_id, "key": key}).first()
    if found is None:
        return None
    if found.answered_at <= at - KEPT_FOR:
        session.delete(found)
        session.flush()
        return None
    return Stored(found.request_sha256, found.status, json.loads(found.headers), found.body)


def remembered(member_id: UUID, key: str, answer: Stored, at: datetime) -> Rows:
    """An answer, to be kept beside the work it answers; the database refuses a second one for a key."""
    return _ADD.of(
        {
            "member_id": member_id,
            "key": key,
            "request_sha256": answer.request_sha256,
            "status": answer.status,
            "headers": json.dumps(answer.headers),
            "body": answer.body,
            "answered_at": at,
        }
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
