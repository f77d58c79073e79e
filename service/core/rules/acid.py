"""Acid that makes food safe: enough of it, of the right kind, at the right strength."""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.units import (
    GRAMS_PER_POUND,
    ML_PER_CUP,
    ML_PER_QUART,
    ML_PER_TABLESPOON,
    ML_PER_TEASPOON,
)
from service.core.measures.writing import spoons_up
from service.core.rules.case import AnyFood, Case, Difference, Part, Role
from service.core.rules.coverage import ACIDS_IN_ROW
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.permitted import juice_for_vinegar, poured_off
from service.core.rules.reading import (
    GEL_FAMILIES,
    PICKLED_FAMILIES,
    acid_per_jar,
    as_tested,
    built_on,
    changes,
    in_grams,
    in_millilitres,
    in_print,
    in_words,
    is_acid,
    is_ascorbic,
    is_bottled,
    is_citrus_juice,
    is_ferment,
    is_key_lime,
    is_low_acid_vegetable,
    is_pressure,
    is_tomato,
    is_vinegar,
    lowered,
    mentions,
    named,
    on_the_shelf,
    raised,
    rows,
    safety_rests_on_acid,
    said,
    share_of_floor,
    step_named,
    where,
)
from service.core.rules.scope import Scope

LEMON_ML_PER_QUART = 2 * ML_PER_TABLESPOON
CITRIC_ML_PER_QUART = Fraction(1, 2) * ML_PER_TEASPOON
VINEGAR_ML_PER_QUART = 4 * ML_PER_TABLESPOON
VINEGAR_PERCENT_MIN = Fraction(5)
JUICE_PERCENT_MIN = Fraction("4.5")
RINSES_MIN = 3
JUICE_BLEND_VEGETABLE_CUPS, JUICE_BLEND_TOMATO_LB = 3, 22
SAUCE_TOMATO_LB = 30
SAUCE_ONION_CUPS, SAUCE_CELERY_OR_PEPPER_CUPS, SAUCE_OIL_CUPS = Fraction(1), Fraction(1), Fraction(1, 4)
SAUCE_GARLIC_CLOVES, SAUCE_MUSHROOM_LB = 5, 1

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
VEGETABLE_JUICE = "tomato-vegetable-juice"
JUICE_VEGETABLES = frozenset({"celery", "onion", "carrot", "pepper", "mixed-vegetable", "onion-and-pepper"})

_PERCENT = re.compile(r"([0-9]+(?:\.[0-9]+)?)(?: ?(?:-|–|to) ?([0-9]+(?:\.[0-9]+)?))? ?(?:%|per ?cent)")
_GRAIN = re.compile(r"([0-9]+(?:\.[0-9]+)?)[ -]grain")


@lru_cache(maxsize=64)
def _plain_tomatoes(case: Case) -> bool:
    """Tomatoes, green tomatoes or tomatillos that get their acid by the jar, alone or as a juice blend."""
    if rows(case):
        return acid_per_jar(case) and rows(case)[0].family == "tomato"
    others = any(is_low_acid_vegetable(part) or part.role in (Role.MEAT, Role.FISH) for part in case.parts)
    return case.family == "tomato" and not others and case.has(is_tomato)


def _short(case: Case, floors: dict[str, Fraction], food: str) -> Iterator[Finding]:
    share = share_of_floor(case, floors)
    if share.low >= 1:
        return
    fix = f"Give {_each_jar(case, floors, Fraction(1))}."
    if share == Bounds.exactly(0):
        message = f"No acid that counts is added to these {food}."
    elif share.high is None or share.high >= 1:
        message = f"It can't be told whether each jar of {food} gets enough acid."
    else:
        message = f"Too little acid for these {food}: {float(share.high):.0%} of what makes them safe."
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
    if _plain_tomatoes(case) and not _only_vinegar(case):
        yield from _short(case, TOMATO_FLOORS, "tomatoes")


@rule(
    id="tomato-vinegar-floor",
    says="Where vinegar is the only acid in plain tomatoes, each quart gets 4 tablespoons at 5 percent.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def tomatoes_with_vinegar_get_enough(case: Case) -> Iterator[Finding | Note]:
    if _plain_tomatoes(case) and _only_vinegar(case):
        yield from _short(case, TOMATO_FLOORS, "tomatoes")


@rule(
    id="tomato-acid-even-under-pressure",
    says="Plain tomatoes need their acid in the pressure canner too.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def tomatoes_need_acid_under_pressure(case: Case) -> Iterator[Finding | Note]:
    if is_pressure(case) and _plain_tomatoes(case):
        yield from _short(case, TOMATO_FLOORS, "tomatoes, which need it under pressure too")


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
    if _plain_tomatoes(case) and share_of_floor(case, TOMATO_FLOORS).low < 1:
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
)
@on_the_shelf
def figs_get_added_acid(case: Case) -> Iterator[Finding | Note]:
    if _whole_fruit(case, "figs", "fig"):
        yield from _short(case, FIG_FLOORS, "figs")


@rule(
    id="asian-pear-acid-floor",
    says="Asian pears get 2 tablespoons of bottled lemon juice per quart jar.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def asian_pears_get_added_acid(case: Case) -> Iterator[Finding | Note]:
    if _whole_fruit(case, "asian-pears", "asian-pear"):
        yield from _short(case, PEAR_FLOORS, "Asian pears")


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
        if is_bottled(part) or _juice_for_taste(case, part) or _taken_as_printed(case, part):
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
        juice = is_citrus_juice(part)
        diluted = juice and said(part, "diluted", "drink", "sweetened", "lemonade", "limeade", "cordial", "light")
        weak = juice and any(percent < JUICE_PERCENT_MIN for percent in _stated_percents(part))
        if _is_lemon_drink(part) or diluted or weak:
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
def _percents_in(text: str) -> tuple[Fraction, ...]:
    grains = (Fraction(grain) / 10 for grain in _GRAIN.findall(text))
    return (*(Fraction(percent) for ends in _PERCENT.findall(text) for percent in ends if percent), *grains)


def _stated_percents(part: Part) -> tuple[Fraction, ...]:
    return _percents_in(" ; ".join((part.name, *sorted(part.form), part.as_written)).lower())


@rule(
    id="vinegar-strength-five",
    says="Every vinegar in a canned recipe has at least 5 percent acidity.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_vinegar,)),
)
@on_the_shelf
def vinegar_is_five_percent(case: Case) -> Iterator[Finding | Note]:
    limit = Measured(Bounds(VINEGAR_PERCENT_MIN, None), "percent acidity")
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


def _is_brine_water(part: AnyFood) -> bool:
    return part.group == "water"


@rule(
    id="vinegar-to-water-ratio-fixed",
    says="Pickles and relishes keep the tested proportion of vinegar, water and vegetables.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_brine_water, is_low_acid_vegetable)),
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
    if _plain_tomatoes(case) or case.product in ("figs", "asian-pears"):
        return
    if built_on(case) is None:
        yield from _short(case, _floors_of_the_row(case), "jars")
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
    printed = built_on(case) is not None and all(as_tested(case, part) for part in alkalis)
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
    scope=Scope(kinds=(is_tomato,)),
)
@on_the_shelf
def tomatoes_with_vegetables_go_under_pressure(case: Case) -> Iterator[Finding | Note]:
    if not case.has(is_tomato) or (is_pressure(case) and not _plain_tomatoes(case)):
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
    brine_keeps_its_proportion,
    acid_is_never_cut,
    lime_is_rinsed_out,
    a_splash_of_acid_is_no_pickle,
    tomatoes_with_vegetables_go_under_pressure,
    juice_blend_has_few_vegetables,
    spaghetti_sauce_has_few_vegetables,
)
