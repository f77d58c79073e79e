"""Whether jars and lids are those that the process was tested in."""

from collections.abc import Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.units import ML_PER_FLUID_OUNCE
from service.core.rules.case import AnyFood, Case, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.printed import Fault, any_rows, judged
from service.core.rules.reading import GEL_FAMILIES, mentions, said
from service.core.rules.scope import Scope

PINT_ML = 16 * ML_PER_FLUID_OUNCE
HALF_PINT_ML = 8 * ML_PER_FLUID_OUNCE
HALF_GALLON = "half-gallon"
HALF_GALLON_PRODUCTS = frozenset({"apple-juice", "grape-juice"})
NEXT_LARGER = {"quarter-pint": "half-pint", "twelve-ounce": "pint", "pint-and-half": "quart"}
PINT_MAX_PRODUCTS = frozenset({"mushrooms", "smoked-fish", "corn-cream-style"})
WILD_KINDS = ("morel", "chanterelle")
WILD = ("wild", "foraged", *WILD_KINDS)

TWO_PIECE = ("two-piece", "two piece", "two-piece-lid", "self-sealing", "screw band", "metal lid")
OBSOLETE = (
    "wire-bail", "wire", "bail", "zinc", "glass cap", "glass lid", "glass-cap", "rubber", "rubber-ring", "one-piece",
    "one piece", "one-piece-lid", "swing-top", "lightning", "clip-top",
)  # fmt: skip
USED_LID = ("used", "reused", "re-used", "second-hand", "old lid", "old flat", "last year", "saved")
FOOD_JARS = (
    "mayonnaise",
    "food jar",
    "food-jar",
    "single-use",
    "commercial",
    "peanut butter",
    "baby food",
    "pickle jar",
)
# Judged elsewhere by their own words, so that one jar gets one finding.
OTHER_CLOSURES = ("paraffin", "wax", "beeswax", "vacuum", "inverted", "upside", "reusable")


def _larger(case: Case, than_ml: Fraction) -> list[str]:
    """The declared sizes above a limit; a size that nobody knows may be any."""
    return [size for size in case.jar_sizes if size not in JAR_ML or JAR_ML[size] > than_ml]


def _measured(size: str) -> Measured | None:
    return _in_pints(JAR_ML[size]) if size in JAR_ML else None


def _in_pints(millilitres: Fraction) -> Measured:
    return Measured(Bounds.exactly(Fraction(millilitres) / PINT_ML), "pints")


def _too_large(case: Case, than_ml: Fraction, message: str, fix: str) -> Iterator[Finding]:
    for size in _larger(case, than_ml):
        yield Finding(
            message=message,
            fix=fix,
            where=_where(case, size),
            measured=_measured(size),
            limit=_in_pints(than_ml),
        )


def _where(case: Case, size: str) -> str:
    index = next(index for index, jar in enumerate(case.jars) if jar.size == size)
    return f"#/jars/{index}/size"


@rule("salsa-jar-limit", "Salsa is canned in pints or smaller.", Severity.UNSAFE, scope=Scope(families=("salsa",)))
def salsa_goes_into_pints(case: Case) -> Iterator[Finding | Note]:
    if case.on_the_shelf and case.family == "salsa":
        yield from _too_large(
            case,
            PINT_ML,
            "No process is published for salsa in jars above a pint.",
            "Fill pints or smaller, or refrigerate or freeze it.",
        )


@rule(
    "mason-jars-only",
    "Jars are threaded canning jars with two-piece lids.",
    Severity.UNSAFE,
    scope=Scope(in_own_words=True),
)
def jars_are_canning_jars(case: Case) -> Iterator[Finding | Note]:
    handling = case.handling
    texts = (*case.jar_sizes, handling.closure or "", handling.equipment or "")
    if case.on_the_shelf and any(mentions(text, *FOOD_JARS) for text in texts):
        yield Finding(
            message="Jars that food was sold in break in the canner and don't seal reliably.",
            fix="Use threaded home-canning jars with two-piece lids.",
            where="#/handling/closure" if handling.closure else "#/jars",
        )


@rule("lid-single-use", "Flat lids are used once.", Severity.SPOILAGE, scope=Scope(handled=("closure",)))
def flat_lids_are_new(case: Case) -> Iterator[Finding | Note]:
    if case.on_the_shelf and mentions(case.handling.closure or "", *USED_LID):
        yield Finding(
            message="The compound of a flat lid seals once.",
            fix="Fit new flat lids; bands may be used again.",
            where="#/handling/closure",
        )


@rule(
    "obsolete-closures",
    "Bail, zinc and one-piece closures don't seal canned food.",
    Severity.SPOILAGE,
    scope=Scope(handled=("closure",)),
)
def closures_are_two_piece_lids(case: Case) -> Iterator[Finding | Note]:
    closure = case.handling.closure
    if not case.on_the_shelf or closure is None:
        return
    if mentions(closure, *OBSOLETE):
        yield Finding(
            message="Nobody can tell whether such a closure has sealed.",
            fix="Use jars with two-piece lids; keep the old ones for dry goods.",
            where="#/handling/closure",
        )
    elif not mentions(closure, *TWO_PIECE, *USED_LID, *FOOD_JARS, *OTHER_CLOSURES):
        yield Finding(
            message="This is no closure that a process was published for.",
            fix="Use two-piece lids.",
            where="#/handling/closure",
        )


@rule("jar-size-max-tested", "No jar is larger than the largest that was tested.", Severity.UNSAFE)
def jars_are_no_larger_than_tested(case: Case) -> Iterator[Finding | Note]:
    if case.on_the_shelf and case.process is not None and not case.jars and any_rows(case):
        yield Finding(
            message="Which jars are filled isn't said, and the time depends on it.",
            fix="Name the size and the number of jars.",
            where="#/jars",
            severity=Severity.UNTESTED,
        )
    for size in case.jar_sizes:
        if case.on_the_shelf and size not in JAR_ML:
            yield Finding(
                message="This is no jar size that a process is published for.",
                fix=f"Use one of: {', '.join(JAR_ML)}.",
                where=_where(case, size),
            )
    for answer in judged(case):
        size = answer.jar_size
        if answer.fault is Fault.JAR and size in JAR_ML and size != HALF_GALLON and size not in NEXT_LARGER:
            yield Finding(
                message=f"No process is published for this food in {size} jars; a longer time doesn't make one.",
                fix="Fill the largest jars that the published process names, or smaller ones.",
                where=_where(case, size),
                measured=_measured(size),
            )


@rule("half-gallon-juice-only", "Half-gallon jars are for apple juice and grape juice.", Severity.UNSAFE)
def half_gallons_hold_juice(case: Case) -> Iterator[Finding | Note]:
    if case.on_the_shelf and HALF_GALLON in case.jar_sizes and case.product not in HALF_GALLON_PRODUCTS:
        yield Finding(
            message="Half-gallon jars are published for apple juice and grape juice only.",
            fix="Fill quarts or smaller, with the published time.",
            where=_where(case, HALF_GALLON),
            measured=_measured(HALF_GALLON),
        )


@rule(
    "jar-size-between",
    "An odd jar takes the time of the next larger size, if that has one.",
    Severity.UNSAFE,
    scope=Scope(faults=frozenset({Fault.JAR})),
)
def odd_jars_take_the_larger_time(case: Case) -> Iterator[Finding | Note]:
    for answer in judged(case):
        size = answer.jar_size
        if answer.fault is Fault.JAR and size in NEXT_LARGER:
            yield Finding(
                message=f"{size} jars would take the {NEXT_LARGER[size]} time, and none is published for this food.",
                fix="Fill a smaller jar that the published process names.",
                where=_where(case, size),
                measured=_measured(size),
            )


@rule("jar-size-smaller", "A smaller jar takes the full time of the smallest tested one.", Severity.QUALITY)
def smaller_jars_take_the_full_time(case: Case) -> Iterator[Finding | Note]:
    for answer in judged(case):
        if answer.smaller and answer.row is not None and answer.figures is not None:
            yield Note(
                f"No time is printed for {answer.jar_size} jars: they take the full {answer.figures.minutes} "
                f"minutes of the next larger size, {' or '.join(answer.row.jar_sizes)}."
            )


@rule(
    "jelly-jar-max", "Jam and jelly go into pints or smaller.", Severity.SET_FAILURE, scope=Scope(families=GEL_FAMILIES)
)
def jam_goes_into_pints(case: Case) -> Iterator[Finding | Note]:
    if case.on_the_shelf and case.family in GEL_FAMILIES:
        yield from _too_large(
            case,
            PINT_ML,
            "Jam and jelly set too soft in jars above a pint, and no time is published for them.",
            "Fill half-pints or pints.",
        )


def _is_for_pints(part: AnyFood) -> bool:
    return said(part, "mushroom", "smoked fish", "cream-style corn", "cream-style")


def _is_wild_mushroom(part: AnyFood) -> bool:
    return said(part, "mushroom", *WILD_KINDS) and said(part, *WILD)


@rule(
    "pint-max-foods",
    "Mushrooms, smoked fish and cream-style corn go into pints or smaller; mushrooms are cultivated ones.",
    Severity.UNSAFE,
    scope=Scope(products=PINT_MAX_PRODUCTS) | Scope(kinds=(_is_for_pints, _is_wild_mushroom)),
)
def some_foods_go_into_pints_only(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf:
        return
    alone = case.of(Role.VEGETABLE, Role.FISH, Role.MEAT, Role.LEGUME)
    named = len(alone) == 1 and alone[0].food.kinds[_is_for_pints]
    if case.product in PINT_MAX_PRODUCTS or (named and case.family in ("vegetable", "fish", "meat")):
        yield from _too_large(
            case,
            PINT_ML,
            "No process is published for this food in jars above a pint.",
            "Fill pints or half-pints, or freeze it.",
        )
    for part in case.those(_is_wild_mushroom):
        yield Finding(
            message="Only cultivated mushrooms have a published process.",
            fix="Freeze or dry wild mushrooms that an expert has named.",
            where=part.where,
        )


@rule("curd-half-pint", "Lemon and lime curd go into half-pints, from the one tested recipe.", Severity.UNSAFE)
def curd_goes_into_half_pints(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf or not (case.product == "lemon-curd" or mentions(case.recipe.title, "curd")):
        return
    yield from _too_large(
        case,
        HALF_PINT_ML,
        "Curd was tested in half-pints only.",
        "Fill half-pints, or refrigerate or freeze it.",
    )
    for part in case.of(Role.FRUIT, Role.LIQUID, Role.ACID):
        citrus = said(part, "lemon", "lime", "lemon juice", "lime juice", "lemon zest", "lime zest")
        if part.group != "water" and (not citrus or said(part, "fresh", "freshly", "squeezed")):
            yield Finding(
                message="Curd is canned with bottled lemon or lime juice only.",
                fix="Use bottled lemon or lime juice, or refrigerate or freeze the curd.",
                where=part.where,
            )


RULES: tuple[Rule, ...] = (
    salsa_goes_into_pints,
    jars_are_canning_jars,
    flat_lids_are_new,
    closures_are_two_piece_lids,
    jars_are_no_larger_than_tested,
    half_gallons_hold_juice,
    odd_jars_take_the_larger_time,
    smaller_jars_take_the_full_time,
    jam_goes_into_pints,
    some_foods_go_into_pints_only,
    curd_goes_into_half_pints,
)
