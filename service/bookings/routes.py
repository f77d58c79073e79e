"""The routes of bookings, and of what comes between them."""

from collections.abc import Sequence
from datetime import datetime
from typing import Annotated
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Query, Response

from service.bookings import bodies, closing, single_pieces, store, whole_batches
from service.bookings.fair_use import store as fair_use
from service.bookings.waiting import offering
from service.core.refusals import Refused
from service.core.roles import Scope
from service.core.scheduling import bookings, hours, piece_bookings, searches
from service.core.scheduling.equipment import ended, interruption, senseless
from service.core.scheduling.spans import LAST_MINUTE, Span, minute_of
from service.equipment import store as equipment
from service.equipment.bodies import EquipmentChange
from service.members import store as members
from service.recipes import store as recipes
from service.web import (
    UNCHANGED,
    Caller,
    Coordinator,
    IfMatch,
    Looking,
    Member,
    Now,
    Page,
    Problem,
    Reading,
    Routes,
    Writing,
    also_for,
    problems,
    stale,
    tag,
)
from service.web.types import Id, Timestamp

router = Routes("/v1", "bookings")

LOOK_AHEAD_MINUTES = 28 * 1440  # how far ahead a next free time is looked for


@router.post("/slot-searches", responses=problems(404))
@also_for(Scope.READ)
def search_slots(wish: bodies.AnySlotSearch, caller: Member, session: Reading, now: Now) -> bodies.SlotsFound:
    """Find the first times at which a piece of equipment is free, or everything that a whole batch takes."""
    within = searches.window(wish.not_before, wish.not_after, now)
    if isinstance(within, Refused):
        raise Problem.of(within)
    if isinstance(wish, bodies.BatchSlotSearch):
        batch = _batch(wish, caller, session)
        found = whole_batches.search(session, caller, batch, within, wish.limit, now, LOOK_AHEAD_MINUTES)
    else:
        found = single_pieces.search(
            session,
            caller,
            wish.equipment_kind,
            wish.canner_kind,
            wish.minutes,
            within,
            wish.limit,
            now,
            LOOK_AHEAD_MINUTES,
        )
    if isinstance(found, Refused):
        raise Problem.of(found)
    return bodies.SlotsFound.model_validate(found)


@router.post("/bookings", status_code=201, responses=problems(403, 404, 409))
def book(
    new: bodies.AnyNewBooking, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.BookingAnswer:
    """Book a piece of equipment for a time, or a whole batch at a time that was offered for it."""
    member_id = _booked_for(new, caller, session)
    if isinstance(new, bodies.NewBatchBooking):
        batch = _batch(new, caller, session)
        purpose, claims = new.purpose or batch.title, [each.claim() for each in new.claims]
        booked = whole_batches.book(
            session, caller, batch, claims, member_id, now, LOOK_AHEAD_MINUTES, acknowledged=new.acknowledged
        )
    else:
        purpose, booked = new.purpose, _book_equipment(new, member_id, caller, session, now)
    if isinstance(booked, Refused):
        raise Problem.of(booked)
    _share_fairly(new.beyond_limits_because, booked.claims, member_id, caller, session, now)
    kept = store.add(
        session,
        booked,
        kitchen_id=caller.kitchen_id,
        member_id=member_id,
        purpose=purpose,
        recipe_id=new.recipe_id,
        revision=new.revision,
        jars=bodies.jars_by_size(new.jars),
        booked_by=caller.id,
        booked_at=now,
        beyond_limits_because=new.beyond_limits_because,
    )
    if isinstance(kept, Refused):
        raise Problem.of(kept)
    response.headers["Location"] = f"/v1/bookings/{kept.booking.id}"
    return bodies.BookingAnswer.of(kept)


def _book_equipment(
    new: bodies.NewBooking, member_id: UUID, caller: Caller, session: Writing, now: Now
) -> bookings.Booked | Refused:
    wish = piece_bookings.Wish(
        equipment_id=new.equipment_id,
        starts_at=new.starts_at,
        ends_at=new.ends_at,
        jars=bodies.jars_by_size(new.jars),
        standing=_standing(new, caller, session),
        acknowledged=new.acknowledged,
        in_the_past_too=caller.is_coordinator,
    )
    booked = single_pieces.book(session, caller, member_id, wish, now, LOOK_AHEAD_MINUTES)
    if booked is None:
        raise Problem.not_found()
    return booked


@router.get("/bookings")
@also_for(Scope.BOARD)
def list_bookings(
    caller: Member,
    look: Looking,
    page: Page,
    from_at: Annotated[Timestamp | None, Query(alias="from")] = None,
    to_at: Annotated[Timestamp | None, Query(alias="to")] = None,
    equipment_id: Id | None = None,
    member_id: Id | None = None,
) -> bodies.BookingList:
    """List bookings that touch the time between, earliest first: one's own, or everybody's for a coordinator."""
    whose = [member_id] if member_id else []
    if not caller.is_coordinator:
        whose.append(caller.id)
    after = page.after(Timestamp, Id)
    rows = store.bookings_between(look, caller.kitchen_id, from_at, to_at, equipment_id, whose, after, page.limit)
    items, next_cursor = page.page(rows, place=lambda kept: (kept.booking.starts_at, kept.booking.id))
    return bodies.BookingList(items=tuple(bodies.BookingAnswer.of(kept) for kept in items), next_cursor=next_cursor)


@router.get("/bookings/{booking_id}", responses=problems(404))
def get_booking(booking_id: Id, caller: Member, session: Reading) -> bodies.BookingAnswer:
    """Read one booking."""
    return bodies.BookingAnswer.of(_booking(session, caller, booking_id))


@router.post("/bookings/{booking_id}/cancellation", responses=problems(404, 409))
def cancel_booking(booking_id: Id, caller: Member, session: Writing, now: Now) -> bodies.BookingAnswer:
    """Give back what a booking holds."""
    kept = _booking(session, caller, booking_id)
    refused = bookings.cancellation(kept.booking.status)
    if refused:
        raise Problem.of(refused)
    store.cancel(session, kept.booking)
    offering.pass_on(session, caller.kitchen, now)
    return bodies.BookingAnswer.of(kept)


@router.patch("/equipment/{equipment_id}", responses=problems(403, 404, 412, 428))
def change_equipment(
    equipment_id: Id,
    change: EquipmentChange,
    caller: Coordinator,
    version: IfMatch,
    session: Writing,
    now: Now,
    response: Response,
) -> bodies.ChangedEquipment:
    """Change a piece of equipment; taken out of service, it displaces every booking that lies ahead."""
    row = equipment.piece(session, caller.kitchen_id, equipment_id)
    if row is None:
        raise Problem.not_found()
    values = {name: value for name, value in change.model_dump().items() if value is not None}
    capacity, needs_burner = values.get("capacity", row.capacity), values.get("needs_burner", row.needs_burner)
    nonsense = senseless(row.kind, row.canner_kind, capacity, row.places, needs_burner=needs_burner)
    if nonsense:
        raise Problem.of(nonsense)
    if not equipment.edit(session, row, version, values):
        raise stale()
    ahead = Span(minute_of(now), minute_of(now) if row.in_service else LAST_MINUTE)
    lost = store.displace(session, [row], ahead, f"{row.name} is out of service.", now)
    offering.pass_on(session, caller.kitchen, now)
    tag(response, row.version)
    return bodies.ChangedEquipment.of(row, lost)


@router.post("/equipment/{equipment_id}/outages", status_code=201, responses=problems(403, 404))
def report_outage(
    equipment_id: Id, new: bodies.NewOutage, caller: Coordinator, session: Writing, now: Now, response: Response
) -> bodies.OutageAnswer:
    """Take a piece of equipment out of use for a time; bookings in the way are displaced and their members told."""
    row = equipment.piece(session, caller.kitchen_id, equipment_id)
    if row is None:
        raise Problem.not_found()
    span = interruption(new.starts_at, new.ends_at, now)
    if isinstance(span, Refused):
        raise Problem.of(span)
    outage = equipment.add_outage(session, row.id, new.starts_at, new.ends_at, new.reason)
    lost = store.displace(session, [row], span, f"{row.name} is out of service: {new.reason}", now)
    equipment.lay_blocks(session, [row], span.starts_min)
    offering.pass_on(session, caller.kitchen, now)
    response.headers["Location"] = f"/v1/equipment/{row.id}/outages"
    return bodies.OutageAnswer(
        id=outage.id,
        equipment_id=row.id,
        starts_at=outage.starts_at,
        ends_at=outage.ends_at,
        reason=outage.reason,
        displaced=bodies.displaced(lost),
    )


@router.get("/equipment/{equipment_id}/outages", responses=problems(404))
def list_outages(equipment_id: Id, caller: Member, session: Reading, page: Page) -> bodies.OutageList:
    """List when a piece of equipment was and will be out of use, earliest first."""
    row = equipment.piece(session, caller.kitchen_id, equipment_id)
    if row is None:
        raise Problem.not_found()
    rows = equipment.outages(session, row.id, page.after(Timestamp, Id), page.limit)
    items, next_cursor = page.page(rows, place=lambda row: (row.starts_at, row.id))
    shown = tuple(bodies.EquipmentOutage.model_validate(row) for row in items)
    return bodies.OutageList(items=shown, next_cursor=next_cursor)


@router.post("/equipment/{equipment_id}/outages/{outage_id}/end", responses=problems(403, 404, 409))
def end_outage(
    equipment_id: Id, outage_id: Id, caller: Coordinator, session: Writing, now: Now
) -> bodies.EquipmentOutage:
    """End an outage now, or call off one that hasn't begun; displaced bookings stay displaced."""
    row = equipment.piece(session, caller.kitchen_id, equipment_id)
    outage = equipment.outage(session, row.id, outage_id) if row else None
    if row is None or outage is None:
        raise Problem.not_found()
    ends_at = ended(outage.starts_at, outage.ends_at, now)
    if isinstance(ends_at, Refused):
        raise Problem.of(ends_at)
    equipment.end_outage(session, outage, ends_at)
    equipment.lay_blocks(session, [row], minute_of(now))
    offering.pass_on(session, caller.kitchen, now)
    return bodies.EquipmentOutage.model_validate(outage)


@router.get("/closures")
@also_for(Scope.BOARD)
def list_closures(caller: Member, session: Reading, page: Page) -> bodies.ClosureList:
    """List the times at which the kitchen is closed against its usual hours, earliest first."""
    rows = equipment.closures(session, caller.kitchen_id, page.after(Timestamp, Id), page.limit)
    items, next_cursor = page.page(rows, place=lambda row: (row.starts_at, row.id))
    return bodies.ClosureList(
        items=tuple(bodies.ClosureAnswer.model_validate(row) for row in items), next_cursor=next_cursor
    )


@router.post("/closures", status_code=201, responses=problems(403))
def close_kitchen(
    new: bodies.NewClosure, caller: Coordinator, session: Writing, now: Now, response: Response
) -> bodies.NewClosureAnswer:
    """Close the kitchen for a time; bookings in the way are displaced and their members told.

    Jars at rest stay on their racks: those that were to leave one until the kitchen opens again. Racks that have to be
    empty are put out of service for that time as well.
    """
    starts_at, ends_at = _ends(new, ZoneInfo(caller.kitchen.time_zone))
    span = interruption(starts_at, ends_at, now)
    if isinstance(span, Refused):
        raise Problem.of(span)
    closure = equipment.add_closure(session, caller.kitchen_id, starts_at, ends_at, new.reason)
    lost = closing.close(session, caller, span, new.reason, now)
    offering.pass_on(session, caller.kitchen, now)
    response.headers["Location"] = f"/v1/closures/{closure.id}"
    tag(response, closure.version)
    return bodies.NewClosureAnswer(
        id=closure.id,
        starts_at=closure.starts_at,
        ends_at=closure.ends_at,
        reason=closure.reason,
        displaced=bodies.displaced(lost),
    )


@router.get("/closures/{closure_id}", responses=UNCHANGED | problems(404))
@also_for(Scope.BOARD)
def get_closure(closure_id: Id, caller: Member, session: Reading, response: Response) -> bodies.ClosureAnswer:
    """Read one closure."""
    row = equipment.closure(session, caller.kitchen_id, closure_id)
    if row is None:
        raise Problem.not_found()
    tag(response, row.version)
    return bodies.ClosureAnswer.model_validate(row)


@router.delete("/closures/{closure_id}", status_code=204, responses=problems(403, 404, 412, 428))
def open_kitchen(closure_id: Id, caller: Coordinator, version: IfMatch, session: Writing, now: Now) -> None:
    """Open the kitchen after all; displaced bookings stay displaced."""
    row = equipment.closure(session, caller.kitchen_id, closure_id)
    if row is None:
        raise Problem.not_found()
    if not equipment.remove_closure(session, row, version):
        raise stale()
    equipment.lay_blocks(session, equipment.equipment(session, caller.kitchen_id), minute_of(now))
    offering.pass_on(session, caller.kitchen, now)


def _batch(
    asked: bodies.BatchSlotSearch | bodies.NewBatchBooking, caller: Caller, session: Reading
) -> whole_batches.Batch:
    jars = bodies.jars_by_size(asked.jars)
    batch = whole_batches.batch(session, caller, asked.recipe_id, asked.revision, jars)
    if batch is None:
        raise Problem.not_found()
    return batch


def _booked_for(new: bodies.NewBooking | bodies.NewBatchBooking, caller: Caller, session: Writing) -> UUID:
    if new.member_id in (None, caller.id):
        return caller.id
    if not caller.is_coordinator:
        raise Problem("role-needed", "Only a coordinator books for somebody else.")
    member = new.member_id and members.member(session, caller.kitchen_id, new.member_id)
    if not member:
        raise Problem.not_found()
    return member.id


def _share_fairly(
    because: str | None, claims: Sequence[bookings.Claim], member_id: UUID, caller: Caller, session: Writing, now: Now
) -> None:
    """Keep to the limits of fair use, which only a coordinator goes past, and says why."""
    if because is not None:
        if not caller.is_coordinator:
            raise Problem("role-needed", "Only a coordinator goes past the limits of fair use.")
        return
    too_much = fair_use.refused(session, caller.kitchen, member_id, claims, now)
    if too_much:
        raise Problem.of(too_much)


def _standing(new: bodies.NewBooking, caller: Caller, session: Writing) -> bookings.Standing | None:
    if (new.recipe_id is None) != (new.revision is None):
        raise Problem("not-possible", "A recipe is named with the revision that is to be canned.")
    if new.recipe_id is None or new.revision is None:
        return None
    verdict = recipes.revision_verdict(session, caller.kitchen_id, new.recipe_id, new.revision)
    if verdict is None or (verdict.member_id != caller.id and not caller.is_coordinator):
        raise Problem.not_found()
    return bookings.Standing(verdict.verdict, verdict.severities)


def _booking(session: Reading, caller: Caller, booking_id: UUID) -> store.Kept:
    kept = store.booking(session, caller.kitchen_id, booking_id, None if caller.is_coordinator else caller.id)
    if kept is None:
        raise Problem.not_found()
    return kept


def _ends(new: bodies.NewClosure, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The two moments of a closure, whichever way they were sent."""
    by_moments, by_clock = (new.starts_at, new.ends_at), (new.starts_local, new.ends_local)
    if new.starts_at and new.ends_at and by_clock == (None, None):
        return new.starts_at, new.ends_at
    if not new.starts_local or not new.ends_local or by_moments != (None, None):
        raise Problem("not-possible", "A closure has two moments, or two local times.")
    return _moment(new.starts_local, zone), _moment(new.ends_local, zone)


def _moment(local: datetime, zone: ZoneInfo) -> datetime:
    read = hours.moment(local, zone)
    if isinstance(read, Refused):
        raise Problem.of(read)
    return read
