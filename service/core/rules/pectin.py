"""Whether pectin and sugar of a spread belong together: kind, amount, order and boil."""

from collections.abc import Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.rules.batch_size import GELLED, gelled
from service.core.rules.case import Case, Difference, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.gels import (
    AT_LEAST_TESTED,
    BULK,
    CALCIUM_SET,
    HARD_BOIL_SECONDS_HIGH,
    HARD_BOIL_SECONDS_LOW,
    LIQUID,
    LOW_SUGAR,
    NONE,
    POWDER,
    REDUCED_SUGAR_PRODUCT,
    UNSAID,
    boils,
    is_sugar,
    modified,
    pectins,
    places,
    ratio_to_tested,
    regular,
    seconds_of,
    spread,
    steps_as_tested,
    sugars,
    tested_pectin,
    the_tested,
    timed_boils,
    unlike_tested,
)
from service.core.rules.reading import GEL_FAMILIES, in_millilitres, mentions, saying, where
from service.core.rules.scope import Scope

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


def _first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]


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
            measured=ratio_to_tested(difference),
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
            measured=ratio_to_tested(difference),
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
                yield unlike_tested(
                    case, difference, f"The pectin isn't the amount that was tested: {difference.says}."
                )


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


def _orders_pectin(case: Case, kind: str) -> bool:
    """Whether the order of this pectin has to be judged: there are steps, and not just those that were tested."""
    return gelled(case) and kind in pectins(case) and bool(case.steps) and not steps_as_tested(case)


def _order_not_told(case: Case) -> Iterator[Finding]:
    if not places(case, "pectin") or not places(case, "sugar", "sweetener"):
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
    pectin, sugar = places(case, "pectin"), places(case, "sugar", "sweetener")
    if not boils(case, pectin[-1], sugar[0]):
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
    pectin, sugar = places(case, "pectin"), places(case, "sugar", "sweetener")
    before = boils(case, sugar[-1], pectin[0])
    timed_before = [place for place in before if seconds_of(case.steps[place]) is not None]
    if not before or (timed_before and boils(case, pectin[-1])):
        yield Finding(
            message="Liquid pectin goes in after fruit and sugar have boiled hard, and boils a minute once: before it "
            "(jams) or after it (jellies).",
            fix="Jam: fruit and sugar, boil hard 1 minute, off the heat, pectin. Jelly: juice and sugar to a full "
            "boil, pectin, boil hard 1 minute.",
            where="#/steps",
        )


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
    elif not case.steps or steps_as_tested(case):
        return
    else:
        timed = [found for place in timed_boils(case) if (found := seconds_of(case.steps[place])) is not None]
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
)
