"""The route of harvests: what to make of them before they spoil."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction
from zoneinfo import ZoneInfo

from service.bookings import whole_batches
from service.bookings.bodies import BlockedBy, SlotOption
from service.core.jars import harvests
from service.core.jars.harvests import Produce
from service.core.measures.bounds import Bounds
from service.core.refusals import Refused
from service.core.roles import Scope
from service.core.scheduling import searches
from service.core.scheduling.bookings import Step
from service.harvests import bodies, choosing
from service.web import Caller, Member, Now, Problem, Reading, Routes, also_for, problems

router = Routes("/v1/harvest-plans", "harvests")

MOST_SLOTS = 12  # pots one cook is found times for
MOST_AHEAD = timedelta(days=28)
LOOK_AHEAD_MINUTES = 7 * 1440  # how long after its use-by a time is looked for, to say when there is one
NOTHING = Bounds.exactly(0)


@router.post("", responses=problems(404))
@also_for(Scope.READ)
def plan_harvest(new: bodies.NewHarvestPlan, caller: Member, session: Reading, now: Now) -> bodies.HarvestPlan:
    """Work out what a harvest makes: whole pots, jars, a shopping list, times before it spoils, and what won't fit."""
    zone = ZoneInfo(caller.kitchen.time_zone)
    names = [each.name for each in new.produce]
    weights = [choosing.pounds(each.name, Fraction(each.amount), each.unit) for each in new.produce]
    use_bys = [_moment(each.use_by, zone) for each in new.produce]
    produce = [Produce(weight or NOTHING, use_by) for weight, use_by in zip(weights, use_bys, strict=True)]
    found = [choosing.recipe(session, caller, each) for each in dict.fromkeys(new.recipes)]
    recipes = [each for each in found if each is not None]
    if len(recipes) < len(found):
        raise Problem.not_found()
    choices = [choosing.choice(session, caller, each, names) for each in recipes]
    made: list[int] = []
    slots: list[bodies.HarvestSlot] = []
    missed: dict[int, tuple[BlockedBy, ...]] = {}
    planned, free_at = harvests.pots(produce, choices), now
    for at in planned:
        if at in missed or len(slots) == MOST_SLOTS:
            missed.setdefault(at, ())
            continue
        slot = _slot(recipes[at], free_at, choices[at].use_by(produce), caller, session, now)
        if isinstance(slot, bodies.HarvestSlot):
            made.append(at)
            slots.append(slot)
            free_at = max(claim.ends_at for claim in slot.claims if claim.step is not Step.REST)
        else:
            missed[at] = slot
    left = harvests.left_over(produce, choices, made)
    rests = []
    for place, (name, weight) in enumerate(zip(names, weights, strict=True)):
        taking = [at for at, choice in enumerate(choices) if place in choice.needs]
        late = [at for at in planned if at in taking]
        late = late[sum(at in taking for at in made) :]
        blocked = tuple(each for at in missed if at in taking for each in missed[at])
        rest = bodies.HarvestRest.of(name, weight and left[place], taking=bool(taking), late=len(late), blocked=blocked)
        rests += [rest] if rest else []
    return bodies.HarvestPlan(
        batches=bodies.batches(recipes, made),
        jars=bodies.jars(recipes, made),
        supplies=bodies.supplies(recipes, choices, names, made),
        slots=tuple(slots),
        wont_fit=tuple(rests),
        notes=bodies.NOTES,
    )


def _slot(
    recipe: choosing.Recipe, free_at: datetime, use_by: datetime, caller: Caller, session: Reading, now: datetime
) -> bodies.HarvestSlot | tuple[BlockedBy, ...]:
    """The first time for one pot between two moments, or what is in the way."""
    within = searches.window(free_at, min(use_by, now + MOST_AHEAD), now)
    wanted = whole_batches.batch(session, caller, recipe.id, recipe.revision, recipe.booked_jars)
    if isinstance(within, Refused) or wanted is None:
        return ()
    found = whole_batches.search(session, caller, wanted, within, 1, now, LOOK_AHEAD_MINUTES)
    if isinstance(found, Refused):
        raise Problem.of(replace(found, extra={**found.extra, "recipe_id": recipe.id}))
    if not found.options:
        return tuple(BlockedBy.model_validate(each) for each in found.blocked_by)
    option = SlotOption.model_validate(found.options[0])
    return bodies.HarvestSlot(
        recipe_id=recipe.id,
        revision=recipe.revision,
        jars=recipe.booked_jars,
        starts_at=option.starts_at,
        ends_at=option.ends_at,
        claims=option.claims,
    )


def _moment(use_by: date | datetime, zone: ZoneInfo) -> datetime:
    """A moment as it is, a day to its end."""
    if isinstance(use_by, datetime):
        return use_by
    return datetime.combine(use_by + timedelta(days=1), time(), zone).astimezone(UTC)
