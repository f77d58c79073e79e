"""Canners, pans and scales. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import equipment
from service.core.rules.case import Case
from service.core.rules.equipment import RULES
from service.core.rules.findings import Rule, Severity
from tests.core.rules.cases import agrees, breaks, case, of_tested, passes, stands_in_the_catalogue, unclear

STEAM = "atmospheric-steam"


def carrots(**sent: object) -> Case:
    return of_tested("carrots", **({"method": "pressure-dial", "minutes": 30, "psi": 11, "jars": {"quart": 7}} | sent))


def peaches(**sent: object) -> Case:
    return of_tested("peaches-halved", **({"minutes": 25, "jars": {"quart": 7}} | sent))


def dills(**sent: object) -> Case:
    return of_tested("quick-dill-pickles", **({"minutes": 10} | sent))


def elderberry(berries: str, sugar: str) -> Case:
    return case(berries, sugar, title="Elderberry jam", family="jam", minutes=10)


EXAMPLES = [
    passes(equipment.pressure_canners_are_large_enough, carrots(equipment="16-quart canner"), "a large canner"),
    passes(equipment.pressure_canners_are_large_enough, carrots(), "not said: as published"),
    breaks(
        equipment.pressure_canners_are_large_enough,
        carrots(equipment="pressure-saucepan-under-4-quarts"),
        "a pressure saucepan",
    ),
    breaks(equipment.pressure_canners_are_large_enough, carrots(equipment="6 quart cooker"), "6 quarts"),
    passes(equipment.multi_cookers_are_no_canners, carrots(equipment="stovetop canner"), "a stovetop canner"),
    breaks(equipment.multi_cookers_are_no_canners, carrots(equipment="electric multi-cooker"), "a multi-cooker"),
    breaks(equipment.multi_cookers_are_no_canners, carrots(method="multi-cooker"), "a multi-cooker for a method"),
    passes(equipment.steam_is_for_acid_food, peaches(method=STEAM), "peaches in steam"),
    breaks(equipment.steam_is_for_acid_food, carrots(method=STEAM), "carrots in steam"),
    unclear(equipment.steam_is_for_acid_food, case("2 lb mystery root", family="vegetable", method=STEAM), "its acid"),
    passes(equipment.steam_runs_45_minutes_at_most, peaches(method=STEAM, minutes=45), "45 minutes"),
    breaks(equipment.steam_runs_45_minutes_at_most, peaches(method=STEAM, minutes=46), "46 minutes"),
    unclear(equipment.steam_runs_45_minutes_at_most, peaches(method=STEAM, minutes=None), "minutes not said"),
    passes(equipment.acid_food_stays_off_reactive_metal, dills(equipment="stainless steel"), "stainless steel"),
    passes(equipment.acid_food_stays_off_reactive_metal, dills(equipment="enamelled iron"), "sound enamel"),
    breaks(equipment.acid_food_stays_off_reactive_metal, dills(equipment="galvanized pail"), "a galvanized pail"),
    breaks(equipment.acid_food_stays_off_reactive_metal, dills(equipment="aluminum kettle"), "brine in aluminum"),
    passes(equipment.elderberry_spreads_are_weighed, elderberry("1000 g elderberries", "2 lb sugar"), "on a scale"),
    breaks(equipment.elderberry_spreads_are_weighed, elderberry("4 cups elderberries", "5 cups sugar"), "by the cup"),
    unclear(equipment.elderberry_spreads_are_weighed, elderberry("elderberries", "2 lb sugar"), "some elderberries"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_equipment(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_equipment_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_equipment_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}
