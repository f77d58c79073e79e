"""Whether a spread sets and keeps: sugar, pectin, acid, and the order in which they go into the pot."""

import re
from collections.abc import Iterable, Iterator
from fractions import Fraction

from service.core.measures.amounts import as_fraction
from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_CUP, ML_PER_PINT, ML_PER_TABLESPOON, ML_PER_TEASPOON
from service.core.rules.batch_size import GELLED, gelled
from service.core.rules.case import AnyFood, Case, Difference, Part, Role
from service.core.rules.equipment import dark_elderberries, is_dark_elderberry, weighed
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.reading import GEL_FAMILIES, in_millilitres, is_acid, mentions, said, saying, where
from service.core.rules.scope import Scope

HARD_BOIL_SECONDS = 60
HARD_BOIL_SECONDS_LOW = 50  # a working tolerance, not published
HARD_BOIL_SECONDS_HIGH = 90  # likewise
DEGREES_OVER_BOILING_MAX_F = 9
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
GEL_PH_HIGH = Fraction(35, 10)
FINISHED_SOLIDS = Fraction(55, 100)
BOIL_OFF_ADDED_PECTIN_HIGH = Fraction(14, 100)
BOIL_OFF_NO_PECTIN_HIGH = Fraction(32, 100)
ACID_MULTIPLE_MAX = Fraction(3, 2)
SET_JUICE_ML = 2 * ML_PER_TABLESPOON
SET_JUICE_PER_FRUIT_CUPS = {"apricot": Fraction(9, 2), "peach": Fraction(6)}  # 2 tbsp to this many crushed cups

NONE, POWDER, LIQUID, LOW_SUGAR, CALCIUM_SET, BULK, UNSAID = (
    "none", "regular-powder", "regular-liquid", "low-sugar", "calcium-set", "bulk-powder", "kind not said",
)  # fmt: skip
PECTIN_OF_GROUP = {
    "regular-powder-pectin": POWDER,
    "liquid-pectin": LIQUID,
    "low-sugar-pectin": LOW_SUGAR,
    "calcium-set-pectin": CALCIUM_SET,
    "bulk-pectin": BULK,
}
REGULAR = frozenset({POWDER, LIQUID, BULK, UNSAID})
MODIFIED = frozenset({LOW_SUGAR, CALCIUM_SET})
PLAIN_WORDS = {
    NONE: "no pectin",
    POWDER: "regular powdered pectin",
    LIQUID: "liquid pectin",
    LOW_SUGAR: "low-sugar pectin",
    CALCIUM_SET: "calcium-set pectin",
    BULK: "bulk powdered pectin",
    UNSAID: "pectin of no stated kind",
}
PRODUCTS_WITHOUT_PECTIN = frozenset({"jam-no-added-pectin", "jelly-no-added-pectin"})
PRODUCTS_WITH_PECTIN = frozenset({"jam-or-jelly-with-pectin"})
REDUCED_SUGAR_PRODUCT = "reduced-sugar-fruit-spread"

NO_CALORIES = (
    "sucralose", "stevia", "saccharin", "aspartame", "erythritol", "xylitol", "monk fruit", "artificial sweetener",
    "sugar substitute", "sweetener",
)  # fmt: skip
LIQUID_SWEETENERS = ("honey", "corn-syrup", "syrup")
SWEETENED = ("sweetened", "in syrup", "sugar-packed", "sugar packed", "syrup-packed", "with sugar", "in heavy syrup",
             "in light syrup", "sugared", "presweetened", "pre-sweetened")  # fmt: skip
OVERRIPE = ("overripe", "over-ripe")
WEAKENED = ("frozen", "thawed", "bought", "store-bought", "canned", "bottled", "concentrate", "reconstituted")
PREPARED = (
    "crushed", "ground", "chopped", "mashed", "sliced", "cut", "diced", "juice", "juiced", "pulp", "puree", "pureed",
    "sieved", "strained", "grated", "shredded", "blended", "quartered", "pressed",
)  # fmt: skip
PUREED = ("puree", "pureed", "blended")


def spread(case: Case) -> bool:
    return case.family in GEL_FAMILIES


def pectins(case: Case) -> frozenset[str]:
    """The kinds of pectin that go in; `NONE` alone where none does."""
    kinds = {PECTIN_OF_GROUP.get(part.group, UNSAID) for part in case.of(Role.PECTIN)}
    return frozenset(kinds or {NONE})


def regular(case: Case) -> bool:
    return bool(pectins(case) & REGULAR)


def modified(case: Case) -> bool:
    return bool(pectins(case) & MODIFIED)


def tested_pectin(case: Case) -> str | None:
    return case.tested.recipe.pectin if case.tested else None


def the_tested(case: Case) -> str:
    """The recipe that this one is held against: by its title where it is of another fruit or pectin, and only near."""
    tested = case.tested
    if tested is None or tested.named:
        return "the tested recipe"
    other_fruit = any(found.part in _fruits(case) for found in case.differs("added", "swapped")) or any(
        found.tested is not None and found.tested.role in (Role.FRUIT, Role.TOMATO) for found in case.differs("missing")
    )
    near = other_fruit or pectins(case) != {tested.recipe.pectin}
    return f"the nearest tested recipe ({tested.recipe.title})" if near else "the tested recipe"


def _unlike(case: Case, difference: Difference, message: str, limit: Measured | None = None) -> Finding:
    """A finding about an amount that isn't the tested one; what is printed is the way out."""
    return Finding(
        message=message,
        fix=f"Use what is printed: {difference.tested.as_written}."
        if difference.tested
        else f"Leave it out; {the_tested(case)} has none.",
        where=where(difference),
        measured=_of_tested(difference),
        limit=limit or AS_TESTED,
    )


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def is_sugar(part: AnyFood | None) -> bool:
    """A sweetener that is sugar to a gel: not one without calories."""
    return part is not None and part.role is Role.SWEETENER and not without_calories(part)


def without_calories(part: AnyFood) -> bool:
    sweet = part.role in (Role.SWEETENER, Role.UNKNOWN)
    return part.group == "no-calorie-sweetener" or (sweet and part.ingredient is None and said(part, *NO_CALORIES))


def sugars(case: Case) -> tuple[Part, ...]:
    return case.those(is_sugar)


def cups(value: Bounds) -> Measured:
    return Measured(value / ML_PER_CUP, "cups")


def _sugar_cut(case: Case) -> tuple[Difference, ...]:
    """Sugar that the tested recipe has and this one lacks, unless honey or syrup makes up for it cup for cup."""
    cut = tuple(found for found in case.differs("less", "missing") if is_sugar(found.tested))
    if not cut or case.tested is None:
        return cut
    instead = [
        found.part
        for found in case.differs("added", "more", "swapped")
        if found.part is not None and found.part.group in ("honey", "corn-syrup")
    ]
    if not instead:
        return cut
    needed = in_millilitres(part for part in case.tested.parts if is_sugar(part)) * case.tested.scale
    present = in_millilitres(part for part in case.parts if is_sugar(part) and part.millilitres is not None)
    return () if needed.high is not None and present.low >= needed.high else cut


def _low_sugar_way(case: Case) -> str:
    """The tested recipe with little sugar for this fruit, if there is one; else the pectin that has its own."""
    fruits = {part.group for part in case.of(Role.FRUIT)} - {""}
    for recipe in case.facts.tested_recipes:
        little = recipe.product == REDUCED_SUGAR_PRODUCT or recipe.pectin.startswith(LOW_SUGAR)
        if little and any(mentions(recipe.title, fruit) for fruit in fruits):
            return f"for less sugar make {recipe.title}, with its own longer process"
    return "for less sugar use low- or no-sugar pectin, with its own tested recipe and process"


def _lacking(case: Case, difference: Difference) -> str:
    name = difference.tested.name if difference.tested else "sugar"
    if difference.kind == "missing" or difference.ratio is None or difference.ratio.high is None:
        return f"The {name} of {the_tested(case)} is missing or isn't measured."
    return f"There is {float(difference.ratio.high):.0%} of the {name} in {the_tested(case)}."


def _printed(difference: Difference) -> str:
    return difference.tested.as_written if difference.tested else "as printed"


def _of_tested(difference: Difference) -> Measured | None:
    return Measured(difference.ratio, "times the tested amount") if difference.ratio else None


AS_TESTED = Measured(Bounds.exactly(1), "times the tested amount")
AT_LEAST_TESTED = Measured(Bounds(Fraction(1), None), AS_TESTED.unit)
AT_MOST_TESTED = Measured(Bounds(Fraction(0), Fraction(1)), AS_TESTED.unit)


@rule(
    "regular-pectin-sugar-floor",
    "Regular pectin sets with all the sugar of its tested recipe.",
    Severity.SET_FAILURE,
    scope=Scope(families=GEL_FAMILIES, roles=(Role.PECTIN,)),
    skipped_for_tested_formula=True,
)
def regular_pectin_gets_its_sugar(case: Case) -> Iterator[Finding | Note]:
    if not spread(case) or not regular(case):
        return
    if not sugars(case) and case.tested is None:
        yield Finding(
            message="Regular pectin doesn't set without sugar.",
            fix=f"Use a tested recipe with its sugar, or {_low_sugar_way(case)}.",
        )
    for difference in _sugar_cut(case):
        yield Finding(
            message=f"{_lacking(case, difference)} Regular pectin won't set with less.",
            fix=f"Put in what is printed ({_printed(difference)}), or {_low_sugar_way(case)}.",
            where=where(difference),
            measured=_of_tested(difference),
            limit=AT_LEAST_TESTED,
        )


@rule(
    "low-sugar-spoilage",
    "A spread with less sugar than tested moulds on the shelf.",
    Severity.SPOILAGE,
    scope=Scope(families=GEL_FAMILIES, changed=True),
    skipped_for_tested_formula=True,
)
def cut_sugar_keeps_badly(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf or not spread(case) or modified(case) or case.product == REDUCED_SUGAR_PRODUCT:
        return
    for difference in _sugar_cut(case):
        yield Finding(
            message=f"{_lacking(case, difference)} With less, yeast and mould can grow on the shelf.",
            fix=f"Put in what is printed ({_printed(difference)}), or refrigerate or freeze; {_low_sugar_way(case)}.",
            where=where(difference),
            measured=_of_tested(difference),
            limit=AT_LEAST_TESTED,
        )


def _pectin_parts(case: Case) -> str | None:
    parts = case.of(Role.PECTIN)
    return parts[0].where if parts else None


@rule(
    "pectin-type-must-match",
    "The pectin is of the kind and amount that was tested.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
)
def pectin_is_the_tested_kind(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case) or case.same_as_tested:
        return
    used, needed = pectins(case), tested_pectin(case)
    if UNSAID in used:
        yield Finding(
            message="Which pectin this is isn't said, and each kind sets in its own way.",
            fix="Say whether it is regular powder, liquid, low-sugar or calcium-set pectin.",
            where=_pectin_parts(case),
        )
        return
    if needed is None:
        without = case.product in PRODUCTS_WITHOUT_PECTIN and used != {NONE}
        if without or (case.product in PRODUCTS_WITH_PECTIN and used == {NONE}):
            yield Finding(
                message="The published product and the pectin in the list don't belong together.",
                fix="Name the product that was tested with this pectin, or change the pectin.",
                where=_pectin_parts(case),
            )
        return
    if used != {needed} and not {needed, *used} <= {POWDER, LIQUID}:
        yield Finding(
            message=f"{_first_upper(the_tested(case))} takes {PLAIN_WORDS.get(needed, needed)}; here is "
            f"{' and '.join(PLAIN_WORDS[kind] for kind in sorted(used))}.",
            fix="Use the pectin that the recipe names, or a recipe written for the pectin in hand.",
            where=_pectin_parts(case),
        )
    elif used == {needed}:
        for difference in case.differs("less", "more", "form", "missing"):
            if difference.tested is not None and difference.tested.role is Role.PECTIN:
                yield _unlike(case, difference, f"The pectin isn't the amount that was tested: {difference.says}.")


@rule(
    "liquid-powder-not-interchangeable",
    "Liquid and powdered pectin don't stand for each other.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
)
def liquid_stays_liquid(case: Case) -> Iterator[Finding | Note]:
    used, needed = pectins(case), tested_pectin(case)
    if not gelled(case) or case.same_as_tested or needed not in (POWDER, LIQUID):
        return
    if used != {needed} and used <= {POWDER, LIQUID}:
        other = POWDER if needed == LIQUID else LIQUID
        yield Finding(
            message=f"{_first_upper(the_tested(case))} takes {PLAIN_WORDS[needed]}, and {PLAIN_WORDS[other]} "
            "can't stand for it at any ratio: it goes in at another point and wants other amounts.",
            fix=f"Use {PLAIN_WORDS[needed]}, or a tested recipe for {PLAIN_WORDS[other]}.",
            where=_pectin_parts(case),
        )


# The order of work. Steps are words such as "pectin", "sugar", "boil-hard-1-min".


def _places(case: Case, *words: str) -> list[int]:
    return [
        index
        for index, step in enumerate(case.steps)
        if any(step == word or step.startswith(f"{word}-") for word in words)
    ]


def _boils(case: Case, after: int, before: int | None = None) -> list[int]:
    return [place for place in _places(case, "boil") if after < place and (before is None or place < before)]


def _orders_pectin(case: Case, kind: str) -> bool:
    """Whether the order of this pectin has to be judged: there are steps, and not just those that were tested."""
    return gelled(case) and kind in pectins(case) and bool(case.steps) and not _steps_as_tested(case)


def _steps_as_tested(case: Case) -> bool:
    """Whether the work is the tested recipe's own, made with the pectin that it was written for."""
    return case.tested is not None and case.steps == case.tested.recipe.steps and pectins(case) == {tested_pectin(case)}


def _order_not_told(case: Case) -> Iterator[Finding]:
    if not _places(case, "pectin") or not _places(case, "sugar", "sweetener"):
        yield Finding(
            message="The steps don't say when pectin and sugar go into the pot, and the set rests on it.",
            fix="Name the steps in order, with pectin, sugar and boil.",
            where="#/steps",
        )


@rule(
    "powder-pectin-order",
    "Powdered pectin boils with the fruit before the sugar goes in.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, roles=(Role.PECTIN,)),
)
def powder_goes_in_before_sugar(case: Case) -> Iterator[Finding | Note]:
    if not (_orders_pectin(case, POWDER) or _orders_pectin(case, BULK)):
        return
    unknown = list(_order_not_told(case))
    yield from unknown
    if unknown:
        return
    pectin, sugar = _places(case, "pectin"), _places(case, "sugar", "sweetener")
    if not _boils(case, pectin[-1], sugar[0]):
        yield Finding(
            message="Powdered pectin has to boil with the fruit before any sugar goes in.",
            fix="Fruit and powder to a full boil, all the sugar at once, then boil hard 1 minute.",
            where="#/steps",
        )


@rule(
    "liquid-pectin-order",
    "Liquid pectin goes in after fruit and sugar have boiled hard.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, roles=(Role.PECTIN,)),
)
def liquid_goes_in_after_the_sugar_boil(case: Case) -> Iterator[Finding | Note]:
    if not _orders_pectin(case, LIQUID):
        return
    unknown = list(_order_not_told(case))
    yield from unknown
    if unknown:
        return
    pectin, sugar = _places(case, "pectin"), _places(case, "sugar", "sweetener")
    before = _boils(case, sugar[-1], pectin[0])
    timed_before = [place for place in before if _seconds(case.steps[place]) is not None]
    if not before or (timed_before and _boils(case, pectin[-1])):
        yield Finding(
            message="Liquid pectin goes in after fruit and sugar have boiled hard, and boils a minute once: before it "
            "(jams) or after it (jellies).",
            fix="Jam: fruit and sugar, boil hard 1 minute, off the heat, pectin. Jelly: juice and sugar to a full "
            "boil, pectin, boil hard 1 minute.",
            where="#/steps",
        )


_BOIL = re.compile(r"boil(?:-hard)?-(\d+)(?:-(?:to-)?(\d+))?-(min|sec)")


def _seconds(step: str) -> Bounds | None:
    """How long a step such as "boil-hard-1-min" boils; None where it doesn't say."""
    found = _BOIL.fullmatch(step)
    if found is None:
        return None
    each = 60 if found[3] == "min" else 1
    return Bounds(Fraction(int(found[1]) * each), Fraction(int(found[2] or found[1]) * each))


def _timed_boil(case: Case) -> list[int]:
    """Every boil that pectin and sugar have together; off the heat, the sugar's boil before the pectin."""
    pectin, sugar = _places(case, "pectin"), _places(case, "sugar", "sweetener")
    if not pectin or not sugar:
        return []
    together = _boils(case, max(pectin[-1], sugar[-1]))
    return together or (_boils(case, sugar[-1], pectin[0]) if LIQUID in pectins(case) else [])


@rule(
    "hard-boil-one-minute",
    "Jam and jelly with added pectin boil hard for 1 minute.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED, roles=(Role.PECTIN,)),
)
def added_pectin_boils_one_minute(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case) or not regular(case):
        return
    boiled = case.handling.boil_minutes
    if boiled is not None:
        lasted: Bounds | None = Bounds.exactly(Fraction(str(boiled)) * 60)
    elif not case.steps or _steps_as_tested(case):
        return
    else:
        timed = [found for place in _timed_boil(case) if (found := _seconds(case.steps[place])) is not None]
        lasted = timed[0] if timed else None
    allowed = Bounds(Fraction(HARD_BOIL_SECONDS_LOW), Fraction(HARD_BOIL_SECONDS_HIGH))
    if lasted is None or not allowed.contains(lasted):
        yield Finding(
            message="How long pectin and sugar boil together isn't said."
            if lasted is None
            else "The full rolling boil lasts 1 minute: shorter doesn't set, longer breaks the pectin down.",
            fix="Boil hard 1 minute by the clock, at a boil that stirring doesn't stop.",
            where="#/steps" if boiled is None else "#/handling/boil_minutes",
            measured=Measured(lasted, "seconds") if lasted else None,
            limit=Measured(allowed, "seconds"),
        )


@rule(
    "calcium-for-low-methoxyl",
    "Calcium-set pectin sets with its calcium.",
    Severity.SET_FAILURE,
    scope=Scope(families=GEL_FAMILIES, roles=(Role.PECTIN,)),
)
def calcium_set_pectin_gets_calcium(case: Case) -> Iterator[Finding | Note]:
    if not spread(case) or CALCIUM_SET not in pectins(case):
        return
    if all(part.role is Role.PECTIN for part in saying(case, "calcium", "calcium water")):
        yield Finding(
            message="Calcium-set pectin doesn't set without calcium.",
            fix="Add the calcium water that its recipe lists.",
            where=_pectin_parts(case),
        )


@rule(
    "modified-pectin-own-recipe",
    "Low-sugar pectin is used in its own tested recipe.",
    Severity.SPOILAGE,
    scope=Scope(families=GEL_FAMILIES, roles=(Role.PECTIN,)),
)
def low_sugar_pectin_has_its_own_recipe(case: Case) -> Iterator[Finding | Note]:
    own = (tested_pectin(case) or "").startswith((LOW_SUGAR, CALCIUM_SET)) and case.same_as_tested
    if spread(case) and modified(case) and not own:
        yield Finding(
            message="Fruit, acid and time of low- or no-sugar pectin come from that pectin's own tested recipe only.",
            fix="Follow the recipe that was tested with this pectin, process included.",
            where=_pectin_parts(case),
        )


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
            fix=f"Use {as_fraction(Fraction(caution))} cups of honey, {most} at the very most, and sugar for the rest.",
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


def _jelly_without_pectin(case: Case) -> bool:
    return case.family == "jelly" and gelled(case) and pectins(case) == {NONE}


@rule(
    "jelly-no-pectin-sugar-ratio",
    "Jelly without added pectin takes 2/3 to 1 cup of sugar for a cup of juice.",
    Severity.SET_FAILURE,
    scope=Scope(families=("jelly",)),
    skipped_for_tested_formula=True,
)
def jelly_without_pectin_keeps_its_ratio(case: Case) -> Iterator[Finding | Note]:
    if not _jelly_without_pectin(case):
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


def _fruits(case: Case) -> tuple[Part, ...]:
    """Fruit and fruit juice; not juice that is there for its acid."""
    juices = ("fruit-juice", "juice-concentrate", "other-juice", "elderberry")
    return tuple(part for part in case.parts if part.role in (Role.FRUIT, Role.TOMATO) or part.group in juices)


def _fruit_changed(case: Case) -> bool:
    """Whether the fruit is another than the nearest tested recipe's, or none is near."""
    changed = case.differs("added", "swapped", "form")
    return case.tested is None or any(found.part in _fruits(case) for found in changed)


@rule(
    "jelly-no-pectin-fruit",
    "Jelly without added pectin is made of fruit that is rich in pectin, not of bought juice.",
    Severity.SET_FAILURE,
    scope=Scope(families=("jelly",)),
    skipped_for_tested_formula=True,
)
def jelly_without_pectin_needs_rich_fruit(case: Case) -> Iterator[Finding | Note]:
    if not _jelly_without_pectin(case) or not _fruit_changed(case):
        return
    for part in _fruits(case):
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
    fruits = _fruits(case)
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
    for part in _fruits(case):
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
            yield _unlike(case, difference, message, AT_LEAST_TESTED)
    if case.tested is None and pectins(case) == {NONE}:
        yield from _low_acid_fruit_gets_juice(case)


def _low_acid_fruit_gets_juice(case: Case) -> Iterator[Finding]:
    acid, fruit_cups = in_millilitres(case.those(is_acid)), case.prepared_fruit_cups
    for part in _fruits(case):
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
            yield _unlike(case, difference, message, allowed)


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
    for part in _fruits(case):
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
            yield _unlike(case, difference, message, AT_MOST_TESTED)
    for difference in case.differs("less", "missing"):
        tested = difference.tested
        if tested is not None and tested.role in (Role.FRUIT, Role.TOMATO, Role.LIQUID):
            message = f"With less {tested.name} than in {the_tested(case)} there is too much sugar for it, and it may"
            yield _unlike(case, difference, f"{message} crystallise.", AT_LEAST_TESTED)


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
    if not gelled(case) or not case.steps or _steps_as_tested(case):
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
    together = [found for place in _timed_boil(case) if (found := _seconds(case.steps[place])) is not None]
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


@rule("remake-soft-powder", "Soft jelly is remade 4 to 6 cups at a time, with listed additions.", Severity.SET_FAILURE)
def soft_jelly_is_remade_as_listed(case: Case) -> Iterator[Finding | Note]:
    soft = saying(case, "jelly", "jam")
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
    regular_pectin_gets_its_sugar,
    cut_sugar_keeps_badly,
    pectin_is_the_tested_kind,
    liquid_stays_liquid,
    powder_goes_in_before_sugar,
    liquid_goes_in_after_the_sugar_boil,
    added_pectin_boils_one_minute,
    calcium_set_pectin_gets_calcium,
    low_sugar_pectin_has_its_own_recipe,
    sugar_is_not_replaced_by_sweetener,
    sweetener_spreads_stay_cold,
    gelatin_spreads_stay_cold,
    honey_with_pectin_is_limited,
    honey_without_pectin_is_limited,
    corn_syrup_is_limited,
    liquid_sweeteners_replace_juice,
    jelly_without_pectin_keeps_its_ratio,
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
