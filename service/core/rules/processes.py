"""Published processes are looked up here, and only here: nothing is interpolated, scaled or shortened.

Where no figure is printed there is None: for an altitude without a band, for a jar without a row.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

from service.core.rules.facts import BandFigures, Facts, Process

STEAM = "atmospheric-steam"


class How(StrEnum):
    """How a row serves a jar size: printed for it, or by one of the published equivalences.

    Half-pints and 24-ounce jars: Complete Guide to Home Canning, AIB 539 rev. 2015, Guide 1 p. 1-23. The odd sizes:
    Canning in odd-sized jars, Kansas State University Research and Extension.
    """

    PRINTED = "printed"
    QUARTER_PINT_AS_HALF_PINT = "quarter-pint-as-half-pint"
    HALF_PINT_AS_PINT = "half-pint-as-pint"
    TWELVE_OUNCE_AS_PINT = "twelve-ounce-as-pint"
    PINT_AND_HALF_AS_QUART = "pint-and-half-as-quart"


_EQUIVALENT = {  # jar size -> the printed size whose figures it takes
    "quarter-pint": ("half-pint", How.QUARTER_PINT_AS_HALF_PINT),
    "half-pint": ("pint", How.HALF_PINT_AS_PINT),
    "twelve-ounce": ("pint", How.TWELVE_OUNCE_AS_PINT),
    "pint-and-half": ("quart", How.PINT_AND_HALF_AS_QUART),
}
_NO_HALF_PINT_AS_PINT = frozenset({"clams", "king-or-dungeness-crab", "reduced-sugar-fruit-spread"})


@dataclass(frozen=True, slots=True)
class Option:
    """One process at one altitude band, and how it comes to serve the jar."""

    process: Process
    figures: BandFigures
    how: How


@lru_cache(maxsize=4096)
def at(process: Process, altitude_ft: int) -> BandFigures | None:
    """The figures printed for this altitude; None where the table prints no band for it."""
    return next((figures for figures in process.bands if figures.band.holds(altitude_ft)), None)


def covering(facts: Facts, process: Process, jar_size: str) -> How | None:
    """How this process serves a jar size; None where nothing published says that it does.

    A size that the same product, pack and method has a row of its own for takes that row, no other.
    """
    if jar_size in process.jar_sizes:
        return How.PRINTED
    printed, how = _EQUIVALENT.get(jar_size, ("", How.PRINTED))
    if printed not in process.jar_sizes:
        return None
    if how is How.HALF_PINT_AS_PINT and process.product in _NO_HALF_PINT_AS_PINT:
        return None
    method = "boiling-water" if process.method == STEAM else process.method
    for row in facts.processes_of.get(process.product, ()):
        if row.method == method and row.pack == process.pack and jar_size in row.jar_sizes:
            return None
    return how


@lru_cache(maxsize=4096)
def steam(process: Process) -> Process | None:
    """The same process in an atmospheric steam canner, for the bands where steam may stand for boiling water."""
    bands = tuple(figures for figures in process.bands if figures.atmospheric_steam)
    if process.method != "boiling-water" or not bands:
        return None
    return replace(process, id=f"{process.id}:steam", method=STEAM, bands=bands)


def rows(
    facts: Facts,
    *,
    product: str | None = None,
    family: str | None = None,
    method: str | None = None,
    jar_size: str | None = None,
) -> Iterator[Process]:
    """The published rows that match, in the order of the tables; the derived steam rows where steam is asked for."""
    found = facts.processes if product is None else facts.processes_of.get(product, ())
    for printed in found:
        process = steam(printed) if method == STEAM else printed
        if (
            process is not None
            and (family is None or process.family == family)
            and (method is None or process.method == method)
            and (jar_size is None or covering(facts, process, jar_size) is not None)
        ):
            yield process


def options_at(
    facts: Facts,
    altitude_ft: int | None = None,
    *,
    product: str | None = None,
    family: str | None = None,
    method: str | None = None,
    jar_size: str | None = None,
) -> Iterator[Option]:
    """One option per matching row and altitude band; with an altitude only the band that holds it."""
    for process in rows(facts, product=product, family=family, method=method, jar_size=jar_size):
        how = How.PRINTED if jar_size is None else covering(facts, process, jar_size)
        assert how is not None
        for figures in process.bands:
            if altitude_ft is None or figures.band.holds(altitude_ft):
                yield Option(process, figures, how)
