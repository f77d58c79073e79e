"""The routes of calendar feeds: made and ended by members, read by calendar programs that have no token."""

import hashlib
from datetime import datetime
from typing import Annotated, Any

from fastapi import Path, Response

from service.calendars import bodies, feeds, store
from service.calendars.tables import FeedShows
from service.equipment import store as equipment
from service.web import UNCHANGED, Member, Now, Page, Problem, Reading, Routes, Writing, problems
from service.web.callers import OpenToAll
from service.web.types import Id

router = Routes("/v1/calendar-feeds", "calendars")
pages = Routes("", "calendars")

Secret = Annotated[str, Path(max_length=200, description="the secret of the feed's path, as it was shown once")]


class CalendarText(Response):
    """A calendar (RFC 5545)."""

    media_type = feeds.MEDIA_TYPE


A_CALENDAR: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "A calendar.",
        "content": {"text/calendar": {"schema": {"type": "string"}, "example": "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n…"}},
    },
    **UNCHANGED,
}


@router.post("", status_code=201, responses=problems(403, 404))
def make_calendar_feed(
    new: bodies.NewCalendarFeed, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.NewCalendarFeedAnswer:
    """Make an address at which calendar programs read one's bookings, or what a coordinator names."""
    if new.shows is not FeedShows.MEMBER and not caller.is_coordinator:
        raise Problem("role-needed", "Only a coordinator's feed shows more than one's own bookings.")
    if (new.shows is FeedShows.EQUIPMENT) != (new.equipment_id is not None):
        raise Problem("not-possible", "A piece of equipment is named where the feed shows one, and only there.")
    if new.equipment_id is not None and equipment.piece(session, caller.kitchen_id, new.equipment_id) is None:
        raise Problem.not_found()
    row, secret = store.add(session, caller.kitchen_id, caller.id, new.shows, new.equipment_id, now)
    response.headers["Location"] = f"/v1/calendar-feeds/{row.id}"
    response.headers["Cache-Control"] = "no-store"
    return bodies.NewCalendarFeedAnswer.of(row, secret)


@router.get("")
def list_calendar_feeds(caller: Member, session: Reading, page: Page) -> bodies.CalendarFeedList:
    """List one's own feeds, the newest first; what was revoked is among them."""
    rows = store.feeds(session, caller.id, page.limit, page.after(datetime, Id))
    items, next_cursor = page.page(rows, place=lambda row: (row.made_at, row.id))
    return bodies.CalendarFeedList(
        items=tuple(bodies.CalendarFeedAnswer.model_validate(row) for row in items), next_cursor=next_cursor
    )


@router.get("/{feed_id}", responses=problems(404))
def get_calendar_feed(feed_id: Id, caller: Member, session: Reading) -> bodies.CalendarFeedAnswer:
    """Read one feed, without its secret: one's own, or anybody's for a coordinator."""
    row = store.feed(session, caller.kitchen_id, feed_id, None if caller.is_coordinator else caller.id)
    if row is None:
        raise Problem.not_found()
    return bodies.CalendarFeedAnswer.model_validate(row)


@router.post("/{feed_id}/revocation", responses=problems(404))
def revoke_calendar_feed(feed_id: Id, caller: Member, session: Writing, now: Now) -> bodies.CalendarFeedAnswer:
    """End a feed at once: one's own, or anybody's for a coordinator."""
    row = store.revoke(session, caller.kitchen_id, feed_id, None if caller.is_coordinator else caller.id, now)
    if row is None:
        raise Problem.not_found()
    return bodies.CalendarFeedAnswer.model_validate(row)


@pages.get("/calendars/{secret}.ics", dependencies=[OpenToAll], response_class=CalendarText, responses=A_CALENDAR)
def read_calendar(secret: Secret, session: Reading, now: Now) -> Response:
    """Read a feed as a calendar; whoever has its path may."""
    shown = store.shown(session, secret, now)
    if shown is None:
        raise Problem.not_found()
    text = feeds.written(shown)
    etag = hashlib.sha256(text).hexdigest()[:32]
    named = {"ETag": f'"{etag}"', "Content-Disposition": 'inline; filename="kitchen.ics"'}
    return CalendarText(text, headers=named)
