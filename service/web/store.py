"""Reading and writing the answers to POSTs that may be repeated, and reading what the service signs with."""

import json
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session, col, delete, select

from service.database.engine import Database
from service.web.tables import AnsweredPost, SigningKey

KEPT_FOR = timedelta(days=7)
KEY_BYTES = 32


@dataclass(frozen=True, slots=True)
class Stored:
    """An answer as it was given, with the hash of the request it answers."""

    request_sha256: str
    status: int
    headers: dict[str, str]
    body: str


def first_answer(session: Session, member_id: UUID, key: str, at: datetime) -> Stored | None:
    """Find what a member was answered for a key in the last seven days."""
    found = session.exec(
        select(AnsweredPost).where(
            col(AnsweredPost.member_id) == member_id,
            col(AnsweredPost.key) == key,
            col(AnsweredPost.answered_at) > at - KEPT_FOR,
        )
    ).first()
    return Stored(found.request_sha256, found.status, json.loads(found.headers), found.body) if found else None


def remember(session: Session, member_id: UUID, key: str, answer: Stored, at: datetime) -> None:
    """Keep an answer beside the work it answers, and forget the member's old ones."""
    session.execute(
        delete(AnsweredPost).where(
            col(AnsweredPost.member_id) == member_id, col(AnsweredPost.answered_at) <= at - KEPT_FOR
        )
    )
    session.add(
        AnsweredPost(
            member_id=member_id,
            key=key,
            request_sha256=answer.request_sha256,
            status=answer.status,
            headers=json.dumps(answer.headers),
            body=answer.body,
            answered_at=at,
        )
    )
    session.flush()


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
