"""What has to be known to find times for a whole batch and to book one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.bookings import store
from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.core.refusals import Refused
from service.core.scheduling import chain_bookings, chain_slots, hours
from service.core.scheduling.bookings import Booked, Claim, Standing
from service.core.scheduling.chain_slots import REST_AHEAD_MINUTES, Cook, Kitchen
from service.core.scheduling.chains import Chain, chains
from service.core.scheduling.equipment import CannerKind
from service.core.scheduling.searches import Found
from service.core.scheduling.spans import MINUTES_PER_DAY, Span, union
from service.equipment import store as equipment
from service.recipes import store as recipes
from service.recipes.processes import processes
from service.web.callers import Caller

FIRST_DAYS_MINUTES = 3 * MINUTES_PER_DAY  # most searches end within them
LONGEST_CHAIN_MINUTES = 2 * MINUTES_PER_DAY  # more than any chain takes before its jars rest


@dataclass(frozen=True, slots=True)
class Batch:
    """A recipe's revision and the jars it is to fill."""

    title: str
    standing: Standing
    processes: Mapping[tuple[str, CannerKind], int]
    jars: Mapping[str, int]


def batch(session: Session, caller: Caller, recipe_id: UUID, revision: int, jars: Mapping[str, int]) -> Batch | None:
    """One batch of a revision, if that is the caller's to can."""
    verdict = recipes.revision_verdict(session, caller.kitchen_id, recipe_id, revision)
    recipe = recipes.recipe(session, caller.kitchen_id, recipe_id, None if caller.is_coordinator else caller.id)
    kept = recipes.revision(session, recipe, revision) if recipe else None
    if verdict is None or kept is None:
        return None
    found = processes(
        RecipeCheckRequest.model_validate(kept.revision.body), CheckAnswer.model_validate(kept.check.answer), jars
    )
    return Batch(
        kept.revision.title,
        Standing(verdict.verdict, verdict.severities),
        {(size, CannerKind(kind)): each.minutes for (size, kind), each in found.items()},
        jars,
    )


def kitchen(session: Session, caller: Caller, windows: Sequence[Span], now: datetime) -> Kitchen:
    """The caller's kitchen as it is known within the windows; today's units stay as they were given out."""
    zone = ZoneInfo(caller.kitchen.time_zone)
    week = equipment.openings(session, caller.kitchen_id)
    tomorrow_min = hours.end_of_day(now.astimezone(zone).date(), zone)
    return Kitchen(
        equipment.as_pieces(session, equipment.equipment(session, caller.kitchen_id), windows, tomorrow_min, now=now),
        union(span for window in windows for span in hours.open_spans(week, zone, window)),
    )


def cook(session: Session, caller: Caller, member_id: UUID, windows: Sequence[Span]) -> Cook:
    """The member whose batch it is."""
    return Cook(store.hands_of(session, member_id, windows), trained_until_min(session, caller, member_id))


def trained_until_min(session: Session, caller: Caller, member_id: UUID) -> int:
    """The minute until which a member may run a pressure canner; 0 if they never might."""
    trained_on = store.trained_until(session, member_id)
    return hours.end_of_day(trained_on, ZoneInfo(caller.kitchen.time_zone)) if trained_on else 0


def chains_of(session: Session, caller: Caller, wanted: Batch, kitchen: Kitchen) -> tuple[Chain, ...] | Refused:
    """The chains that make a batch in this kitchen, by its own figures."""
    figures = equipment.figures(session, caller.kitchen_id)
    if isinstance(figures, Refused):
        return figures
    return chains(wanted.jars, wanted.processes, kitchen.canners, kitchen.rack_places, figures)


def search(
    session: Session, caller: Caller, wanted: Batch, within: Span, limit: int, now: datetime, ahead_minutes: int
) -> Found | Refused:
    """The first starts of a batch, or what is in the way; no more of the book is read than that takes."""
    found = starts(session, caller, wanted, within, limit, now)
    if isinstance(found, Refused) or found.options or found.cut_short:
        return found
    known = _known(session, caller, wanted, within.ends_min, within, now, caller.id)
    if isinstance(known, Refused):
        return known
    later = Span(within.starts_min, within.ends_min + ahead_minutes)
    next_free_at = _first_start(starts(session, caller, wanted, later, 1, now))
    return Found((), chain_bookings.blocked(*known, within, next_free_at))


def starts(
    session: Session,
    caller: Caller,
    wanted: Batch,
    within: Span,
    limit: int,
    now: datetime,
    avoiding: Sequence[Span] = (),
    member_id: UUID | None = None,
) -> Found | Refused:
    """The first starts of a batch, if there are any; at none of them is the member's hand needed in what is avoided.

    It is the caller's, if no member is named. A few days are looked at first: no more is read than that takes.
    """
    if not wanted.standing.allows_canning(acknowledged=True):
        return Refused("not-ready", "The check of this revision doesn't say that it is ready to be canned.")
    first_days_min = min(within.starts_min + FIRST_DAYS_MINUTES, within.ends_min)
    for started_by_min in dict.fromkeys((first_days_min, within.ends_min)):
        looked_at = Span(within.starts_min, min(started_by_min + LONGEST_CHAIN_MINUTES, within.ends_min))
        known = _known(session, caller, wanted, looked_at.ends_min, within, now, member_id or caller.id)
        if isinstance(known, Refused):
            return known
        here, member, made = known
        member = replace(member, busy=(*member.busy, *avoiding))
        found = chain_bookings.options(here, member, made, looked_at, started_by_min, limit)
        if len(found.options) == limit:
            break
    return found


def book(
    session: Session,
    caller: Caller,
    wanted: Batch,
    claims: Sequence[Claim],
    member_id: UUID,
    now: datetime,
    ahead_minutes: int,
    *,
    acknowledged: bool,
) -> Booked | Refused:
    """What a booking of a batch claims, at a time that was offered for it."""
    windows = [chain_bookings.decided_within(claims)]
    here = kitchen(session, caller, windows, now)
    made = chains_of(session, caller, wanted, here)
    if isinstance(made, Refused):
        return made
    wish = chain_bookings.Wish(made, claims, wanted.standing, acknowledged, caller.is_coordinator)
    booked = chain_bookings.book(wish, here, cook(session, caller, member_id, windows), now, 0)
    if isinstance(booked, Booked) or "next_free_at" not in booked.extra or not ahead_minutes:
        return booked
    later = chain_bookings.offered_within(claims, now, ahead_minutes)
    next_free_at = _first_start(starts(session, caller, wanted, later, 1, now, member_id=member_id))
    return replace(booked, extra={**booked.extra, "next_free_at": next_free_at})


def _first_start(found: Found | Refused) -> datetime | None:
    return found.options[0].starts_at if isinstance(found, Found) and found.options else None


def _known(
    session: Session, caller: Caller, wanted: Batch, until_min: int, within: Span, now: datetime, member_id: UUID
) -> tuple[Kitchen, Cook, tuple[Chain, ...]] | Refused:
    """The kitchen, the member and the chains, for work until a minute and the rest after it."""
    windows = [chain_slots.known(Span(within.starts_min, until_min + REST_AHEAD_MINUTES))]
    here = kitchen(session, caller, windows, now)
    made = chains_of(session, caller, wanted, here)
    return made if isinstance(made, Refused) else (here, cook(session, caller, member_id, windows), made)
