"""How jars are closed, and where they are kept."""

from collections.abc import Iterator

from service.core.rules.case import Case, Role
from service.core.rules.findings import Finding, Note, Rule, Severity, rule
from service.core.rules.reading import GEL_FAMILIES, mentions, step_named
from service.core.rules.scope import Scope

WAX = ("paraffin", "wax", "beeswax", "paraffin-wax")
VACUUM = ("vacuum", "vacuum-seal", "vacuum-sealed", "vacuum-sealing")
KEPT_DRY = (Role.GRAIN, Role.NUT, Role.SPICE, Role.SALT)
HEAT_STEPS = ("boil", "simmer", "cook", "heat", "cook-thick", "reduce-by-half", "reduce-by-third", "precook")


@rule("paraffin-bar", "Wax doesn't seal jam or jelly.", Severity.SPOILAGE, scope=Scope(handled=("closure",)))
def wax_is_no_seal(case: Case) -> Iterator[Finding | Note]:
    if case.on_the_shelf and mentions(case.handling.closure or "", *WAX):
        yield Finding(
            message="Wax shrinks from the glass and lets mould in.",
            fix="Use two-piece lids and the boiling-water time.",
            where="#/handling/closure",
        )


@rule(
    "vacuum-seal-bar",
    "Drawing the air out of a jar doesn't can what is in it.",
    Severity.UNSAFE,
    scope=Scope(in_own_words=True),
)
def a_vacuum_is_no_process(case: Case) -> Iterator[Finding | Note]:
    handling = case.handling
    where = (
        ("#/process/method", case.method),
        ("#/handling/closure", handling.closure),
        ("#/handling/equipment", handling.equipment),
    )
    if not case.on_the_shelf:
        return
    for pointer, text in where:
        if text and mentions(text, *VACUUM) and not all(part.role in KEPT_DRY for part in case.parts):
            yield Finding(
                message="A vacuum keeps no perishable food: the germs of botulism grow without air.",
                fix="Keep the food in the refrigerator or freezer, or can it by a published process.",
                where=pointer,
            )


@rule(
    "freezer-jam-storage",
    "Freezer jam is kept in the freezer or refrigerator.",
    Severity.SPOILAGE,
    scope=Scope(families=GEL_FAMILIES),
)
def freezer_jam_stays_cold(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf or case.family not in GEL_FAMILIES:
        return
    uncooked = bool(case.steps) and not step_named(case, *HEAT_STEPS)
    if uncooked or mentions(case.recipe.title, "freezer", "uncooked", "no-cook"):
        yield Finding(
            message="Jam that isn't cooked, or is made for the freezer, ferments and moulds on a shelf.",
            fix="Let it set a day, then freeze it up to a year or refrigerate it up to 3 weeks.",
            where="#/handling/storage",
        )


RULES: tuple[Rule, ...] = (
    wax_is_no_seal,
    a_vacuum_is_no_process,
    freezer_jam_stays_cold,
)
