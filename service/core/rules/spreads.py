"""Whether a spread sets and keeps: its fruit, acid and solids, and how it is cooked."""

import re
from collections.abc import Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_CUP, ML_PER_TABLESPOON, ML_PER_TEASPOON
from service.core.rules.batch_size import GELLED, gelled
from service.core.rules.case import AnyFood, Case, Difference, Part, Role
from service.core.rules.equipment import dark_elderberries, is_dark_elderberry, weighed
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.gels import (
    AS_TESTED,
    AT_LEAST_TESTED,
    HARD_BOIL_SECONDS,
    HARD_BOIL_SECONDS_HIGH,
    LIQUID,
    NONE,
    REDUCED_SUGAR_PRODUCT,
    cups,
    fruits_of,
    is_jelly_without_pectin,
    is_sugar,
    modified,
    pectins,
    regular,
    seconds_of,
    spread,
    steps_as_tested,
    the_tested,
    timed_boils,
    unlike_tested,
)
from service.core.rules.reading import GEL_FAMILIES, in_millilitres, is_acid, mentions, said
from service.core.rules.scope import Scope

DEGREES_OVER_BOILING_MAX_F = 9
GEL_PH_HIGH = Fraction(35, 10)
FINISHED_SOLIDS = Fraction(55, 100)
BOIL_OFF_ADDED_PECTIN_HIGH = Fraction(14, 100)
BOIL_OFF_NO_PECTIN_HIGH = Fraction(32, 100)
ACID_MULTIPLE_MAX = Fraction(3, 2)
SET_JUICE_ML = 2 * ML_PER_TABLESPOON
SET_JUICE_PER_FRUIT_CUPS = {"apricot": Fraction(9, 2), "peach": Fraction(6)}  # 2 tbsp to this many crushed cups
SWEETENED = ("sweetened", "in syrup", "sugar-packed", "sugar packed", "syrup-packed", "with sugar", "in heavy syrup",
             "in light syrup", "sugared", "presweetened", "pre-sweetened")  # fmt: skip
OVERRIPE = ("overripe", "over-ripe")
WEAKENED = ("frozen", "thawed", "bought", "store-bought", "canned", "bottled", "concentrate", "reconstituted")
PREPARED = (
    "crushed", "ground", "chopped", "mashed", "sliced", "cut", "diced", "juice", "juiced", "pulp", "puree", "pureed",
    "sieved", "strained", "grated", "shredded", "blended", "quartered", "pressed",
)  # fmt: skip
PUREED = ("puree", "pureed", "blended")
AT_MOST_TESTED = Measured(Bounds(Fraction(0), Fraction(1)), AS_TESTED.unit)


def _fruit_changed(case: Case) -> bool:
    """Whether the fruit is another than the nearest tested recipe's, or none is near."""
    changed = case.differs("added", "swapped", "form")
    return case.tested is None or any(found.part in fruits_of(case) for found in changed)


@rule(
    "jelly-no-pectin-fruit",
    "Jelly without added pectin is made of fruit that is rich in pectin, not of bought juice.",
    Severity.SET_FAILURE,
    scope=Scope(families=("jelly",)),
    skipped_for_tested_formula=True,
)
def jelly_without_pectin_needs_rich_fruit(case: Case) -> Iterator[Finding | Note]:
    if not is_jelly_without_pectin(case) or not _fruit_changed(case):
        return
    for part in fruits_of(case):
        poor = part.ingredient is None or part.ingredient.pectin_class != "high"
        if said(part, *WEAKENED) or poor:
            yield Finding(
                message="This fruit or juice has too little pectin of its own to set."
                if part.ingredient
                else "Whether this fruit has pectin enough to set can't be told.",
                fix="Use tart apples, crab apples, currants, Concord grapes or quinces, or add pectin by its recipe.",
                where=part.where,
            )


@rule(
    "hm-gel-ph-window",
    "Regular pectin sets between pH 2.8 and 3.5.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
    skipped_for_tested_formula=True,
)
def regular_pectin_needs_acid(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case) or modified(case) or any(is_acid(part) or part.group == "citrus" for part in case.parts):
        return
    fruits = fruits_of(case)
    mild = [part for part in fruits if part.ingredient and part.ingredient.ph and part.ingredient.ph.low > GEL_PH_HIGH]
    if fruits and len(mild) == len(fruits):
        yield Finding(
            message="This fruit is too mild to set without added acid.",
            fix="Add the lemon juice that a tested recipe for this fruit lists.",
            where=mild[0].where,
            limit=Measured(Bounds(Fraction(28, 10), GEL_PH_HIGH), "pH"),
        )


@rule(
    "hm-gel-solids",
    "A finished jam or jelly is more than 55 percent soluble solids.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
    skipped_for_tested_formula=True,
)
def spreads_reach_their_solids(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case) or case.family == "conserve" or modified(case) or case.product == REDUCED_SUGAR_PRODUCT:
        return
    boil_off = BOIL_OFF_NO_PECTIN_HIGH if pectins(case) == {NONE} else BOIL_OFF_ADDED_PECTIN_HIGH
    solids = case.soluble_solids
    if solids is None:
        if case.tested is None:
            yield Finding(
                message="How much sugar this spread is can't be told, so neither can its set.",
                fix="Give every amount in cups, spoons or by weight.",
            )
    elif solids.low / (1 - boil_off) < FINISHED_SOLIDS:
        yield Finding(
            message="Even boiled down as far as such spreads are, this one may be too thin to set.",
            fix="Put the sugar of a tested recipe in.",
            measured=Measured(solids * 100, "percent solids before the boil"),
            limit=Measured(Bounds(FINISHED_SOLIDS * (1 - boil_off) * 100, None), "percent solids before the boil"),
        )


@rule(
    "fruit-too-ripe",
    "Overripe, thawed and bought fruit has too little pectin and acid to set alone.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
    skipped_for_tested_formula=True,
)
def fruit_is_not_overripe(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case):
        return
    weak = WEAKENED if pectins(case) == {NONE} and _fruit_changed(case) else ()
    for part in fruits_of(case):
        if said(part, *OVERRIPE, *weak):
            yield Finding(
                message="Pectin and acid of this fruit are weaker than the recipe was tested with.",
                fix="Use firm ripe fruit, or a tested recipe with added pectin and the lemon juice it lists.",
                where=part.where,
            )


@rule(
    "acid-for-set",
    "A spread keeps the lemon juice that its recipe lists.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
    skipped_for_tested_formula=True,
)
def spreads_keep_their_acid(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case):
        return
    for difference in case.differs("missing", "less", "swapped"):
        tested = difference.tested
        replaced = difference.part is not None and is_acid(difference.part) and difference.kind == "swapped"
        enough = replaced and difference.ratio is not None and difference.ratio.low >= 1
        if tested is not None and is_acid(tested) and not enough:
            message = f"Without all of its {tested.name} this spread may not set."
            yield unlike_tested(case, difference, message, AT_LEAST_TESTED)
    if case.tested is None and pectins(case) == {NONE}:
        yield from _low_acid_fruit_gets_juice(case)


def _low_acid_fruit_gets_juice(case: Case) -> Iterator[Finding]:
    acid, fruit_cups = in_millilitres(case.those(is_acid)), case.prepared_fruit_cups
    for part in fruits_of(case):
        for group, each in SET_JUICE_PER_FRUIT_CUPS.items():
            if group not in part.group:
                continue
            most = fruit_cups.high if fruit_cups else None
            if most is None or acid.low < SET_JUICE_ML * most / each:
                yield Finding(
                    message="This fruit is low in acid and needs lemon juice to set.",
                    fix=f"Add 2 tablespoons of lemon juice for each {float(each):.3g} cups of crushed fruit.",
                    where=part.where,
                )


@rule(
    "acid-too-high-weep",
    "A gel weeps with much more acid than was tested.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, changed=True),
    skipped_for_tested_formula=True,
)
def gels_are_not_over_acid(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case):
        return
    for difference in case.differs("more", "added"):
        ratio = difference.ratio
        much = ratio is None or ratio.high is None or ratio.high > ACID_MULTIPLE_MAX
        if difference.part is not None and is_acid(difference.part) and much:
            allowed = Measured(Bounds(Fraction(1), ACID_MULTIPLE_MAX), AS_TESTED.unit)
            message = f"So much more acid than {the_tested(case)} has makes the gel weep."
            yield unlike_tested(case, difference, message, allowed)


def _is_sweetened(part: AnyFood) -> bool:
    return said(part, *SWEETENED)


@rule(
    "presweetened-fruit-count",
    "Sugar already in the fruit counts as sugar of the recipe.",
    Severity.SET_FAILURE,
    scope=Scope(families=GEL_FAMILIES, kinds=(_is_sweetened,)),
)
def sugar_in_the_fruit_counts(case: Case) -> Iterator[Finding | Note]:
    if not spread(case) or case.same_as_tested:
        return
    tested = case.tested.parts if case.tested else ()
    for part in fruits_of(case):
        printed = any(_is_sweetened(other) for other in tested if other.group == part.group)
        if _is_sweetened(part) and not printed:
            yield Finding(
                message="This fruit brings sugar of its own, and how much isn't counted.",
                fix="Use unsweetened fruit, or take its sugar off the recipe's.",
                where=part.where,
            )


@rule(
    "sugar-excess-crystals",
    "More sugar than tested crystallises.",
    Severity.QUALITY,
    scope=Scope(families=GEL_FAMILIES, changed=True),
    skipped_for_tested_formula=True,
)
def sugar_is_not_raised(case: Case) -> Iterator[Finding | Note]:
    if not spread(case):
        return
    for difference in case.differs("more", "added"):
        if is_sugar(difference.part) and not _replaces_sugar(case, difference):
            message = f"There is more sugar than in {the_tested(case)}; it may crystallise."
            yield unlike_tested(case, difference, message, AT_MOST_TESTED)
    for difference in case.differs("less", "missing"):
        tested = difference.tested
        if tested is not None and tested.role in (Role.FRUIT, Role.TOMATO, Role.LIQUID):
            message = f"With less {tested.name} than in {the_tested(case)} there is too much sugar for it, and it may"
            yield unlike_tested(case, difference, f"{message} crystallise.", AT_LEAST_TESTED)


def _replaces_sugar(case: Case, added: Difference) -> bool:
    """Whether this sweetener stands in the place of sugar that was cut."""
    cut = any(is_sugar(found.tested) for found in case.differs("less", "missing"))
    return cut and added.kind == "added"


@rule(
    "prepared-fruit-measure",
    "Fruit is measured as prepared: crushed, chopped or juiced.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, roles=(Role.FRUIT,)),
    skipped_for_tested_formula=True,
)
def fruit_is_measured_prepared(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case):
        return
    for part, tested in _beside_tested(case):
        if part.line is None or part.line.amount is None or not part.line.amount.unit.measured or weighed(part):
            continue
        wants = case.family == "jam" if tested is None else said(tested, *PREPARED)
        fine = said(part, *PREPARED) or mentions(part.group, "fruit-juice", "other-juice")
        pureed = said(part, *PUREED) and tested is not None and not said(tested, *PUREED)
        if (wants and not fine) or pureed:
            yield Finding(
                message="Pureed fruit isn't crushed fruit: it sets otherwise."
                if pureed
                else "A cup of whole fruit is less fruit than a cup of crushed; how it was measured isn't said.",
                fix="Crush or chop the fruit one layer at a time, then measure it.",
                where=part.where,
            )


def _beside_tested(case: Case) -> Iterator[tuple[Part, Part | None]]:
    """Each fruit with the tested recipe's fruit of the same group, where it has one."""
    tested = case.tested.parts if case.tested else ()
    for part in case.of(Role.FRUIT):
        yield part, next((other for other in tested if other.group == part.group), None)


@rule(
    "overcook-pectin",
    "Boiling past the stated time or point spoils the set.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
)
def spreads_are_not_overcooked(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case) or not case.steps or steps_as_tested(case):
        return
    for step in case.steps:
        over = re.fullmatch(r"boil-to-(\d{1,3})F-over-boiling", step)
        if over is not None and int(over[1]) > DEGREES_OVER_BOILING_MAX_F:
            yield Finding(
                message="Boiled so far past the jelling point, a spread turns tough and dark.",
                fix="Stop at 8 F over boiling water for jelly, 9 F for other spreads.",
                where="#/steps",
                measured=Measured(Bounds.exactly(int(over[1])), "F over boiling water"),
                limit=Measured(Bounds(Fraction(0), Fraction(DEGREES_OVER_BOILING_MAX_F)), "F over boiling water"),
            )
    together = [found for place in timed_boils(case) if (found := seconds_of(case.steps[place])) is not None]
    total = Bounds.total(together)
    if regular(case) and len(together) > 1 and total.high is not None and total.high > HARD_BOIL_SECONDS_HIGH:
        yield Finding(
            message="Pectin and sugar boil together more than once, and longer than a minute in all.",
            fix="Boil them hard once, for 1 minute.",
            where="#/steps",
            measured=Measured(total, "seconds"),
            limit=Measured(Bounds.exactly(HARD_BOIL_SECONDS), "seconds"),
        )


REMADE = "remade-soft-jelly"
REMAKE_JELLY_CUPS = 4
REMAKE_POT_CUPS_MAX = 6
# For each 4 cups of jelly, in millilitres: with powder, and with liquid pectin.
REMAKE_POWDER_ML = {
    Role.SWEETENER: ML_PER_CUP / 4,
    Role.LIQUID: ML_PER_CUP / 2,
    Role.ACID: 2 * ML_PER_TABLESPOON,
    Role.PECTIN: 4 * ML_PER_TEASPOON,
}
REMAKE_LIQUID_ML = {
    Role.SWEETENER: 3 * ML_PER_CUP / 4,
    Role.ACID: 2 * ML_PER_TABLESPOON,
    Role.PECTIN: 2 * ML_PER_TABLESPOON,
}


def _is_soft_spread(part: AnyFood) -> bool:
    return said(part, "jelly", "jam")


@rule(
    "remake-soft-powder",
    "Soft jelly is remade 4 to 6 cups at a time, with listed additions.",
    Severity.SET_FAILURE,
    scope=Scope(products=(REMADE,)) | Scope(kinds=(_is_soft_spread,)),
)
def soft_jelly_is_remade_as_listed(case: Case) -> Iterator[Finding | Note]:
    soft = case.those(_is_soft_spread)
    if case.product != REMADE and not (soft and mentions(case.recipe.title, "remade", "remake", "remaking")):
        return
    jelly = in_millilitres(soft)
    fix = "Work in rounds of 4 to 6 cups with the listed additions, new lids and a full process."
    if jelly.high is None or not soft or jelly.high > REMAKE_POT_CUPS_MAX * ML_PER_CUP:
        yield Finding(
            message="How much jelly goes into the pot can't be told, or is more than 6 cups.",
            fix=fix,
            where=soft[0].where if soft else None,
        )
        return
    listed = REMAKE_LIQUID_ML if LIQUID in pectins(case) else REMAKE_POWDER_ML
    for role, each_ml in listed.items():
        needed = each_ml * jelly.high / (REMAKE_JELLY_CUPS * ML_PER_CUP)
        added = in_millilitres(part for part in case.of(role) if part not in soft)
        if added.low < needed:
            yield Finding(
                message=f"Too little {role.value} for so much soft jelly, or none that can be measured.",
                fix=fix,
                measured=cups(added),
                limit=Measured(Bounds(needed / ML_PER_CUP, None), "cups"),
            )


@rule(
    "elderberry-by-weight",
    "Dark elderberry spreads follow a tested recipe, weighed, sugar uncut.",
    Severity.UNSAFE,
    scope=Scope(families=GEL_FAMILIES, kinds=(is_dark_elderberry,)),
)
def elderberry_spreads_follow_a_tested_recipe(case: Case) -> Iterator[Finding | Note]:
    dark = dark_elderberries(case)
    if case.on_the_shelf and spread(case) and dark and not case.same_as_tested:
        yield Finding(
            message="Dark elderberries aren't safely acid; only their weight in sugar keeps them, as tested.",
            fix="Follow a tested elderberry recipe by weight, sugar in full, or freeze the spread.",
            where=dark[0].where,
        )


RULES: tuple[Rule, ...] = (
    jelly_without_pectin_needs_rich_fruit,
    regular_pectin_needs_acid,
    spreads_reach_their_solids,
    fruit_is_not_overripe,
    spreads_keep_their_acid,
    gels_are_not_over_acid,
    sugar_in_the_fruit_counts,
    sugar_is_not_raised,
    fruit_is_measured_prepared,
    spreads_are_not_overcooked,
    soft_jelly_is_remade_as_listed,
    elderberry_spreads_follow_a_tested_recipe,
)
