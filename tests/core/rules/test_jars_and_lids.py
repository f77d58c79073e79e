"""Jars and lids. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import jars_and_lids
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.jars_and_lids import RULES
from tests.core.rules.cases import (
    agrees,
    breaks,
    case,
    notes,
    of_tested,
    passes,
    stands_in_the_catalogue,
    unclear,
)


def salsa(size: str, **sent: object) -> Case:
    return of_tested("chile-salsa", **({"minutes": 15, "jars": {size: 4}} | sent))


def jam(size: str = "half-pint", **sent: object) -> Case:
    return of_tested("strawberry-jam-liquid", **({"minutes": 5, "jars": {size: 8}} | sent))


def carrots(size: str) -> Case:
    """Pints and quarts are printed. Complete Guide to Home Canning, Guide 4."""
    return of_tested("carrots", method="pressure-dial", minutes=30, psi=11, jars={size: 4})


def mushrooms(size: str, line: str = "14 1/2 lb mushrooms") -> Case:
    return case(
        line, product="mushrooms", family="vegetable", method="pressure-dial", minutes=45, psi=11, jars={size: 9}
    )


def curd(size: str, juice: str) -> Case:
    lines = ("2 1/2 cups sugar", "1/2 cup lemon zest", juice, "3/4 cup butter", "7 egg yolks")
    return case(*lines, title="Lemon curd", product="lemon-curd", minutes=15, jars={size: 3})


EXAMPLES = [
    passes(jars_and_lids.salsa_goes_into_pints, salsa("pint"), "pints"),
    passes(jars_and_lids.salsa_goes_into_pints, salsa("quart", storage="refrigerator"), "quarts kept cold"),
    breaks(jars_and_lids.salsa_goes_into_pints, salsa("quart"), "quarts"),
    breaks(jars_and_lids.salsa_goes_into_pints, salsa("pint-and-half"), "24 ounce jars at any time"),
    unclear(jars_and_lids.salsa_goes_into_pints, salsa("big jar"), "how large a big jar is"),
    passes(jars_and_lids.jars_are_canning_jars, jam(), "canning jars"),
    breaks(jars_and_lids.jars_are_canning_jars, jam(closure="mayonnaise jar"), "mayonnaise jars"),
    passes(jars_and_lids.flat_lids_are_new, jam(closure="two-piece-lid"), "new lids"),
    passes(jars_and_lids.flat_lids_are_new, jam(closure="reusable lid"), "lids made to be used again"),
    breaks(jars_and_lids.flat_lids_are_new, jam(closure="reused flat lid"), "last year's lids"),
    passes(jars_and_lids.closures_are_two_piece_lids, jam(closure="two-piece-lid"), "two pieces"),
    passes(jars_and_lids.closures_are_two_piece_lids, jam(), "not said: as published"),
    breaks(jars_and_lids.closures_are_two_piece_lids, jam(closure="wire-bail"), "a wire bail"),
    breaks(jars_and_lids.closures_are_two_piece_lids, jam(closure="one-piece-lid"), "one piece"),
    unclear(jars_and_lids.closures_are_two_piece_lids, jam(closure="cork"), "a closure nobody tested"),
    passes(jars_and_lids.jars_are_no_larger_than_tested, carrots("quart"), "the largest printed"),
    breaks(
        jars_and_lids.jars_are_no_larger_than_tested,
        of_tested("chile-con-carne", minutes=90, psi=11, jars={"quart": 4}),
        "quarts where pints are printed, longer or not",
    ),
    unclear(jars_and_lids.jars_are_no_larger_than_tested, carrots("crock"), "a jar that is no size"),
    passes(jars_and_lids.jars_are_no_larger_than_tested, carrots("pint"), "a smaller printed size"),
    passes(
        jars_and_lids.half_gallons_hold_juice,
        of_tested("grape-juice", minutes=10, jars={"half-gallon": 3}),
        "grape juice",
    ),
    breaks(
        jars_and_lids.half_gallons_hold_juice,
        of_tested("tomato-juice", minutes=60, jars={"half-gallon": 3}),
        "tomato juice",
    ),
    passes(jars_and_lids.odd_jars_take_the_larger_time, carrots("pint-and-half"), "24 ounces at the quart's time"),
    passes(jars_and_lids.odd_jars_take_the_larger_time, salsa("twelve-ounce"), "12 ounces at the pint's time"),
    breaks(jars_and_lids.odd_jars_take_the_larger_time, salsa("pint-and-half"), "24 ounces with no quart time"),
    passes(jars_and_lids.smaller_jars_take_the_full_time, carrots("pint"), "a printed size"),
    passes(jars_and_lids.smaller_jars_take_the_full_time, carrots("half-pint"), "half-pints: said in a note"),
    passes(jars_and_lids.jam_goes_into_pints, jam("pint"), "pints"),
    breaks(jars_and_lids.jam_goes_into_pints, jam("quart"), "quarts"),
    unclear(jars_and_lids.jam_goes_into_pints, jam("bucket"), "how large a bucket is"),
    passes(jars_and_lids.some_foods_go_into_pints_only, mushrooms("pint"), "mushrooms in pints"),
    breaks(jars_and_lids.some_foods_go_into_pints_only, mushrooms("quart"), "mushrooms in quarts"),
    breaks(
        jars_and_lids.some_foods_go_into_pints_only, mushrooms("pint", "14 lb mushrooms, wild"), "mushrooms of the wood"
    ),
    passes(
        jars_and_lids.curd_goes_into_half_pints, curd("half-pint", "1 cup bottled lemon juice"), "half-pints, bottled"
    ),
    breaks(jars_and_lids.curd_goes_into_half_pints, curd("pint", "1 cup bottled lemon juice"), "pints"),
    breaks(jars_and_lids.curd_goes_into_half_pints, curd("half-pint", "1 cup fresh lemon juice"), "fresh juice"),
    breaks(jars_and_lids.curd_goes_into_half_pints, curd("half-pint", "1 cup orange juice"), "another fruit"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_jars_and_lids(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_of_jars_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_rule_of_jars_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_a_half_pint_takes_the_whole_time_of_the_pint() -> None:
    """Complete Guide to Home Canning, Guide 1 p. 1-23."""
    (said,) = notes(jars_and_lids.smaller_jars_take_the_full_time, carrots("half-pint"))
    assert "25 minutes" in said
    assert not notes(jars_and_lids.smaller_jars_take_the_full_time, carrots("pint"))
