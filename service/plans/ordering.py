"""What the planner has to know of a kitchen to place the batches of a plan."""

from datetime import datetime

from sqlmodel import Session

from service.bookings import whole_batches
from service.bookings.whole_batches import Batch as Wanted
from service.core.refusals import Refused
from service.core.roles import Role
from service.core.scheduling.chain_slots import REST_AHEAD_MINUTES
from service.core.scheduling.spans import Span, around, minute_of
from service.core.scheduling.timetables import Batch, Order
from service.members import store as members
from service.plans.store import KeptPlan, batch_id
from service.web.callers import Caller, Kitchen
from service.web.types import NOBODY


def order(session: Session, kept: KeptPlan, now: datetime) -> Order | Refused:
    """Read the kitchen as it is now; a batch that it can't make any more is refused."""
    row = kept.plan
    caller = _ordered_by(session, kept)
    within = Span(max(minute_of(row.starts_at), around(now, now).ends_min), minute_of(row.ends_at))
    windows = [Span(within.starts_min, within.ends_min + REST_AHEAD_MINUTES)]
    here = whole_batches.kitchen(session, caller, windows, now)
    found = []
    for each in kept.batches:
        wanted = whole_batches.batch(session, caller, each.recipe_id, each.revision, each.jars)
        assert wanted is not None  # revisions are never taken away
        chains = _refused(wanted, each.acknowledged) or whole_batches.chains_of(session, caller, wanted, here)
        if isinstance(chains, Refused):
            return Refused(chains.code, chains.detail, {**chains.extra, "batch": each.place})
        found.append(
            Batch(batch_id(each), each.member_id, chains, within.starts_min, minute_of(each.due_at), each.weight)
        )
    cooks = {each.member_id: whole_batches.cook(session, caller, each.member_id, windows) for each in kept.batches}
    return Order(here, cooks, within, tuple(found))


def _refused(wanted: Wanted, acknowledged: bool) -> Refused | None:
    if wanted.standing.allows_canning(acknowledged=acknowledged):
        return None
    return Refused("not-ready", "The check of this revision doesn't say that it is ready to be canned.")


def _ordered_by(session: Session, kept: KeptPlan) -> Caller:
    """The coordinator who ordered the plan: the planner reads what they may."""
    row = members.kitchen(session, kept.plan.kitchen_id)
    kitchen = Kitchen(row.id, row.altitude_ft, row.time_zone, row.best_by_months)
    return Caller(kept.plan.ordered_by, "", Role.COORDINATOR, kitchen, NOBODY)
