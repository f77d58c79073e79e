"""Chains and what they are made of, with one sensible default each."""

from dataclasses import replace

from service.core.refusals import Refused
from service.core.scheduling.chains import Canner, Chain, chains
from service.core.scheduling.equipment import CannerKind
from service.core.scheduling.figures import Figures

FIGURES = Figures(
    prep_minutes=30,
    longest_wait_minutes=30,
    cook_minutes=20,
    longest_hold_minutes=120,
    fill_minutes=15,
    longest_standing_minutes=10,
    warm_minutes=20,
    hands_minutes=5,
    boil_minutes=15,
    vent_minutes=10,
    pressurize_minutes=5,
    depressurize_minutes=45,
    lid_minutes=10,
    stand_minutes=5,
    cleaning_minutes=10,
    rest_minutes=720,
)
WATER = Canner.of(CannerKind.BOILING_WATER, {"half-pint": 12, "pint": 9, "quart": 7})
DIAL = Canner.of(CannerKind.PRESSURE_DIAL, {"half-pint": 24, "pint": 18, "quart": 7})
JAM = {("half-pint", CannerKind.BOILING_WATER): 10}


def figures(**own: int) -> Figures:
    return replace(FIGURES, **own)


def chain(
    jars: dict[str, int] | None = None,
    processes: dict[tuple[str, CannerKind], int] | None = None,
    canners: tuple[Canner, ...] = (WATER,),
    **own: int,
) -> Chain:
    """The chain with the fewest loads: eight half-pints of jam."""
    found = chains(jars or {"half-pint": 8}, processes or JAM, canners, (200,), figures(**own))
    assert not isinstance(found, Refused)
    return found[0]
