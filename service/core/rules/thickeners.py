"""What slows heat into the jar: starch, flour, grains, batter."""

from collections.abc import Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.rules.case import AnyFood, Case, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.product import FAMILY_OF_ROLE
from service.core.rules.reading import GEL_FAMILIES, as_tested, named, on_the_shelf, raised, said
from service.core.rules.scope import Scope

COOK_TYPE = "cook-type-starch"


def _is_thickener(part: AnyFood) -> bool:
    """Anything stirred in to make food thick; gelatin in a spread is another rule's."""
    return part.role is Role.THICKENER or named(
        part, "roux", "breadcrumb", "bread crumb", "cracker crumb", "gum", "agar"
    )


def _is_pie_filling(case: Case) -> bool:
    return case.family == "pie-filling"


@rule(
    id="thickener-bar",
    says="No flour, starch, tapioca, roux, crumbs or gum goes into food before canning.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_thickener,)),
)
@on_the_shelf
def nothing_is_thickened(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_thickener):
        set_with_gelatin = part.group == "gelatin" and case.family in GEL_FAMILIES
        starch_of_a_pie_filling = part.group == COOK_TYPE and _is_pie_filling(case)
        if set_with_gelatin or starch_of_a_pie_filling or as_tested(case, part):
            continue
        yield Finding(
            f"{part.name.capitalize()} slows heat into the jar.",
            "Leave it out, can the food thin and thicken it after opening.",
            part.where,
        )


@rule(
    id="pie-filling-starch",
    says="Pie filling is thickened only with cook-type modified starch sold for canning.",
    severity=Severity.UNSAFE,
    scope=Scope(families=("pie-filling",)),
)
@on_the_shelf
def pie_filling_takes_one_starch(case: Case) -> Iterator[Finding | Note]:
    if not _is_pie_filling(case):
        return
    for part in case.those(_is_thickener):
        if part.group != COOK_TYPE:
            yield Finding(
                f"{part.name.capitalize()} is not the starch that pie fillings were tested with.",
                "Use cook-type modified starch, or can the fruit plain and thicken when baking.",
                part.where,
            )


@rule(
    id="pie-filling-starch-cap",
    says="Pie filling has no more starch than tested.",
    severity=Severity.UNSAFE,
    scope=Scope(families=("pie-filling",), changed=True),
)
@on_the_shelf
def pie_filling_has_no_more_starch(case: Case) -> Iterator[Finding | Note]:
    if not _is_pie_filling(case):
        return
    for difference, part in raised(case, lambda part: part.group == COOK_TYPE):
        yield Finding(
            "More starch than tested, or it can't be told.",
            "Reduce the starch to the tested amount.",
            part.where,
            None if difference.ratio is None else Measured(difference.ratio, "of the tested amount"),
            Measured(Bounds(Fraction(0), Fraction(1)), "of the tested amount"),
        )


def _is_grain(part: AnyFood) -> bool:
    return part.role is Role.GRAIN or named(part, "dumpling", "quinoa", "couscous", "bulgur", "orzo", "ravioli")


@rule(
    id="pasta-rice-bar",
    says="No pasta, noodles, rice, barley or other grain goes into food that will be canned.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_grain,)),
)
@on_the_shelf
def grains_stay_out(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_grain):
        if part.group != "hominy" and not as_tested(case, part):
            yield Finding(
                f"{part.name.capitalize()} slows heat into the jar.", "Add it when the jar is heated.", part.where
            )


def _is_coated(part: AnyFood) -> bool:
    food = part.role in FAMILY_OF_ROLE or part.role is Role.UNKNOWN
    return food and said(
        part, "floured", "dredged", "breaded", "battered", "batter", "in crumbs", "coated in flour", "coated"
    )


@rule(
    id="coated-meat-bar",
    says="Meat or vegetables in flour, crumbs or batter are not canned.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_coated,)),
)
@on_the_shelf
def nothing_is_coated(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_coated):
        yield Finding(
            "A coating slows heat into the jar.", "Brown the pieces uncoated, or freeze the coated dish.", part.where
        )


RULES: tuple[Rule, ...] = (
    nothing_is_thickened,
    pie_filling_takes_one_starch,
    pie_filling_has_no_more_starch,
    grains_stay_out,
    nothing_is_coated,
)
