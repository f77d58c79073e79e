"""Turning a plan into bookings: all of them, or none."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from functools import partial
from uuid import UUID

from sqlmodel import Session

from service.bookings import store as bookings
from service.bookings import whole_batches
from service.bookings.bodies import ClaimAnswer
from service.bookings.fair_use import store as fair_use
from service.core.refusals import Refused
from service.core.scheduling import chain_bookings
from service.core.scheduling.bookings import Booked, Claim, Status
from service.members import store as members
from service.plans.ordering import begun
from service.plans.store import KeptPlan, claims_of, has_begun
from service.plans.tables import PlannedBatch, PlanStatus
from service.web.callers import Caller

LOOK_AHEAD_MINUTES = 1440  # for when a batch that can't be had any more is next free


def booked(session: Session, caller: Caller, kept: KeptPlan, now: datetime) -> Refused | None:
    """Book each batch as it was planned, by the same rules as any booking.

    If one of them can't be had any more, the others are given back, the plan is stale, and the reason is returned.
    """
    all_or_none = session.begin_nested()
    others = [row for row in kept.batches if row.expected_out_at is None]
    changed = [row for row in others if row.booking_id is None or (row.timed or {}).get("change")]
    changed.sort(key=lambda row: _claims(row)[0].starts_at)
    because = kept.plan.beyond_limits_because
    acts = (
        *(partial(_give_back, session, caller, row, now) for row in changed if row.booking_id),
        partial(_go_on, session, caller, kept, now),
        *(partial(_book, session, caller, row, because, now) for row in changed),
    )
    refused = next((found for act in acts if (found := act())), None)
    if refused:
        all_or_none.rollback()
        kept.plan.status = PlanStatus.STALE
        kept.plan.reason = refused.detail
        session.add(kept.plan)
        session.flush()
        return refused
    kept.plan.status = PlanStatus.ACCEPTED
    session.add(kept.plan)
    session.flush()
    return None


def _give_back(session: Session, caller: Caller, row: PlannedBatch, now: datetime) -> Refused | None:
    """Free what was promised before, so that the batch may have it or something else."""
    promised = row.booking_id and bookings.booking(session, caller.kitchen_id, row.booking_id, None)
    if not promised:
        return None
    if promised.booking.status not in (Status.CONFIRMED, Status.DISPLACED):
        return Refused("not-now", f"A booking it would move is {promised.booking.status}.")
    if promised.booking.status is Status.CONFIRMED and has_begun(session, promised, now):
        return Refused("not-now", "A batch it would move has begun.")
    bookings.cancel(session, promised.booking)
    return None


def _go_on(session: Session, caller: Caller, kept: KeptPlan, now: datetime) -> Refused | None:
    """Let batches that have begun hold what they hold for longer, as it was planned."""
    rows = {row.booking_id: row for row in kept.batches if row.expected_out_at is not None}
    found = begun(session, caller, kept, (), now)
    if isinstance(found, Refused):
        return found
    longer = []
    for each in found:
        promised = bookings.booking(session, caller.kitchen_id, each.promised.booking_id, None)
        assert promised
        if _times(_claims(rows[promised.booking.id])) != _times(each.claims):
            return Refused("not-now", "A batch that runs over has gone on to its next step since this was planned.")
        longer.append((promised, Booked(each.claims, each.hands)))  # even if only its places on a rack are others
        if each.changed:
            change = (rows[promised.booking.id].timed or {})["change"]
            message = f"Your booking has a new time or other equipment. {change}"
            members.tell(session, promised.booking.member_id, message, now, booking_id=promised.booking.id)
    return bookings.go_on(session, longer) if longer else None


def _times(claims: Iterable[Claim]) -> list[tuple[UUID, datetime, datetime]]:
    return [(claim.equipment_id, claim.starts_at, claim.ends_at) for claim in claims]


def _book(session: Session, caller: Caller, row: PlannedBatch, because: str | None, now: datetime) -> Refused | None:
    wanted = whole_batches.batch(session, caller, row.recipe_id, row.revision, row.jars)
    assert wanted is not None  # revisions are never taken away
    claims = _claims(row)
    windows = chain_bookings.windows(claims, now, LOOK_AHEAD_MINUTES)
    kitchen = whole_batches.kitchen(session, caller, windows, now)
    chains = whole_batches.chains_of(session, caller, wanted, kitchen)
    if isinstance(chains, Refused):
        return chains
    wish = chain_bookings.Wish(chains, claims, wanted.standing, row.acknowledged)
    cook = whole_batches.cook(session, caller, row.member_id, windows)
    found = chain_bookings.book(wish, kitchen, cook, now, LOOK_AHEAD_MINUTES)
    if isinstance(found, Refused):
        return found
    before = row.booking_id and bookings.booking(session, caller.kitchen_id, row.booking_id, None)
    if before:  # what was promised was theirs already
        because = before.booking.beyond_limits_because
    elif because is None:
        too_much = fair_use.refused(session, caller.kitchen, row.member_id, found.claims, now)
        if too_much:
            return replace(too_much, extra={**too_much.extra, "batch": row.place})
    made = bookings.add(
        session,
        found,
        kitchen_id=caller.kitchen_id,
        member_id=row.member_id,
        purpose=wanted.title,
        recipe_id=row.recipe_id,
        revision=row.revision,
        jars=row.jars,
        booked_by=caller.id,
        booked_at=now,
        beyond_limits_because=because,
    )
    if isinstance(made, Refused):
        return made
    if row.booking_id:
        change = (row.timed or {})["change"]
        message = f"Your booking has a new time or other equipment. {change}"
        members.tell(session, row.member_id, message, now, booking_id=made.booking.id)
    row.booking_id = made.booking.id
    session.add(row)
    session.flush()
    return None


def _claims(row: PlannedBatch) -> tuple[Claim, ...]:
    """The claims as the timetable has them."""
    assert row.timed is not None  # or the plan wouldn't have been proposed
    return claims_of(ClaimAnswer.model_validate(each) for each in row.timed["claims"])
