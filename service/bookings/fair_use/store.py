"""Limits as rows, and what a member has taken already."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import datetime
from itertools import groupby
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import and_, bindparam, delete, or_
from sqlalchemy import select as columns
from sqlmodel import Session, col, select

from service.bookings.fair_use import tables
from service.bookings.store import ends_after
from service.bookings.tables import Booking, Claim
from service.core.refusals import Refused
from service.core.scheduling import bookings
from service.core.scheduling.bookings import Status
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.fair_use import (
    ONE_WEEK,
    FairUse,
    Limits,
    Season,
    Shares,
    Use,
    more_than_fair,
    use_of,
)
from service.core.scheduling.spans import around
from service.database.prepared import Prepared
from service.database.rows import change
from service.equipment.tables import Equipment
from service.web.callers import Kitchen

_FIGURES = ("days_ahead", "open_bookings", "canner_minutes_a_week")  # in the order of `Limits`
_RULES = Prepared(
    columns(
        *(getattr(tables.FairUse, name) for name in (*_FIGURES, "offer_minutes", "version")),
        *(getattr(tables.Season, name) for name in ("name", "first_on", "last_on", *_FIGURES)),
    )
    .select_from(tables.FairUse)
    .join(tables.Season, col(tables.Season.kitchen_id) == col(tables.FairUse.id), isouter=True)
    .where(col(tables.FairUse.id) == bindparam("kitchen"))
    .order_by(col(tables.Season.first_on))
)


def rules(session: Session, kitchen_id: UUID) -> tuple[FairUse, int]:
    """The limits and their version; no limits and version 1 in a kitchen that never set any."""
    found = _RULES.rows(session, kitchen=kitchen_id)
    if not found:
        return FairUse(), 1
    offer_minutes, version = found[0][3:5]
    seasons = (Season(row[5], row[6], row[7], Limits(*row[8:])) for row in found if row[6])
    return FairUse(Limits(*found[0][:3]), tuple(seasons), offer_minutes), version


def set_rules(session: Session, kitchen_id: UUID, new: FairUse, version: int) -> bool:
    """Put other limits in place of those of this version; `False` says that somebody else was first."""
    head = session.get(tables.FairUse, kitchen_id)
    values = {**asdict(new.limits), "offer_minutes": new.offer_minutes}
    if head is None:
        if version != 1:
            return False
        session.add(tables.FairUse(id=kitchen_id, version=2, **values))
    elif not change(session, head, version, **values):
        return False
    session.execute(delete(tables.Season).where(col(tables.Season.kitchen_id) == kitchen_id))
    session.flush()
    for season in new.seasons:
        session.add(
            tables.Season(
                kitchen_id=kitchen_id,
                name=season.name,
                first_on=season.first_on,
                last_on=season.last_on,
                **asdict(season.limits),
            )
        )
    session.flush()
    return True


def refused(
    session: Session, kitchen: Kitchen, member_id: UUID, claims: Sequence[bookings.Claim], now: datetime
) -> Refused | None:
    """Why a member may not have these claims beside what they have already; `None` if they may."""
    limits, _ = rules(session, kitchen.id)
    if limits == FairUse(offer_minutes=limits.offer_minutes):
        return None
    canners = select(Equipment.id).where(Equipment.kitchen_id == kitchen.id, Equipment.kind == EquipmentKind.CANNER)
    asked = use_of(claims, set(session.exec(canners)))
    since = min(now, min(claim.starts_at for claim in claims) - ONE_WEEK)
    return more_than_fair(limits, asked, _uses(session, member_id, since, now), ZoneInfo(kitchen.time_zone), now)


def shares(session: Session, kitchen: Kitchen, member_ids: Iterable[UUID], now: datetime) -> Shares | None:
    """What is left for these members; `None` in a kitchen without limits, or if nobody is asked about."""
    limits, _ = rules(session, kitchen.id)
    others = {member_id: _uses(session, member_id, now - ONE_WEEK, now) for member_id in set(member_ids)}
    if limits == FairUse(offer_minutes=limits.offer_minutes) or not others:
        return None
    return Shares(limits, ZoneInfo(kitchen.time_zone), now, others)


def _uses(session: Session, member_id: UUID, since: datetime, now: datetime) -> tuple[Use, ...]:
    """What a member has had since, has, and will have."""
    query = (
        select(Booking, Claim, Equipment.id)
        .join(Claim, col(Claim.booking_id) == col(Booking.id))
        .join(
            Equipment,
            and_(col(Equipment.id) == col(Claim.equipment_id), col(Equipment.kind) == EquipmentKind.CANNER),
            isouter=True,
        )
        .where(
            Booking.member_id == member_id,
            ends_after(since),
            or_(col(Booking.status) == Status.CONFIRMED, col(Booking.status) == Status.DONE),
        )
        .order_by(col(Booking.id))
    )
    found = []
    for booking, rows in groupby(session.exec(query), key=lambda row: row[0]):
        canners = tuple(around(claim.starts_at, claim.ends_at) for _, claim, canner_id in rows if canner_id)
        is_open = booking.status is Status.CONFIRMED and booking.ends_at > now
        found.append(Use(around(booking.starts_at, booking.ends_at), canners, is_open))
    return tuple(found)
