"""Sound produce, salt where it matters, and foods that are dangerous in themselves."""

import re
from collections.abc import Iterator
from fractions import Fraction

from service.core.measures.bounds import Bounds
from service.core.measures.units import GRAMS_PER_POUND, ML_PER_TABLESPOON, Dimension
from service.core.rules.case import AnyFood, Case, Part, Role
from service.core.rules.findings import Finding, Measured, Note, Rule, Severity, rule
from service.core.rules.permitted import MEAT_SEASONINGS, is_meat_seasoning, is_plain_meat
from service.core.rules.reading import (
    built_on,
    in_grams,
    in_millilitres,
    is_ferment,
    is_tomato,
    lowered,
    named,
    on_the_shelf,
    said,
    step_named,
    where,
)
from service.core.rules.scope import Scope
from service.core.rules.substitution import allows

# Print says both 3 tbsp to 5 lb and 3/4 cup (12 tbsp) to 25 lb of the same kraut; the second is the whole tested batch.
KRAUT_SALT_TBSP, KRAUT_CABBAGE_LB = 12, 25
KRAUT_SALT_LEAST, KRAUT_SALT_MOST = Fraction("0.0225"), Fraction("0.025")  # of the cabbage, by weight
KRAUT_TEMP_F_LOW, KRAUT_TEMP_F_HIGH = 60, 75
FERMENT_TEMP_F_LOW, FERMENT_TEMP_F_HIGH = 55, 80
FULL_FERMENT_DAYS = 21  # 3 weeks, the shorter end of the published 3 to 4
HEATING = ("boil", "simmer", "heat", "blanch", "cook-thick", "precook", "reduce-by-half", "reduce-by-third")
WILD_KINDS = ("chanterelle", "morel", "porcini", "puffball")
DECAYED = ("mouldy", "moldy", "mould", "mold", "rotten", "rotting", "decayed", "spoiled")
FOODS = (Role.FRUIT, Role.VEGETABLE, Role.TOMATO, Role.LEGUME, Role.MEAT, Role.FISH)
UNSOUND = (*DECAYED, "bruised", "diseased", "overripe", "over-ripe", "frost-killed", "sprouted", "shriveled", "limp")

_FERMENTED_FOR = re.compile(r"ferment-(\d+)(?:-to-\d+)?-(day|week|month)s?")
_DAYS = {"day": 1, "week": 7, "month": 30}


def _is_off_a_dead_vine(part: AnyFood) -> bool:
    return is_tomato(part) and said(
        part, *DECAYED, "frost", "frost-killed", "frosted", "frozen vine", "dead vine", "dead", "soft"
    )


@rule(
    id="tomato-vine-condition",
    says="Tomatoes come sound from live vines, never from dead or frost-killed ones.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_off_a_dead_vine,)),
)
@on_the_shelf
def tomatoes_come_from_live_vines(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_off_a_dead_vine):
        yield Finding(
            "Tomatoes from dead or frost-killed vines, or decayed ones, are not acid enough.",
            "Freeze or discard them; use sound, vine-ripened fruit.",
            part.where,
        )


def _is_unsound(part: AnyFood) -> bool:
    return part.role in FOODS and said(part, *UNSOUND)


@rule(
    id="produce-sound",
    says="Produce is firm, fresh and free of decay.",
    severity=Severity.SPOILAGE,
    scope=Scope(kinds=(_is_unsound,)),
)
@on_the_shelf
def produce_is_sound(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_unsound):
        yield Finding("The produce isn't sound.", "Sort again, discard damaged pieces and re-weigh.", part.where)


salt_is_optional = rule(
    id="salt-optional",
    says="Salt may be cut or left out where nothing ferments.",
    severity=Severity.QUALITY,
    scope=Scope(changed=True),
)(allows("salt-optional", lambda found: f"Salt is for taste here: {found.says}."))


def _is_salt(part: AnyFood) -> bool:
    return part.role is Role.SALT


def _is_substitute(part: AnyFood) -> bool:
    return part.group == "salt-substitute" or (
        _is_salt(part)
        and said(
            part,
            "substitute",
            "potassium",
            "reduced-sodium",
            "reduced sodium",
            "low-sodium",
            "lite",
            "light",
            "half-salt",
        )
    )


@rule(
    id="ferment-salt-fixed",
    says="Ferments keep the tested weight and kind of salt.",
    severity=Severity.UNSAFE,
)
def ferments_keep_their_salt(case: Case) -> Iterator[Finding | Note]:
    if not is_ferment(case):
        return
    fix = "Restore the salt; rinse at serving if it is too salty."
    for difference, tested in lowered(case, _is_salt):
        yield Finding(
            f"Less {tested.name} than tested lets the wrong microbes grow.",
            fix,
            where(difference),
            None if difference.ratio is None else Measured(difference.ratio, "of the tested amount"),
            Measured(Bounds(Fraction(1), None), "of the tested amount"),
        )
    for part in case.those(_is_substitute):
        yield Finding("A salt substitute doesn't protect a ferment.", "Use plain canning salt.", part.where)
    if not case.has(_is_salt):
        yield Finding("No salt is named for this ferment.", fix)


def _cabbage(case: Case) -> tuple[Part, ...]:
    return case.those(_is_cabbage)


def _is_cabbage(part: AnyFood) -> bool:
    return part.group == "cabbage" or named(part, "cabbage")


def _is_kraut(case: Case) -> bool:
    own_ferment = is_ferment(case) and built_on(case) is None
    return case.product == "sauerkraut" or (own_ferment and bool(_cabbage(case)))


@rule(
    id="kraut-salt-ratio",
    says="Sauerkraut has 3 tablespoons of canning salt to 5 pounds of cabbage, 3/4 cup to 25 pounds.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_cabbage,)),
)
def kraut_has_its_salt(case: Case) -> Iterator[Finding | Note]:
    cabbage, salts = _cabbage(case), case.of(Role.SALT)
    if not cabbage or not _is_kraut(case):
        return
    weight = in_grams(cabbage)
    if _weighed(salts):
        amount, unit = in_grams(salts), "g"
        needed = None if weight.high is None else weight.high * KRAUT_SALT_LEAST
    else:
        amount, unit = in_millilitres(salts) / ML_PER_TABLESPOON, "tbsp"
        needed = None if weight.high is None else weight.high / GRAMS_PER_POUND * KRAUT_SALT_TBSP / KRAUT_CABBAGE_LB
    if needed is None or amount.low < needed:
        yield Finding(
            "Less than 3/4 cup of canning salt to 25 lb of cabbage, or it can't be told.",
            "Weigh the cabbage and correct the salt before packing.",
            salts[0].where if salts else cabbage[0].where,
            Measured(amount, unit),
            None if needed is None else Measured(Bounds(needed, None), unit),
        )


def _weighed(parts: tuple[Part, ...]) -> bool:
    """Whether these were all measured on a scale."""
    amounts = [part.line.amount for part in parts if part.line is not None]
    return bool(amounts) and all(amount is not None and amount.unit.dimension is Dimension.MASS for amount in amounts)


@rule(
    id="ferment-temperature",
    says="Kraut ferments at 70 to 75 F, or slower from 60 F up.",
    severity=Severity.SPOILAGE,
    scope=Scope(handled=("ferment_temp_f",)),
)
def kraut_ferments_at_room_temperature(case: Case) -> Iterator[Finding | Note]:
    temp_f = case.handling.ferment_temp_f
    if temp_f is None or not _is_kraut(case) or KRAUT_TEMP_F_LOW <= temp_f <= KRAUT_TEMP_F_HIGH:
        return
    yield _temperature(temp_f, KRAUT_TEMP_F_LOW, KRAUT_TEMP_F_HIGH, "Move the crock to a room at 70 to 75 F.")


def _temperature(temp_f: float, low_f: int, high_f: int, fix: str) -> Finding:
    message = "Too cold to ferment." if temp_f < low_f else "Too warm: the vegetables soften."
    found = Measured(Bounds.exactly(Fraction(temp_f)), "F")
    return Finding(
        message, fix, "#/handling/ferment_temp_f", found, Measured(Bounds(Fraction(low_f), Fraction(high_f)), "F")
    )


@rule(
    id="ferment-over-hot",
    says="Cucumbers and other vegetables ferment at 55 to 80 F.",
    severity=Severity.QUALITY,
    scope=Scope(handled=("ferment_temp_f",)),
)
def ferments_stay_cool(case: Case) -> Iterator[Finding | Note]:
    temp_f = case.handling.ferment_temp_f
    if temp_f is None or _is_kraut(case) or FERMENT_TEMP_F_LOW <= temp_f <= FERMENT_TEMP_F_HIGH:
        return
    yield _temperature(temp_f, FERMENT_TEMP_F_LOW, FERMENT_TEMP_F_HIGH, "Move the crock to a cooler room.")


@rule(
    id="half-ferment-refrigerator-dills",
    says="Cucumbers fermented for about a week and then only refrigerated are refused.",
    severity=Severity.UNSAFE,
    scope=Scope(groups=("cucumber",)),
)
def half_ferments_are_finished(case: Case) -> Iterator[Finding | Note]:
    cold = case.storage == "refrigerator" or case.method == "refrigerate"
    if not cold or not case.in_group("cucumber") or not (is_ferment(case) or step_named(case, "ferment")):
        return
    days = [int(found[1]) * _DAYS[found[2]] for step in case.steps if (found := _FERMENTED_FOR.match(step)) is not None]
    if sum(days) < FULL_FERMENT_DAYS:
        yield Finding(
            "The ferment is shorter than 3 weeks, or how long it runs isn't said.",
            "Complete the ferment and process it, or use a vinegar refrigerator pickle.",
            "#/steps",
            Measured(Bounds.exactly(sum(days)), "day") if days else None,
            Measured(Bounds(Fraction(FULL_FERMENT_DAYS), None), "day"),
        )


def _by_volume(part: Part) -> bool:
    amount = part.line.amount if part.line else None
    return amount is None or amount.unit.dimension is not Dimension.MASS


def _is_salt_of_another_kind(part: AnyFood) -> bool:
    canning = part.group == "canning-salt" or said(part, "canning", "pickling", "preserving")
    return part.role is Role.SALT and not canning and not _is_substitute(part)


@rule(
    id="canning-salt-type",
    says="Pickling or canning salt; flake salts are not measured by volume.",
    severity=Severity.QUALITY,
    scope=Scope(kinds=(_is_salt_of_another_kind,)),
)
def salt_is_canning_salt(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_salt_of_another_kind):
        if part.group == "flake-salt":
            if _by_volume(part):
                yield Finding("Flake salts vary too much by volume.", "Use canning salt, or weigh it.", part.where)
        elif part.group == "table-salt":
            yield Note("Table salt clouds a brine.")
        elif is_ferment(case):
            yield Finding("The kind of salt isn't stated for a ferment.", "Use canning salt, and say so.", part.where)


@rule(
    id="salt-substitute",
    says="Potassium salt substitutes turn canned food bitter and are refused in ferments.",
    severity=Severity.QUALITY,
    scope=Scope(kinds=(_is_substitute,)),
)
@on_the_shelf
def salt_substitutes_turn_bitter(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_substitute):
        yield Finding("A salt substitute may turn bitter.", "Leave the salt out and season when serving.", part.where)


@rule(
    id="meat-seasoning-small",
    says="A little seasoning, onion or garlic may go into plainly canned meat.",
    severity=Severity.QUALITY,
    scope=Scope(groups=MEAT_SEASONINGS),
)
@on_the_shelf
def meat_takes_a_little_seasoning(case: Case) -> Iterator[Finding | Note]:
    for part in case.in_group(*MEAT_SEASONINGS) if is_plain_meat(case) else ():
        if is_meat_seasoning(case, part):
            yield Note(f"A seasoning amount of {part.name} in plainly canned meat is allowed.")


def _is_wild_mushroom(part: AnyFood) -> bool:
    if part.group in ("mushroom", "wild-mushroom") or named(part, "mushroom"):
        return part.group == "wild-mushroom" or said(part, "wild", "foraged", *WILD_KINDS)
    return named(part, *WILD_KINDS)


@rule(
    id="wild-mushroom-bar",
    says="Wild mushrooms are not canned.",
    severity=Severity.UNSAFE,
    scope=Scope(kinds=(_is_wild_mushroom,)),
)
@on_the_shelf
def wild_mushrooms_are_not_canned(case: Case) -> Iterator[Finding | Note]:
    for part in case.those(_is_wild_mushroom):
        yield Finding("Wild mushrooms are not canned.", "Dry or freeze them after expert identification.", part.where)


@rule(
    id="elderberry-heat",
    says="Elderberries and their juice are heated before any use.",
    severity=Severity.UNSAFE,
    scope=Scope(groups=("elderberry",)),
)
def elderberries_are_heated(case: Case) -> Iterator[Finding | Note]:
    processed = case.process is not None and case.method not in (None, "refrigerate", "freeze", "none")
    for part in case.in_group("elderberry"):
        heated = said(part, "heated", "cooked", "boiled", "simmered") or step_named(case, *HEATING) or processed
        if not heated or (said(part, "raw") and not step_named(case, *HEATING)):
            yield Finding(
                "Raw elderberries and their juice are toxic.",
                "Strip the stems and heat the berries or juice before any use.",
                part.where,
            )


RULES: tuple[Rule, ...] = (
    tomatoes_come_from_live_vines,
    produce_is_sound,
    salt_is_optional,
    ferments_keep_their_salt,
    kraut_has_its_salt,
    kraut_ferments_at_room_temperature,
    ferments_stay_cool,
    half_ferments_are_finished,
    salt_is_canning_salt,
    salt_substitutes_turn_bitter,
    meat_takes_a_little_seasoning,
    wild_mushrooms_are_not_canned,
    elderberries_are_heated,
)
