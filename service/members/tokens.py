"""Tokens: `<id>.<secret>`, a secret shown once and kept as a hash."""

import hashlib
import hmac
import secrets
from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from functools import cache
from uuid import UUID

import sqlalchemy
from sqlalchemy import Connection, bindparam, exists
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session, col, or_, select, update

from service.core.roles import Scope
from service.database.engine import Database
from service.database.prepared import Prepared
from service.members.tables import Kitchen, Member
from service.members.tables import Token as Token
from service.web.callers import Caller
from service.web.callers import Kitchen as CallersKitchen
from service.web.store import forget

SECRET_BYTES = 32
GRACE = timedelta(minutes=10)  # for which a token that was rotated is still good, so that a lost answer can be repeated
USE_NOTED_EVERY = timedelta(hours=1)
_NOTHING_SHA256 = hashlib.sha256(b"").hexdigest()
still_speaks = (
    exists()
    .where(
        col(Token.id) == bindparam("token"),
        col(Token.revoked_at).is_(None),
        col(Member.id) == col(Token.member_id),
        col(Member.left_at).is_(None),
        col(Member.role) == bindparam("role"),
    )
    .label("still_speaks")
)
"""Whether a token that was recognised is still good and its member in the same role, within the kitchen's lock."""


def make(
    session: Session,
    member_id: UUID,
    at: datetime,
    expires_at: datetime | None = None,
    scope: Scope = Scope.EVERYTHING,
) -> tuple[Token, str]:
    """Give a member a new token; the string is shown now and never again."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    token = Token(member_id=member_id, secret_sha256=_sha256(secret), made_at=at, expires_at=expires_at, scope=scope)
    session.add(token)
    session.flush()
    return token, f"{token.id}.{secret}"


def recognise(database: Database, token: str, at: datetime, look: Session | Connection) -> Caller | None:
    """Find whom a token speaks for, with one look at the database; the secret is compared in constant time."""
    written_id, _, secret = token.partition(".")
    try:
        token_id = UUID(written_id)
    except ValueError:
        return None
    if str(token_id) != written_id or not secret.isascii():
        return None
    row = next(iter(_whose().rows(look, token_id=token_id, at=at)), None)
    known_sha256 = row[0] if row else _NOTHING_SHA256
    if not hmac.compare_digest(_sha256(secret), known_sha256) or row is None:
        return None
    _, used_at, scope, member_id, name, role, kitchen_id, altitude_ft, time_zone, best_by_months = row
    if used_at is None or used_at < at - USE_NOTED_EVERY:
        look.close()  # who holds a connection and waits for another may wait for ever
        _note_use(database, token_id, member_id, at)
    kitchen = CallersKitchen(kitchen_id, altitude_ft, time_zone, best_by_months)
    return Caller(member_id, name, role, kitchen, token_id, scope)


@cache
def _whose() -> Prepared:
    """For whom a token speaks."""
    columns = (
        col(Token.secret_sha256),
        col(Token.used_at),
        col(Token.scope),
        col(Member.id),
        col(Member.name),
        col(Member.role),
        col(Kitchen.id),
        col(Kitchen.altitude_ft),
        col(Kitchen.time_zone),
        col(Kitchen.best_by_months),
    )
    return Prepared(
        sqlalchemy.select(*columns)
        .join(Member, col(Member.id) == col(Token.member_id))
        .join(Kitchen, col(Kitchen.id) == col(Member.kitchen_id))
        .where(
            col(Token.id) == bindparam("token_id"),
            col(Token.revoked_at).is_(None),
            or_(col(Token.expires_at).is_(None), col(Token.expires_at) > bindparam("at")),
        )
    )


def revoke(session: Session, member_id: UUID, token_id: UUID, at: datetime) -> bool:
    """End a member's token at once; `False` when the member has no such token."""
    token = session.exec(select(Token).where(col(Token.id) == token_id, col(Token.member_id) == member_id)).first()
    if token is None:
        return False
    token.revoked_at = token.revoked_at or at
    session.flush()
    return True


def rotate(session: Session, token_id: UUID, at: datetime) -> tuple[Token, str]:
    """Give a token's carrier another one of the same scope and end; the old one ends after a little while."""
    old = session.exec(select(Token).where(col(Token.id) == token_id)).one()
    made = make(session, old.member_id, at, old.expires_at, old.scope)
    old.expires_at = at + GRACE if old.expires_at is None else min(old.expires_at, at + GRACE)
    session.flush()
    return made


def of_member(session: Session, member_id: UUID, after: tuple[datetime, UUID] | None, limit: int) -> Sequence[Token]:
    """A member's tokens, the newest first and one more than asked for."""
    query = select(Token).where(col(Token.member_id) == member_id)
    if after is not None:
        made_at, last = after
        query = query.where(or_(col(Token.made_at) < made_at, (col(Token.made_at) == made_at) & (col(Token.id) < last)))
    return session.exec(query.order_by(col(Token.made_at).desc(), col(Token.id).desc()).limit(limit + 1)).all()


def _note_use(database: Database, token_id: UUID, member_id: UUID, at: datetime) -> None:
    """Note when a token was last used, and forget answers that were kept long enough; nobody is turned away for it."""
    with suppress(SQLAlchemyError), database.writer.begin() as connection:
        connection.execute(update(Token).where(col(Token.id) == token_id).values(used_at=at))
        forget(connection, member_id, at)


def _sha256(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
