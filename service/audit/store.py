"""Writing and reading the audit trail."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import bindparam, func, insert
from sqlmodel import Session, col, select

from service.audit import chain
from service.audit.tables import AuditEntry
from service.database.prepared import Prepared, Rows, at_work, write

ABOUT_LIMIT = 500
_OF_KITCHEN = (
    select(col(AuditEntry.number), col(AuditEntry.sha256))
    .where(col(AuditEntry.kitchen_id) == bindparam("kitchen"))
    .order_by(col(AuditEntry.number).desc())
    .limit(1)
)
_LAST, _ADD = Prepared(_OF_KITCHEN), Prepared(insert(AuditEntry))
_NOTED = "trail went on"
last_number = _OF_KITCHEN.with_only_columns(col(AuditEntry.number)).scalar_subquery().label("last_number")
"""How many entries a kitchen's trail has."""
last_sha256 = _OF_KITCHEN.with_only_columns(col(AuditEntry.sha256)).scalar_subquery().label("last_sha256")
"""The hash of the last of them."""


def note(
    session: Session,
    kitchen_id: UUID,
    member_id: UUID | None,
    act: str,
    about: str,
    request_id: str | None,
    at: datetime,
) -> None:
    """Add an entry to a kitchen's trail; the caller holds the kitchen's lock, so that none gets the same number."""
    write(at_work(session), entry(session, kitchen_id, member_id, act, about, request_id, at))


def entry(
    session: Session,
    kitchen_id: UUID,
    member_id: UUID | None,
    act: str,
    about: str,
    request_id: str | None,
    at: datetime,
    last: tuple[int, str] | None = None,
) -> Rows:
    """The next entry of a kitchen's trail, which is to be written before another is made.

    `last` is the last number and its hash as they were when the transaction began, where that is known.
    """
    if last is None or session.info.get(_NOTED):
        last = next(iter(_LAST.rows(session, kitchen=kitchen_id)), None)
    number, previous = last or (0, chain.BEGINNING)
    session.info[_NOTED] = True
    new: dict[str, Any] = {
        "kitchen_id": kitchen_id,
        "number": number + 1,
        "at": at,
        "member_id": member_id,
        "act": act,
        "about": about[:ABOUT_LIMIT],
        "request_id": request_id,
    }
    return _ADD.of({**new, "sha256": chain.link(previous, **new)})


def page(
    session: Session, kitchen_id: UUID, member_id: UUID | None, before: int | None, limit: int
) -> Sequence[AuditEntry]:
    """A kitchen's trail, of one member if one is named, newest first and one more than asked for."""
    query = select(AuditEntry).where(AuditEntry.kitchen_id == kitchen_id)
    if member_id is not None:
        query = query.where(AuditEntry.member_id == member_id)
    if before is not None:
        query = query.where(AuditEntry.number < before)
    return session.exec(query.order_by(col(AuditEntry.number).desc()).limit(limit + 1)).all()


def length(session: Session, kitchen_id: UUID) -> int:
    """How many entries a kitchen's trail has."""
    query = select(func.count()).select_from(AuditEntry).where(AuditEntry.kitchen_id == kitchen_id)
    return session.exec(query).one()


def trail(session: Session, kitchen_id: UUID) -> Iterator[AuditEntry]:
    """A kitchen's whole trail from its first entry on, a few at a time."""
    query = select(AuditEntry).where(AuditEntry.kitchen_id == kitchen_id).order_by(col(AuditEntry.number))
    for row in session.exec(query.execution_options(yield_per=500)):
        yield row
        session.expunge(row)
