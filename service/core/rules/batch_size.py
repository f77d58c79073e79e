"""Whether one pot holds one batch: gels are made as printed, not doubled or halved."""

from collections.abc import Iterator
from fractions import Fraction
from math import ceil, floor

from service.core.measures.amounts import as_fraction
from service.core.measures.bounds import Bounds
from service.core.rules.case import Case, Comparison, Difference, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.reading import GEL_FAMILIES, is_ferment
from service.core.rules.scope import OtherThan, Scope

SCALING_TOLERANCE = Fraction(2, 100)
JELLY_JUICE_CUPS_LOW = 4
JELLY_JUICE_CUPS_MAX = 6
NO_PECTIN_JUICE_CUPS_WARN = 6
NO_PECTIN_JUICE_CUPS_MAX = 8
JAM_FRUIT_CUPS_MAX = 6
BUTTER_PULP_CUPS_MAX = 4
GELLED = GEL_FAMILIES - {"fruit-butter"}
IN_THE_POT = (Role.FRUIT, Role.TOMATO, Role.VEGETABLE, Role.LIQUID)


def gelled(case: Case) -> bool:
    """Whether pectin and sugar have to set this spread; gelatin and the refrigerator are another matter."""
    return case.family in GELLED and not case.in_group("gelatin")


def times(factor: Fraction) -> str:
    """A factor as cooks say it: 2 times, 1.5 times."""
    return f"{float(factor):.3g} times"


def printed_amounts(tested: Comparison) -> str:
    return "; ".join(ingredient.line for ingredient in tested.recipe.ingredients if not ingredient.optional)


def split(scale: Fraction, tested: Comparison) -> str:
    """How to cook an oversized batch: so many pots as printed, and what is left over."""
    pots = round(scale) if abs(scale - round(scale)) <= scale * SCALING_TOLERANCE else floor(scale)
    each = printed_amounts(tested)
    if pots == 1:
        return f"Cook one pot as printed ({each}), and freeze the rest of the fruit for another day."
    left = "" if scale - pots <= scale * SCALING_TOLERANCE else " Freeze the rest of the fruit for another day."
    return f"Cook {pots} pots, one after the other, each as printed: {each}.{left}"


@rule(
    "no-double-batch",
    "Jam and jelly are cooked one batch at a time.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
)
def gels_are_not_doubled(case: Case) -> Iterator[Finding | Note]:
    tested = case.tested
    if tested is None or not gelled(case):
        return
    if tested.scale.high is None or tested.scale.high > 1 + SCALING_TOLERANCE:
        scale = tested.scale.high or tested.scale.low
        yield Finding(
            message=f"This is {times(scale)} the tested batch in one pot; it may not set, or scorch before it does.",
            fix=split(scale, tested),
            measured=Measured(tested.scale, "batches"),
            limit=Measured(Bounds.exactly(1), "batches"),
        )


@rule(
    "no-half-batch-with-package",
    "Jam and jelly made from packages aren't halved.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
)
def gels_are_not_halved(case: Case) -> Iterator[Finding | Note]:
    tested = case.tested
    if tested is None or not gelled(case) or case.in_group("bulk-pectin"):
        return
    if tested.scale.low < 1 - SCALING_TOLERANCE:
        yield Finding(
            message=f"This is {times(tested.scale.low)} the tested batch; part of a batch boils down too fast to set.",
            fix=f"Cook the full batch as printed: {printed_amounts(tested)}.",
            measured=Measured(tested.scale, "batches"),
            limit=Measured(Bounds.exactly(1), "batches"),
        )


def _over(cups: Bounds, limit: Fraction | int) -> bool:
    return cups.high is None or cups.high > limit


def _pots(cups: Bounds, each: Fraction | int) -> tuple[int, str]:
    """How many pots of at most `each` cups, and how much goes into one."""
    whole = cups.high if cups.high is not None else cups.low
    pots = max(ceil(whole / each), 1)
    return pots, as_fraction(Fraction(floor(whole / pots * 4), 4))


def _juice(
    case: Case, limit: int, low: int, severity: Severity | None = None, *, over: str, pot: int | None = None
) -> Iterator[Finding]:
    """Juice above a limit in one pot, divided into pots of `pot` cups at most where that is less."""
    cups = case.prepared_fruit_cups
    if cups is None:
        if case.tested is None:
            yield Finding(
                message="How many cups of juice go into the pot can't be told.",
                fix=f"Measure the juice in cups, {low} to {pot or limit} to a pot.",
            )
    elif _over(cups, limit):
        pots, each = _pots(cups, pot or limit)
        yield Finding(
            message=over,
            fix=f"Divide the juice into {pots} pots of {each} cups, each with its own sugar and pectin.",
            measured=Measured(cups, "cups"),
            limit=Measured(Bounds(Fraction(0), Fraction(limit)), "cups"),
            severity=severity,
        )


def _jelly(case: Case, *, pectin: bool) -> bool:
    return case.family == "jelly" and gelled(case) and bool(case.of(Role.PECTIN)) is pectin


@rule(
    "jelly-juice-cap-added-pectin",
    "Jelly with added pectin takes at most 6 cups of juice in a pot.",
    Severity.SET_FAILURE,
    scope=Scope(families=("jelly",)),
    skipped_for_tested_formula=True,
)
def jelly_pots_hold_six_cups(case: Case) -> Iterator[Finding | Note]:
    if _jelly(case, pectin=True):
        yield from _juice(
            case, JELLY_JUICE_CUPS_MAX, JELLY_JUICE_CUPS_LOW, over="More than 6 cups of juice in a pot may not set."
        )


@rule(
    "jelly-juice-cap-no-pectin",
    "Jelly without added pectin takes 6 to 8 cups of juice in a pot at most.",
    Severity.SET_FAILURE,
    scope=Scope(families=("jelly",)),
    skipped_for_tested_formula=True,
)
def jelly_pots_without_pectin_hold_six_to_eight_cups(case: Case) -> Iterator[Finding | Note]:
    if not _jelly(case, pectin=False):
        return
    cups = case.prepared_fruit_cups
    if cups is not None and not _over(cups, NO_PECTIN_JUICE_CUPS_MAX):
        over, severity = "More than 6 cups of juice is on the large side for one pot.", Severity.QUALITY
        yield from _juice(case, NO_PECTIN_JUICE_CUPS_WARN, JELLY_JUICE_CUPS_LOW, severity, over=over)
    else:
        over = "More than 8 cups of juice boils down too slowly to set."
        pot = NO_PECTIN_JUICE_CUPS_WARN
        yield from _juice(case, NO_PECTIN_JUICE_CUPS_MAX, JELLY_JUICE_CUPS_LOW, over=over, pot=pot)


def _more_in_the_pot(case: Case) -> tuple[Difference, ...]:
    """Fruit, juice or water beyond the tested recipe's."""
    return tuple(
        difference
        for difference in case.differs("more", "added")
        if difference.part is not None and difference.part.role in IN_THE_POT
    )


@rule(
    "jam-fruit-cap",
    "A pot of jam takes no more fruit than its tested recipe, and 6 cups where none says more.",
    Severity.SET_FAILURE,
    scope=Scope(families=GELLED),
    skipped_for_tested_formula=True,
)
def jam_pots_hold_the_tested_fruit(case: Case) -> Iterator[Finding | Note]:
    if not gelled(case) or case.is_scaled:
        return
    tested, cups = case.tested, case.prepared_fruit_cups
    for difference in _more_in_the_pot(case):
        assert difference.part is not None
        yield Finding(
            message=f"More {difference.part.name} goes into the pot than the tested recipe has, and it may not set.",
            fix=f"Take what is printed: {difference.tested.as_written}."
            if difference.tested
            else "Leave it out; the tested recipe has none.",
            where=difference.part.where,
            measured=Measured(difference.ratio, "times the tested amount") if difference.ratio else None,
        )
    if case.family == "jelly" or (tested is not None and tested.recipe.prepared_fruit_cups is not None):
        return
    if cups is None and tested is None:
        yield Finding(
            message="How much prepared fruit goes into the pot can't be told.",
            fix="Measure the prepared fruit in cups, 6 to a pot at most.",
        )
    elif cups is not None and tested is None and _over(cups, JAM_FRUIT_CUPS_MAX):
        pots, each = _pots(cups, JAM_FRUIT_CUPS_MAX)
        yield Finding(
            message="More than 6 cups of prepared fruit in a pot may not set.",
            fix=f"Divide the fruit into {pots} pots of {each} cups, each with its own sugar and pectin.",
            measured=Measured(cups, "cups"),
            limit=Measured(Bounds(Fraction(0), Fraction(JAM_FRUIT_CUPS_MAX)), "cups"),
        )


@rule(
    "fruit-butter-batch",
    "A pot of fruit butter takes no more pulp than its tested recipe, and 4 cups where none says more.",
    Severity.QUALITY,
    scope=Scope(families=("fruit-butter",)),
    skipped_for_tested_formula=True,
)
def butter_pots_are_small(case: Case) -> Iterator[Finding | Note]:
    if case.family != "fruit-butter":
        return
    tested = case.tested
    if tested is not None:
        fruit = _more_in_the_pot(case)
        if tested.scale.high is None or tested.scale.high > 1 + SCALING_TOLERANCE or fruit:
            yield Finding(
                message="A larger pot of fruit butter than the tested one sticks and scorches.",
                fix=split(tested.scale.high or tested.scale.low, tested),
                measured=Measured(tested.scale, "batches"),
                limit=Measured(Bounds.exactly(1), "batches"),
            )
        return
    cups = case.prepared_fruit_cups
    if cups is None or _over(cups, BUTTER_PULP_CUPS_MAX):
        yield Finding(
            message="More than 4 cups of pulp in a pot sticks and scorches."
            if cups
            else "How many cups of pulp go into the pot can't be told.",
            fix="Cook 4 cups of pulp at a time, in a heavy wide pan.",
            measured=Measured(cups, "cups") if cups else None,
            limit=Measured(Bounds(Fraction(0), Fraction(BUTTER_PULP_CUPS_MAX)), "cups"),
        )


@rule(
    "proportional-scaling-ok",
    "What isn't gelled may be scaled, if everything keeps its ratio.",
    Severity.QUALITY,
    scope=Scope(families=OtherThan(GEL_FAMILIES), scaled=True),
)
def other_recipes_may_be_scaled(case: Case) -> Iterator[Finding | Note]:
    tested = case.tested
    if tested is not None and case.family not in GEL_FAMILIES and case.is_scaled and not tested.differences:
        kept = "the salt in step with it" if is_ferment(case) else "jar size and time unchanged"
        yield Note(
            f"This is {times(tested.scale.low)} the tested batch: one factor for every ingredient, {kept}. A large pot "
            "may start the process cooler; separate batches are surer."
        )


RULES: tuple[Rule, ...] = (
    gels_are_not_doubled,
    jelly_pots_hold_six_cups,
    jelly_pots_without_pectin_hold_six_to_eight_cups,
    jam_pots_hold_the_tested_fruit,
    butter_pots_are_small,
    gels_are_not_halved,
    other_recipes_may_be_scaled,
)
