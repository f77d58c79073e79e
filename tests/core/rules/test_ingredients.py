"""Sound produce, salt and dangerous foods. Each rule's source stands in the published catalogue under its id."""

from typing import Any

import pytest

from service.core.rules import ingredients
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.ingredients import RULES
from tests.core.rules.cases import (
    agrees,
    breaks,
    case,
    not_noted,
    noted,
    notes,
    of_tested,
    passes,
    stands_in_the_catalogue,
    unclear,
)

CROCK = "fermented-dill-pickles"
QUARTS = {"quart": 7}
COLD: dict[str, Any] = {"method": "refrigerate", "storage": "refrigerator"}


def crushed(tomatoes: str) -> Case:
    return case(
        tomatoes, "2 tbsp bottled lemon juice per quart", product="tomatoes-crushed", family="tomato", jars=QUARTS
    )


def kraut(salt: str, cabbage: str = "25 lb green cabbage, shredded", **handling: Any) -> Case:
    return case(cabbage, salt, title="Sauerkraut", family="ferment", product="sauerkraut", jars=QUARTS, **handling)


def crock(salt: str = "1/2 cup canning salt", **sent: Any) -> Case:
    return of_tested(CROCK, change={"salt": salt}, **sent)


def beef(*seasoning: str) -> Case:
    return case(
        "14 lb beef, cubed",
        *seasoning,
        title="Beef",
        family="meat",
        product="meat-strips-cubes-or-chunks",
        method="pressure-dial",
        jars=QUARTS,
    )


def mushrooms(line: str) -> Case:
    return case(line, title="Mushrooms", family="vegetable", method="pressure-dial", jars={"pint": 9})


EXAMPLES = [
    passes(ingredients.tomatoes_come_from_live_vines, crushed("22 lb tomatoes, ripe, crushed"), "sound ripe tomatoes"),
    breaks(
        ingredients.tomatoes_come_from_live_vines,
        crushed("22 lb tomatoes, from frost-killed vines"),
        "after a hard frost",
    ),
    unclear(ingredients.tomatoes_come_from_live_vines, crushed("22 lb tomatoes, soft"), "soft, for whatever reason"),
    passes(ingredients.produce_is_sound, of_tested("quick-dill-pickles"), "sorted cucumbers"),
    breaks(
        ingredients.produce_is_sound,
        of_tested("strawberry-jam-liquid", change={"strawberry": "4 cups strawberries, bruised, mould cut off"}),
        "mould cut off",
    ),
    unclear(
        ingredients.produce_is_sound,
        of_tested("strawberry-jam-liquid", change={"strawberry": "4 cups strawberries, partly rotten"}),
        "partly rotten, nobody says how far",
    ),
    passes(ingredients.ferments_keep_their_salt, crock(), "the tested salt"),
    breaks(ingredients.ferments_keep_their_salt, crock("1/3 cup canning salt"), "a third less salt"),
    breaks(ingredients.ferments_keep_their_salt, crock("1/2 cup reduced-sodium salt"), "reduced-sodium salt"),
    unclear(
        ingredients.ferments_keep_their_salt,
        case("4 lb pickling cucumbers", "8 cups water", title="Fermented cucumbers", family="ferment"),
        "a ferment that names no salt",
    ),
    passes(ingredients.kraut_has_its_salt, kraut("3/4 cup canning salt"), "3/4 cup to 25 lb"),
    passes(
        ingredients.kraut_has_its_salt,
        kraut("225 g canning salt", "10 kg green cabbage, shredded"),
        "2.25 percent by weight",
    ),
    breaks(ingredients.kraut_has_its_salt, kraut("1/4 cup canning salt"), "1/4 cup to 25 lb"),
    breaks(ingredients.kraut_has_its_salt, kraut("200 g canning salt", "10 kg green cabbage"), "2 percent by weight"),
    unclear(ingredients.kraut_has_its_salt, kraut("canning salt"), "salt of no amount"),
    passes(
        ingredients.kraut_ferments_at_room_temperature,
        kraut("3/4 cup canning salt", ferment_temp_f=72),
        "kraut at 72 F",
    ),
    breaks(
        ingredients.kraut_ferments_at_room_temperature,
        kraut("3/4 cup canning salt", ferment_temp_f=82),
        "kraut at 82 F",
    ),
    breaks(
        ingredients.kraut_ferments_at_room_temperature,
        kraut("3/4 cup canning salt", ferment_temp_f=55),
        "kraut at 55 F",
    ),
    passes(
        ingredients.kraut_ferments_at_room_temperature, kraut("3/4 cup canning salt"), "not said, taken as published"
    ),
    passes(ingredients.ferments_stay_cool, crock(ferment_temp_f=80), "cucumbers at 80 F, the last degree"),
    breaks(ingredients.ferments_stay_cool, crock(ferment_temp_f=85), "cucumbers at 85 F"),
    passes(ingredients.ferments_stay_cool, crock(), "not said, taken as published"),
    passes(
        ingredients.half_ferments_are_finished,
        crock(**COLD, steps=("brine", "ferment-4-weeks")),
        "fermented for 4 weeks",
    ),
    breaks(
        ingredients.half_ferments_are_finished, crock(**COLD, steps=("brine", "ferment-1-weeks")), "one week, then cold"
    ),
    unclear(
        ingredients.half_ferments_are_finished, crock(**COLD, steps=("brine", "ferment")), "a ferment of some days"
    ),
    passes(ingredients.salt_is_canning_salt, crock(), "canning salt by volume"),
    passes(ingredients.salt_is_canning_salt, of_tested("tomato-paste-salsa"), "salt of no stated kind in a salsa"),
    breaks(ingredients.salt_is_canning_salt, crock("1/2 cup kosher salt"), "flake salt by volume"),
    unclear(ingredients.salt_is_canning_salt, crock("1/2 cup salt"), "salt of no stated kind in a ferment"),
    passes(ingredients.salt_substitutes_turn_bitter, of_tested("green-peas"), "plain salt"),
    breaks(
        ingredients.salt_substitutes_turn_bitter,
        of_tested("green-peas", change={"salt": "7 tsp salt substitute"}),
        "7 tsp",
    ),
    unclear(
        ingredients.salt_substitutes_turn_bitter,
        of_tested("green-peas", change={"salt": "salt substitute"}),
        "a substitute of no amount",
    ),
    passes(ingredients.wild_mushrooms_are_not_canned, mushrooms("14 lb button mushrooms"), "button mushrooms"),
    breaks(ingredients.wild_mushrooms_are_not_canned, mushrooms("14 lb chanterelles"), "chanterelles"),
    unclear(ingredients.wild_mushrooms_are_not_canned, mushrooms("14 lb foraged mushrooms"), "mushrooms from the wood"),
    passes(
        ingredients.elderberries_are_heated,
        case(
            "4 cups elderberry juice",
            title="Elderberry juice",
            method="freeze",
            storage="freezer",
            steps=("heat", "fill"),
        ),
        "juice heated and frozen",
    ),
    breaks(
        ingredients.elderberries_are_heated,
        case("4 cups raw elderberry juice", title="Raw syrup", steps=("combine", "fill"), **COLD),
        "raw syrup",
    ),
    unclear(
        ingredients.elderberries_are_heated,
        case("4 cups elderberries", title="Elderberries", method="freeze", storage="freezer"),
        "frozen berries with no step of heating",
    ),
]

NOTES = [
    noted(ingredients.salt_is_optional, of_tested("bread-and-butter-pickles", without=["canning salt"]), "no salt"),
    not_noted(ingredients.salt_is_optional, crock("1/4 cup canning salt"), "half of the salt of a ferment"),
    not_noted(
        ingredients.salt_is_optional,
        of_tested("bread-and-butter-pickles", change={"canning salt": "2 cups canning salt"}),
        "four times the salt",
    ),
    noted(ingredients.meat_takes_a_little_seasoning, beef("7 cloves garlic"), "a clove of garlic a quart"),
    not_noted(ingredients.meat_takes_a_little_seasoning, beef("14 cups onions, chopped"), "2 cups of onion a quart"),
    not_noted(ingredients.meat_takes_a_little_seasoning, beef("onions, chopped"), "onion of no amount"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_ingredients(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_ingredient_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_ingredient_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES + NOTES} == {rule.id for rule in RULES}


@pytest.mark.parametrize(("rule", "judged", "said"), NOTES)
def test_a_permitted_change_is_noted_within_its_bound(rule: Rule, judged: Case, said: bool) -> None:
    assert bool(notes(rule, judged)) is said
    assert agrees(rule, judged, None)


def test_table_salt_is_a_note_and_no_finding() -> None:
    table_salt = crock("1/2 cup table salt")
    assert notes(ingredients.salt_is_canning_salt, table_salt)
    assert agrees(ingredients.salt_is_canning_salt, table_salt, None)
