"""What the tables print for the jars, pack, canner and altitude of a recipe, and where the process sent falls short.

A smaller jar takes the time of the next larger printed size; a larger jar than any printed has no time.
"""

from collections.abc import Iterable
from dataclasses import replace
from functools import lru_cache
from typing import NamedTuple

from service.core.measures.jars import JAR_ML
from service.core.measures.terms import Term
from service.core.measures.values import value
from service.core.rules import processes
from service.core.rules.case import Case
from service.core.rules.facts import REFRIGERATE, BandFigures, Process

BOILING_WATER = "boiling-water"
STEAM = processes.STEAM
DIAL = "pressure-dial"
WEIGHTED = "pressure-weighted"
PASTEURIZATION = "low-temperature-pasteurization"
PRESSURE = frozenset({DIAL, WEIGHTED})
BOILING = frozenset({BOILING_WATER, STEAM})
CANNERS = PRESSURE | BOILING
COLD = frozenset({REFRIGERATE, "freeze"})
METHODS = CANNERS | COLD | {PASTEURIZATION}


class Fault(Term):
    """What is wrong with a process for one jar size; the first that applies."""

    NO_ROW = "no row for this canner"
    PACK = "pack"
    JAR = "jar"
    NO_BAND = "no figure at this altitude"
    GAUGE = "pressure"
    UNSAID = "minutes not said"
    BAND = "the time of a lower altitude"
    MINUTES = "minutes"


@value(frozen=True, slots=True)
class Judged:
    """One jar size of a recipe beside the nearest printed process."""

    jar_size: str
    fault: Fault | None
    row: Process | None = None
    figures: BandFigures | None = None
    smaller: bool = False  # than any size that is printed for it, and so it takes the time of a larger one


@lru_cache(maxsize=64)
def _sources(case: Case) -> tuple[tuple[Process, ...], tuple[Process, ...]]:
    """All rows for this food, every canner, pack and size: the tested recipe's own, then the product's.

    A plain pack has the product's alone: no recipe narrows what is printed for the food itself.
    """
    tested = case.tested
    plain = case.facts.covers.get(case.product or "") == "plain-pack"
    own = tested.recipe.options if tested and not plain and tested.recipe.product in (None, case.product) else ()
    return own, (*case.options, *case.facts.processes_of.get(case.product or "", ()))


def rows(case: Case, method: str) -> tuple[tuple[Process, ...], tuple[Process, ...]]:
    """The same in this canner."""
    own, product = _sources(case)
    return _in_canner(own, method), _in_canner(product, method)


@lru_cache(maxsize=4096)
def _in_canner(found: tuple[Process, ...], method: str) -> tuple[Process, ...]:
    derived = (processes.steam(row) if method == STEAM and row.method != STEAM else row for row in found)
    return tuple({row.id: row for row in derived if row is not None and row.method == method}.values())


@lru_cache(maxsize=64)
def any_rows(case: Case) -> tuple[Process, ...]:
    """Every row for this food in any canner."""
    return _in_any_canner(*_sources(case))


@lru_cache(maxsize=4096)
def _in_any_canner(own: tuple[Process, ...], product: tuple[Process, ...]) -> tuple[Process, ...]:
    return tuple(row for method in sorted(CANNERS) for source in (own, product) for row in _in_canner(source, method))


@lru_cache(maxsize=4096)
def _serving(found: tuple[Process, ...], pack: str, jar_size: str) -> tuple[Process, ...]:
    """The rows among these that serve a jar packed so; none where they print no size that is large enough."""
    packed = [row for row in found if row.pack in (pack, "either")]
    serving = _size_serving(packed, jar_size)
    return tuple([row for row in packed if serving in row.jar_sizes])


def _size_serving(packed: Iterable[Process], jar_size: str) -> str | None:
    """The smallest printed size that holds at least as much as this jar."""
    if jar_size not in JAR_ML:
        return None
    printed = {size for row in packed for size in row.jar_sizes if size in JAR_ML}
    return min((size for size in printed if JAR_ML[size] >= JAR_ML[jar_size]), key=JAR_ML.__getitem__, default=None)


def altitude_ft(case: Case) -> int:
    """The altitude to look up. Below the sea water boils hotter than at its level, whose figures hold."""
    return max(case.altitude_ft, 0)


@lru_cache(maxsize=64)
def judged(case: Case) -> tuple[Judged, ...]:
    """Every jar size of a shelf-stable recipe that goes into a canner and has published rows at all."""
    process = case.process
    if not case.on_the_shelf or process is None or process.method not in CANNERS or not any_rows(case):
        return ()
    own, product = rows(case, process.method)
    sent = _Sent(own, product, process.method, case.pack, altitude_ft(case), process.minutes, process.pressure_psi)
    return tuple([_judge(sent, size) for size in case.jar_sizes])


class _Sent(NamedTuple):
    """What the tables are asked: a process and all that its time depends on, but for the jar."""

    own: tuple[Process, ...]  # of the tested recipe, in this canner
    product: tuple[Process, ...]
    method: str
    pack: str | None
    altitude_ft: int
    minutes: int | None
    pressure_psi: float | None

    def serving(self, pack: str, jar_size: str) -> tuple[Process, ...]:
        return _serving(self.own, pack, jar_size) or _serving(self.product, pack, jar_size)


@lru_cache(maxsize=1024)
def _judge(sent: _Sent, jar_size: str) -> Judged:
    """A pack that isn't said may be any that is printed, and has to be right for all."""
    if not sent.own and not sent.product:
        return Judged(jar_size, Fault.NO_ROW)
    packs = {row.pack for row in (*sent.own, *sent.product)} - {"either"} or {"either"}
    answers = [_judge_pack(sent, pack, jar_size) for pack in ([sent.pack] if sent.pack else sorted(packs))]
    faulty = [answer for answer in answers if answer.fault]
    if not faulty:
        return answers[0]
    return faulty[0] if len(faulty) == len(answers) else replace(faulty[0], fault=Fault.PACK)


def _judge_pack(sent: _Sent, pack: str, jar_size: str) -> Judged:
    found = sent.serving(pack, jar_size)
    if not found:
        packs = {row.pack for row in (*sent.own, *sent.product)}
        return Judged(jar_size, Fault.JAR if packs & {pack, "either"} else Fault.PACK)
    here = [(row, figures) for row in found if (figures := processes.at(row, sent.altitude_ft)) is not None]
    if not here:
        return Judged(jar_size, Fault.NO_BAND, found[0])
    if sent.method in PRESSURE:
        psi = sent.pressure_psi
        enough = [pair for pair in here if psi is not None and (pair[1].pressure_psi or 0) <= psi]
        if not enough:
            return Judged(jar_size, Fault.GAUGE, *min(here, key=lambda pair: pair[1].pressure_psi or 0))
        here = enough
    row, figures = min(here, key=lambda pair: pair[1].minutes)
    minutes = sent.minutes
    if minutes is None:
        return Judged(jar_size, Fault.UNSAID, row, figures)
    if minutes >= figures.minutes:
        served = sent.serving(row.pack, jar_size)
        return Judged(jar_size, None, row, figures, not any(jar_size in other.jar_sizes for other in served))
    return Judged(jar_size, _why_short(sent, jar_size, row, minutes), row, figures)


def _why_short(sent: _Sent, jar_size: str, row: Process, minutes: int) -> Fault:
    if any(minutes >= lower.minutes for lower in row.bands if lower.band.low_ft < sent.altitude_ft):
        return Fault.BAND
    for pack in {"hot", "raw"} - {row.pack}:
        for other in sent.serving(pack, jar_size):
            figures = processes.at(other, sent.altitude_ft)
            if figures is not None and minutes >= figures.minutes and sent.method in BOILING:
                return Fault.PACK
    return Fault.MINUTES
