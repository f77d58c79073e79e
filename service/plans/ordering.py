"""What the planner has to know of a kitchen to place the batches of a plan."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.bookings import store as bookings
from service.bookings import whole_batches
from service.bookings.whole_batches import Batch as Wanted
from service.core.refusals import Refused
from service.core.roles import Role
from service.core.scheduling import chain_bookings
from service.core.scheduling.chain_slots import REST_AHEAD_MINUTES, Cook, Kitchen
from service.core.scheduling.spans import Span, around, minute_of
from service.core.scheduling.timetables import Batch, Order
from service.members import store as members
from service.plans.store import KeptPlan, batch_id, claims_of
from service.web.callers import Caller
from service.web.callers import Kitchen as CallersKitchen
from service.web.types import NOBODY


def order(session: Session, kept: KeptPlan, now: datetime) -> Order | Refused:
    """Read the kitchen as it is now; a batch that it can't make any more is refused."""
    row = kept.plan
    caller = _ordered_by(session, kept)
    within = Span(max(minute_of(row.starts_at), around(now, now).ends_min), minute_of(row.ends_at))
    windows = [Span(within.starts_min, within.ends_min + REST_AHEAD_MINUTES)]
    here = whole_batches.kitchen(session, caller, windows, now)
    promises = {
        each.booking_id: promised
        for each in kept.batches
        if each.booking_id and (promised := bookings.booking(session, caller.kitchen_id, each.booking_id, None))
    }
    found = []
    for each in kept.batches:
        wanted = whole_batches.batch(session, caller, each.recipe_id, each.revision, each.jars)
        assert wanted is not None  # revisions are never taken away
        chains = _refused(wanted, each.acknowledged) or whole_batches.chains_of(session, caller, wanted, here)
        if isinstance(chains, Refused):
            return Refused(chains.code, chains.detail, {**chains.extra, "batch": each.place})
        batch = Batch(batch_id(each), each.member_id, chains, within.starts_min, minute_of(each.due_at), each.weight)
        found.append(_as_promised(batch, promises[each.booking_id], wanted, here) if each.booking_id else batch)
    cooks = {each.member_id: whole_batches.cook(session, caller, each.member_id, windows) for each in kept.batches}
    return Order(
        _without(here, promises), {who: _idle(cook, promises) for who, cook in cooks.items()}, within, tuple(found)
    )


def _refused(wanted: Wanted, acknowledged: bool) -> Refused | None:
    if wanted.standing.allows_canning(acknowledged=acknowledged):
        return None
    return Refused("not-ready", "The check of this revision doesn't say that it is ready to be canned.")


def _as_promised(batch: Batch, promised: bookings.Kept, wanted: Wanted, here: Kitchen) -> Batch:
    """The batch with the loads and the times it is booked for; with none, if the kitchen no longer makes it so."""
    wish = chain_bookings.Wish(batch.chains, claims_of(promised.claims), wanted.standing)
    known = chain_bookings.recognised(wish, {piece.resource.equipment_id: piece for piece in here.pieces})
    if isinstance(known, Refused):
        return batch
    chain, placed = known
    return replace(batch, chains=(chain,), promised=placed)


def _without(here: Kitchen, promises: Mapping[UUID, bookings.Kept]) -> Kitchen:
    """The kitchen as if the promised batches weren't in it."""
    pieces = (
        replace(
            piece,
            resource=replace(
                piece.resource,
                busy=tuple(busy for busy in piece.resource.busy if busy.booking_id not in promises),
            ),
        )
        for piece in here.pieces
    )
    return replace(here, pieces=tuple(pieces))


def _idle(cook: Cook, promises: Mapping[UUID, bookings.Kept]) -> Cook:
    """A member without the work of the promised batches."""
    theirs = {Span(*hands) for promised in promises.values() for hands in promised.booking.hands}
    return replace(cook, busy=tuple(span for span in cook.busy if span not in theirs))


def _ordered_by(session: Session, kept: KeptPlan) -> Caller:
    """The coordinator who ordered the plan: the planner reads what they may."""
    row = members.kitchen(session, kept.plan.kitchen_id)
    kitchen = CallersKitchen(row.id, row.altitude_ft, row.time_zone, row.best_by_months)
    return Caller(kept.plan.ordered_by, "", Role.COORDINATOR, kitchen, NOBODY)
