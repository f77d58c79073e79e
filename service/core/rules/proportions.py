"""Acid in its tested proportion to the food: never cut or thinned, nor outweighed by what is low in acid."""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.units import GRAMS_PER_POUND, ML_PER_CUP, ML_PER_QUART, ML_PER_TABLESPOON, ML_PER_TEASPOON
from service.core.rules.acid import plain_tomatoes, short_of
from service.core.rules.case import AnyFood, Case, Difference, Part
from service.core.rules.coverage import ACIDS_IN_ROW
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.permitted import juice_for_vinegar, poured_off
from service.core.rules.reading import (
    GEL_FAMILIES,
    PICKLED_FAMILIES,
    acid_per_jar,
    as_tested,
    built_on,
    in_grams,
    in_millilitres,
    in_print,
    is_acid,
    is_ferment,
    is_low_acid_vegetable,
    is_pressure,
    is_tomato,
    lowered,
    mentions,
    named,
    on_the_shelf,
    raised,
    rows,
    safety_rests_on_acid,
    step_named,
    where,
)
from service.core.rules.scope import BeginningWith, OtherThan, Scope

RINSES_MIN = 3
JUICE_BLEND_VEGETABLE_CUPS, JUICE_BLEND_TOMATO_LB = 3, 22
SAUCE_TOMATO_LB = 30
SAUCE_ONION_CUPS, SAUCE_CELERY_OR_PEPPER_CUPS, SAUCE_OIL_CUPS = Fraction(1), Fraction(1), Fraction(1, 4)
SAUCE_GARLIC_CLOVES, SAUCE_MUSHROOM_LB = 5, 1
VEGETABLE_JUICE = "tomato-vegetable-juice"
JUICE_VEGETABLES = frozenset({"celery", "onion", "carrot", "pepper", "mixed-vegetable", "onion-and-pepper"})


def _is_brine_water(part: AnyFood) -> bool:
    return part.group == "water"


@rule(
    id="vinegar-to-water-ratio-fixed",
    says="Pickles and relishes keep the tested proportion of vinegar, water and vegetables.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_brine_water,)) | Scope(kinds=(is_low_acid_vegetable,), changed=True),
)
@on_the_shelf
def brine_keeps_its_proportion(case: Case) -> Iterator[Finding | Note]:
    if case.family not in PICKLED_FAMILIES and not is_ferment(case):
        return
    for part in case.in_group("water"):
        amount = part.line.amount if part.line else None
        if amount is None and part.millilitres is None and as_tested(case, part):
            yield Finding("How much water goes in isn't said.", "Say how much, as tested.", part.where)
    for difference, part in raised(case, lambda part: _is_brine_water(part) or is_low_acid_vegetable(part)):
        if poured_off(difference):
            continue
        water = _is_brine_water(part)
        yield Finding(
            f"{'More water' if water else f'More {part.name}'} than tested thins the acid.",
            "Return to the tested proportions; to soften sharpness add sugar, not water.",
            part.where,
            _ratio(difference),
            Measured(Bounds(Fraction(0), Fraction(1)), "of the tested amount"),
        )


def _ratio(difference: Difference) -> Measured | None:
    return None if difference.ratio is None else Measured(difference.ratio, "of the tested amount")


def _acid_is_for_the_set(case: Case) -> bool:
    return case.family in GEL_FAMILIES and not safety_rests_on_acid(case)


@rule(
    id="acid-never-cut",
    says="The acid of a tested recipe is never reduced or left out.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def acid_is_never_cut(case: Case) -> Iterator[Finding | Note]:
    if acid_per_jar(case):
        yield from _short_of_the_row(case)
        return
    for difference, tested in lowered(case, is_acid):
        if tested.optional or juice_for_vinegar(case, difference):
            continue
        set_only = _acid_is_for_the_set(case)
        yield Finding(
            f"Less {tested.name} than the tested recipe has."
            if difference.part
            else f"The tested recipe's {tested.name} is left out.",
            f"Put in all that is tested: {in_print(tested)}{_to_a_batch(case)}. If it is too tart, add sugar.",
            where(difference),
            _ratio(difference),
            Measured(Bounds(Fraction(1), None), "of the tested amount"),
            Severity.SET_FAILURE if set_only else None,
        )


def _to_a_batch(case: Case) -> str:
    tested = built_on(case)
    return "" if tested is None or tested.scale.contains(1) else ", for each batch as printed"


def _floors_of_the_row(case: Case) -> dict[str, Fraction]:
    """Millilitres to the quart of each acid that the product's rows print, by the most that any jar gets."""
    floors: dict[str, Fraction] = {}
    for acid in (acid for row in rows(case) for acid in row.acids):
        spoon = ML_PER_TABLESPOON if acid.unit == "tbsp" else ML_PER_TEASPOON
        each = (amount * spoon * ML_PER_QUART / JAR_ML[jar] for jar, amount in acid.per_jar.items())
        group = ACIDS_IN_ROW[acid.name]
        floors[group] = max(floors.get(group, Fraction(0)), *each)
    return floors


def _short_of_the_row(case: Case) -> Iterator[Finding]:
    """Foods other than tomatoes, figs and Asian pears whose row prints an acid for each jar, such as crab."""
    if plain_tomatoes(case) or case.product in ("figs", "asian-pears"):
        return
    if built_on(case) is None:
        yield from short_of(case, _floors_of_the_row(case), "jars")
        return
    for difference, part in lowered(case, is_acid):
        yield Finding(
            f"Less {part.name} than the published process lists.",
            f"Put in all that is printed: {in_print(part)}.",
            where(difference),
            _ratio(difference),
        )


def _is_alkali(part: AnyFood) -> bool:
    return part.group == "pickling-lime" or named(part, "lye", "pickling lime", "slaked lime")


@rule(
    id="lime-and-lye-reset",
    says="Vegetables soaked in lime or lye are rinsed and soaked in fresh water at least three times.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_alkali,)) | Scope(steps=("lime-soak",)),
)
@on_the_shelf
def lime_is_rinsed_out(case: Case) -> Iterator[Finding | Note]:
    alkalis = case.those(_is_alkali)
    if not alkalis and not step_named(case, "lime-soak"):
        return
    at = alkalis[0].where if alkalis else None
    fix = "Rinse and soak in fresh water three times, an hour each, before the vinegar goes in."
    if any(mentions(step.replace("-", " "), "rinse") for step in case.handling.skipped_steps):
        yield Finding("The lime is not rinsed out.", fix, at)
        return
    rinses = [int(found[1]) for step in case.steps if (found := re.match(r"rinse-(\d+)-times", step))]
    tested = built_on(case)
    rinsed_in_print = tested is not None and any(step.startswith("rinse") for step in tested.recipe.steps)
    printed = tested is not None and not rinsed_in_print and all(as_tested(case, part) for part in alkalis)
    if rinses and sum(rinses) < RINSES_MIN:
        yield Finding("The lime is rinsed out fewer than three times.", fix, at)
    elif not rinses and not printed:
        yield Finding("No step rinses the lime out.", fix, at)


@rule(
    id="low-acid-veg-with-splash",
    says="A splash of vinegar or juice doesn't let plain vegetables out of the pressure canner.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_acid,)),
)
@on_the_shelf
def a_splash_of_acid_is_no_pickle(case: Case) -> Iterator[Finding | Note]:
    plain = any(row.acidity == "low-acid" for row in rows(case)) or case.family in (
        "vegetable",
        "legume",
        "meat",
        "soup",
    )
    if not plain or case.method is None or is_pressure(case):
        return
    for part in case.those(is_acid):
        yield Finding(
            "Some acid doesn't make plain vegetables safe in boiling water.",
            "Use the full pressure process, or a tested pickle.",
            part.where,
        )


def _beyond_tested(case: Case, part: Part) -> bool:
    return not as_tested(case, part)


@rule(
    id="tomato-with-vegetables-pressure",
    says="Tomatoes with vegetables beyond a tested amount are low-acid.",
    severity=Severity.UNSAFE,
    scope=Scope(families=OtherThan(PICKLED_FAMILIES | GEL_FAMILIES | {"salsa"}), kinds=(is_tomato,)),
)
@on_the_shelf
def tomatoes_with_vegetables_go_under_pressure(case: Case) -> Iterator[Finding | Note]:
    if not case.has(is_tomato) or (is_pressure(case) and not plain_tomatoes(case)):
        return
    own = built_on(case) is None and case.has(is_acid) and not acid_per_jar(case)
    if case.family in PICKLED_FAMILIES or case.family in GEL_FAMILIES or case.family == "salsa" or own:
        return
    for part in case.those(is_low_acid_vegetable):
        in_blend = case.product == VEGETABLE_JUICE and part.group in JUICE_VEGETABLES
        if not in_blend and _beyond_tested(case, part):
            yield Finding(
                f"Tomatoes with {part.name} beyond a tested amount are low-acid.",
                "Can the tomatoes plain and add vegetables on opening, or use a tested mixed recipe exactly.",
                part.where,
            )


@rule(
    id="vegetable-juice-cap",
    says="A tomato-vegetable juice has at most 3 cups of vegetables to 22 pounds of tomatoes.",
    severity=Severity.UNSAFE,
    scope=Scope(products=(VEGETABLE_JUICE,)),
)
@on_the_shelf
def juice_blend_has_few_vegetables(case: Case) -> Iterator[Finding | Note]:
    if case.product != VEGETABLE_JUICE:
        return
    vegetables = case.those(is_low_acid_vegetable)
    tomatoes = case.those(is_tomato)
    if not vegetables:
        return
    cups = in_millilitres(vegetables) / ML_PER_CUP
    pounds = in_grams(tomatoes) / GRAMS_PER_POUND
    if cups.high is None or cups.high * JUICE_BLEND_TOMATO_LB > JUICE_BLEND_VEGETABLE_CUPS * _least(tomatoes, pounds):
        yield Finding(
            "More than 3 cups of vegetables to 22 lb of tomatoes, or it can't be told.",
            "Cut the vegetables to the cap, or freeze the juice.",
            vegetables[0].where,
            Measured(cups, "cup"),
            Measured(Bounds(Fraction(0), pounds.low * JUICE_BLEND_VEGETABLE_CUPS / JUICE_BLEND_TOMATO_LB), "cup"),
        )


def _least(parts: Sequence[Part], pounds: Bounds) -> Fraction:
    """The smallest weight these may have; nothing where one of them has none that is known."""
    return Fraction(0) if any(part.grams is None for part in parts) else pounds.low


@rule(
    id="spaghetti-sauce-veg-cap",
    says="Spaghetti sauce keeps its vegetables under the tested caps for 30 pounds of tomatoes.",
    severity=Severity.UNSAFE,
    scope=Scope(products=BeginningWith("spaghetti-sauce")),
)
@on_the_shelf
def spaghetti_sauce_has_few_vegetables(case: Case) -> Iterator[Finding | Note]:
    if not (case.product or "").startswith("spaghetti-sauce"):
        return
    tomatoes = case.those(is_tomato)
    batches = _least(tomatoes, in_grams(tomatoes) / GRAMS_PER_POUND) / SAUCE_TOMATO_LB
    caps: tuple[tuple[str, tuple[str, ...], Bounds, Fraction, str], ...] = tuple(
        (name, groups, amount, Fraction(cap) * batches, unit)
        for name, groups, amount, cap, unit in (
            ("onion", ("onion",), _cups(case, "onion"), SAUCE_ONION_CUPS, "cup"),
            (
                "celery or pepper",
                ("celery", "pepper"),
                _cups(case, "celery", "pepper"),
                SAUCE_CELERY_OR_PEPPER_CUPS,
                "cup",
            ),
            ("oil", ("oil",), _cups(case, "oil"), SAUCE_OIL_CUPS, "cup"),
            ("garlic", ("garlic",), _cloves(case), SAUCE_GARLIC_CLOVES, "clove"),
            ("mushrooms", ("mushroom",), _pounds(case, "mushroom"), SAUCE_MUSHROOM_LB, "lb"),
        )
    )
    for name, groups, amount, cap, unit in caps:
        parts = case.in_group(*groups)
        if parts and (amount.high is None or amount.high > cap) and not all(as_tested(case, part) for part in parts):
            yield Finding(
                f"More {name} than the tested sauce has, or it can't be told.",
                "Reduce it to the cap; add more when the sauce is heated.",
                parts[0].where,
                Measured(amount, unit),
                Measured(Bounds(Fraction(0), cap), unit),
            )
    for part in case.parts:
        known = {"onion", "celery", "pepper", "garlic", "mushroom"}
        if is_low_acid_vegetable(part) and part.group not in known and not as_tested(case, part):
            yield Finding(
                f"The tested sauce has no {part.name}.", "Leave it out and add it when the sauce is heated.", part.where
            )


def _cups(case: Case, *groups: str) -> Bounds:
    return in_millilitres(case.in_group(*groups)) / ML_PER_CUP


def _pounds(case: Case, *groups: str) -> Bounds:
    return in_grams(case.in_group(*groups)) / GRAMS_PER_POUND


def _cloves(case: Case) -> Bounds:
    return Bounds.total(part.count or Bounds(Fraction(0), None) for part in case.in_group("garlic"))


RULES: tuple[Rule, ...] = (
    brine_keeps_its_proportion,
    acid_is_never_cut,
    lime_is_rinsed_out,
    a_splash_of_acid_is_no_pickle,
    tomatoes_with_vegetables_go_under_pressure,
    juice_blend_has_few_vegetables,
    spaghetti_sauce_has_few_vegetables,
)
