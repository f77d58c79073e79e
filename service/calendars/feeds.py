"""Bookings as a calendar (RFC 5545), which other programs read again and again from the same address.

A booking's times never change: it is cancelled or displaced, and then stays in the feed as cancelled with a higher
sequence, so that a program which keeps what it read takes it out.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from uuid import uuid5
from zoneinfo import ZoneInfo

from service.bookings.store import Claimed, Entry
from service.calendars.store import Shown
from service.calendars.tables import FeedShows
from service.core.scheduling.bookings import Status

if TYPE_CHECKING:
    from icalendar import Calendar, Event

MEDIA_TYPE = "text/calendar"
PRODUCT = "-//canning-kitchen//bookings//EN"
READ_AGAIN = timedelta(minutes=15)
OVER = frozenset({Status.CANCELLED, Status.DISPLACED})


def written(shown: Shown) -> bytes:
    """The whole calendar: an event for each booking, or for each stay at the one piece of equipment it shows."""
    from icalendar import Calendar

    zone = ZoneInfo(shown.kitchen.time_zone)
    calendar = Calendar()
    calendar.add("PRODID", PRODUCT)
    calendar.add("VERSION", "2.0")
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("METHOD", "PUBLISH")
    for name in ("NAME", "X-WR-CALNAME"):
        calendar.add(name, _name(shown))
    calendar.add("REFRESH-INTERVAL", READ_AGAIN, parameters={"VALUE": "DURATION"})
    for event in (*_bookings(shown, zone), *_closures(shown, zone)):
        calendar.add_component(event)
    return _with_zone(calendar, shown, zone)


def _name(shown: Shown) -> str:
    whose = {
        FeedShows.MEMBER: shown.names[shown.feed.member_id],
        FeedShows.EQUIPMENT: shown.names[shown.feed.equipment_id] if shown.feed.equipment_id else "",
        FeedShows.KITCHEN: "",
    }[shown.feed.shows]
    return f"{shown.kitchen.name}: {whose}" if whose else shown.kitchen.name


def _bookings(shown: Shown, zone: ZoneInfo) -> Iterable[Event]:
    feed = shown.feed
    for kept in shown.bookings:
        booking, claims = kept.booking, kept.claims
        whose = "" if feed.shows is FeedShows.MEMBER else f", {shown.names[booking.member_id]}"
        summary = f"{booking.purpose}{whose}"
        if feed.shows is not FeedShows.EQUIPMENT:
            where = ", ".join(dict.fromkeys(shown.names[claim.equipment_id] for claim in claims))
            yield _event(
                booking,
                str(booking.id),
                summary,
                where,
                _steps(shown, claims, zone),
                booking.starts_at,
                booking.ends_at,
                zone,
            )
            continue
        for claim in claims:
            if claim.equipment_id == feed.equipment_id:
                uid, where = str(uuid5(booking.id, f"claim {claim.place}")), shown.names[claim.equipment_id]
                yield _event(booking, uid, summary, where, "", claim.starts_at, claim.ends_at, zone)


def _steps(shown: Shown, claims: Iterable[Claimed], zone: ZoneInfo) -> str:
    """What is held when, a line each, by the kitchen's clock."""
    times = ((claim, claim.starts_at.astimezone(zone), claim.ends_at.astimezone(zone)) for claim in claims)
    return "\n".join(f"{starts:%H:%M}–{ends:%H:%M} {shown.names[claim.equipment_id]}" for claim, starts, ends in times)


def _event(
    booking: Entry,
    uid: str,
    summary: str,
    where: str,
    description: str,
    starts_at: datetime,
    ends_at: datetime,
    zone: ZoneInfo,
) -> Event:
    from icalendar import Event

    over = booking.status in OVER
    event = Event()
    event.add("UID", uid)
    event.add("DTSTAMP", booking.booked_at)
    event.add("CREATED", booking.booked_at)
    event.add("DTSTART", local(starts_at, zone))
    event.add("DTEND", local(ends_at, zone))
    event.add("SUMMARY", f"Displaced: {summary}" if booking.status is Status.DISPLACED else summary)
    event.add("LOCATION", where)
    if description:
        event.add("DESCRIPTION", description)
    event.add("STATUS", "CANCELLED" if over else "CONFIRMED")
    event.add("SEQUENCE", 1 if over else 0)
    event.add("TRANSP", "TRANSPARENT" if over else "OPAQUE")
    return event


def _closures(shown: Shown, zone: ZoneInfo) -> Iterable[Event]:
    from icalendar import Event

    for row in shown.closures:
        event = Event()
        event.add("UID", str(row.id))
        event.add("DTSTAMP", row.starts_at)  # a closure is made and taken away, never changed
        event.add("DTSTART", local(row.starts_at, zone))
        event.add("DTEND", local(row.ends_at, zone))
        event.add("SUMMARY", f"Closed: {row.reason}")
        event.add("STATUS", "CONFIRMED")
        event.add("TRANSP", "OPAQUE")
        yield event


def local(moment: datetime, zone: ZoneInfo) -> datetime:
    """A moment by the kitchen's clock; in UTC where that clock shows the time twice and this is the second.

    A time with a zone's name always means the first of two (RFC 5545, 3.3.5), so the second can't be said that way.
    """
    there = moment.astimezone(zone)
    return moment.astimezone(UTC) if zone.key == "UTC" or there.fold else there


def _with_zone(calendar: Calendar, shown: Shown, zone: ZoneInfo) -> bytes:
    """Describe the zone as far as the events reach."""
    moments = [each.booking.starts_at for each in shown.bookings] + [each.booking.ends_at for each in shown.bookings]
    moments += [row.starts_at for row in shown.closures] + [row.ends_at for row in shown.closures]
    if moments and zone.key != "UTC":
        year = timedelta(days=366)
        calendar.add_missing_timezones(first_date=(min(moments) - year).date(), last_date=(max(moments) + year).date())
    text: bytes = calendar.to_ical()
    return text
