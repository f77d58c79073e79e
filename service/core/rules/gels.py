"""What rules ask of a spread: its pectin and sugar, the order of its work, and how it differs from the tested one."""

import re
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_CUP
from service.core.rules.batch_size import gelled
from service.core.rules.case import AnyFood, Case, Difference, Part, Role
from service.core.rules.findings import Finding, Measured
from service.core.rules.reading import GEL_FAMILIES, said, where

HARD_BOIL_SECONDS = 60
HARD_BOIL_SECONDS_LOW = 50  # a working tolerance, not published
HARD_BOIL_SECONDS_HIGH = 90  # likewise

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
REDUCED_SUGAR_PRODUCT = "reduced-sugar-fruit-spread"

NO_CALORIES = (
    "sucralose", "stevia", "saccharin", "aspartame", "erythritol", "xylitol", "monk fruit", "artificial sweetener",
    "sugar substitute", "sweetener",
)  # fmt: skip


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
    other_fruit = any(found.part in fruits_of(case) for found in case.differs("added", "swapped")) or any(
        found.tested is not None and found.tested.role in (Role.FRUIT, Role.TOMATO) for found in case.differs("missing")
    )
    near = other_fruit or pectins(case) != {tested.recipe.pectin}
    return f"the nearest tested recipe ({tested.recipe.title})" if near else "the tested recipe"


def unlike_tested(case: Case, difference: Difference, message: str, limit: Measured | None = None) -> Finding:
    """A finding about an amount that isn't the tested one; what is printed is the way out."""
    return Finding(
        message=message,
        fix=f"Use what is printed: {difference.tested.as_written}."
        if difference.tested
        else f"Leave it out; {the_tested(case)} has none.",
        where=where(difference),
        measured=ratio_to_tested(difference),
        limit=limit or AS_TESTED,
    )


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


def ratio_to_tested(difference: Difference) -> Measured | None:
    return Measured(difference.ratio, "times the tested amount") if difference.ratio else None


AS_TESTED = Measured(Bounds.exactly(1), "times the tested amount")
AT_LEAST_TESTED = Measured(Bounds(Fraction(1), None), AS_TESTED.unit)


# The order of work. Steps are words such as "pectin", "sugar", "boil-hard-1-min".


def places(case: Case, *words: str) -> list[int]:
    return [
        index
        for index, step in enumerate(case.steps)
        if any(step == word or step.startswith(f"{word}-") for word in words)
    ]


def boils(case: Case, after: int, before: int | None = None) -> list[int]:
    return [place for place in places(case, "boil") if after < place and (before is None or place < before)]


def steps_as_tested(case: Case) -> bool:
    """Whether the work is the tested recipe's own, made with the pectin that it was written for."""
    return case.tested is not None and case.steps == case.tested.recipe.steps and pectins(case) == {tested_pectin(case)}


_BOIL = re.compile(r"boil(?:-hard)?-(\d+)(?:-(?:to-)?(\d+))?-(min|sec)")


def seconds_of(step: str) -> Bounds | None:
    """How long a step such as "boil-hard-1-min" boils; None where it doesn't say."""
    found = _BOIL.fullmatch(step)
    if found is None:
        return None
    each = 60 if found[3] == "min" else 1
    return Bounds(Fraction(int(found[1]) * each), Fraction(int(found[2] or found[1]) * each))


def timed_boils(case: Case) -> list[int]:
    """Every boil that pectin and sugar have together; off the heat, the sugar's boil before the pectin."""
    pectin, sugar = places(case, "pectin"), places(case, "sugar", "sweetener")
    if not pectin or not sugar:
        return []
    together = boils(case, max(pectin[-1], sugar[-1]))
    return together or (boils(case, sugar[-1], pectin[0]) if LIQUID in pectins(case) else [])


def is_jelly_without_pectin(case: Case) -> bool:
    return case.family == "jelly" and gelled(case) and pectins(case) == {NONE}


def fruits_of(case: Case) -> tuple[Part, ...]:
    """Fruit and fruit juice; not juice that is there for its acid."""
    juices = ("fruit-juice", "juice-concentrate", "other-juice", "elderberry")
    return tuple(part for part in case.parts if part.role in (Role.FRUIT, Role.TOMATO) or part.group in juices)
