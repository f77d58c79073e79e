"""Foods for which no canning process is published, and mixtures that nobody has tested."""

from collections.abc import Iterator

from service.core.measures.units import Dimension
from service.core.rules.case import AnyFood, Case, Part, Role
from service.core.rules.findings import Finding, Note, Rule, Severity, rule
from service.core.rules.reading import (
    GEL_FAMILIES,
    as_tested,
    built_on,
    is_acid,
    is_ferment,
    is_low_acid_fruit,
    is_main,
    is_mashed,
    is_tomato,
    is_white_peach,
    mentions,
    named,
    on_the_shelf,
    said,
    step_named,
)
from service.core.rules.scope import Scope

ITS_OWN_FORMULA = frozenset({"tomato", "salsa", "relish", "chutney", "pickle", "jelly", "jam", "marmalade"})
MELONS_AND_KIN = ("melon", "banana", "coconut", "papaya", "persimmon", "pawpaw")
DENSE = ("potato", "sweet-potato", "dry-bean", "canned-bean", "shell-bean", "snap-bean", "pea")
POOR_CANDIDATES = ("cabbage", "brassica", "eggplant", "cucumber", "artichoke", "olive")
PUREES = ("fruit-puree", "fruit-baby-food")
PUREED_BY_COOKS = (Role.VEGETABLE, Role.LEGUME, Role.MEAT, Role.FISH, Role.UNKNOWN)
SQUASH_IN_PRINT = frozenset(
    {"tomatoes-with-okra-or-zucchini", "mixed-vegetables", "bread-and-butter-zucchini", "zucchini-pineapple"}
)


def _in_title(case: Case, *words: str) -> bool:
    return mentions(case.recipe.title, *words)


def _mashed(case: Case, part: Part) -> bool:
    return is_mashed(part) or step_named(case, "puree", "mash") or _in_title(case, "puree", "mashed", "baby food")


def _is_winter_squash(part: AnyFood) -> bool:
    return part.group == "winter-squash" or named(part, "pumpkin", "butternut", "winter squash")


@rule(
    id="pumpkin-puree-bar",
    says="Pumpkin and winter squash are never canned mashed, pureed or as butter.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_winter_squash,)),
)
@on_the_shelf
def pumpkin_is_only_cubed(case: Case) -> Iterator[Finding | Note]:
    if not case.has(_is_winter_squash):
        return
    spread = case.family in GEL_FAMILIES or case.family == "pie-filling" or _in_title(case, "butter", "pie filling")
    for part in case.those(_is_winter_squash):
        pureed = part.ingredient is not None and part.ingredient.id == "pumpkin-puree"
        if spread or pureed or _mashed(case, part) or step_named(case, "crush", "strain", "cook-thick"):
            yield Finding(
                "Pumpkin or squash this thick has no safe process.",
                "Pressure can it in cubes by the tested process, or freeze the puree.",
                part.where,
            )


@rule(
    id="summer-squash-bar",
    says="Plain summer squash or zucchini is not canned.",
    severity=Severity.UNSAFE,
    scope=Scope(groups=("summer-squash",)),
)
@on_the_shelf
def summer_squash_is_not_canned_plain(case: Case) -> Iterator[Finding | Note]:
    squash = case.in_group("summer-squash")
    if not squash or _pickled(case):
        return
    others = [
        part for part in case.of(Role.VEGETABLE, Role.TOMATO, Role.LEGUME, Role.FRUIT) if part.group != "summer-squash"
    ]
    for part in squash:
        if not others or not (case.product in SQUASH_IN_PRINT or as_tested(case, part)):
            yield Finding(
                "Summer squash packs down and heats unevenly.",
                "Freeze or dry it, or use a tested pickle or relish.",
                part.where,
                severity=_in_soup(case),
            )


def _pickled(case: Case) -> bool:
    """Whether acid is meant to keep this food; whether it does is judged elsewhere."""
    return case.family in ITS_OWN_FORMULA and case.has(is_acid)


def _in_soup(case: Case) -> Severity | None:
    """In a soup of many vegetables these are untested rather than barred."""
    return Severity.UNTESTED if case.family == "soup" else None


def _puree(case: Case, part: Part) -> bool:
    return case.product in PUREES or case.family == "fruit-butter" or _mashed(case, part)


def _tomato_or_low_acid_fruit(part: AnyFood) -> bool:
    return is_tomato(part) or is_low_acid_fruit(part)


@rule(
    id="fruit-puree-bar",
    says="Low-acid fruit and tomato have no puree process.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_low_acid_fruit,)) | Scope(products=PUREES, kinds=(is_tomato,)),
)
@on_the_shelf
def low_acid_fruit_is_not_pureed(case: Case) -> Iterator[Finding | Note]:
    if case.family in GEL_FAMILIES - {"fruit-butter"}:
        return
    barred = _tomato_or_low_acid_fruit if case.product in PUREES else is_low_acid_fruit
    for part in case.those(barred):
        if _puree(case, part) and not as_tested(case, part):
            yield Finding(f"No puree process covers {part.name}.", "Freeze the puree in rigid containers.", part.where)


@rule(
    id="white-peach-bar",
    says="White-flesh peaches and nectarines are not canned in any form.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_white_peach,), groups=("peach",)),
)
@on_the_shelf
def white_peaches_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.parts:
        if is_white_peach(part):
            yield Finding(
                "White-flesh fruit can be too low in acid, and no added acid was tested.",
                "Freeze the fruit, or use yellow-flesh fruit.",
                part.where,
            )
        elif part.ingredient is not None and part.ingredient.id.endswith("colour-not-stated") and part.group == "peach":
            yield Note(f"{part.name.capitalize()} is taken as yellow-flesh: is it? White-flesh fruit is not canned.")


def _is_elderberry(part: AnyFood) -> bool:
    return part.group == "elderberry" or named(part, "elderberry", "elderberries", "elderberry syrup")


@rule(
    id="elderberry-bar",
    says="Dark elderberry fruit, juice and syrup are not canned.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_elderberry,)),
)
@on_the_shelf
def elderberries_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_elderberry):
        if not said(part, "blue") and not _weighed_jam(case):
            yield Finding(
                "Dark elderberries are low in acid.",
                "Heat the juice and freeze it, or use a weighed tested jam recipe.",
                part.where,
            )


def _weighed_jam(case: Case) -> bool:
    """A jam or jelly with its fruit and sugar on a scale, which a rule of its own judges."""
    measured = [part for part in case.parts if part.group == "elderberry" or part.role is Role.SWEETENER]
    amounts = [part.line.amount if part.line else None for part in measured]
    return (
        case.family in ("jam", "jelly")
        and any(part.role is Role.SWEETENER for part in measured)
        and all(amount is not None and amount.unit.dimension is Dimension.MASS for amount in amounts)
    )


@rule(
    id="ripe-mango-bar",
    says="Ripe mango is not canned; mango of no stated ripeness is taken as ripe.",
    severity=Severity.UNSAFE,
    scope=Scope(groups=("mango-ripe",)),
)
@on_the_shelf
def ripe_mango_is_not_canned(case: Case) -> Iterator[Finding | Note]:
    if case.product == "mango-sauce" and case.has(is_acid):
        return
    for part in case.in_group("mango-ripe"):
        if is_low_acid_fruit(part):
            yield Finding(
                "Ripe mango is too low in acid; its ripeness must be stated.",
                "Freeze or dry the ripe fruit, or start again with green fruit.",
                part.where,
            )


def _is_melon_or_kin(part: AnyFood) -> bool:
    return part.group in MELONS_AND_KIN or (part.ingredient is not None and part.ingredient.id == "date")


@rule(
    id="melon-banana-bar",
    says="Melon, banana, coconut, papaya, persimmon and date have no plain canned product.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_melon_or_kin,)),
)
@on_the_shelf
def melon_and_banana_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_melon_or_kin):
        if not as_tested(case, part) and (is_main(case, part) or built_on(case) is None):
            yield Finding(
                f"No process is published for {part.name}.",
                "Freeze the fruit, or use a tested rind pickle or preserve.",
                part.where,
            )


@rule(
    id="pureed-veg-meat-bar",
    says="Pureed vegetables, meat and poultry are not canned.",
    severity=Severity.UNSAFE,
    scope=Scope(roles=PUREED_BY_COOKS),
)
@on_the_shelf
def vegetables_and_meat_are_not_pureed(case: Case) -> Iterator[Finding | Note]:
    if case.family in ITS_OWN_FORMULA:
        return
    for part in case.of(*PUREED_BY_COOKS):
        if _mashed(case, part) or named(part, "baby food"):
            yield Finding(
                f"No time has been worked out for pureed {part.name}.",
                "Can it in pieces; puree it at serving.",
                part.where,
            )


def _is_cake_mix(part: AnyFood) -> bool:
    return named(part, "cake mix", "batter", "bread dough", "muffin mix", "brownie mix")


@rule(
    id="bread-cake-jar-bar",
    says="Bread or cake baked in a jar is not stored on the shelf.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_cake_mix,), groups=("flour",)),
)
@on_the_shelf
def cake_is_not_canned(case: Case) -> Iterator[Finding | Note]:
    flour = case.in_group("flour")
    rising = case.in_group("baking-soda", "egg") or case.of(Role.EGG)
    cake = rising or _in_title(case, "bread", "cake", "muffin", "brownie", "cupcake")
    for part in (*case.those(_is_cake_mix), *(flour if cake else ())):
        yield Finding("Bread or cake in a jar is moist and low in acid.", "Bake it in a pan and freeze it.", part.where)


@rule(
    id="cream-soup-bar",
    says="Cream, thickened or pureed soup is not canned.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def soup_is_clear(case: Case) -> Iterator[Finding | Note]:
    if case.family != "soup" and not _in_title(case, "soup", "chowder", "bisque"):
        return
    fix = "Can the broth and vegetables, then add cream or thickener when serving."
    if _in_title(case, "cream of", "creamy", "creamed", "bisque"):
        yield Finding("Cream soup is not canned.", fix)
    for part in case.parts:
        solid = part.role in (Role.VEGETABLE, Role.LEGUME, Role.MEAT, Role.FISH)
        if part.role in (Role.DAIRY, Role.THICKENER) or (solid and _mashed(case, part)):
            yield Finding(f"{part.name.capitalize()} makes the soup too thick to heat through.", fix, part.where)


def _is_poor_candidate(part: AnyFood) -> bool:
    known = part.ingredient.id if part.ingredient else ""
    grouped = part.group in POOR_CANDIDATES and known != "kohlrabi"
    return grouped or known == "lettuce" or named(part, "lettuce", "artichoke", "olive")


@rule(
    id="poor-candidate-vegetables",
    says="Cabbage, broccoli, cauliflower, eggplant, cucumbers, lettuce, artichokes and olives have no plain process.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_poor_candidate,)),
)
@on_the_shelf
def poor_candidates_are_pickled(case: Case) -> Iterator[Finding | Note]:
    if _pickled(case) or is_ferment(case):
        return
    for part in case.those(_is_poor_candidate):
        if not as_tested(case, part):
            yield Finding(
                f"No plain process is published for {part.name}.",
                "Use a tested pickle recipe, or freeze the vegetable.",
                part.where,
                severity=_in_soup(case),
            )


def _may_be_paste(part: AnyFood) -> bool:
    return part.group in DENSE or _is_paste(part)


def _is_paste(part: AnyFood) -> bool:
    return part.group == "mashed-bean" or said(
        part, "hummus", "refried bean", "mashed potato", "bean dip", "bean paste"
    )


@rule(
    id="mashed-dense-bar",
    says="Mashed potato, refried beans, hummus and other dense pastes are not canned.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_may_be_paste,)),
)
@on_the_shelf
def dense_pastes_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_may_be_paste):
        if _is_paste(part) or _mashed(case, part) or _in_title(case, "hummus", "refried"):
            yield Finding(
                "A dense paste heats too slowly to be canned.",
                "Can the beans or potatoes in pieces and mash them when serving.",
                part.where,
            )


RULES: tuple[Rule, ...] = (
    pumpkin_is_only_cubed,
    summer_squash_is_not_canned_plain,
    low_acid_fruit_is_not_pureed,
    white_peaches_are_not_canned,
    elderberries_are_not_canned,
    ripe_mango_is_not_canned,
    melon_and_banana_are_not_canned,
    vegetables_and_meat_are_not_pureed,
    cake_is_not_canned,
    soup_is_clear,
    poor_candidates_are_pickled,
    dense_pastes_are_not_canned,
)
