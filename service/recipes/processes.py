"""The published process of a recipe for each jar size in each kind of canner."""

from collections.abc import Iterable
from dataclasses import dataclass

from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.core.jars.batches import SUITS
from service.core.rules.processes import covering
from service.published.bodies import PublishedProcess, PublishedSource
from service.published.loading import facts


@dataclass(frozen=True, slots=True)
class Process:
    """What was published for one jar size in one kind of canner at the kitchen's altitude."""

    jar_size: str
    canner_kind: str
    method: str
    minutes: int
    pressure_psi: int | None
    headspace_in: float | None
    source: PublishedSource


def processes(
    recipe: RecipeCheckRequest, check: CheckAnswer, jar_sizes: Iterable[str]
) -> dict[tuple[str, str], Process]:
    """The published process for each jar size in each kind of canner; what isn't published isn't there."""
    found: dict[tuple[str, str], Process] = {}
    for size in jar_sizes:
        for method, kind in SUITS.items():
            fitting = [option for option in check.process.options if option.method == method and _covers(option, size)]
            option = _chosen(recipe, fitting)
            if option is not None and (size, kind) not in found:
                found[size, kind] = Process(
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
