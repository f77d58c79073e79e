"""Calendar feeds as rows, and the bookings each may show."""

import hashlib
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from sqlmodel import Session, col, or_, select

from service.bookings import store as bookings
from service.calendars.tables import CalendarFeed, FeedShows
from service.core.roles import Role
from service.core.scheduling.equipment import LONGEST_INTERRUPTION
from service.equipment import store as equipment
from service.equipment.tables import Closure
from service.members import store as members
from service.members.tables import Kitchen, Member

SECRET_BYTES = 32
PAST = timedelta(days=31)  # how long what is over stays in a calendar
MOST_BOOKINGS = 2000


@dataclass(frozen=True, slots=True)
class Shown:
    """What a feed shows; names go by the ids of members and equipment."""

    feed: CalendarFeed
    kitchen: Kitchen
    bookings: tuple[bookings.Listed, ...]
    closures: Sequence[Closure]
    names: dict[UUID, str]


def add(
    session: Session, kitchen_id: UUID, member_id: UUID, shows: FeedShows, equipment_id: UUID | None, at: datetime
) -> tuple[CalendarFeed, str]:
    """Make a feed; its secret is shown now and never again."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    row = CalendarFeed(
        kitchen_id=kitchen_id,
        member_id=member_id,
        shows=shows,
        equipment_id=equipment_id,
        secret_sha256=_sha256(secret),
        made_at=at,
    )
    session.add(row)
    session.flush()
    return row, secret


def feeds(session: Session, member_id: UUID, limit: int, after: tuple[datetime, UUID] | None) -> Sequence[CalendarFeed]:
    """Somebody's feeds, the newest first and one more than asked for; those that were revoked too."""
    query = select(CalendarFeed).where(CalendarFeed.member_id == member_id)
    if after is not None:
        at, last = after
        same = (col(CalendarFeed.made_at) == at) & (col(CalendarFeed.id) < last)
        query = query.where(or_(col(CalendarFeed.made_at) < at, same))
    return session.exec(
        query.order_by(col(CalendarFeed.made_at).desc(), col(CalendarFeed.id).desc()).limit(limit + 1)
    ).all()


def feed(session: Session, kitchen_id: UUID, feed_id: UUID, member_id: UUID | None) -> CalendarFeed | None:
    """A member's own feed, or anybody's of the kitchen if no member is named."""
    query = select(CalendarFeed).where(CalendarFeed.kitchen_id == kitchen_id, CalendarFeed.id == feed_id)
    if member_id is not None:
        query = query.where(CalendarFeed.member_id == member_id)
    return session.exec(query).first()


def revoke(
    session: Session, kitchen_id: UUID, feed_id: UUID, member_id: UUID | None, at: datetime
) -> CalendarFeed | None:
    """End a feed at once: a member's own, or anybody's of the kitchen if no member is named."""
    row = feed(session, kitchen_id, feed_id, member_id)
    if row is not None:
        row.revoked_at = row.revoked_at or at
        session.add(row)
        session.flush()
    return row


def shown(session: Session, secret: str, now: datetime) -> Shown | None:
    """What the feed with this secret shows; None once it was revoked, or its maker left or may no longer see that."""
    query = (
        select(CalendarFeed, Kitchen, Member)
        .join(Kitchen, col(Kitchen.id) == col(CalendarFeed.kitchen_id))
        .join(Member, col(Member.id) == col(CalendarFeed.member_id))
        .where(
            CalendarFeed.secret_sha256 == _sha256(secret),
            col(CalendarFeed.revoked_at).is_(None),
            col(Member.left_at).is_(None),
            or_(col(CalendarFeed.shows) == FeedShows.MEMBER, col(Member.role) == Role.COORDINATOR),
        )
    )
    found = session.exec(query).first()
    if found is None:
        return None
    feed, kitchen, member = found
    since = now - PAST
    whose = [member.id] if feed.shows is FeedShows.MEMBER else []
    kept = bookings.bookings_between(session, kitchen.id, since, None, feed.equipment_id, whose, None, MOST_BOOKINGS)
    closed = (
        select(Closure)
        .where(
            Closure.kitchen_id == kitchen.id, Closure.ends_at > since, Closure.starts_at > since - LONGEST_INTERRUPTION
        )
        .order_by(col(Closure.starts_at), col(Closure.id))
    )
    names = members.names(session, {member.id, *(each.booking.member_id for each in kept)})
    names |= {row.id: row.name for row in equipment.equipment(session, kitchen.id)}
    closures = () if feed.shows is FeedShows.MEMBER else session.exec(closed).all()
    return Shown(feed, kitchen, kept, closures, names)


def _sha256(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
