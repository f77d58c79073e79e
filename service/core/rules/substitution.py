"""What may stand for what in a tested recipe, and what may not."""

from collections.abc import Callable, Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.rules.case import AnyFood, Case, Difference
from service.core.rules.findings import Finding, Judge, Measured, Note, Rule, Severity, rule
from service.core.rules.formula import is_fruit
from service.core.rules.permitted import allowance, enough_juice_for_vinegar
from service.core.rules.reading import (
    GEL_FAMILIES,
    ONIONS_AND_PEPPERS,
    acid_per_jar,
    built_on,
    changes,
    in_millilitres,
    is_acid,
    is_alcohol,
    is_citrus_juice,
    is_low_acid_fruit,
    is_low_acid_vegetable,
    is_tomato,
    is_vinegar,
    lowered,
    on_the_shelf,
    raised,
    said,
    step_named,
    total_raised,
    where,
)
from service.core.rules.scope import Scope

CHOICE_SALSA = "choice-salsa"
TAKING_ACID_AWAY = ("drained", "strained", "seeded", "deseeded", "squeezed")  # as a state of tomatoes
JUICE_PER_SOLIDS_MIN = Fraction(1, 10)  # cup to cup
VEGETABLES_PER_TOMATO_MAX = Fraction(3, 2)  # cup to cup


def _is_salsa(case: Case) -> bool:
    return case.family == "salsa"


def _low_acid(part: AnyFood) -> bool:
    return is_low_acid_vegetable(part) or is_low_acid_fruit(part)


def _listed_groups(case: Case) -> frozenset[str]:
    """What the tested recipe lists, a combined line of onions and peppers counting as both."""
    tested = built_on(case)
    listed = frozenset(part.group for part in tested.parts) if tested else frozenset()
    return listed | frozenset(ONIONS_AND_PEPPERS) if "onion-and-pepper" in listed else listed


@rule(
    id="salsa-low-acid-no-increase",
    says="In a tested salsa low-acid vegetables never rise in all, and tomatoes never fall.",
    severity=Severity.UNSAFE,
    scope=Scope(families=("salsa",), changed=True),
)
@on_the_shelf
def salsa_keeps_its_balance(case: Case) -> Iterator[Finding | Note]:
    tested_recipe = built_on(case)
    if not _is_salsa(case) or tested_recipe is None:
        return
    fix = "Scale the vegetables back to the recipe's total."
    if total_raised(tested_recipe, tested_recipe.differences, is_low_acid_vegetable):
        for difference, part in raised(case, is_low_acid_vegetable):
            yield Finding(
                f"More {part.name} than tested raises the low-acid vegetables in all, or it can't be told.",
                fix,
                part.where,
                _ratio(difference),
                Measured(Bounds(Fraction(0), Fraction(1)), "of the tested amount"),
            )
    for difference, tested in lowered(case, is_tomato):
        if allowance(case, difference) is None:
            yield Finding(
                f"Less {tested.name} than tested leaves too many vegetables.",
                "Restore the tomatoes or tomatillos to the recipe's measure.",
                where(difference),
                _ratio(difference),
                Measured(Bounds(Fraction(1), None), "of the tested amount"),
            )


def _ratio(difference: Difference) -> Measured | None:
    return None if difference.ratio is None else Measured(difference.ratio, "of the tested amount")


def _is_drained_tomato(part: AnyFood) -> bool:
    return is_tomato(part) and said(part, *TAKING_ACID_AWAY)


@rule(
    id="salsa-tomatoes-undrained",
    says="Tomatoes for salsa go in with their juice.",
    severity=Severity.UNSAFE,
    scope=Scope(families=("salsa",), kinds=(_is_drained_tomato,))
    | Scope(families=("salsa",), steps=("drain", "strain")),
)
@on_the_shelf
def salsa_tomatoes_keep_their_juice(case: Case) -> Iterator[Finding | Note]:
    if not _is_salsa(case):
        return
    tested_recipe = built_on(case)
    printed = [part for part in tested_recipe.parts if is_tomato(part)] if tested_recipe else []
    for part in case.those(_is_drained_tomato):
        for word in TAKING_ACID_AWAY:
            if said(part, word) and not any(said(tested, word) for tested in printed):
                yield Finding(
                    f"Tomatoes that are {word} take acid away.",
                    "Use the tomatoes with their juice; drain the salsa when the jar is opened.",
                    part.where,
                )
    own_steps = tested_recipe.recipe.steps if tested_recipe else ()
    if step_named(case, "drain", "strain") and not any(step.startswith(("drain", "strain")) for step in own_steps):
        yield Finding(
            "Draining takes acid away.", "Leave the juice in; drain the salsa when the jar is opened.", "#/steps"
        )


@rule(
    id="salsa-no-new-low-acid",
    says="No low-acid food that a tested salsa lacks goes in before canning.",
    severity=Severity.UNSAFE,
    scope=Scope(families=("salsa",), changed=True),
)
@on_the_shelf
def salsa_gets_no_new_low_acid_food(case: Case) -> Iterator[Finding | Note]:
    if not _is_salsa(case):
        return
    listed = _listed_groups(case)
    for _, part in raised(case, _low_acid):
        if part.group not in listed:
            yield Finding(
                f"The tested salsa has no {part.name}.", "Leave it out and stir it in after opening.", part.where
            )


@rule(
    id="salsa-acid-one-way",
    says="Bottled juice may replace vinegar in a salsa cup for cup; vinegar never replaces juice.",
    severity=Severity.UNSAFE,
    scope=Scope(families=("salsa",), changed=True),
)
@on_the_shelf
def salsa_acid_changes_one_way(case: Case) -> Iterator[Finding | Note]:
    if not _is_salsa(case):
        return
    juice_lost = any(True for _ in lowered(case, is_citrus_juice))
    vinegar_lost = any(True for _ in lowered(case, is_vinegar))
    if juice_lost:
        for _, part in raised(case, is_vinegar):
            yield Finding(
                "Vinegar is weaker than the juice it replaces.",
                "Put the juice back in the listed measure, or choose a salsa tested with vinegar.",
                part.where,
            )
    if vinegar_lost:
        for _, part in raised(case, is_citrus_juice):
            if enough_juice_for_vinegar(case):
                yield Note("Lemon or lime juice for vinegar, cup for cup: allowed in a salsa.")
            else:
                yield Finding(
                    "Less juice than the vinegar it replaces.",
                    "Use a cup of juice for each cup of vinegar.",
                    part.where,
                )


@rule(
    id="salsa-flex-ratio",
    says="Choice salsa: juice at least a tenth of the solids, vegetables at most 1 1/2 times the tomatoes.",
    severity=Severity.UNSAFE,
    scope=Scope(products=(CHOICE_SALSA,)),
)
@on_the_shelf
def choice_salsa_stays_in_its_ratios(case: Case) -> Iterator[Finding | Note]:
    if case.product != CHOICE_SALSA:
        return
    tomatoes = in_millilitres(case.those(is_tomato))
    vegetables = in_millilitres(case.those(is_low_acid_vegetable))
    juice = in_millilitres(case.those(is_citrus_juice))
    solids = tomatoes + vegetables
    if solids.high is None or juice.low < JUICE_PER_SOLIDS_MIN * solids.high:
        yield Finding("Less juice than a tenth of the solids, or it can't be told.", "Add bottled lemon or lime juice.")
    if vegetables.high is None or vegetables.high > VEGETABLES_PER_TOMATO_MAX * tomatoes.low:
        yield Finding(
            "More onions and peppers than 1 1/2 times the tomatoes, or it can't be told.", "Cut the vegetables back."
        )


@rule(
    id="alcohol-for-acid-bar",
    says="Wine, beer, spirits or cider never stand in for vinegar or bottled juice.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(is_alcohol,)),
)
@on_the_shelf
def alcohol_is_no_acid(case: Case) -> Iterator[Finding | Note]:
    if not case.has(is_alcohol):
        return
    pickled_without_acid = case.family in ("pickle", "relish", "chutney", "salsa") and not case.has(is_acid)
    lost = any(True for _ in lowered(case, is_acid))
    for part in case.those(is_alcohol):
        if pickled_without_acid or (lost and not acid_per_jar(case)):
            yield Finding(
                f"{part.name.capitalize()} doesn't make food acid.", "Restore the vinegar or bottled juice.", part.where
            )


@rule(
    id="fruit-swap-acid-class",
    says="A low-acid fruit never goes into a recipe tested for acid fruit.",
    severity=Severity.UNSAFE,
    scope=Scope(changed=True),
)
@on_the_shelf
def fruit_is_swapped_within_its_class(case: Case) -> Iterator[Finding | Note]:
    listed = _listed_groups(case)
    tested = case.tested
    if tested is not None and not tested.named and case.family in GEL_FAMILIES:
        others = [found.part for found in case.differs("added", "swapped") if found.part and is_fruit(found.part)]
        if others and not any(is_low_acid_fruit(part) for part in others):
            fruits = " and ".join(dict.fromkeys(part.name for part in others))
            yield Note(
                f"No tested recipe for this {case.family} of {fruits} is published here; it is held against the "
                f"nearest one, {tested.recipe.title}."
            )
    for _, part in raised(case, is_low_acid_fruit):
        if part.group not in listed:
            yield Finding(
                f"{part.name.capitalize()} isn't acid enough for a recipe tested with other fruit.",
                "Choose a recipe tested for that fruit, or freeze it.",
                part.where,
            )


def allows(id: str, message: Callable[[Difference], str]) -> Judge:
    """A permitted change is noted for each difference it allows."""

    def judge(case: Case) -> Iterator[Finding | Note]:
        for difference in changes(case):
            if allowance(case, difference) == id:
                yield Note(message(difference))

    return on_the_shelf(judge)


peppers_swap = rule(
    id="salsa-pepper-swap",
    says="Any pepper may stand for any other in a salsa, the total unchanged.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("salsa-pepper-swap", lambda found: f"Allowed, the total of peppers being no larger: {found.says}."))

onions_swap = rule(
    id="salsa-onion-swap",
    says="Any onion may stand for any other in a salsa, measure for measure.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("salsa-onion-swap", lambda found: f"Allowed, the total being no larger: {found.says}."))

green_tomatoes_swap = rule(
    id="salsa-tomato-swap",
    says="Green tomatoes or tomatillos may stand for red tomatoes in a salsa, measure for measure.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("salsa-tomato-swap", lambda found: f"Allowed, measure for measure: {found.says}."))

paste_thickens = rule(
    id="salsa-thicken",
    says="A little tomato paste may thicken a salsa; starch may not.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("salsa-thicken", lambda found: f"A little tomato paste is allowed: {found.says}."))

fewer_vegetables_are_safe = rule(
    id="low-acid-cut-ok",
    says="Low-acid vegetables may be cut, nothing low-acid in their place.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("low-acid-cut-ok", lambda found: f"Fewer vegetables are safe: {found.says}."))

spices_vary = rule(
    id="dry-spice-change",
    says="Dried herbs and spices may be varied or left out.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("dry-spice-change", lambda found: f"Dry spices may vary: {found.says}."))

sugar_varies = rule(
    id="canning-liquid-sugar-ok",
    says="Sugar may be cut or left out in plain fruit, tomatoes and quick pickles.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("canning-liquid-sugar-ok", lambda found: f"Sugar is for taste here: {found.says}."))


RULES: tuple[Rule, ...] = (
    salsa_keeps_its_balance,
    salsa_tomatoes_keep_their_juice,
    peppers_swap,
    onions_swap,
    salsa_gets_no_new_low_acid_food,
    salsa_acid_changes_one_way,
    choice_salsa_stays_in_its_ratios,
    green_tomatoes_swap,
    paste_thickens,
    fewer_vegetables_are_safe,
    alcohol_is_no_acid,
    fruit_is_swapped_within_its_class,
    spices_vary,
    sugar_varies,
)
