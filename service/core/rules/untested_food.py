"""Foods for which no canning process is published, and mixtures that nobody has tested."""

from collections.abc import Iterator

from service.core.measures.units import Dimension
from service.core.rules.case import Case, Part, Role
from service.core.rules.findings import Finding, Note, Rule, Severity, rule
from service.core.rules.ingredients import is_meat_seasoning
from service.core.rules.permitted import not_allowed
from service.core.rules.reading import (
    GEL_FAMILIES,
    as_tested,
    is_acid,
    is_ferment,
    is_low_acid_fruit,
    is_main,
    is_mashed,
    is_plain_pack,
    is_tomato,
    is_white_peach,
    mentions,
    named,
    on_the_shelf,
    said,
    step_named,
    where,
)

REFRIGERATE_DAYS_LOW, REFRIGERATE_DAYS_HIGH = 3, 4
SALSA_REFRIGERATE_DAYS = 14
ITS_OWN_FORMULA = frozenset({"tomato", "salsa", "relish", "chutney", "pickle", "jelly", "jam", "marmalade"})
MELONS_AND_KIN = ("melon", "banana", "coconut", "papaya", "persimmon", "pawpaw")
POOR_CANDIDATES = ("cabbage", "brassica", "eggplant", "cucumber", "artichoke", "olive")
SQUASH_IN_PRINT = frozenset(
    {"tomatoes-with-okra-or-zucchini", "mixed-vegetables", "bread-and-butter-zucchini", "zucchini-pineapple"}
)
# What goes into a plain pack beside its food: covering liquid, sweetener, salt, acid, dry spice, colour keepers.
BESIDE_ANY_FOOD = (Role.SWEETENER, Role.SALT, Role.ACID, Role.SPICE, Role.ADDITIVE)
COVERING_LIQUIDS = frozenset({"water", "fruit-juice", "juice-concentrate", "broth", "tomato-juice"})
PLAIN_FOODS = {
    "apples-sliced": ("apple",),
    "applesauce": ("apple",),
    "apple-juice": ("apple", "fruit-juice"),
    "apricots": ("apricot",),
    "nectarines": ("peach",),
    "peaches": ("peach",),
    "berries": ("berry", "strawberry", "cranberry", "mulberry", "other-berry"),
    "cherries": ("cherry",),
    "cranberries": ("cranberry",),
    "figs": ("fig",),
    "grapefruit-and-orange-sections": ("citrus",),
    "grape-juice": ("grape", "fruit-juice"),
    "grapes": ("grape",),
    "pears": ("pear",),
    "asian-pears": ("asian-pear",),
    "pineapple": ("pineapple",),
    "plums": ("plum",),
    "rhubarb": ("rhubarb",),
    "tomato-juice": ("tomato",),
    "tomato-vegetable-juice": ("tomato", "celery", "onion", "carrot", "pepper", "mixed-vegetable", "onion-and-pepper"),
    "tomatoes-crushed": ("tomato",),
    "tomato-sauce": ("tomato",),
    "tomatoes-whole-in-water": ("tomato",),
    "tomatoes-whole-in-tomato-juice": ("tomato",),
    "tomatoes-whole-no-added-liquid": ("tomato",),
    "tomatillos-whole": ("tomatillo", "tomato"),
    "sauerkraut": ("cabbage", "sauerkraut"),
    "asparagus": ("asparagus",),
    "dried-beans-or-peas": ("dry-bean", "pea"),
    "lima-beans": ("shell-bean",),
    "green-beans": ("snap-bean",),
    "beets": ("beet",),
    "carrots": ("carrot",),
    "corn-cream-style": ("corn",),
    "corn-whole-kernel": ("corn",),
    "mushrooms": ("mushroom",),
    "okra": ("okra",),
    "green-peas": ("pea",),
    "peppers": ("pepper",),
    "sweet-potatoes": ("sweet-potato",),
    "white-potatoes": ("potato",),
    "pumpkin-or-winter-squash-cubed": ("winter-squash",),
    "spinach-and-other-greens": ("leafy-green",),
    "chicken-or-rabbit-without-bones": ("poultry",),
    "chicken-or-rabbit-with-bones": ("poultry",),
    "ground-or-chopped-meat": ("red-meat", "poultry", "sausage"),
    "meat-strips-cubes-or-chunks": ("red-meat",),
    "clams": ("shellfish",),
    "king-or-dungeness-crab": ("crab",),
    "fish-fatty-except-tuna": ("fish",),
    "oysters": ("shellfish",),
    "smoked-fish": ("smoked-fish",),
    "tuna": ("tuna", "oil"),
}


def _in_title(case: Case, *words: str) -> bool:
    return mentions(case.recipe.title, *words)


def _mashed(case: Case, part: Part) -> bool:
    return is_mashed(part) or step_named(case, "puree", "mash") or _in_title(case, "puree", "mashed", "baby food")


@rule(
    id="pumpkin-puree-bar",
    says="Pumpkin and winter squash are never canned mashed, pureed or as butter.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def pumpkin_is_only_cubed(case: Case) -> Iterator[Finding | Note]:
    spread = case.family in GEL_FAMILIES or case.family == "pie-filling" or _in_title(case, "butter", "pie filling")
    for part in case.parts:
        squash = part.group == "winter-squash" or named(part, "pumpkin", "butternut", "winter squash")
        pureed = part.ingredient is not None and part.ingredient.id == "pumpkin-puree"
        if squash and (spread or pureed or _mashed(case, part) or step_named(case, "crush", "strain", "cook-thick")):
            yield Finding(
                "Pumpkin or squash this thick has no safe process.",
                "Pressure can it in cubes by the tested process, or freeze the puree.",
                part.where,
            )


@rule(
    id="summer-squash-bar",
    says="Plain summer squash or zucchini is not canned.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def summer_squash_is_not_canned_plain(case: Case) -> Iterator[Finding | Note]:
    if case.product in SQUASH_IN_PRINT or _pickled(case):
        return
    for part in case.in_group("summer-squash"):
        if not as_tested(case, part):
            yield Finding(
                "Summer squash packs down and heats unevenly.",
                "Freeze or dry it, or use a tested pickle or relish.",
                part.where,
                severity=_in_soup(case),
            )


def _pickled(case: Case) -> bool:
    """Whether acid is meant to keep this food; whether it does is judged elsewhere."""
    return case.family in ITS_OWN_FORMULA and any(is_acid(part) for part in case.parts)


def _in_soup(case: Case) -> Severity | None:
    """In a soup of many vegetables these are untested rather than barred."""
    return Severity.UNTESTED if case.family == "soup" else None


def _puree(case: Case, part: Part) -> bool:
    return case.product in ("fruit-puree", "fruit-baby-food") or case.family == "fruit-butter" or _mashed(case, part)


@rule(
    id="fruit-puree-bar",
    says="Low-acid fruit and tomato have no puree process.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def low_acid_fruit_is_not_pureed(case: Case) -> Iterator[Finding | Note]:
    if case.family in GEL_FAMILIES - {"fruit-butter"}:
        return
    for part in case.parts:
        tomato = is_tomato(part) and case.product in ("fruit-puree", "fruit-baby-food")
        if (tomato or is_low_acid_fruit(part)) and _puree(case, part) and not as_tested(case, part):
            yield Finding(f"No puree process covers {part.name}.", "Freeze the puree in rigid containers.", part.where)


@rule(
    id="white-peach-bar",
    says="White-flesh peaches and nectarines are not canned in any form.",
    severity=Severity.UNSAFE,
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


@rule(
    id="elderberry-bar",
    says="Dark elderberry fruit, juice and syrup are not canned.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def elderberries_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.parts:
        elderberry = part.group == "elderberry" or named(part, "elderberry", "elderberries", "elderberry syrup")
        if elderberry and not said(part, "blue") and not _weighed_jam(case):
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
)
@on_the_shelf
def ripe_mango_is_not_canned(case: Case) -> Iterator[Finding | Note]:
    if case.product == "mango-sauce":
        return
    for part in case.in_group("mango-ripe"):
        if is_low_acid_fruit(part):
            yield Finding(
                "Ripe mango is too low in acid; its ripeness must be stated.",
                "Freeze or dry the ripe fruit, or start again with green fruit.",
                part.where,
            )


@rule(
    id="melon-banana-bar",
    says="Melon, banana, coconut, papaya, persimmon and date have no plain canned product.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def melon_and_banana_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.parts:
        date = part.ingredient is not None and part.ingredient.id == "date"
        if not (part.group in MELONS_AND_KIN or date) or as_tested(case, part):
            continue
        if is_main(case, part) or case.tested is None:
            yield Finding(
                f"No process is published for {part.name}.",
                "Freeze the fruit, or use a tested rind pickle or preserve.",
                part.where,
            )


@rule(
    id="pureed-veg-meat-bar",
    says="Pureed vegetables, meat and poultry are not canned.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def vegetables_and_meat_are_not_pureed(case: Case) -> Iterator[Finding | Note]:
    if case.family in ITS_OWN_FORMULA:
        return
    for part in case.of(Role.VEGETABLE, Role.LEGUME, Role.MEAT, Role.FISH, Role.UNKNOWN):
        if (_mashed(case, part) or named(part, "baby food")) and not as_tested_form(case, part):
            yield Finding(
                f"No time has been worked out for pureed {part.name}.",
                "Can it in pieces; puree it at serving.",
                part.where,
            )


def as_tested_form(case: Case, part: Part) -> bool:
    """Whether the tested recipe lists this ingredient, prepared the same way."""
    return as_tested(case, part) and not any(
        difference.part is not None and difference.part.where == part.where for difference in case.differs("form")
    )


@rule(
    id="bread-cake-jar-bar",
    says="Bread or cake baked in a jar is not stored on the shelf.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def cake_is_not_canned(case: Case) -> Iterator[Finding | Note]:
    flour = case.in_group("flour")
    rising = case.in_group("baking-soda", "egg") or case.of(Role.EGG)
    cake = _in_title(case, "bread", "cake", "muffin", "brownie", "cupcake")
    mixes = [
        part for part in case.parts if named(part, "cake mix", "batter", "bread dough", "muffin mix", "brownie mix")
    ]
    for part in (*mixes, *(flour if rising or cake else ())):
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


@rule(
    id="poor-candidate-vegetables",
    says="Cabbage, broccoli, cauliflower, eggplant, cucumbers, lettuce, artichokes and olives have no plain process.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def poor_candidates_are_pickled(case: Case) -> Iterator[Finding | Note]:
    if _pickled(case) or is_ferment(case):
        return
    for part in case.parts:
        known = part.ingredient.id if part.ingredient else ""
        grouped = part.group in POOR_CANDIDATES and known != "kohlrabi"
        poor = grouped or known == "lettuce" or named(part, "lettuce", "artichoke", "olive")
        if poor and not as_tested(case, part):
            yield Finding(
                f"No plain process is published for {part.name}.",
                "Use a tested pickle recipe, or freeze the vegetable.",
                part.where,
                severity=_in_soup(case),
            )


@rule(
    id="mashed-dense-bar",
    says="Mashed potato, refried beans, hummus and other dense pastes are not canned.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def dense_pastes_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.parts:
        dense = part.group in ("potato", "sweet-potato", "dry-bean", "canned-bean", "shell-bean", "snap-bean", "pea")
        paste = part.group == "mashed-bean" or named(
            part, "hummus", "refried bean", "mashed potato", "bean dip", "bean paste"
        )
        if paste or (dense and (_mashed(case, part) or _in_title(case, "hummus", "refried"))):
            yield Finding(
                "A dense paste heats too slowly to be canned.",
                "Can the beans or potatoes in pieces and mash them when serving.",
                part.where,
            )


def _foreign(case: Case, part: Part) -> bool:
    """Whether this doesn't belong into the plain pack of the product."""
    if part.role in BESIDE_ANY_FOOD or part.group in COVERING_LIQUIDS or is_meat_seasoning(case, part):
        return part.group == "no-calorie-sweetener"
    foods = PLAIN_FOODS.get(case.product or "")
    if foods is not None:
        return part.group not in foods and not as_tested(case, part)
    if case.product in ("fruit-puree", "fruit-baby-food"):
        return part.role is not Role.FRUIT
    return part.role in (Role.UNKNOWN, Role.DAIRY, Role.EGG, Role.FAT, Role.GRAIN, Role.THICKENER, Role.NUT)


@rule(
    id="own-mixture-default",
    says="A mixture that no tested recipe matches is refrigerated or frozen.",
    severity=Severity.UNTESTED,
)
@on_the_shelf
def own_mixtures_are_untested(case: Case) -> Iterator[Finding | Note]:
    salsa = case.family == "salsa"
    days = SALSA_REFRIGERATE_DAYS if salsa else f"{REFRIGERATE_DAYS_LOW} to {REFRIGERATE_DAYS_HIGH}"
    fix = f"Refrigerate it for {days} days, freeze it, or follow a tested recipe."
    if is_plain_pack(case):
        for part in case.parts:
            if _foreign(case, part):
                yield Finding(
                    f"{part.name.capitalize()} isn't part of the plain pack that was tested.", fix, part.where
                )
        return
    if case.tested is None:
        yield Finding("No tested recipe matches this mixture.", fix)
        return
    for difference in not_allowed(case):
        if case.family in GEL_FAMILIES and difference.kind == "form":
            continue
        yield Finding(f"Not as tested: {difference.says}.", fix, where(difference))


CANNED = ("canned", "factory-canned", "tinned", "from a can")


def _is_canned(part: Part) -> bool:
    amount = part.line.amount if part.line else None
    in_a_can = amount is not None and amount.unit.name == "can"
    known = part.ingredient is not None and part.ingredient.id.endswith("-canned")
    return known or in_a_can or said(part, *CANNED)


@rule(
    id="recanning-bar",
    says="Food from factory-sealed cans or jars is not canned again.",
    severity=Severity.UNSAFE,
)
@on_the_shelf
def canned_food_is_not_canned_again(case: Case) -> Iterator[Finding | Note]:
    for part in case.parts:
        if not _is_canned(part) or part.group in ("tomato-paste", "fruit-juice", "juice-concentrate"):
            continue
        if is_main(case, part) and not as_tested_form(case, part):
            yield Finding(
                "Canned food has no process for canning it again.",
                "Keep the opened food refrigerated and use it within days, or freeze it.",
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
    own_mixtures_are_untested,
    canned_food_is_not_canned_again,
)
