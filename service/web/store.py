"""Reading and writing the answers to POSTs that may be repeated."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from sqlmodel import Session, col, delete, select

from service.web.tables import AnsweredPost

KEPT_FOR = timedelta(days=7)


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
