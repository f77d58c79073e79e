"""Closures and shelves. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import seal_and_storage
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.seal_and_storage import RULES
from tests.core.rules.cases import agrees, breaks, case, of_tested, passes, stands_in_the_catalogue


def jam(**sent: object) -> Case:
    return of_tested("strawberry-jam-liquid", **({"minutes": 5} | sent))


UNCOOKED = ("fruit", "sugar", "stand-24-h", "pectin", "fill")

EXAMPLES = [
    passes(seal_and_storage.wax_is_no_seal, jam(closure="two-piece-lid"), "a two-piece lid"),
    passes(seal_and_storage.wax_is_no_seal, jam(), "not said: as published"),
    breaks(seal_and_storage.wax_is_no_seal, jam(closure="paraffin"), "paraffin"),
    passes(seal_and_storage.a_vacuum_is_no_process, case("2 cups nuts", method="vacuum"), "nuts kept dry"),
    passes(
        seal_and_storage.a_vacuum_is_no_process,
        case("2 cups cooked beans", method="vacuum", storage="refrigerator"),
        "beans kept cold",
    ),
    breaks(seal_and_storage.a_vacuum_is_no_process, case("2 cups cooked beans", method="vacuum"), "beans on a shelf"),
    passes(seal_and_storage.freezer_jam_stays_cold, jam(), "a cooked jam"),
    passes(seal_and_storage.freezer_jam_stays_cold, jam(title="Freezer jam", storage="freezer"), "freezer jam, frozen"),
    breaks(seal_and_storage.freezer_jam_stays_cold, jam(title="Freezer jam"), "freezer jam on a shelf"),
    breaks(seal_and_storage.freezer_jam_stays_cold, jam(steps=UNCOOKED), "jam that is never heated"),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_seal_and_storage(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_of_seal_and_storage_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_rule_of_seal_and_storage_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}
