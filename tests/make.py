"""Rows with one sensible default each, so that a test shows only what it is about."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from uuid import UUID

from sqlmodel import Session

from service.core.roles import Role
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.hours import Opening
from service.database.engine import Database
from service.equipment import store as equipment
from service.equipment.tables import Equipment
from service.members import store, tokens
from service.members.tables import Kitchen, Member, SignOff, Skill

A_MOMENT = datetime(2027, 6, 14, 10, tzinfo=UTC)


@contextmanager
def session(database: Database) -> Iterator[Session]:
    """A session that writes, and commits at the end."""
    with Session(database.writer, expire_on_commit=False) as open_session:
        yield open_session
        open_session.commit()


def kitchen(
    session: Session, name: str = "Hall kitchen", altitude_ft: int = 4200, time_zone: str = "America/Denver"
) -> Kitchen:
    """A kitchen in the hills."""
    return store.add_kitchen(session, name, altitude_ft, time_zone)


def member(
    session: Session,
    kitchen_id: UUID,
    name: str = "Ada",
    role: str = "member",
    at: datetime = A_MOMENT,
    expires_at: datetime | None = None,
) -> tuple[Member, str]:
    """A member with a token."""
    row = store.add_member(session, kitchen_id, name, Role(role))
    _, shown = tokens.make(session, row.id, at, expires_at)
    return row, shown


def sign_off(
    session: Session,
    member_id: UUID,
    given_by: UUID,
    skill: Skill = Skill.PRESSURE_CANNING,
    expires_on: date = date(2030, 1, 1),
    at: datetime = A_MOMENT,
) -> SignOff:
    """A sign-off for pressure canning."""
    return store.sign_off(session, member_id, skill, expires_on, given_by, at)


def open_always(session: Session, kitchen_id: UUID) -> None:
    """Opening hours around the clock."""
    equipment.set_week(session, kitchen_id, tuple(Opening(weekday, 0, 1440) for weekday in range(7)), 1)


def kettle(session: Session, kitchen_id: UUID, name: str = "Kettle", at: datetime = A_MOMENT) -> Equipment:
    """A canner for boiling water that takes nine pints."""
    return equipment.add(
        session,
        kitchen_id,
        at,
        kind=EquipmentKind.CANNER,
        name=name,
        canner_kind=CannerKind.BOILING_WATER,
        capacity={"pint": 9},
    )
