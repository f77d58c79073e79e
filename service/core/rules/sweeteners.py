"""How much sugar a spread takes, and what may stand for it: honey, syrup, sweeteners, gelatin."""

from collections.abc import Iterable, Iterator
from fractions import Fraction

from service.core.measures.amounts import as_fraction
from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_CUP, ML_PER_PINT, ML_PER_TABLESPOON
from service.core.rules.batch_size import GELLED, gelled
from service.core.rules.case import Case, Part, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.gels import (
    LIQUID,
    LOW_SUGAR,
    NONE,
    cups,
    is_jelly_without_pectin,
    modified,
    pectins,
    regular,
    spread,
    sugars,
    tested_pectin,
    without_calories,
)
from service.core.rules.reading import GEL_FAMILIES, in_millilitres, said
from service.core.rules.scope import Scope

HONEY_CUPS_MAX = 2
HONEY_CUPS_CAUTION = 1  # an older service's figure
HONEY_CUPS_MAX_SMALL_BATCH = 1
HONEY_CUPS_CAUTION_SMALL_BATCH = Fraction(3, 4)
SMALL_BATCH_HALF_PINTS = 6
SYRUP_SHARE_POWDER = Fraction(1, 2)
SYRUP_SHARE_NO_PECTIN_JAM_OR_JELLY = Fraction(1, 4)
SYRUP_SHARE_NO_PECTIN_OTHER = Fraction(1, 2)
SYRUP_CUPS_LIQUID_PECTIN = 2
JUICE_OUT_TBSP_PER_QUARTER_CUP = 1
JELLY_SUGAR_PER_JUICE_LOW = Fraction(2, 3)
JELLY_SUGAR_PER_JUICE_HIGH = Fraction(1)
LIQUID_SWEETENERS = ("honey", "corn-syrup", "syrup")


@rule(
    "no-calorie-sweetener-in-regular",
    "Sweeteners without calories don't replace sugar in a gel.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, kinds=(without_calories,)),
)
def sugar_is_not_replaced_by_sweetener(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case) or case.same_as_tested or modified(case):
        return
    for part in case.those(without_calories):
        yield Finding(
            message="This sweetener binds no water, so the spread neither sets nor keeps.",
            fix="Use a no-sugar pectin recipe that lists the sweetener, or sweeten when serving.",
            where=part.where,
        )


@rule(
    "sweetener-spread-refrigerate",
    "A spread without sugar, only sweetener, is kept cold.",
    Severity.SPOILAGE,
    scope=Scope(families=GEL_FAMILIES, kinds=(without_calories,)),
)
def sweetener_spreads_stay_cold(case: Case) -> Iterator[Finding | Note]:
    own = (tested_pectin(case) or "").startswith(LOW_SUGAR) and case.same_as_tested
    if case.on_the_shelf and spread(case) and case.has(without_calories) and not sugars(case) and not own:
        yield Finding(
            message="Nothing in this spread keeps mould away on a shelf.",
            fix="Keep it in the refrigerator or freezer.",
            where="#/handling/storage",
        )


@rule(
    "gelatin-spread-refrigerate",
    "A spread set with gelatin is kept cold.",
    Severity.SPOILAGE,
    scope=Scope(groups=("gelatin",)),
)
def gelatin_spreads_stay_cold(case: Case) -> Iterator[Finding | Note]:
    for part in case.in_group("gelatin"):
        if case.on_the_shelf:
            yield Finding(
                message="Gelatin melts in the canner and doesn't set again, and the spread doesn't keep on a shelf.",
                fix="Refrigerate it and use it within a month, or set it with low-sugar pectin by its own recipe.",
                where=part.where,
            )


def _small_batch(case: Case) -> bool:
    """Whether the batch makes 5 or 6 half-pints; a yield that can't be told may be small."""
    made = case.jars_millilitres or case.yield_millilitres
    return made is None or made.low <= SMALL_BATCH_HALF_PINTS * ML_PER_PINT / 2


@rule(
    "honey-limit-added-pectin",
    "With added pectin honey replaces 2 cups of sugar at most, 1 cup in a small batch.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, groups=("honey",)),
    skipped_for_tested_formula=True,
)
def honey_with_pectin_is_limited(case: Case) -> Iterator[Finding | Note]:
    parts = case.in_group("honey")
    if not gelled(case) or not parts or not regular(case):
        return
    small = _small_batch(case)
    most: Fraction | int = HONEY_CUPS_MAX_SMALL_BATCH if small else HONEY_CUPS_MAX
    caution: Fraction | int = HONEY_CUPS_CAUTION_SMALL_BATCH if small else HONEY_CUPS_CAUTION
    honey = in_millilitres(parts)
    if honey.high is None or honey.high > caution * ML_PER_CUP:
        over = honey.high is None or honey.high > most * ML_PER_CUP
        yield Finding(
            message="This is more honey than regular pectin sets with."
            if over
            else "This is as much honey as the most generous publication allows; another stops sooner.",
            fix=f"Use {as_fraction(Fraction(caution))} {'cup' if caution <= 1 else 'cups'} of honey, {most} at the "
            "very most, and sugar for the rest.",
            where=parts[0].where,
            measured=cups(honey),
            limit=Measured(Bounds(Fraction(0), Fraction(most)), "cups"),
            severity=None if over else Severity.QUALITY,
        )


def _share_over(case: Case, parts: Iterable[Part], most: Fraction) -> bool:
    """Whether these may be more than this share of all the sugar, cup for cup."""
    chosen = tuple(parts)
    rest = in_millilitres(part for part in sugars(case) if part not in chosen)
    mine = in_millilitres(chosen)
    return mine.high is None or mine.high * (1 - most) > rest.low * most


@rule(
    "honey-limit-no-pectin",
    "Without added pectin honey replaces half of the sugar at most.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, groups=("honey",)),
    skipped_for_tested_formula=True,
)
def honey_without_pectin_is_limited(case: Case) -> Iterator[Finding | Note]:
    parts = case.in_group("honey")
    if gelled(case) and parts and pectins(case) == {NONE} and _share_over(case, parts, Fraction(1, 2)):
        yield Finding(
            message="Honey is more than half of the sugar, or may be.",
            fix="Use no more honey than sugar, cup for cup, and expect to boil longer.",
            where=parts[0].where,
            measured=cups(in_millilitres(parts)),
        )


@rule(
    "corn-syrup-limit",
    "Corn syrup replaces only part of the sugar.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, groups=("corn-syrup", "syrup")),
    skipped_for_tested_formula=True,
)
def corn_syrup_is_limited(case: Case) -> Iterator[Finding | Note]:
    parts = case.in_group("corn-syrup", "syrup")
    if not gelled(case) or not parts or modified(case):
        return
    kinds, syrup = pectins(case), in_millilitres(parts)
    if LIQUID in kinds:
        over = syrup.high is None or syrup.high > SYRUP_CUPS_LIQUID_PECTIN * ML_PER_CUP
        most = "2 cups"
    else:
        share = SYRUP_SHARE_POWDER
        if kinds == {NONE}:
            jam_or_jelly = case.family in ("jam", "jelly")
            share = SYRUP_SHARE_NO_PECTIN_JAM_OR_JELLY if jam_or_jelly else SYRUP_SHARE_NO_PECTIN_OTHER
        over, most = _share_over(case, parts, share), f"{share} of the sugar"
    unlisted = [part for part in parts if part.group == "syrup" or said(part, "dark")]
    if over or unlisted:
        yield Finding(
            message="This is more syrup than the spread sets with."
            if over
            else "Only light corn syrup was tested in the place of sugar.",
            fix=f"Use light corn syrup for {most} at most, and granulated sugar for the rest.",
            where=(unlisted or parts)[0].where,
            measured=cups(syrup),
        )


@rule(
    "liquid-sweetener-water",
    "Honey or syrup in place of sugar takes some juice out.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, groups=LIQUID_SWEETENERS, changed=True),
    skipped_for_tested_formula=True,
)
def liquid_sweeteners_replace_juice(case: Case) -> Iterator[Finding | Note]:
    tested = case.tested
    if tested is None or not gelled(case) or not regular(case) or pectins(case) == {NONE}:
        return
    sweet = [
        found.part
        for found in case.differs("added", "more", "swapped")
        if found.part is not None and found.part.group in LIQUID_SWEETENERS
    ]
    if not sweet:
        return
    wet = (Role.FRUIT, Role.TOMATO, Role.LIQUID)
    before = in_millilitres(part for part in tested.parts if part.role in wet) * tested.scale
    after = in_millilitres(part for part in case.parts if part.role in wet)
    added = in_millilitres(sweet)
    needed = added * Fraction(JUICE_OUT_TBSP_PER_QUARTER_CUP * 4 * ML_PER_TABLESPOON / ML_PER_CUP)
    if after.high is None or needed.high is None or before.low - after.high < needed.high:
        yield Finding(
            message="Honey and syrup bring water of their own, and no juice was left out for it.",
            fix="Leave out 1 to 2 tablespoons of juice for each 1/4 cup of honey or syrup.",
            where=sweet[0].where,
        )


@rule(
    "jelly-no-pectin-sugar-ratio",
    "Jelly without added pectin takes 2/3 to 1 cup of sugar for a cup of juice.",
    Severity.SET_FAILURE,
    scope=Scope(families=("jelly",)),
    skipped_for_tested_formula=True,
)
def jelly_without_pectin_keeps_its_ratio(case: Case) -> Iterator[Finding | Note]:
    if not is_jelly_without_pectin(case):
        return
    sugar, juice = in_millilitres(sugars(case)), case.prepared_fruit_cups
    allowed = Bounds(JELLY_SUGAR_PER_JUICE_LOW, JELLY_SUGAR_PER_JUICE_HIGH)
    ratio = sugar / (juice * ML_PER_CUP) if juice is not None and juice.low > 0 else None
    if ratio is None or not allowed.contains(ratio):
        yield Finding(
            message="How much sugar there is to a cup of juice can't be told."
            if ratio is None
            else "This isn't the sugar that juice sets with by itself.",
            fix="Use 3/4 cup of sugar for a cup of juice, up to 1 cup for crab apples and currants.",
            measured=Measured(ratio, "cups per cup of juice") if ratio else None,
            limit=Measured(allowed, "cups per cup of juice"),
        )


RULES: tuple[Rule, ...] = (
    sugar_is_not_replaced_by_sweetener,
    sweetener_spreads_stay_cold,
    gelatin_spreads_stay_cold,
    honey_with_pectin_is_limited,
    honey_without_pectin_is_limited,
    corn_syrup_is_limited,
    liquid_sweeteners_replace_juice,
    jelly_without_pectin_keeps_its_ratio,
)
