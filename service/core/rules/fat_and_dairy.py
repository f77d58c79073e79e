"""Milk, butter, eggs, oil and fat: low-acid foods that shield what grows in them."""

from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache

from service.core.measures.bounds import Bounds
from service.core.measures.units import GRAMS_PER_POUND, ML_PER_CUP, ML_PER_TABLESPOON, ML_PER_TEASPOON
from service.core.rules.case import AnyFood, Case, Part, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.reading import (
    GEL_FAMILIES,
    as_tested,
    in_grams,
    in_millilitres,
    is_citric_acid,
    is_low_acid_vegetable,
    is_oil,
    is_tomato,
    is_vinegar,
    mentions,
    named,
    on_the_shelf,
    said,
)
from service.core.rules.scope import Scope

FOAM_BUTTER_ML = Fraction(1, 2) * ML_PER_TEASPOON
# Up to here butter in a spread is taken as meant against foam, and judged by that limit: a working limit of ours.
FOAM_BUTTER_MEANT_ML = 2 * ML_PER_TABLESPOON
GARLIC_OIL_DAYS_MAX = 4
CITRIC_TBSP_PER_2_CUPS_WATER = 1
PEPPERS_LB, LEMON_CUPS, VINEGAR_CUPS, OIL_CUPS, ONION_CUPS = 4, Fraction(1), Fraction(2), Fraction(1), Fraction(1, 2)
LEMON_CURD = "lemon-curd"  # the one tested recipe with butter and eggs
PLAIN_SAUCE, PLAIN_SAUCE_OIL_CUPS, PLAIN_SAUCE_TOMATO_LB = "spaghetti-sauce-without-meat", Fraction(1, 4), 30
MARINATED_PEPPERS = "marinated-peppers"
INFUSING = frozenset({"garlic", "fresh-herb"})


def _is_butter(part: AnyFood) -> bool:
    return part.group == "butter" or (
        named(part, "butter", "ghee", "margarine")
        and not named(
            part, "apple butter", "peanut butter", "nut butter", "almond butter", "cocoa butter", "fruit butter"
        )
    )


def _is_foam_butter(case: Case, part: Part) -> bool:
    amount = part.millilitres
    return (
        case.family in GEL_FAMILIES
        and _is_butter(part)
        and amount is not None
        and amount.high is not None
        and amount.high <= FOAM_BUTTER_MEANT_ML
    )


def _is_dairy(part: AnyFood) -> bool:
    milky = part.role is Role.DAIRY and not said(part, "cream-style", "cream style")
    return milky or _is_butter(part) or said(part, "creamed", "in milk", "with milk", "in cream")


@rule(
    id="dairy-bar",
    says="Milk, cream, cheese, yogurt or butter never goes into canned food.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_dairy,)),
)
@on_the_shelf
def dairy_stays_out(case: Case) -> Iterator[Finding | Note]:
    if case.product == LEMON_CURD:
        return
    for part in case.those(_is_dairy):
        if not _is_foam_butter(case, part) and not as_tested(case, part):
            yield Finding(
                f"{part.name.capitalize()} isn't safe in a canned food.",
                "Can the base and add dairy at serving, or freeze it.",
                part.where,
            )


@rule(
    id="butter-canning-bar",
    says="Butter and ghee are not canned.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_butter,)),
)
@on_the_shelf
def butter_is_not_canned(case: Case) -> Iterator[Finding | Note]:
    butter = case.those(_is_butter)
    if not butter:
        return
    rest = [part for part in case.parts if not _is_butter(part) and part.role is not Role.SALT]
    if rest and case.family in GEL_FAMILIES:
        return
    weight, others = in_grams(butter), in_grams(rest)
    if not rest or weight.high is None or weight.high > others.low:
        yield Finding("No process is published for jars of butter.", "Wrap the butter and freeze it.", butter[0].where)


def _is_egg(part: AnyFood) -> bool:
    return part.role is Role.EGG or named(part, "egg", "egg yolk", "egg white")


@rule(
    id="egg-bar",
    says="Eggs, pickled or in a mixture, are not stored on the shelf.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_egg,)),
)
@on_the_shelf
def eggs_stay_cold(case: Case) -> Iterator[Finding | Note]:
    if case.product == LEMON_CURD:
        return
    for part in case.those(_is_egg):
        yield Finding(
            "No tested recipe keeps eggs on the shelf.", "Keep them refrigerated, 2 to 3 months at most.", part.where
        )


def _acidified_infusion(case: Case) -> bool:
    return _infused_oil(case) and case.has(is_citric_acid)


@lru_cache(maxsize=64)
def _infused_oil(case: Case) -> bool:
    """Oil that carries a flavour: more oil than anything else, with fresh garlic or herbs in it."""
    if not case.in_group(*INFUSING) or case.has(_is_packed_food):
        return False
    oil = in_millilitres(case.those(is_oil))
    return oil.high is None or oil.high > 0


def _is_packed_food(part: AnyFood) -> bool:
    """Food that oil would cover, and isn't there to flavour it."""
    return (
        part.role in (Role.VEGETABLE, Role.TOMATO, Role.FRUIT, Role.MEAT, Role.FISH, Role.NUT)
        and part.group not in INFUSING
    )


def _within_sauce_cap(case: Case) -> bool:
    """The oil of the tested sauce without meat: 1/4 cup to 30 pounds of tomatoes."""
    if case.product != PLAIN_SAUCE:
        return False
    cups = in_millilitres(case.those(is_oil)) / ML_PER_CUP
    tomatoes = in_grams(case.those(is_tomato)) / GRAMS_PER_POUND
    return cups.high is not None and cups.high * PLAIN_SAUCE_TOMATO_LB <= PLAIN_SAUCE_OIL_CUPS * tomatoes.low


def _is_said_to_be_in_oil(part: AnyFood) -> bool:
    return said(part, "in oil", "oil-packed", "packed in oil")


@rule(
    id="oil-pack-bar",
    says="Vegetables, herbs or garlic in oil are neither canned nor kept on the shelf.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_oil, _is_said_to_be_in_oil)),
)
@on_the_shelf
def nothing_is_packed_in_oil(case: Case) -> Iterator[Finding | Note]:
    fix = "Refrigerate for a few days at most, or freeze."
    for part in case.those(_is_said_to_be_in_oil):
        if part.role not in (Role.MEAT, Role.FISH) or not as_tested(case, part):  # no tested recipe packs plants so
            yield Finding("Food in oil keeps air out and lets botulism grow.", fix, part.where)
    packed = case.has(is_low_acid_vegetable) or case.has(is_tomato)
    if not packed or not case.has(is_oil) or _acidified_infusion(case) or _within_sauce_cap(case):
        return
    for part in case.those(is_oil):
        if not as_tested(case, part):
            yield Finding(
                "Oil around vegetables, herbs or garlic keeps air out and lets botulism grow.", fix, part.where
            )


@rule(
    id="garlic-oil-limit",
    says="Fresh garlic or herbs in oil keep 4 days at 40 F or below, never on the shelf.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_oil,)),
)
def garlic_in_oil_stays_cold(case: Case) -> Iterator[Finding | Note]:
    if not _infused_oil(case) or _acidified_infusion(case):
        return
    for part in case.those(is_oil):
        if as_tested(case, part):
            continue
        if case.on_the_shelf:
            yield Finding(
                "Fresh garlic or herbs in oil don't keep on the shelf.",
                f"Refrigerate and use within {GARLIC_OIL_DAYS_MAX} days, or freeze.",
                part.where,
            )
        elif case.storage == "refrigerator":
            yield Note(f"Garlic or herbs in oil keep {GARLIC_OIL_DAYS_MAX} days at 40 F or below; freeze for longer.")


@rule(
    id="infused-oil-acid",
    says="Infused oil keeps on the shelf only with garlic, basil, oregano or rosemary soaked in citric acid as tested.",
    severity=Severity.UNSAFE,
    scope=Scope(groups=INFUSING),
)
@on_the_shelf
def infused_oil_is_acidified(case: Case) -> Iterator[Finding | Note]:
    if not _infused_oil(case):
        return
    oils = case.those(is_oil)
    if all(as_tested(case, part) for part in oils):
        return
    fix = "Follow the tested citric acid soak exactly, or refrigerate for up to 4 days."
    for part in case.parts:
        if part.group in INFUSING and not mentions(part.name, "garlic", "basil", "oregano", "rosemary"):
            yield Finding(f"No acid soak was tested for {part.name}.", fix, part.where)
    citric = in_millilitres(case.those(is_citric_acid)) / ML_PER_TABLESPOON
    water = in_millilitres(case.in_group("water")) / (2 * ML_PER_CUP)
    if water.high is None or citric.low < CITRIC_TBSP_PER_2_CUPS_WATER * water.high or citric.low == 0:
        yield Finding(
            "The garlic or herbs aren't soaked in citric acid of 3 percent; lemon juice or vinegar won't do.",
            fix,
            oils[0].where,
        )


@rule(
    id="marinated-pepper-ratio",
    says="Marinated peppers keep 4 pounds of peppers to 1 cup bottled lemon juice, 2 cups vinegar and 1 cup oil.",
    severity=Severity.UNSAFE,
    scope=Scope(products=(MARINATED_PEPPERS,)),
)
@on_the_shelf
def marinated_peppers_keep_their_ratio(case: Case) -> Iterator[Finding | Note]:
    if case.product != MARINATED_PEPPERS:
        return
    peppers = in_grams(case.in_group("pepper")) / GRAMS_PER_POUND
    lemon = in_millilitres(case.in_group("lemon-juice")) / ML_PER_CUP
    vinegar = in_millilitres(case.those(is_vinegar)) / ML_PER_CUP
    oil = in_millilitres(case.those(is_oil)) / ML_PER_CUP
    onion = in_millilitres(case.in_group("onion")) / ML_PER_CUP
    fix = "Restore the tested ratio; oil may be lowered but never raised."
    for name, amount, least in (("bottled lemon juice", lemon, LEMON_CUPS), ("vinegar", vinegar, VINEGAR_CUPS)):
        if peppers.high is None or amount.low * PEPPERS_LB < least * peppers.high:
            yield Finding(f"Too little {name} for these peppers, or it can't be told.", fix)
    for name, amount, most in (("oil", oil, OIL_CUPS), ("onion", onion, ONION_CUPS)):
        if amount.high is None or amount.high * PEPPERS_LB > most * peppers.low:
            yield Finding(f"Too much {name} for these peppers, or it can't be told.", fix)


@rule(
    id="butter-foam-limit",
    says="Butter against foam is at most 1/2 teaspoon a batch.",
    severity=Severity.QUALITY,
    scope=Scope(families=GEL_FAMILIES, kinds=(_is_butter,)),
)
@on_the_shelf
def foam_takes_little_butter(case: Case) -> Iterator[Finding | Note]:
    if case.family not in GEL_FAMILIES:
        return
    butter = case.those(_is_butter)
    amount = in_millilitres(butter)
    if butter and (amount.high is None or amount.high > FOAM_BUTTER_ML):
        yield Finding(
            "More than 1/2 tsp of butter turns the flavour in storage.",
            "Cut it to 1/2 tsp, or leave it out and skim the foam.",
            butter[0].where,
            Measured(amount / ML_PER_TEASPOON, "tsp"),
            Measured(Bounds(Fraction(0), FOAM_BUTTER_ML / ML_PER_TEASPOON), "tsp"),
        )


@rule(
    id="meat-fat-trim",
    says="Meat is trimmed, broth is skimmed, and no fat is added to canned meat.",
    severity=Severity.UNSAFE,
    scope=Scope(groups=("broth",), roles=(Role.MEAT, Role.FISH)),
)
@on_the_shelf
def meat_has_no_added_fat(case: Case) -> Iterator[Finding | Note]:
    meaty = [*case.of(Role.MEAT, Role.FISH), *case.in_group("broth")]
    if not meaty:
        return
    fix = "Trim the meat, chill the broth and lift off the fat; add none."
    packed_in_oil = case.product == "tuna"
    for part in case.parts:
        added = part.role is Role.FAT or is_oil(part) or named(part, "lard", "suet", "tallow", "drippings")
        if added and not as_tested(case, part) and not (packed_in_oil and is_oil(part)):
            yield Finding(f"{part.name.capitalize()} is fat added to canned meat.", fix, part.where)
    for part in meaty:
        if said(part, "untrimmed", "unskimmed", "fat left on", "with fat", "fat on", "in fat"):
            yield Finding("The fat is left on.", fix, part.where)


def _is_chocolate(part: AnyFood) -> bool:
    return part.group == "chocolate" or named(part, "chocolate", "cocoa", "fudge", "caramel", "dulce de leche")


@rule(
    id="chocolate-sauce-bar",
    says="Chocolate, fudge and dairy caramel sauces have no canning process.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_chocolate,)),
)
@on_the_shelf
def chocolate_sauce_is_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_chocolate):
        if not as_tested(case, part):
            yield Finding(
                "Chocolate, fudge and caramel sauces are low-acid.", "Freeze or refrigerate the sauce.", part.where
            )


RULES: tuple[Rule, ...] = (
    dairy_stays_out,
    butter_is_not_canned,
    eggs_stay_cold,
    nothing_is_packed_in_oil,
    garlic_in_oil_stays_cold,
    infused_oil_is_acidified,
    marinated_peppers_keep_their_ratio,
    foam_takes_little_butter,
    meat_has_no_added_fat,
    chocolate_sauce_is_not_canned,
)
