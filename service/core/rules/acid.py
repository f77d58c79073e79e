"""Acid that makes food safe: enough of it, of the right kind, at the right strength."""

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from math import floor

from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.units import ML_PER_QUART, ML_PER_TABLESPOON, ML_PER_TEASPOON
from service.core.measures.writing import spoons_up
from service.core.rules.case import AnyFood, Case, Part, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.printed import METHODS, PRESSURE
from service.core.rules.reading import (
    acid_per_jar,
    as_tested,
    built_on,
    changes,
    in_words,
    is_acid,
    is_ascorbic,
    is_bottled,
    is_citrus_juice,
    is_key_lime,
    is_low_acid_vegetable,
    is_pressure,
    is_tomato,
    is_vinegar,
    lowered,
    named,
    on_the_shelf,
    raised,
    rows,
    safety_rests_on_acid,
    said,
    share_of_floor,
)
from service.core.rules.scope import OtherThan, Scope

LEMON_ML_PER_QUART = 2 * ML_PER_TABLESPOON
CITRIC_ML_PER_QUART = Fraction(1, 2) * ML_PER_TEASPOON
VINEGAR_ML_PER_QUART = 4 * ML_PER_TABLESPOON
VINEGAR_PERCENT_MIN = Fraction(5)
FIVE_PERCENT = Measured(Bounds(VINEGAR_PERCENT_MIN, None), "percent acidity")
JUICE_PERCENT_MIN = Fraction("4.5")

TOMATO_FLOORS = {
    "lemon-juice": LEMON_ML_PER_QUART,
    "citric-acid": CITRIC_ML_PER_QUART,
    "vinegar": VINEGAR_ML_PER_QUART,
    "homemade-vinegar": VINEGAR_ML_PER_QUART,
}
FIG_FLOORS = {"lemon-juice": LEMON_ML_PER_QUART, "citric-acid": CITRIC_ML_PER_QUART}
PEAR_FLOORS = {"lemon-juice": LEMON_ML_PER_QUART}
ACID_WORDS = {
    "lemon-juice": "bottled lemon juice",
    "citric-acid": "citric acid",
    "vinegar": "vinegar of 5 percent",
}
ENOUGH = Measured(Bounds(Fraction(1), None), "of the required acid")

_PERCENT = re.compile(r"([0-9]+(?:\.[0-9]+)?)(?: ?(?:-|–|to) ?([0-9]+(?:\.[0-9]+)?))? ?(?:%|per ?cent)")
_GRAIN = re.compile(r"([0-9]+(?:\.[0-9]+)?)[ -]grain")


@lru_cache(maxsize=64)
def plain_tomatoes(case: Case) -> bool:
    """Tomatoes, green tomatoes or tomatillos that get their acid by the jar, alone or as a juice blend."""
    if rows(case):
        return acid_per_jar(case) and rows(case)[0].family == "tomato"
    others = any(is_low_acid_vegetable(part) or part.role in (Role.MEAT, Role.FISH) for part in case.parts)
    return case.family == "tomato" and not others and case.has(is_tomato)


def short_of(case: Case, floors: dict[str, Fraction], food: str) -> Iterator[Finding]:
    share = share_of_floor(case, floors)
    if share.low >= 1:
        return
    fix = f"Give {_each_jar(case, floors, Fraction(1))}."
    if share == Bounds.exactly(0):
        message = f"No acid that counts is added to these {food}."
    elif share.high is None or share.high >= 1:
        message = f"It can't be told whether each jar of {food} gets enough acid."
    else:
        message = f"Too little acid for these {food}: {floor(share.high * 100)}% of what makes them safe."
        fix = f"Give {_each_jar(case, floors, 1 - share.low, ' more')}."
    yield Finding(message, fix, _acid_at(case), Measured(share, ENOUGH.unit), ENOUGH)


def _each_jar(case: Case, floors: dict[str, Fraction], share: Fraction, more: str = "") -> str:
    """This share of the required acid in spoons: "each quart jar 2 tbsp bottled lemon juice or 1/2 tsp citric acid"."""
    sizes = [size for size in dict.fromkeys(jar.size for jar in case.jars) if size in JAR_ML] or ["quart", "pint"]
    shown = {group: acid for group, acid in ACID_WORDS.items() if group in floors}
    if len(shown) > 1 and not _only_vinegar(case):
        shown.pop("vinegar", None)  # allowed, and not preferred
    return ", ".join(
        f"each {in_words(size)} jar "
        + " or ".join(
            f"{spoons_up(floors[group] * share * JAR_ML[size] / ML_PER_QUART)}{more} {acid}"
            for group, acid in shown.items()
        )
        for size in sizes
    )


def _acid_at(case: Case) -> str | None:
    return next((part.where for part in case.those(is_acid)), None)


def _only_vinegar(case: Case) -> bool:
    acids = {part.group for part in case.parts if part.group in TOMATO_FLOORS}
    return bool(acids) and acids <= {"vinegar", "homemade-vinegar"}


@rule(
    id="tomato-acid-floor",
    says="Plain tomatoes get 2 tablespoons of bottled lemon juice or 1/2 teaspoon of citric acid per quart jar.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def tomatoes_get_added_acid(case: Case) -> Iterator[Finding | Note]:
    if plain_tomatoes(case) and not _only_vinegar(case):
        yield from short_of(case, TOMATO_FLOORS, "tomatoes")


@rule(
    id="tomato-vinegar-floor",
    says="Where vinegar is the only acid in plain tomatoes, each quart gets 4 tablespoons at 5 percent.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def tomatoes_with_vinegar_get_enough(case: Case) -> Iterator[Finding | Note]:
    if plain_tomatoes(case) and _only_vinegar(case):
        yield from short_of(case, TOMATO_FLOORS, "tomatoes")


@rule(
    id="tomato-acid-even-under-pressure",
    says="Plain tomatoes need their acid in the pressure canner too.",
    severity=Severity.UNSAFE,
    scope=Scope(methods=OtherThan(METHODS - PRESSURE)),
)
@on_the_shelf
def tomatoes_need_acid_under_pressure(case: Case) -> Iterator[Finding | Note]:
    if is_pressure(case) and plain_tomatoes(case):
        yield from short_of(case, TOMATO_FLOORS, "tomatoes, which need it under pressure too")


def _is_tablet(part: AnyFood) -> bool:
    known = part.ingredient is not None and part.ingredient.id == "canning-powder"
    return "tablet" in part.form or known or named(part, "canning tablet", "tomato tablet", "canning powder")


@rule(
    id="tomato-tablets-not-acid",
    says="Canning tablets sold for tomatoes don't count as acid.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_tablet,)),
)
@on_the_shelf
def tablets_are_not_acid(case: Case) -> Iterator[Finding | Note]:
    if plain_tomatoes(case) and share_of_floor(case, TOMATO_FLOORS).low < 1:
        for part in case.those(_is_tablet):
            yield Finding(
                "Canning tablets add no acid that counts.",
                "Use bottled lemon juice, citric acid or 5 percent vinegar in the listed amount.",
                part.where,
            )


def _whole_fruit(case: Case, product: str, group: str) -> bool:
    """This fruit packed plainly; a spread to its tested formula carries its own acid."""
    if case.product == product:
        return True
    return not rows(case) and case.family == "fruit" and any(part.group == group for part in case.parts)


@rule(
    id="fig-acid-floor",
    says="Figs get 2 tablespoons of bottled lemon juice or 1/2 teaspoon of citric acid per quart jar.",
    severity=Severity.UNSAFE,
    scope=Scope(products=("figs",)) | Scope(families=("fruit",), groups=("fig",)),
)
@on_the_shelf
def figs_get_added_acid(case: Case) -> Iterator[Finding | Note]:
    if _whole_fruit(case, "figs", "fig"):
        yield from short_of(case, FIG_FLOORS, "figs")


@rule(
    id="asian-pear-acid-floor",
    says="Asian pears get 2 tablespoons of bottled lemon juice per quart jar.",
    severity=Severity.UNSAFE,
    scope=Scope(products=("asian-pears",)) | Scope(families=("fruit",), groups=("asian-pear",)),
)
@on_the_shelf
def asian_pears_get_added_acid(case: Case) -> Iterator[Finding | Note]:
    if _whole_fruit(case, "asian-pears", "asian-pear"):
        yield from short_of(case, PEAR_FLOORS, "Asian pears")


def _juice_for_taste(case: Case, part: Part) -> bool:
    """Juice that the tested recipe doesn't have, beside an acid that it does."""
    added = any(found.kind == "added" and found.part == part for found in changes(case))
    return added and not any(True for _ in lowered(case, is_acid))


def _taken_as_printed(case: Case, part: Part) -> bool:
    """Juice of no stated kind that the tested recipe itself doesn't state either."""
    tested = built_on(case)
    if tested is None or tested.recipe.product != case.product or not as_tested(case, part):
        return False
    printed = [other for other in tested.parts if is_citrus_juice(other)]
    return bool(printed) and not any(is_bottled(other) for other in printed)


@rule(
    id="bottled-juice-where-safety",
    says="Lemon or lime juice that makes food safe is stated to be bottled.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_citrus_juice,)),
)
@on_the_shelf
def juice_for_safety_is_bottled(case: Case) -> Iterator[Finding | Note]:
    if not safety_rests_on_acid(case):
        return
    for part in case.those(is_citrus_juice):
        if part.food.kinds[is_bottled] or _juice_for_taste(case, part) or _taken_as_printed(case, part):
            continue
        fresh = said(part, "fresh", "freshly", "squeezed", "homemade")
        yield Finding(
            "Fresh juice varies in strength." if fresh else "The juice isn't stated to be bottled.",
            "Use the same measure of bottled juice, and say so.",
            part.where,
        )


@rule(
    id="key-lime-juice-excluded",
    says="Bottled key lime juice doesn't count where safety rests on the juice.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_key_lime,)),
)
@on_the_shelf
def key_lime_juice_does_not_count(case: Case) -> Iterator[Finding | Note]:
    if safety_rests_on_acid(case):
        for part in case.those(is_key_lime):
            yield Finding(
                "Key lime juice isn't strong enough to count.", "Use ordinary bottled lemon or lime juice.", part.where
            )


def _is_lemon_drink(part: AnyFood) -> bool:
    return part.group == "lemonade" or named(part, "lemonade", "limeade", "cordial", "lemon drink", "lime drink")


def _is_juice_or_drink(part: AnyFood) -> bool:
    return is_citrus_juice(part) or _is_lemon_drink(part)


def _is_thinned_juice(part: AnyFood) -> bool:
    thinned = ("diluted", "drink", "sweetened", "lemonade", "limeade", "cordial", "light")
    return _is_lemon_drink(part) or (is_citrus_juice(part) and said(part, *thinned))


@rule(
    id="juice-strength",
    says="Juice used for acidity is full strength, at least 4.5 percent acid; drinks and cordials don't qualify.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_juice_or_drink,)),
)
@on_the_shelf
def juice_is_full_strength(case: Case) -> Iterator[Finding | Note]:
    if not safety_rests_on_acid(case):
        return
    for part in case.those(_is_juice_or_drink):
        weak = part.food.kinds[is_citrus_juice] and any(
            percent < JUICE_PERCENT_MIN for percent in _stated_percents(part)
        )
        if weak or part.food.kinds[_is_thinned_juice]:
            yield Finding(
                "This isn't juice at full strength.",
                "Use bottled lemon or lime juice, or juice from concentrate, by its label.",
                part.where,
                limit=Measured(Bounds(JUICE_PERCENT_MIN, None), "percent acid"),
            )


@rule(
    id="citric-for-juice-only-where-tested",
    says="Citric acid stands in for juice only in plain tomatoes and figs.",
    severity=Severity.UNSAFE,
    scope=Scope(groups=("citric-acid",), changed=True),
)
@on_the_shelf
def citric_acid_stands_in_only_where_tested(case: Case) -> Iterator[Finding | Note]:
    if acid_per_jar(case) or not any(True for _ in lowered(case, is_acid)):
        return
    for _, part in raised(case, lambda part: part.group == "citric-acid"):
        yield Finding(
            "Citric acid doesn't stand in for the juice or vinegar of this recipe.",
            "Restore the juice or vinegar; it also brings liquid that the process time depends on.",
            part.where,
        )


@rule(
    id="ascorbic-is-not-citric",
    says="Ascorbic acid and anti-browning powders don't count as acid.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_ascorbic,)),
)
@on_the_shelf
def ascorbic_acid_does_not_count(case: Case) -> Iterator[Finding | Note]:
    missing = any(True for _ in lowered(case, is_acid))
    none_at_all = safety_rests_on_acid(case) and not case.has(is_acid)
    if missing or none_at_all:
        for part in case.those(is_ascorbic):
            yield Finding(
                "Ascorbic acid keeps the colour; it doesn't make the food acid.",
                "Use bottled juice or citric acid for safety.",
                part.where,
            )


@lru_cache(maxsize=1024)
def _percents_in(understood: str, as_written: str) -> tuple[Fraction, ...]:
    text = f"{understood} ; {as_written.lower()}"
    grains = (Fraction(grain) / 10 for grain in _GRAIN.findall(text))
    return (*(Fraction(percent) for ends in _PERCENT.findall(text) for percent in ends if percent), *grains)


def _stated_percents(part: Part) -> tuple[Fraction, ...]:
    return _percents_in(part.text, part.as_written)


@rule(
    id="vinegar-strength-five",
    says="Every vinegar in a canned recipe has at least 5 percent acidity.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_vinegar,)),
)
@on_the_shelf
def vinegar_is_five_percent(case: Case) -> Iterator[Finding | Note]:
    limit = FIVE_PERCENT
    for part in case.those(is_vinegar):
        percents = _stated_percents(part)
        if percents and min(percents) < VINEGAR_PERCENT_MIN:
            yield Finding(
                "This vinegar is weaker than 5 percent.",
                "Use vinegar of 5 percent acidity.",
                part.where,
                Measured(Bounds.exactly(min(percents)), "percent acidity"),
                limit,
            )
        elif said(part, "diluted", "watered down"):
            yield Finding("Diluted vinegar is too weak.", "Use vinegar of 5 percent acidity.", part.where, None, limit)


@rule(
    id="vinegar-homemade-bar",
    says="Homemade vinegar, or vinegar without a stated acidity, doesn't go into a canned recipe.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_vinegar,)),
)
@on_the_shelf
def vinegar_states_its_acidity(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(is_vinegar):
        homemade = part.group == "homemade-vinegar" or said(part, "homemade", "home-made", "scrap")
        if homemade or not _stated_percents(part):
            yield Finding(
                "Homemade vinegar varies in strength." if homemade else "The vinegar's acidity isn't stated.",
                "Use bought vinegar with 5 percent acidity on its label, and say so.",
                part.where,
            )


RULES: tuple[Rule, ...] = (
    tomatoes_get_added_acid,
    tomatoes_with_vinegar_get_enough,
    tomatoes_need_acid_under_pressure,
    tablets_are_not_acid,
    figs_get_added_acid,
    asian_pears_get_added_acid,
    juice_for_safety_is_bottled,
    key_lime_juice_does_not_count,
    juice_is_full_strength,
    citric_acid_stands_in_only_where_tested,
    ascorbic_acid_does_not_count,
    vinegar_is_five_percent,
    vinegar_states_its_acidity,
)
