"""Changes to a tested recipe that publications allow: said in a note, and no finding.

Each is named after the statement that allows it. What none of them allows makes a mixture of one's own.
"""

from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import lru_cache

from service.core.measures.bounds import Bounds
from service.core.measures.units import GRAMS_PER_OUNCE, ML_PER_QUART, ML_PER_TABLESPOON, ML_PER_TEASPOON
from service.core.rules.case import Case, Difference, Part, Role
from service.core.rules.formula import is_fruit
from service.core.rules.nearest import FINE, SHRUNK, STATE_WORDS
from service.core.rules.reading import (
    ACIDIFIED_FAMILIES,
    GEL_FAMILIES,
    ONIONS_AND_PEPPERS,
    PICKLED_FAMILIES,
    SALTS,
    is_acid,
    is_citrus_juice,
    is_ferment,
    is_low_acid_fruit,
    is_low_acid_vegetable,
    is_mashed,
    is_vinegar,
    ml_per_quart,
    rows,
    said,
    total_raised,
)

SMALL_CAN_GRAMS = 6 * GRAMS_PER_OUNCE  # "a small can" of tomato paste; common practice, no source
# The published text gives no figure for a seasoning of onion or garlic: a working limit of ours, as is a clove a quart.
MEAT_SEASONING_ML_PER_QUART = 2 * ML_PER_TABLESPOON
MEAT_SEASONINGS = ("onion", "garlic")
# No figure is published for a normal amount of spice: working limits of ours, above those of every tested recipe.
SPICE_ML_PER_QUART = 4 * ML_PER_TABLESPOON
SPICE_GRAMS = 4 * GRAMS_PER_OUNCE  # in a pot of no stated jars
SUGAR_IS_FREE_IN = frozenset({"fruit", "juice", "tomato", "salsa", "pickle", "relish"})
# Set rules judge these in a spread; more or less of them makes no mixture of one's own.
JUDGED_BY_SET_RULES = frozenset({Role.FRUIT, Role.SWEETENER, Role.PECTIN, Role.ACID})
BLISTERED = frozenset({"roasted", "grilled"})
FIRMING = frozenset({"firming-agent", "pickling-lime"})
# Makers of calcium chloride print a quarter teaspoon a quart (from memory); up to twice as much is a working limit of
# ours, for alum too, which is no longer needed.
FIRMING_ML_PER_QUART = ML_PER_TEASPOON / 2
LIQUIDS_OF_A_SPREAD = frozenset({"water", "fruit-juice", "juice-concentrate", "butter"})


def salt_is_flavour(case: Case, difference: Difference) -> bool:
    """Salt cut, left out or of another kind, where nothing ferments."""
    tested, part = difference.tested, difference.part
    if is_ferment(case) or tested is None or tested.group not in SALTS or _is_brined_for_days(case):
        return False
    other_kind = difference.kind in ("form", "swapped") and part is not None and part.role is Role.SALT
    return difference.kind in ("missing", "less") or other_kind


def _is_brined_for_days(case: Case) -> bool:
    """Whether salt keeps the food while it stands for days: only for quick pickles it is flavour."""
    steps = case.tested.recipe.steps if case.tested is not None else ()
    return any(step.startswith("brine-soak") and step.endswith("-days") for step in steps)


def is_too_much_spice(case: Case, part: Part) -> bool:
    """Whether this is more than a seasoning: published is only that dry spices may vary "in normal amounts"."""
    if part.role is not Role.SPICE or part.line is None or not part.measured:
        return False
    amount = ml_per_quart(case, part) if part.millilitres is not None else None
    if amount is not None:
        return amount.high is None or amount.high > SPICE_ML_PER_QUART
    most = part.grams.high if part.grams is not None else None
    return most is not None and most > SPICE_GRAMS


def spice_is_flavour(case: Case, difference: Difference) -> bool:
    """Dried herbs and spices varied or left out; mustard from the jar is a sauce."""
    sides = (difference.part, difference.tested)
    more = difference.kind in ("added", "more", "swapped")
    if more and difference.part is not None and is_too_much_spice(case, difference.part):
        return False
    return all(part is None or (part.role is Role.SPICE and part.group != "mustard") for part in sides)


def sugar_is_sweetness(case: Case, difference: Difference) -> bool:
    """Sugar changed where it doesn't keep or set the food; sweeteners without calories aren't sugar."""
    sides = (difference.part, difference.tested)
    if case.family not in SUGAR_IS_FREE_IN or is_ferment(case):
        return False
    return all(part is None or (part.role is Role.SWEETENER and part.group != "no-calorie-sweetener") for part in sides)


def pepper_for_pepper(case: Case, difference: Difference) -> bool:
    """Any pepper for any other in a salsa, the total of peppers no larger."""
    return case.family == "salsa" and _within_total(case, difference, "pepper")


def onion_for_onion(case: Case, difference: Difference) -> bool:
    """Red, white or yellow onion for one another in a salsa; for peppers only inside a total printed for both."""
    tested, part = case.tested, difference.part
    if case.family != "salsa" or tested is None or (part is not None and _is_another_onion(part, difference.tested)):
        return False
    if any(part.group == "onion-and-pepper" for part in tested.parts):
        return _within_total(case, difference, *ONIONS_AND_PEPPERS)
    return _within_total(case, difference, "onion")


def _is_another_onion(part: Part, tested: Part | None) -> bool:
    """Whether it is a leek, a shallot or a green onion that isn't printed."""
    as_printed = tested is not None and part.ingredient is tested.ingredient
    return part.group == "onion" and part.ingredient is not None and part.ingredient.id != "onion" and not as_printed


def _within_total(case: Case, difference: Difference, *groups: str) -> bool:
    if case.tested is None or not all(
        part is None or part.group in groups for part in (difference.part, difference.tested)
    ):
        return False
    if difference.kind == "form" and difference.part is not None and _may_fill_closer(difference.part):
        return False
    return not total_raised(case.tested, case.tested.differences, lambda part: part.group in groups)


def _may_fill_closer(part: Part) -> bool:
    """Whether a cup of it may hold more than one of the raw pieces; peppers are blistered to be peeled."""
    others = STATE_WORDS - BLISTERED if part.group == "pepper" else STATE_WORDS
    return is_mashed(part) or said(part, *others, *FINE, *SHRUNK)


def green_for_red(case: Case, difference: Difference) -> bool:
    """Green tomatoes or tomatillos for red tomatoes in a salsa, never the reverse."""
    tested, part = difference.tested, difference.part
    if case.family != "salsa" or tested is None or part is None or tested.group != "tomato":
        return False
    green = part.group == "tomatillo" or (part.ingredient is not None and part.ingredient.id == "tomato-green")
    return green and difference.ratio is not None and difference.ratio.low >= 1


def a_little_paste(case: Case, difference: Difference) -> bool:
    """A small can of tomato paste in a salsa."""
    part = difference.part
    if case.family != "salsa" or difference.kind != "added" or part is None or part.group != "tomato-paste":
        return False
    return part.grams is not None and part.grams.high is not None and part.grams.high <= SMALL_CAN_GRAMS


def fewer_vegetables(case: Case, difference: Difference) -> bool:
    """Low-acid vegetables cut in an acidified recipe, nothing low-acid in their place."""
    tested = difference.tested
    if case.family not in ACIDIFIED_FAMILIES or difference.kind not in ("missing", "less") or tested is None:
        return False
    return (
        is_low_acid_vegetable(tested)
        and case.tested is not None
        and not total_raised(case.tested, case.tested.differences, is_low_acid_vegetable)
    )


def more_acid(case: Case, difference: Difference) -> bool:
    """More of the acid, or another of the same strength, where acid keeps the food."""
    part, tested = difference.part, difference.tested
    if part is None or not is_acid(part) or case.family not in ACIDIFIED_FAMILIES:
        return False
    if tested is None or difference.kind == "more":
        return True
    alike = (is_vinegar(part) and is_vinegar(tested)) or (is_citrus_juice(part) and is_citrus_juice(tested))
    return alike and difference.ratio is not None and difference.ratio.low >= 1


def juice_for_vinegar(case: Case, difference: Difference) -> bool:
    """Bottled lemon or lime juice for vinegar in a salsa, cup for cup; never the reverse."""
    if case.family != "salsa" or difference.tested is None or not is_vinegar(difference.tested):
        return False
    if difference.part is not None and not is_acid(difference.part):
        return False
    return enough_juice_for_vinegar(case)


def enough_juice_for_vinegar(case: Case) -> bool:
    """Whether juice beyond the tested recipe's makes up for all the vinegar that is missing."""
    if case.tested is None:
        return False
    scale = case.tested.scale
    ours = [part for part in case.parts if not part.optional]
    printed = case.tested.parts
    vinegar, vinegar_left = _millilitres(printed, is_vinegar), _millilitres(ours, is_vinegar)
    juice_tested, juice = _millilitres(printed, is_citrus_juice), _millilitres(ours, is_citrus_juice)
    if scale.high is None or not (vinegar and vinegar_left and juice_tested and juice):
        return False
    needed = vinegar[1] * scale.high - vinegar_left[0]
    return needed <= juice[0] - juice_tested[1] * scale.high


def _millilitres(parts: Iterable[Part], wanted: Callable[[Part], bool]) -> tuple[Fraction, Fraction] | None:
    """The least and the most that parts of this kind come to; None where one can't be told."""
    low = high = Fraction(0)
    for part in filter(wanted, parts):
        if part.millilitres is None or part.millilitres.high is None:
            return None
        low, high = low + part.millilitres.low, high + part.millilitres.high
    return low, high


def less_water_or_food(case: Case, difference: Difference) -> bool:
    """Less water or less of the vegetable under the same vinegar."""
    tested = difference.tested
    if case.family not in PICKLED_FAMILIES or difference.kind not in ("missing", "less") or tested is None:
        return False
    return tested.group in ("water", "tomatillo", "tomato") or is_low_acid_vegetable(tested)


def firming_agent(case: Case, difference: Difference) -> bool:
    """A firming salt or lime soak left out, or as much as makers say used in pickles; colour kept or not."""
    part = difference.part
    if part is not None and part.group in FIRMING and case.family not in PICKLED_FAMILIES:
        return False
    if difference.kind in ("added", "more", "swapped") and part is not None and part.group == "firming-agent":
        amounts = [ml_per_quart(case, each) for each in case.in_group("firming-agent")]
        most = Bounds.total(Bounds(Fraction(0), None) if each is None else each for each in amounts).high
        if most is None or most > FIRMING_ML_PER_QUART:
            return False
    return all(
        part is None or part.group in ("ascorbic-acid", "colouring") or part.group in FIRMING
        for part in (difference.part, difference.tested)
    )


def less_thickener_or_fat(case: Case, difference: Difference) -> bool:
    """Less starch, flour, oil or butter than tested heats no slower."""
    tested = difference.tested
    return (
        tested is not None
        and difference.kind in ("missing", "less")
        and tested.role in (Role.THICKENER, Role.FAT)
        and tested.group != "gelatin"
    )


def fruit_for_fruit(case: Case, difference: Difference) -> bool:
    """One high-acid fruit for another in a spread: a matter of set."""
    part, tested = difference.part, difference.tested
    if case.family not in GEL_FAMILIES:
        return False
    if part is None and tested is not None and is_fruit(tested) and not any(is_fruit(other) for other in case.parts):
        return False  # without any fruit it's no spread
    for side in (part, tested):
        if side is None:
            continue
        of_the_set = side.role in JUDGED_BY_SET_RULES or side.group in LIQUIDS_OF_A_SPREAD
        if not of_the_set or is_low_acid_fruit(side):
            return False
    return True


def poured_off(difference: Difference) -> bool:
    """Water of a soak that never reaches the jar."""
    return any(
        part is not None
        and part.group == "water"
        and any(word in " ".join(part.form) for word in ("soak", "poured off", "drained off", "brining"))
        for part in (difference.part, difference.tested)
    )


def is_plain_meat(case: Case) -> bool:
    """Whether rows are printed for the meat or fish alone."""
    return any(row.family in ("meat", "fish") and row.covers == "plain-pack" for row in rows(case))


def is_meat_seasoning(case: Case, part: Part) -> bool:
    """Whether this is a little onion or garlic in plainly canned meat."""
    if part.group not in MEAT_SEASONINGS or not is_plain_meat(case):
        return False
    cloves, jars = part.count, case.jars_millilitres
    if part.group == "garlic" and cloves is not None:
        return jars is not None and cloves.high is not None and cloves.high <= jars.low / ML_PER_QUART
    amount = ml_per_quart(case, part)
    return amount is not None and amount.high is not None and amount.high <= MEAT_SEASONING_ML_PER_QUART


def a_little_seasoning(case: Case, difference: Difference) -> bool:
    """A little onion or garlic added to plainly canned meat."""
    part = difference.part
    return difference.kind == "added" and part is not None and is_meat_seasoning(case, part)


ALLOWANCES = {
    "salt-optional": salt_is_flavour,
    "dry-spice-change": spice_is_flavour,
    "canning-liquid-sugar-ok": sugar_is_sweetness,
    "salsa-pepper-swap": pepper_for_pepper,
    "salsa-onion-swap": onion_for_onion,
    "salsa-tomato-swap": green_for_red,
    "salsa-thicken": a_little_paste,
    "low-acid-cut-ok": fewer_vegetables,
    "meat-seasoning-small": a_little_seasoning,
    "salsa-acid-one-way": juice_for_vinegar,
    "acid-never-cut": more_acid,
    "vinegar-to-water-ratio-fixed": less_water_or_food,
    "lime-and-lye-reset": firming_agent,
    "thickener-bar": less_thickener_or_fat,
    "fruit-swap-acid-class": fruit_for_fruit,
}


def allowance(case: Case, difference: Difference) -> str | None:
    """The statement that allows this difference; None where none does."""
    told = _allowances(case)
    return told[id(difference)] if id(difference) in told else _allowance(case, difference)


@lru_cache(maxsize=64)
def _allowances(case: Case) -> dict[int, str | None]:
    """What allows each difference of a case: a dozen rules ask it of the same ones."""
    differences = case.tested.differences if case.tested else ()
    return {id(difference): _allowance(case, difference) for difference in differences}


def _allowance(case: Case, difference: Difference) -> str | None:
    if poured_off(difference):
        return "vinegar-to-water-ratio-fixed"
    return next((name for name, allows in ALLOWANCES.items() if allows(case, difference)), None)


@lru_cache(maxsize=64)
def not_allowed(case: Case) -> tuple[Difference, ...]:
    """Every difference from the tested recipe that no publication allows."""
    if case.tested is None:
        return ()
    return tuple(found for found in case.tested.differences if allowance(case, found) is None)
