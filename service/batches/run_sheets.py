"""The run sheet of a batch: what the recipe's check published for these jars, and what to do in which order."""

from collections.abc import Iterable, Mapping
from uuid import UUID

from service.batches import bodies
from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.core.jars import batches, run_sheets
from service.core.jars.batches import REST_HOURS, SUITS, VENT_MINUTES, Canner, Process
from service.core.rules.processes import covering
from service.published.bodies import PublishedProcess
from service.published.loading import facts

VENTING = f"Let steam flow freely for {VENT_MINUTES} minutes before closing the vent; a tested process may say longer."
STEAM = "Drive the air out: start timing when the thermometer shows boiling-water heat, and never open it meanwhile."
COOLING = {
    True: "Let the pressure fall by itself, never with water; then wait 10 minutes, lift the lid away from you.",
    False: "Turn the heat off, take the lid off, wait 5 minutes, lift the jars straight up.",
}
REST = f"Leave the jars upright and apart for {REST_HOURS[0]} to {REST_HOURS[1]} hours, out of draughts."
SEALS = (
    "Press each lid: one that springs has not sealed.",
    "Look along each lid at eye level: it curves down.",
    "Count sealed, unsealed and broken; together they are the load.",
    "Unsealed jars: refrigerate, freeze, or process again within 24 hours.",
)
CAUTIONS = (
    "Never shorten a process. If the heat falls below what is required, start timing again from zero.",
    "Jars that didn't seal never go on the shelf.",
    "Never taste food that may be spoiled. When in doubt, throw it out.",
)


def processes(
    recipe: RecipeCheckRequest, check: CheckAnswer, jar_sizes: Iterable[str]
) -> dict[tuple[str, str], bodies.RunProcess]:
    """The published process for each jar size in each kind of canner; what isn't published isn't there."""
    found: dict[tuple[str, str], bodies.RunProcess] = {}
    for size in jar_sizes:
        for method, kind in SUITS.items():
            fitting = [option for option in check.process.options if option.method == method and _covers(option, size)]
            option = _chosen(recipe, fitting)
            if option is not None and (size, kind) not in found:
                found[size, kind] = bodies.RunProcess(
                    jar_size=size,
                    canner_kind=kind,
                    method=method,
                    minutes=_minutes(recipe, option),
                    pressure_psi=option.pressure_psi,
                    headspace_in=option.headspace_in if recipe.headspace_in is None else recipe.headspace_in,
                    source=option.source,
                )
    return found


def _covers(option: PublishedProcess, jar_size: str) -> bool:
    """Whether this row prints the size, or covers it by a published equivalence."""
    if jar_size in option.jar_sizes:
        return True
    printed_as = "boiling-water" if option.method == "atmospheric-steam" else option.method
    return any(
        covering(facts(), row, jar_size) is not None
        for row in facts().processes_of.get(option.product, ())
        if row.method == printed_as and row.pack == option.pack and set(row.jar_sizes) == set(option.jar_sizes)
    )


def _chosen(recipe: RecipeCheckRequest, fitting: list[PublishedProcess]) -> PublishedProcess | None:
    """The row that the recipe itself names, else the longest; a shorter time for sterile jars only where they are."""
    sterile = recipe.handling is not None and recipe.handling.sterile_jars is True
    fitting = [option for option in fitting if sterile or not option.sterile_jars]
    sent = recipe.process
    for option in fitting:
        if sent and (sent.method, sent.minutes, sent.pressure_psi) == (
            option.method,
            option.minutes,
            option.pressure_psi,
        ):
            return option
    return max(fitting, key=lambda option: option.minutes, default=None)


def _minutes(recipe: RecipeCheckRequest, option: PublishedProcess) -> int:
    """The published minutes, or the recipe's own where they are longer: a time is never shortened."""
    sent = recipe.process
    if sent and sent.minutes and (sent.method, sent.pressure_psi) == (option.method, option.pressure_psi):
        return max(sent.minutes, option.minutes)
    return option.minutes


def core_processes(found: Iterable[bodies.RunProcess]) -> dict[tuple[str, str], Process]:
    """The processes as the core decides by them."""
    return {
        (each.jar_size, each.canner_kind): Process(each.method, each.minutes, each.pressure_psi, each.headspace_in)
        for each in found
    }


def write(
    recipe_id: UUID,
    revision: int,
    recipe: RecipeCheckRequest,
    check: CheckAnswer,
    altitude_ft: int,
    canners: tuple[Canner, ...],
    names: Mapping[UUID, str],
    jars: Mapping[str, int],
    found: Mapping[tuple[str, str], bodies.RunProcess],
) -> bodies.RunSheet:
    """Everything the cook needs on the day, from the check the revision got."""
    usable = {key: each for key, each in found.items() if key[1] in {canner.kind for canner in canners}}
    kinds = {kind for _, kind in usable}
    parts = [run_sheets.Part(each.role, each.as_written) for each in check.formula.ingredients]
    planned = batches.load_plan(core_processes(usable.values()), canners, jars)
    return bodies.RunSheet(
        recipe_id=recipe_id,
        revision=revision,
        rulebook=check.rulebook,
        altitude_ft=altitude_ft,
        jars=dict(jars),
        steps=tuple(
            bodies.RunStep(number=number, step=step.word, says=step.says, amounts=step.amounts)
            for number, step in enumerate(run_sheets.steps(recipe.steps or (), parts), 1)
        ),
        processes=tuple(usable.values()),
        load_plan=tuple(
            bodies.PlannedLoad(load=number, canner_id=canner.id, canner=names[canner.id], jar_size=size, count=count)
            for number, (canner, size, count) in enumerate(planned, 1)
        ),
        venting=(VENTING if any(kind.startswith("pressure-") for kind in kinds) else None)
        or (STEAM if "atmospheric-steam" in kinds else None),
        cool_down=tuple(COOLING[pressure] for pressure in sorted({kind.startswith("pressure-") for kind in kinds})),
        rest=bodies.RunRest(hours_min=REST_HOURS[0], hours_max=REST_HOURS[1], says=REST),
        seal_check=SEALS,
        cautions=(*CAUTIONS, *check.notes, check.notice),
    )
