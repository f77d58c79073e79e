"""The run sheet of a batch: what the recipe's check published for these jars, and what to do in which order."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from functools import lru_cache
from uuid import UUID

from service.batches import bodies, store
from service.checks import checking
from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.core.jars import batches, deviations, run_sheets
from service.core.jars.batches import REST_HOURS, VENT_MINUTES, Canner, Process
from service.core.jars.heat import MOST_PSI_HIGH
from service.core.jars.movements import State
from service.core.measures import writing
from service.core.measures.bounds import Bounds
from service.core.refusals import Refused
from service.core.rules import formula
from service.core.rules.case import JarCount
from service.core.rules.recognition import Recogniser, recogniser
from service.published.bodies import PublishedRange
from service.published.loading import facts
from service.recipes import processes as recipes

# Recommended Canners (Guide 1), Michigan State University Extension, read in a copy.
COOL_DOWN_MINUTES = (20, 60)
STANDING_MINUTES = 30  # rule one-canner-load; common practice, no source
FREEZER_HEADSPACE_IN = "1 1/2"  # rule headspace-unsealed-to-freezer
VENTING = (
    "Let steam flow freely for {minutes} minutes before closing the vent, and only then let the pressure rise."
    " Start timing when the gauge shows the whole pressure."
)
STEAM = "Drive the air out: start timing when the thermometer shows boiling-water heat, and never open it meanwhile."
COOLING = {
    True: "Let the pressure fall by itself, never with water or by the vent: about {low} to {high} minutes. At zero"
    " wait 10 minutes, take the weight off, lift the lid away from you.",
    False: "Turn the heat off, take the lid off, wait 5 minutes, lift the jars straight up.",
}
REST = f"Leave the jars upright and apart for {REST_HOURS[0]} to {REST_HOURS[1]} hours, out of draughts."
SEALS = (
    "Press each lid: one that springs has not sealed.",
    "Look along each lid at eye level: it curves down.",
    "Count sealed, unsealed and broken; together they are the load.",
    "Unsealed jars: refrigerate or freeze now, or process again within"
    f" {deviations.UNSEALED_HOURS} hours of coming out.",
    f"Before freezing, open the headspace to {FREEZER_HEADSPACE_IN} inches, in straight-sided jars only.",
    "A jar that lost half its liquid or more goes into the refrigerator, for 2 to 3 days; with less, use it first.",
)
CAUTIONS = (
    f"Fill no more jars than one load takes; filled hot, they wait at most {STANDING_MINUTES} minutes for the canner.",
    "Never shorten a process. If the heat falls below what is required, start timing again from zero.",
    "A load that wasn't heated enough is processed again in full, chilled or frozen within"
    f" {deviations.UNDER_PROCESSED_HOURS} hours; a good seal proves nothing.",
    "Jars that didn't seal never go on the shelf.",
    "Never taste food that may be spoiled. When in doubt, throw it out.",
)
DIAL = (
    "A dial gauge is tested every year: add what it reads high to the pressure, and replace one that is more than"
    f" {MOST_PSI_HIGH:g} psi off."
)
COLD = "This food isn't canned: fill, close, and put it into the refrigerator or freezer as its recipe says."
FILLING = "Fill hot jars to the headspace, free the bubbles, fill up again, wipe the rim, fit a new lid and its band."
TOOLS = ("jar lifter", "funnel", "ruler for the headspace", "bubble freer", "clean cloth", "timer", "towel or rack")
NOT_TWICE = re.compile(r"squash|pumpkin|sweet-potato|pie-filling")  # rule reprocess-not-dense
VENT_STEP = re.compile(r"vent-(\d+)-min")


@dataclass(frozen=True, slots=True)
class Pot:
    """What is made: a revision as it was sent, the check it got here, and the jars that were booked for it."""

    recipe_id: UUID
    revision: int
    recipe: RecipeCheckRequest
    check: CheckAnswer
    altitude_ft: int
    jars: Mapping[str, int]


def _process(pot: Pot, found: recipes.Process) -> bodies.RunProcess:
    vent_minutes = _vent_minutes(pot.recipe) if found.pressure_psi is not None else 0
    return bodies.RunProcess(**asdict(found) | {"source": found.source, "vent_minutes": vent_minutes})


def _vent_minutes(recipe: RecipeCheckRequest) -> int:
    """The usual minutes, or the recipe's own where they are longer."""
    said = (VENT_STEP.fullmatch(word) for word in recipe.steps or ())
    return max([VENT_MINUTES, *(int(found[1]) for found in said if found)])


def core_processes(found: Iterable[bodies.RunProcess]) -> dict[tuple[str, str], Process]:
    """The processes as the core decides by them."""
    return {
        (each.jar_size, each.canner_kind): Process(
            each.method,
            each.minutes,
            each.pressure_psi,
            each.headspace_in,
            batches.vented(each.pressure_psi, each.vent_minutes),
        )
        for each in found
    }


def may_go_in_again(recipe: RecipeCheckRequest, check: CheckAnswer) -> bool:
    """Whether jars of this food may be processed a second time: hot-packed and not dense."""
    dense = check.family == "pie-filling" or NOT_TWICE.search(check.product or "") is not None
    packs = {option.pack for option in check.process.options} | {recipe.pack}
    return not dense and not packs.isdisjoint({"hot", "either"})


def cold(recipe: RecipeCheckRequest) -> State:
    """Where food that isn't canned is kept."""
    frozen = (recipe.process and recipe.process.method == "freeze") or (
        recipe.handling and recipe.handling.storage == "freezer"
    )
    return State.FREEZER if frozen else State.REFRIGERATOR


def of_booking(booked: store.Booked, altitude_ft: int) -> bodies.RunSheet | Refused:
    """The run sheet of a booking's recipe and jars in its canners, from the check that the revision got here."""
    if booked.recipe is None:
        return Refused("not-now", "The booking names no recipe, so there is nothing to make.")
    kept = booked.recipe
    if kept.check.altitude_ft != altitude_ft:
        return Refused("not-ready", "The recipe was checked at another altitude; check it again here.")
    recipe = RecipeCheckRequest.model_validate(kept.revision.body)
    check = CheckAnswer.model_validate(kept.check.answer)
    jars = booked.jars or {jar.size: jar.count for jar in recipe.jars or ()}
    sizes = jars or {size for option in check.process.options for size in option.jar_sizes}
    found = recipes.processes(recipe, check, sizes)
    canned = check.process.status != "not-canned"
    if canned and not any(canner.kind == kind for canner in booked.canners for _, kind in found):
        return Refused("does-not-fit", "No published process of this recipe runs in the canner that is booked.")
    pot = Pot(kept.recipe.id, kept.revision.number, recipe, check, altitude_ft, jars)
    return write(pot, booked.canners, booked.names, found if canned else {})


def write(
    pot: Pot,
    canners: tuple[Canner, ...],
    names: Mapping[UUID, str],
    found: Mapping[tuple[str, str], recipes.Process],
) -> bodies.RunSheet:
    """Everything the cook needs on the day, from the check the revision got."""
    kinds = {canner.kind for canner in canners}
    usable = [_process(pot, each) for (_, kind), each in found.items() if kind in kinds]
    planned = batches.load_plan(core_processes(usable), canners, pot.jars)
    parts = _parts(pot)
    canned = pot.check.process.status != "not-canned"
    pressure = {each.pressure_psi is not None for each in usable}
    steam = any(each.canner_kind == "atmospheric-steam" for each in usable)
    vent_minutes = max((each.vent_minutes or 0 for each in usable), default=0)
    low, high = COOL_DOWN_MINUTES
    return bodies.RunSheet(
        recipe_id=pot.recipe_id,
        revision=pot.revision,
        rulebook=pot.check.rulebook,
        altitude_ft=pot.altitude_ft,
        jars=dict(pot.jars),
        gather=bodies.RunGather(
            ingredients=tuple(_amount(part) for part in parts),
            jars=dict(pot.jars),
            lids=sum(pot.jars.values()),
            equipment=(
                *(f"{names[canner.id]} ({canner.kind})" for canner in canners),
                *TOOLS,
                *_thermometer(pot, steam),
            ),
        ),
        steps=tuple(
            bodies.RunStep(
                number=number,
                step=step.word,
                says=step.says,
                amounts=tuple(part.as_written for part in step.parts),
                measured=tuple(_amount(part) for part in step.parts),
                minutes=None if step.minutes is None else PublishedRange(low=step.minutes[0], high=step.minutes[1]),
            )
            for number, step in enumerate(run_sheets.steps(pot.recipe.steps or (), parts, pot.altitude_ft), 1)
        ),
        fill=tuple(_fill(pot, size, count, usable, parts) for size, count in pot.jars.items()),
        processes=tuple(usable),
        load_plan=tuple(
            bodies.PlannedLoad(load=number, canner_id=canner.id, canner=names[canner.id], jar_size=size, count=count)
            for number, (canner, size, count) in enumerate(planned, 1)
        ),
        venting=(VENTING.format(minutes=vent_minutes) if vent_minutes else None) or (STEAM if steam else None),
        cool_down=tuple(COOLING[each].format(low=low, high=high) for each in sorted(pressure)),
        rest=bodies.RunRest(hours_min=REST_HOURS[0], hours_max=REST_HOURS[1], says=REST) if canned else None,
        seal_check=SEALS if canned else (),
        cold=None if canned else bodies.RunCold(state=cold(pot.recipe), says=COLD),
        may_go_in_again=canned and may_go_in_again(pot.recipe, pot.check),
        cautions=(
            *((DIAL,) if any(each.canner_kind == "pressure-dial" for each in usable) else ()),
            *(CAUTIONS if canned else CAUTIONS[-1:]),
            *pot.check.notes,
            pot.check.notice,
        ),
    )


@lru_cache(maxsize=1)
def _known() -> Recogniser:
    return recogniser(facts())


def _parts(pot: Pot) -> list[run_sheets.Part]:
    """The ingredients with what this pot takes: an amount per jar times the jars that were booked."""
    jars = tuple(JarCount(size, count) for size, count in pot.jars.items())
    found = []
    for part in formula.parts(checking.recipe(pot.recipe, pot.altitude_ft).lines, jars, _known()):
        line = part.line
        per_jar = line.per_jar if line else None
        said = per_jar.amount if per_jar else line.amount if line else None
        times = formula.jars_ratio(jars, per_jar.jar_size) if per_jar else Bounds.exactly(1)
        found.append(
            run_sheets.Part(
                role=part.role.value,
                as_written=part.as_written,
                name=part.ingredient.name if part.ingredient else part.name,
                kitchen=writing.amount(said.bounds * times, said.unit) if said and times else None,
                grams=part.grams,
                per_jar=per_jar,
            )
        )
    return found


def _amount(part: run_sheets.Part) -> bodies.RunAmount:
    grams = part.grams and PublishedRange(
        low=round(float(part.grams.low), 1), high=None if part.grams.high is None else round(float(part.grams.high), 1)
    )
    return bodies.RunAmount(name=part.name, as_written=part.as_written, kitchen=part.kitchen, grams=grams)


def _fill(
    pot: Pot, size: str, count: int, usable: Iterable[bodies.RunProcess], parts: list[run_sheets.Part]
) -> bodies.RunFill:
    headspace_in = next((each.headspace_in for each in usable if each.jar_size == size), pot.recipe.headspace_in)
    return bodies.RunFill(
        jar_size=size, count=count, headspace_in=headspace_in, says=FILLING, in_each_jar=_in_each(size, parts)
    )


def _in_each(size: str, parts: list[run_sheets.Part]) -> tuple[str, ...]:
    """What goes into every jar by itself, by the jar's volume."""
    jar = (JarCount(size, 1),)
    found = []
    for part in parts:
        if part.per_jar is None:
            continue
        times = formula.jars_ratio(jar, part.per_jar.jar_size)
        if times is not None:
            found.append(f"{writing.amount(part.per_jar.amount.bounds * times, part.per_jar.amount.unit)} {part.name}")
    return tuple(found)


def _thermometer(pot: Pot, steam: bool) -> tuple[str, ...]:
    words = " ".join(pot.recipe.steps or ())
    pasteurized = any(option.method == "low-temperature-pasteurization" for option in pot.check.process.options)
    return ("thermometer",) if steam or pasteurized or "over-boiling" in words else ()
