"""Time and pressure by altitude. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import altitude
from service.core.rules.altitude import RULES
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from tests.core.rules.cases import agrees, breaks, case, findings, of_tested, passes, stands_in_the_catalogue, unclear

QUARTS = {"quart": 7}


def carrots(**sent: object) -> Case:
    """Quarts 30 minutes: dial 11, 12, 13, 14 lb; weighted 10, 15 lb. Complete Guide to Home Canning, Guide 4."""
    return of_tested("carrots", **({"method": "pressure-dial", "minutes": 30, "psi": 11, "jars": QUARTS} | sent))


def crushed(**sent: object) -> Case:
    """Quarts hot: 45, 50, 55, 60 minutes from 0, 1,001, 3,001, 6,001 ft. Complete Guide, Guide 3."""
    return of_tested("tomatoes-crushed", **({"minutes": 45, "jars": QUARTS} | sent))


def whole_tomatoes(**sent: object) -> Case:
    """At 15 lb a weighted gauge has a figure up to 1,000 ft only. Complete Guide, Guide 3."""
    return of_tested("tomatoes-whole-in-water", **({"method": "pressure-weighted", "jars": QUARTS} | sent))


def own_jam(**sent: object) -> Case:
    sent = {"family": "jam", "product": "no-row", "jars": {"half-pint": 4}} | sent
    return case("4 cups crushed feijoas", "4 cups sugar", **sent)


EXAMPLES = [
    passes(altitude.process_is_printed_for_the_altitude, crushed(minutes=60, altitude_ft=9000), "an open last band"),
    passes(altitude.process_is_printed_for_the_altitude, crushed(altitude_ft=-200), "below the level of the sea"),
    breaks(
        altitude.process_is_printed_for_the_altitude,
        of_tested("figs-whole-acidified", method="atmospheric-steam", minutes=45, jars={"pint": 9}, altitude_ft=2000),
        "steam where the time passes 45 minutes",
    ),
    passes(altitude.jam_boils_longer_higher_up, own_jam(minutes=10, altitude_ft=4000), "10 minutes at 4,000 ft"),
    breaks(altitude.jam_boils_longer_higher_up, own_jam(minutes=5, altitude_ft=4000), "5 minutes at 4,000 ft"),
    breaks(altitude.jam_boils_longer_higher_up, own_jam(minutes=14, altitude_ft=6001), "14 minutes at 6,001 ft"),
    passes(altitude.boiling_takes_longer_higher_up, crushed(minutes=55, altitude_ft=4000), "the time of the band"),
    passes(altitude.boiling_takes_longer_higher_up, crushed(altitude_ft=1000), "the last foot of the lowest band"),
    breaks(altitude.boiling_takes_longer_higher_up, crushed(altitude_ft=1001), "the first foot of the next band"),
    breaks(altitude.boiling_takes_longer_higher_up, crushed(altitude_ft=5000), "the sea-level time at 5,000 ft"),
    passes(altitude.weight_belongs_to_the_altitude, carrots(method="pressure-weighted", psi=10), "10 lb, low down"),
    passes(
        altitude.weight_belongs_to_the_altitude,
        carrots(method="pressure-weighted", psi=15, altitude_ft=1400),
        "15 lb at 1,400 ft",
    ),
    breaks(
        altitude.weight_belongs_to_the_altitude,
        carrots(method="pressure-weighted", psi=10, altitude_ft=1400),
        "10 lb at 1,400 ft",
    ),
    unclear(
        altitude.weight_belongs_to_the_altitude, carrots(method="pressure-weighted", psi=None), "pressure not said"
    ),
    passes(altitude.dial_belongs_to_the_altitude, carrots(psi=13, altitude_ft=5000), "13 lb at 5,000 ft"),
    passes(altitude.dial_belongs_to_the_altitude, carrots(altitude_ft=2000), "11 lb at 2,000 ft"),
    breaks(altitude.dial_belongs_to_the_altitude, carrots(altitude_ft=2001), "11 lb at 2,001 ft"),
    breaks(altitude.dial_belongs_to_the_altitude, carrots(psi=10), "a weighted gauge's 10 lb on a dial"),
    breaks(altitude.dial_belongs_to_the_altitude, carrots(psi=14, altitude_ft=8001), "above the last printed band"),
    unclear(altitude.dial_belongs_to_the_altitude, carrots(psi=None), "pressure not said"),
    unclear(altitude.dial_belongs_to_the_altitude, carrots(method="pressure-canner"), "which gauge it has"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_altitude(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_altitude_rule_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_altitude_rule_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_too_little_pressure_says_how_much_is_printed_here() -> None:
    (found,) = findings(altitude.dial_belongs_to_the_altitude, carrots(altitude_ft=5000))
    assert found.limit is not None
    assert (found.limit.bounds.low, found.limit.unit) == (13, "psi")


def test_a_quick_schedule_at_15_lb_holds_to_1000_ft_only() -> None:
    assert not findings(altitude.weight_belongs_to_the_altitude, whole_tomatoes(minutes=1, psi=15, altitude_ft=1000))
    high_up = whole_tomatoes(minutes=15, psi=5, altitude_ft=1001)
    assert findings(altitude.weight_belongs_to_the_altitude, high_up)
