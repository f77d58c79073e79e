"""What the planner has to know of a kitchen to place the batches of a plan."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.bookings import store as bookings
from service.bookings import whole_batches
from service.bookings.fair_use import store as fair_use
from service.bookings.whole_batches import Batch as Wanted
from service.core.refusals import Refused
from service.core.roles import Role
from service.core.scheduling import chain_bookings, overruns
from service.core.scheduling.bookings import Status
from service.core.scheduling.chain_slots import REST_AHEAD_MINUTES, Cook, Kitchen, known
from service.core.scheduling.overruns import Begun, Running, beside
from service.core.scheduling.spans import LAST_MINUTE, MINUTES_PER_DAY, Span, around, minute_of
from service.core.scheduling.timetables import Batch, Order
from service.members import store as members
from service.plans.store import KeptPlan, batch_id, claims_of
from service.plans.tables import PlannedBatch
from service.web.callers import Caller
from service.web.callers import Kitchen as CallersKitchen
from service.web.types import NOBODY

BEGUN_BEFORE_MINUTES = MINUTES_PER_DAY  # no batch works for longer than a day before its jars rest
AHEAD_MINUTES = 2 * MINUTES_PER_DAY + REST_AHEAD_MINUTES


def order(session: Session, kept: KeptPlan, now: datetime) -> Order | Refused:
    """Read the kitchen as it is now; a batch that it can't make any more is refused."""
    row = kept.plan
    caller = _ordered_by(session, kept)
    within = Span(max(minute_of(row.starts_at), around(now, now).ends_min), minute_of(row.ends_at))
    began_min = min(within.starts_min, minute_of(now)) - BEGUN_BEFORE_MINUTES
    over = any(each.expected_out_at is not None for each in kept.batches)
    from_min = began_min if over else within.starts_min
    windows = [known(Span(from_min, max(within.ends_min, minute_of(now) + AHEAD_MINUTES) + REST_AHEAD_MINUTES))]
    here = whole_batches.kitchen(session, caller, windows, now)
    promises = {
        each.booking_id: promised
        for each in kept.batches
        if each.booking_id and (promised := bookings.booking(session, caller.kitchen_id, each.booking_id, None))
    }
    begun = going_on(session, caller, kept, _without(here, promises), now)
    if isinstance(begun, Refused):
        return begun
    free = _without(here, promises)
    for gone_on in begun:
        free = beside(free, gone_on)
    found = []
    for each in (each for each in kept.batches if each.expected_out_at is None):
        wanted = whole_batches.batch(session, caller, each.recipe_id, each.revision, each.jars)
        assert wanted is not None  # revisions are never taken away
        chains = _refused(wanted, each.acknowledged) or whole_batches.chains_of(session, caller, wanted, here)
        if isinstance(chains, Refused):
            return Refused(chains.code, chains.detail, {**chains.extra, "batch": each.place})
        due_min = minute_of(each.due_at) if each.due_at else LAST_MINUTE
        batch = Batch(batch_id(each), each.member_id, chains, within.starts_min, due_min, each.weight)
        found.append(_as_promised(batch, promises[each.booking_id], wanted, here) if each.booking_id else batch)
    cooks = {
        each.member_id: _idle(whole_batches.cook(session, caller, each.member_id, windows), promises, begun, each)
        for each in kept.batches
    }
    new = [each.member_id for each in kept.batches if each.booking_id is None]
    shares = None if row.beyond_limits_because else fair_use.shares(session, caller.kitchen, new, now)
    return Order(free, cooks, within, tuple(found), begun, shares)


def begun(
    session: Session, caller: Caller, kept: KeptPlan, others: Collection[UUID], now: datetime
) -> tuple[Begun, ...] | Refused:
    """How the batches that have begun go on from now, if these other bookings make room for them."""
    windows = [Span(minute_of(now) - BEGUN_BEFORE_MINUTES, minute_of(now) + AHEAD_MINUTES)]
    here = whole_batches.kitchen(session, caller, windows, now)
    theirs = {row.booking_id for row in kept.batches if row.booking_id and row.expected_out_at}
    return going_on(session, caller, kept, _without(here, theirs | set(others)), now)


def going_on(
    session: Session, caller: Caller, kept: KeptPlan, free: Kitchen, now: datetime
) -> tuple[Begun, ...] | Refused:
    """How the batches that have begun go on, in a kitchen without them and without whoever makes room."""
    found = []
    for row in kept.batches:
        if row.expected_out_at is not None:
            one = _running(session, caller, row, row.expected_out_at, free, now)
            if isinstance(one, Refused):
                return replace(one, extra={**one.extra, "batch": row.place})
            found.append(one)
    return overruns.all_go_on(found, free)


def _running(
    session: Session, caller: Caller, row: PlannedBatch, out_at: datetime, free: Kitchen, now: datetime
) -> tuple[Running, int] | Refused:
    """A batch that has begun, and the minutes by which it runs over."""
    promised = row.booking_id and bookings.booking(session, caller.kitchen_id, row.booking_id, None)
    wanted = whole_batches.batch(session, caller, row.recipe_id, row.revision, row.jars)
    assert promised
    assert wanted is not None  # revisions are never taken away
    if promised.booking.status is not Status.CONFIRMED:
        return Refused("not-now", f"A batch that has begun has its booking; this one is {promised.booking.status}.")
    chains = whole_batches.chains_of(session, caller, wanted, free)
    if isinstance(chains, Refused):
        return chains
    claims = claims_of(promised.claims)
    chain = chain_bookings.made_in(chains, claims, {piece.resource.equipment_id: piece for piece in free.pieces})
    if chain is None:
        return Refused("not-possible", "The kitchen no longer makes a batch that has begun in its canners.")
    hands = tuple(Span(*each) for each in promised.booking.hands)
    batch = overruns.running(promised.booking.id, row.member_id, chain, claims, hands, now)
    minutes = overruns.minutes_over(batch, out_at)
    return minutes if isinstance(minutes, Refused) else (batch, minutes)


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
    units = tuple(claim.equipment_id for claim in promised.claims)
    return replace(batch, chains=(chain,), promised=placed, promised_units=units)


def _without(here: Kitchen, promises: Collection[UUID]) -> Kitchen:
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


def _idle(cook: Cook, promises: Mapping[UUID, bookings.Kept], begun: Sequence[Begun], row: PlannedBatch) -> Cook:
    """A member without the work of the promised batches, and with that of those which have begun."""
    theirs = {Span(*hands) for promised in promises.values() for hands in promised.booking.hands}
    busy = tuple(span for span in cook.busy if span not in theirs)
    going_on = (span for each in begun if each.promised.member_id == row.member_id for span in each.hands)
    return replace(cook, busy=(*busy, *going_on))


def _ordered_by(session: Session, kept: KeptPlan) -> Caller:
    """The coordinator who ordered the plan: the planner reads what they may."""
    row = members.kitchen(session, kept.plan.kitchen_id)
    kitchen = CallersKitchen(row.id, row.altitude_ft, row.time_zone, row.best_by_months)
    return Caller(kept.plan.ordered_by, "", Role.COORDINATOR, kitchen, NOBODY)
