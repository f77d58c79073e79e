"""Whether time and pressure belong to the altitude of the kitchen."""

from collections.abc import Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.rules.case import Case
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.heat import JAM_MINUTES, at_least, four_bands, jam_minutes, minutes, processed
from service.core.rules.printed import BOILING, CANNERS, DIAL, WEIGHTED, Fault, Judged, any_rows, judged
from service.core.rules.reading import GEL_FAMILIES, mentions
from service.core.rules.scope import OtherThan, Scope

DIAL_PSI_HIGHEST_FT = 8000  # the last band printed for dial gauges


@rule(
    "altitude-required",
    "No time or pressure holds above the last altitude printed for it.",
    Severity.UNSAFE,
    scope=Scope(methods=OtherThan(frozenset({DIAL})), faults=frozenset({Fault.NO_BAND})),
)
def process_is_printed_for_the_altitude(case: Case) -> Iterator[Finding | Note]:
    for answer in judged(case):
        if answer.fault is Fault.NO_BAND and case.method != DIAL:
            yield Finding(
                message=f"No process is printed for this food in this canner at {case.altitude_ft} ft.",
                fix="Use a process that is printed for this altitude, or keep the food cold.",
                where="#/altitude_ft",
                measured=Measured(Bounds.exactly(case.altitude_ft), "ft"),
            )


@rule(
    "altitude-jelly-bands",
    "Jam and jelly boil longer above 1,000 and above 6,000 ft.",
    Severity.SPOILAGE,
    scope=Scope(families=GEL_FAMILIES, methods=BOILING),
)
def jam_boils_longer_higher_up(case: Case) -> Iterator[Finding | Note]:
    """A fallback for jam and jelly that no row of their own covers."""
    if not processed(case) or case.family not in GEL_FAMILIES or any_rows(case) or case.method not in BOILING:
        return
    sent = case.process.minutes if case.process else None
    needed = jam_minutes(case.altitude_ft)
    if sent is not None and JAM_MINUTES[0][1] <= sent < needed:
        yield Finding(
            message=f"{sent} minutes are too short at {case.altitude_ft} ft.",
            fix=f"Process {needed} minutes.",
            where="#/process/minutes",
            measured=minutes(sent),
            limit=at_least(needed),
        )


@rule(
    "altitude-boiling-bands",
    "Fruit and tomatoes boil longer from 1,001, 3,001 and 6,001 ft.",
    Severity.UNSAFE,
    scope=Scope(faults=frozenset({Fault.BAND})),
)
def boiling_takes_longer_higher_up(case: Case) -> Iterator[Finding | Note]:
    for answer in judged(case):
        sent = case.process.minutes if case.process else None
        if answer.fault is Fault.BAND and four_bands(answer.row) and answer.figures is not None and sent is not None:
            yield Finding(
                message=f"{sent} minutes are published for a lower altitude than {case.altitude_ft} ft.",
                fix=f"Process {answer.jar_size} jars {answer.figures.minutes} minutes at this altitude.",
                where="#/process/minutes",
                measured=minutes(sent),
                limit=at_least(answer.figures.minutes),
            )


@rule(
    "altitude-weighted-gauge",
    "A weighted gauge carries 10 lb to 1,000 ft and 15 lb above.",
    Severity.UNSAFE,
    scope=Scope(methods=(WEIGHTED,), faults=frozenset({Fault.GAUGE})),
)
def weight_belongs_to_the_altitude(case: Case) -> Iterator[Finding | Note]:
    if case.method == WEIGHTED:
        for answer in judged(case):
            yield from _too_little_pressure(case, answer, "weighted")


@rule(
    "altitude-dial-gauge",
    "A dial gauge shows 11 lb to 2,000 ft and a pound more for each 2,000 ft.",
    Severity.UNSAFE,
    scope=Scope(methods=OtherThan(CANNERS - {DIAL})),
)
def dial_belongs_to_the_altitude(case: Case) -> Iterator[Finding | Note]:
    method = case.method or ""
    if processed(case) and method not in CANNERS and mentions(method, "pressure") and not mentions(method, "cooker"):
        yield Finding(
            message="A dial gauge and a weighted gauge need different pressures, and which it is isn't said.",
            fix="Say whether the canner has a dial or a weighted gauge.",
            where="#/process/method",
        )
    if method != DIAL:
        return
    for answer in judged(case):
        yield from _too_little_pressure(case, answer, "dial")
        if answer.fault is Fault.NO_BAND:
            yield Finding(
                message=f"No pressure is printed for dial gauges above {DIAL_PSI_HIGHEST_FT} ft.",
                fix="Use a weighted gauge with its printed weight, or keep the food cold.",
                where="#/altitude_ft",
                measured=Measured(Bounds.exactly(case.altitude_ft), "ft"),
                limit=Measured(Bounds(Fraction(0), Fraction(DIAL_PSI_HIGHEST_FT)), "ft"),
            )


def _too_little_pressure(case: Case, answer: Judged, gauge: str) -> Iterator[Finding]:
    if answer.fault is not Fault.GAUGE or answer.figures is None or answer.figures.pressure_psi is None:
        return
    needed, psi = answer.figures.pressure_psi, case.process.pressure_psi if case.process else None
    yield Finding(
        message=f"{psi:g} lb are too little on a {gauge} gauge at {case.altitude_ft} ft."
        if psi is not None
        else "The pressure isn't said.",
        fix=f"Process {answer.jar_size} jars {answer.figures.minutes} minutes at {needed} lb.",
        where="#/process/pressure_psi",
        measured=None if psi is None else Measured(Bounds.exactly(Fraction(psi)), "psi"),
        limit=at_least(needed, "psi"),
    )


RULES: tuple[Rule, ...] = (
    process_is_printed_for_the_altitude,
    jam_boils_longer_higher_up,
    boiling_takes_longer_higher_up,
    weight_belongs_to_the_altitude,
    dial_belongs_to_the_altitude,
)
