"""Whether the space between food and rim is the published one."""

from collections.abc import Collection, Iterator
from fractions import Fraction
from functools import lru_cache

from service.core.measures.bounds import Bounds
from service.core.rules.case import Case, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.heat import LOW_ACID_FAMILIES
from service.core.rules.printed import any_rows
from service.core.rules.reading import GEL_FAMILIES, said
from service.core.rules.scope import Scope

TOLERANCE_IN = Fraction(1, 8)  # a working tolerance, not published
JAM_IN = Fraction(1, 4)
FRUIT_AND_PICKLE_IN = Fraction(1, 2)
LOW_ACID_IN = Fraction(1)
POULTRY_IN = Fraction(5, 4)
FREEZER_JAM_IN = Fraction(1, 2)
FRUIT_AND_PICKLE_FAMILIES = frozenset(
    {"fruit", "juice", "pie-filling", "tomato", "salsa", "pickle", "relish", "chutney", "ferment"}
)
POULTRY = ("chicken", "rabbit", "poultry", "turkey", "duck", "goose", "game bird")


def entered_in(case: Case) -> Fraction | None:
    return None if case.headspace_in is None else _exactly(case.headspace_in)


@lru_cache(maxsize=256)
def _exactly(inches: float) -> Fraction:
    return Fraction(str(inches))


@lru_cache(maxsize=64)
def printed_in(case: Case) -> Collection[Fraction]:
    """What the tested recipe prints, or else the rows of the product, in this pack where it has its own."""
    if case.tested is not None and case.tested.recipe.headspace_in is not None:
        return (case.tested.recipe.headspace_in,)
    rows = [row for row in any_rows(case) if row.headspace_in is not None]
    packed = [row for row in rows if row.pack in (case.pack, "either")] or rows
    return frozenset(row.headspace_in for row in packed if row.headspace_in is not None)


def _off(case: Case, limits: Collection[Fraction], message: str) -> Iterator[Finding]:
    entered = entered_in(case)
    if entered is None or any(entered == limit or abs(entered - limit) <= TOLERANCE_IN for limit in limits):
        return
    nearest = min(limits, key=lambda limit: abs(entered - limit))
    yield Finding(
        message=message,
        fix=f"Fill the jars to {inches(nearest)} inch from the rim.",
        where="#/headspace_in",
        measured=Measured(Bounds.exactly(entered), "in"),
        limit=Measured(Bounds(max(nearest - TOLERANCE_IN, Fraction(0)), nearest + TOLERANCE_IN), "in"),
    )


def inches(value: Fraction) -> str:
    """An inch figure as kitchens say it: 1/2, 1, 1 1/4."""
    whole, rest = divmod(value, 1)
    return " ".join(filter(None, (str(whole) if whole or not rest else "", str(rest) if rest else "")))


def _fallback(case: Case, families: frozenset[str], limit: Fraction, food: str) -> Iterator[Finding]:
    if case.on_the_shelf and case.family in families and not printed_in(case) and not is_poultry(case):
        yield from _off(case, frozenset({limit}), f"{food} is filled to {inches(limit)} inch from the rim.")


def is_poultry(case: Case) -> bool:
    meat = case.of(Role.MEAT)
    return case.family == "meat" and bool(meat) and all(said(part, *POULTRY) for part in meat)


@rule(
    "headspace-jam",
    "Jam and jelly leave 1/4 inch, where nothing else is printed.",
    Severity.SPOILAGE,
    scope=Scope(families=GEL_FAMILIES),
)
def jam_leaves_a_quarter_inch(case: Case) -> Iterator[Finding | Note]:
    yield from _fallback(case, GEL_FAMILIES, JAM_IN, "A spread")


@rule(
    "headspace-fruit-pickle",
    "Fruit, tomatoes, pickles and salsa leave 1/2 inch, where nothing else is printed.",
    Severity.SPOILAGE,
    scope=Scope(families=FRUIT_AND_PICKLE_FAMILIES),
)
def fruit_leaves_half_an_inch(case: Case) -> Iterator[Finding | Note]:
    yield from _fallback(case, FRUIT_AND_PICKLE_FAMILIES, FRUIT_AND_PICKLE_IN, "This food")


@rule(
    "headspace-low-acid",
    "Low-acid food leaves 1 inch, where nothing else is printed.",
    Severity.SPOILAGE,
    scope=Scope(families=LOW_ACID_FAMILIES),
)
def low_acid_food_leaves_an_inch(case: Case) -> Iterator[Finding | Note]:
    yield from _fallback(case, LOW_ACID_FAMILIES, LOW_ACID_IN, "Food for the pressure canner")


@rule(
    "headspace-poultry",
    "Chicken and rabbit leave 1 1/4 inch, and raw-packed ones get no liquid.",
    Severity.SPOILAGE,
    scope=Scope(families=("meat",)),
)
def poultry_leaves_more(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf or not is_poultry(case):
        return
    if not printed_in(case):
        yield from _off(case, frozenset({POULTRY_IN}), "Chicken and rabbit boil over with less space than 1 1/4 inch.")
    for part in case.of(Role.LIQUID):
        if case.pack == "raw":
            yield Finding(
                message="Raw-packed chicken and rabbit make their own juice; liquid is not added.",
                fix="Leave the liquid out, or pack hot.",
                where=part.where,
            )


@rule("headspace-out-of-range", "Headspace is within 1/8 inch of the published figure.", Severity.SPOILAGE)
def headspace_is_the_published_one(case: Case) -> Iterator[Finding | Note]:
    limits = printed_in(case)
    entered = entered_in(case)
    if case.on_the_shelf and limits and entered is not None and entered not in limits:
        little = entered < min(limits)
        yield from _off(
            case,
            limits,
            "With so little space food is pushed under the lid."
            if little
            else "So much space holds air that the process may not drive out.",
        )


@rule(
    "headspace-freezer-jam",
    "Freezer jam leaves 1/2 inch to swell.",
    Severity.QUALITY,
    scope=Scope(families=GEL_FAMILIES),
)
def freezer_jam_has_room_to_swell(case: Case) -> Iterator[Finding | Note]:
    entered = entered_in(case)
    if case.storage == "freezer" and case.family in GEL_FAMILIES and entered is not None and entered < FREEZER_JAM_IN:
        yield from _off(case, frozenset({FREEZER_JAM_IN}), "Freezer jam needs 1/2 inch to swell in.")


RULES: tuple[Rule, ...] = (
    jam_leaves_a_quarter_inch,
    fruit_leaves_half_an_inch,
    low_acid_food_leaves_an_inch,
    poultry_leaves_more,
    headspace_is_the_published_one,
    freezer_jam_has_room_to_swell,
)
