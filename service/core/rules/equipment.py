"""Whether the tools can do what the published process asks of them."""

from collections.abc import Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.units import Dimension
from service.core.rules.case import AnyFood, Case, Part, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.heat import canner_quarts, low_acid, processed
from service.core.rules.printed import BOILING, BOILING_WATER, PRESSURE, STEAM, any_rows
from service.core.rules.reading import mentions, said
from service.core.rules.scope import OtherThan, Scope

STEAM_MINUTES_MAX = 45
SMALL_PANS = ("saucepan", "saucepans", "pressure pan", "pressure-pan", "small", "under 4 quarts", "under-4-quarts")
CANNER_QUARTS_MIN = 16  # liquid quarts of a canner that stands four quart jars on its rack: common practice, no source
MULTI_COOKERS = ("multi-cooker", "multicooker", "multi cooker", "electric", "pressure cooker", "pressure-cooker")
# What heats, and isn't said to be a canner or to have a canner's gauge.
OTHER_HEATERS = ("pot", "kettle", "fryer", "cooker", "steamer", "oven", "bath", "pan", "microwave", "dishwasher")
STEAM_CANNERS = ("steam canner", "steam-canner", "steamer")
REACTIVE = ("copper", "brass", "galvanized", "galvanised", "zinc", "iron", "cast-iron")
ALUMINIUM = ("aluminium", "aluminum")
COATED = ("enamel", "enameled", "enamelled", "stainless", "lined", "coated")
LONG_CONTACT_FAMILIES = frozenset({"pickle", "ferment", "relish"})


@rule(
    "pressure-canner-min-size",
    "A pressure canner holds at least four quart jars upright.",
    Severity.UNSAFE,
    scope=Scope(methods=OtherThan(BOILING)),
)
def pressure_canners_are_large_enough(case: Case) -> Iterator[Finding | Note]:
    equipment = case.handling.equipment or ""
    pan = mentions(f"{case.method or ''} {equipment}", *SMALL_PANS)
    quarts = canner_quarts(equipment)
    small = quarts is not None and quarts < CANNER_QUARTS_MIN and mentions(equipment, "quart", "qt")
    unknown = mentions(equipment, *STEAM_CANNERS) or (
        mentions(equipment, *OTHER_HEATERS) and not mentions(equipment, "canner", "gauge")
    )
    if processed(case) and case.method in PRESSURE and unknown and not (pan or small):
        yield Finding(
            message="This isn't known to be a pressure canner that stands four quart jars.",
            fix="Use a pressure canner with a dial or weighted gauge, and say so.",
            where="#/handling/equipment",
        )
    if processed(case) and (mentions(case.method or "", "saucepan") or (case.method in PRESSURE and (pan or small))):
        yield Finding(
            message="A small pressure pan heats and cools too fast for the published times.",
            fix="Use a canner that holds at least four quart jars upright.",
            where="#/handling/equipment",
        )


@rule(
    "multi-cooker-bar",
    "Electric multi-cookers don't hold the pressure that was published.",
    Severity.UNSAFE,
    scope=Scope(in_own_words=True),
)
def multi_cookers_are_no_canners(case: Case) -> Iterator[Finding | Note]:
    said_so = f"{case.method or ''} {case.handling.equipment or ''}"
    if processed(case) and mentions(said_so, *MULTI_COOKERS):
        yield Finding(
            message="Published pressure times hold in stovetop pressure canners only, whatever buttons a cooker has.",
            fix="Use a stovetop pressure canner, or refrigerate or freeze the food.",
            where="#/handling/equipment" if case.handling.equipment else "#/process/method",
        )


@rule(
    "steam-canner-acid-only",
    "A steam canner is for acid food with a boiling-water process.",
    Severity.UNSAFE,
    scope=Scope(methods=(STEAM,)) | Scope(methods=(BOILING_WATER,), handled=("equipment",)),
)
def steam_is_for_acid_food(case: Case) -> Iterator[Finding | Note]:
    if processed(case) and case.method == BOILING_WATER and mentions(case.handling.equipment or "", *STEAM_CANNERS):
        yield Finding(
            message="A steam canner isn't a boiling-water canner: it has limits of its own.",
            fix=f"Say {STEAM} as the method.",
            where="#/process/method",
            severity=Severity.UNTESTED,
        )
    if not processed(case) or case.method != STEAM:
        return
    published = any_rows(case)
    if low_acid(case):
        yield Finding(
            message="Steam at the pressure of the room is for acid food only.",
            fix="Use the pressure canner with the published time.",
            where="#/process/method",
        )
    elif published and not any(row.method == STEAM for row in published):
        yield Finding(
            message="No published process lets steam stand for boiling water with this food.",
            fix="Use the boiling-water canner.",
            where="#/process/method",
        )


@rule(
    "steam-canner-45-minutes",
    "A steam canner runs 45 minutes at most, altitude included.",
    Severity.UNSAFE,
    scope=Scope(methods=(STEAM,)),
)
def steam_runs_45_minutes_at_most(case: Case) -> Iterator[Finding | Note]:
    if not processed(case) or case.method != STEAM:
        return
    assert case.process is not None
    sent = case.process.minutes
    if sent is None or sent > STEAM_MINUTES_MAX:
        yield Finding(
            message="A steam canner may boil dry after 45 minutes, and it can't be refilled."
            if sent is not None
            else "How long the steam canner runs isn't said; it is safe for 45 minutes at most.",
            fix=f"Use a {BOILING_WATER} canner for longer times.",
            where="#/process/minutes",
            measured=None if sent is None else Measured(Bounds.exactly(sent), "minutes"),
            limit=Measured(Bounds(Fraction(0), Fraction(STEAM_MINUTES_MAX)), "minutes"),
        )


@rule(
    "reactive-metal-bar",
    "Acid food and brine don't touch copper, brass, zinc or bare iron.",
    Severity.QUALITY,
    scope=Scope(handled=("equipment",)),
)
def acid_food_stays_off_reactive_metal(case: Case) -> Iterator[Finding | Note]:
    equipment = case.handling.equipment or ""
    acid = not low_acid(case) or case.family in LONG_CONTACT_FAMILIES
    metal = mentions(equipment, *REACTIVE) or (case.family in LONG_CONTACT_FAMILIES and mentions(equipment, *ALUMINIUM))
    if acid and metal and not mentions(equipment, *COATED):
        yield Finding(
            message="The acid in this food dissolves the metal of this pan.",
            fix="Use stainless steel, glass, sound enamel or food-grade plastic.",
            where="#/handling/equipment",
        )


def is_dark_elderberry(part: AnyFood) -> bool:
    return (part.group == "elderberry" or said(part, "elderberry", "elderberries", "elderberry juice")) and not said(
        part, "blue", "cerulea"
    )


@rule(
    "scale-for-weighed-recipes",
    "Dark elderberry spreads are made with fruit and sugar weighed on a scale.",
    Severity.UNSAFE,
    scope=Scope(kinds=(is_dark_elderberry,)),
)
def elderberry_spreads_are_weighed(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf or not dark_elderberries(case):
        return
    for part in case.parts:
        if (is_dark_elderberry(part) or part.role is Role.SWEETENER) and not weighed(part):
            yield Finding(
                message="Whether this spread keeps rests on the weights of fruit and sugar, and this isn't weighed.",
                fix="Weigh it, and enter grams, ounces or pounds.",
                where=part.where,
            )


def dark_elderberries(case: Case) -> tuple[Part, ...]:
    return case.those(is_dark_elderberry)


def weighed(part: Part) -> bool:
    return part.line is not None and part.line.amount is not None and part.line.amount.unit.dimension is Dimension.MASS


RULES: tuple[Rule, ...] = (
    pressure_canners_are_large_enough,
    multi_cookers_are_no_canners,
    steam_is_for_acid_food,
    steam_runs_45_minutes_at_most,
    acid_food_stays_off_reactive_metal,
    elderberry_spreads_are_weighed,
)
