"""Reading and writing kitchens, members, sign-offs and notices."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from functools import cache
from uuid import UUID

import sqlalchemy
from sqlalchemy import Connection, bindparam
from sqlmodel import Session, col, or_, select
from sqlmodel.sql.expression import SelectOfScalar

from service.core.roles import Role
from service.database.prepared import Prepared
from service.database.rows import change
from service.members.tables import Kitchen, Member, Notice, SignOff, Skill

_LOCK = Prepared(select(col(Kitchen.id)).where(col(Kitchen.id) == bindparam("kitchen")).with_for_update(key_share=True))


def lock_kitchen(connection: Connection, kitchen_id: UUID) -> None:
    """Hold the row everyone who writes in a kitchen contends for; SQLite's writing transaction needs no other lock."""
    if connection.dialect.name == "postgresql":
        _LOCK.rows(connection, kitchen=kitchen_id)


def add_kitchen(session: Session, name: str, altitude_ft: int, time_zone: str) -> Kitchen:
    """Open a kitchen."""
    kitchen = Kitchen(name=name, altitude_ft=altitude_ft, time_zone=time_zone)
    session.add(kitchen)
    session.flush()
    return kitchen


def kitchen(session: Session, kitchen_id: UUID) -> Kitchen:
    """Find the kitchen a caller belongs to."""
    return session.exec(_kitchen(), params={"kitchen_id": kitchen_id}).one()


@cache
def _kitchen() -> SelectOfScalar[Kitchen]:
    return select(Kitchen).where(col(Kitchen.id) == bindparam("kitchen_id"))


def change_kitchen(session: Session, kitchen_id: UUID, version: int, values: dict[str, object]) -> Kitchen | None:
    """Write a kitchen's new values if it still has this version."""
    row = kitchen(session, kitchen_id)
    return row if change(session, row, version, **values) else None


def add_member(session: Session, kitchen_id: UUID, name: str, role: Role) -> Member:
    """Take somebody into a kitchen."""
    row = Member(kitchen_id=kitchen_id, name=name, role=role)
    session.add(row)
    session.flush()
    return row


def member(session: Session, kitchen_id: UUID, member_id: UUID) -> Member | None:
    """Find a member of this kitchen who hasn't left."""
    return session.exec(_member(), params={"kitchen_id": kitchen_id, "member_id": member_id}).first()


@cache
def _member() -> SelectOfScalar[Member]:
    return select(Member).where(
        col(Member.id) == bindparam("member_id"),
        col(Member.kitchen_id) == bindparam("kitchen_id"),
        col(Member.left_at).is_(None),
    )


def is_here(look: Session | Connection, kitchen_id: UUID, member_id: UUID) -> bool:
    """Whether this kitchen has such a member, who hasn't left."""
    return bool(_is_here().rows(look, kitchen_id=kitchen_id, member_id=member_id))


@cache
def _is_here() -> Prepared:
    return Prepared(
        sqlalchemy.select(col(Member.id)).where(
            col(Member.id) == bindparam("member_id"),
            col(Member.kitchen_id) == bindparam("kitchen_id"),
            col(Member.left_at).is_(None),
        )
    )


def coordinators(session: Session) -> Sequence[tuple[Member, Kitchen]]:
    """The coordinators of every kitchen, by its name and theirs; those who left aren't among them."""
    query = select(Member, Kitchen).join(Kitchen, col(Kitchen.id) == col(Member.kitchen_id))
    here = query.where(col(Member.role) == Role.COORDINATOR, col(Member.left_at).is_(None))
    return session.exec(here.order_by(col(Kitchen.name), col(Member.name), col(Member.id))).all()


def names(session: Session, member_ids: Iterable[UUID]) -> dict[UUID, str]:
    """What members are called, those who left too."""
    query = select(Member.id, Member.name).where(col(Member.id).in_(set(member_ids)))
    return dict(session.exec(query).all())


def members(session: Session, kitchen_id: UUID, limit: int, after: tuple[str, UUID] | None) -> Sequence[Member]:
    """List a kitchen's members by name, one more than asked for; those who left aren't among them."""
    query = select(Member).where(col(Member.kitchen_id) == kitchen_id, col(Member.left_at).is_(None))
    if after is not None:
        name, last = after
        query = query.where(or_(col(Member.name) > name, (col(Member.name) == name) & (col(Member.id) > last)))
    return session.exec(query.order_by(col(Member.name), col(Member.id)).limit(limit + 1)).all()


def sign_off(
    session: Session, member_id: UUID, skill: Skill, expires_on: date, given_by: UUID, given_at: datetime
) -> SignOff:
    """Sign a member off for a skill; a newer sign-off takes the place of the old one."""
    query = select(SignOff).where(col(SignOff.member_id) == member_id, col(SignOff.skill) == skill)
    row = session.exec(query).first() or SignOff(
        member_id=member_id, skill=skill, expires_on=expires_on, given_by=given_by, given_at=given_at
    )
    row.expires_on, row.given_by, row.given_at = expires_on, given_by, given_at
    session.add(row)
    session.flush()
    return row


def sign_offs(session: Session, member_id: UUID) -> Sequence[SignOff]:
    """List what a member was ever signed off for."""
    return session.exec(_sign_offs(), params={"member_id": member_id}).all()


@cache
def _sign_offs() -> SelectOfScalar[SignOff]:
    return select(SignOff).where(col(SignOff.member_id) == bindparam("member_id")).order_by(col(SignOff.skill))


def tell(
    session: Session,
    member_id: UUID,
    message: str,
    at: datetime,
    booking_id: UUID | None = None,
    lot_code: str | None = None,
    waiting_id: UUID | None = None,
) -> None:
    """Leave a member a notice about one of their bookings, lots or places on the waiting list."""
    session.add(
        Notice(
            member_id=member_id,
            booking_id=booking_id,
            lot_code=lot_code,
            waiting_id=waiting_id,
            message=message,
            told_at=at,
        )
    )


def notices(session: Session, member_id: UUID, after: tuple[datetime, UUID] | None, limit: int) -> Sequence[Notice]:
    """What a member was told, newest first and one more than asked for."""
    query = select(Notice).where(Notice.member_id == member_id)
    if after is not None:
        told_at, last = after
        query = query.where(
            or_(col(Notice.told_at) < told_at, (col(Notice.told_at) == told_at) & (col(Notice.id) < last))
        )
    return session.exec(query.order_by(col(Notice.told_at).desc(), col(Notice.id).desc()).limit(limit + 1)).all()
