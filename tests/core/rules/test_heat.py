"""Time, pack, canner and an unbroken run. Each rule's source stands in the published catalogue under the rule's id."""

import pytest

from service.core.rules import heat
from service.core.rules.case import Case
from service.core.rules.findings import Rule, Severity
from service.core.rules.heat import RULES
from tests.core.rules.cases import (
    agrees,
    breaks,
    case,
    findings,
    notes,
    of_tested,
    passes,
    stands_in_the_catalogue,
    unclear,
)

PINTS = {"pint": 9}
QUARTS = {"quart": 7}
HALF_PINTS = {"half-pint": 8}


def carrots(**sent: object) -> Case:
    """Hot-packed in quarts: 30 minutes at 11 lb on a dial gauge. Complete Guide to Home Canning, Guide 4."""
    return of_tested("carrots", **({"method": "pressure-dial", "minutes": 30, "psi": 11, "jars": QUARTS} | sent))


def crushed(**sent: object) -> Case:
    """Hot-packed in quarts: 45 minutes in boiling water up to 1,000 ft. Complete Guide, Guide 3."""
    return of_tested("tomatoes-crushed", **({"minutes": 45, "jars": QUARTS} | sent))


def peaches(**sent: object) -> Case:
    """Quarts up to 1,000 ft: 25 minutes hot, 30 raw. Complete Guide, Guide 2."""
    return of_tested("peaches-halved", **({"minutes": 25, "pack": "hot", "jars": QUARTS} | sent))


def jam(**sent: object) -> Case:
    return of_tested("strawberry-jam-liquid", **({"minutes": 5, "jars": HALF_PINTS} | sent))


def own_jam(**sent: object) -> Case:
    return case(
        "4 cups crushed feijoas", "4 cups sugar", **({"family": "jam", "product": "no-row", "jars": HALF_PINTS} | sent)
    )


def dills(**sent: object) -> Case:
    return of_tested("quick-dill-pickles", **({"minutes": 10, "jars": {"pint": 7}} | sent))


def soup(*lines: str, **sent: object) -> Case:
    sent = {"family": "soup", "method": "pressure-dial", "psi": 11, "jars": QUARTS} | sent
    return case(*lines, title="A soup", **sent)


EXAMPLES = [
    passes(heat.low_acid_food_is_pressure_canned, carrots(), "carrots under pressure"),
    passes(heat.low_acid_food_is_pressure_canned, crushed(), "acidified tomatoes in boiling water"),
    breaks(heat.low_acid_food_is_pressure_canned, carrots(method="boiling-water", minutes=180), "carrots, 3 hours"),
    breaks(heat.low_acid_food_is_pressure_canned, carrots(method="atmospheric-steam"), "carrots in steam"),
    breaks(heat.low_acid_food_is_pressure_canned, case("2 lb sunchokes", minutes=60), "a vegetable without a row"),
    unclear(heat.low_acid_food_is_pressure_canned, case("2 lb mystery root", family="vegetable"), "an unknown root"),
    passes(heat.jars_get_a_timed_process, jam(), "filled, lidded, boiled"),
    passes(heat.jars_get_a_timed_process, jam(method="open-kettle", storage="refrigerator"), "kept cold instead"),
    breaks(heat.jars_get_a_timed_process, jam(method="open-kettle"), "filled hot and left to ping"),
    breaks(heat.jars_get_a_timed_process, jam(method="refrigerate", storage="shelf"), "chilled, but for the shelf"),
    passes(heat.jars_stay_upright, jam(), "upright"),
    breaks(heat.jars_stay_upright, jam(method="inversion"), "turned over for a process"),
    breaks(heat.jars_stay_upright, jam(cooling="upside-down"), "cooled upside down"),
    passes(heat.only_canners_process_jars, peaches(), "a boiling-water canner"),
    breaks(heat.only_canners_process_jars, peaches(method="oven"), "an oven"),
    breaks(heat.only_canners_process_jars, peaches(equipment="dishwasher"), "a dishwasher"),
    unclear(heat.only_canners_process_jars, peaches(method="grandmother's way"), "a way nobody published"),
    passes(heat.process_is_long_enough, crushed(minutes=45), "exactly the printed minutes"),
    passes(heat.process_is_long_enough, crushed(minutes=60), "longer than printed"),
    passes(heat.process_is_long_enough, carrots(psi=12), "a little more pressure than printed"),
    breaks(heat.process_is_long_enough, crushed(minutes=44), "one minute short"),
    breaks(heat.process_is_long_enough, crushed(minutes=35), "the time of pints for quarts"),
    breaks(heat.process_is_long_enough, jam(altitude_ft=4000), "the 1,000 ft time of a jam at 4,000 ft"),
    breaks(
        heat.process_is_long_enough,
        dills(method="pressure-dial", psi=11),
        "a canner without a row",
        Severity.UNTESTED,
    ),
    unclear(heat.process_is_long_enough, crushed(minutes=None), "minutes not said"),
    passes(heat.time_belongs_to_the_pack, peaches(), "hot pack at the hot time"),
    passes(heat.time_belongs_to_the_pack, peaches(pack="raw", minutes=30), "raw pack at the raw time"),
    breaks(heat.time_belongs_to_the_pack, peaches(pack="raw"), "raw pack at the hot time"),
    breaks(
        heat.time_belongs_to_the_pack,
        case("21 lb applesauce", product="applesauce", pack="raw", minutes=30, jars=QUARTS),
        "a pack that isn't published",
    ),
    passes(heat.time_belongs_to_the_pack, carrots(pack="raw"), "packs with the same time"),
    passes(heat.short_processes_start_with_sterile_jars, jam(sterile_jars=True), "5 minutes in boiled jars"),
    passes(heat.short_processes_start_with_sterile_jars, jam(minutes=10, sterile_jars=False), "10 in washed jars"),
    passes(heat.short_processes_start_with_sterile_jars, jam(), "5 minutes, jars not said: as published"),
    breaks(heat.short_processes_start_with_sterile_jars, jam(sterile_jars=False), "5 minutes in washed jars"),
    passes(heat.jam_is_processed, own_jam(minutes=5), "5 minutes at sea level"),
    breaks(heat.jam_is_processed, own_jam(minutes=0), "no minutes at all"),
    unclear(heat.jam_is_processed, own_jam(), "minutes not said"),
    passes(heat.powders_do_not_replace_heat, peaches(), "peaches in syrup"),
    breaks(heat.powders_do_not_replace_heat, of_tested("peaches-halved", add=["1 tsp canning powder"]), "a powder"),
    breaks(heat.powders_do_not_replace_heat, crushed(add=["7 aspirin tablets"]), "aspirin"),
    passes(heat.food_is_covered_with_liquid, carrots(), "liquid not said: as published"),
    passes(
        heat.food_is_covered_with_liquid,
        of_tested("fish-pint", covering_liquid=False, psi=11, minutes=100, jars={"pint": 1}),
        "raw fish, tested without",
    ),
    breaks(heat.food_is_covered_with_liquid, carrots(covering_liquid=False), "carrots packed dry"),
    breaks(heat.food_is_covered_with_liquid, case("3 cups flour", method="oven"), "flour heated in jars"),
    passes(heat.a_broken_boil_starts_again, crushed(interrupted=True, restarted=True), "started again from zero"),
    breaks(heat.a_broken_boil_starts_again, crushed(interrupted=True), "a break, nothing said of starting again"),
    passes(heat.a_pressure_drop_starts_again, carrots(interrupted=True, restarted=True), "started again from zero"),
    breaks(heat.a_pressure_drop_starts_again, carrots(interrupted=True, restarted=False), "the rest of the time run"),
    passes(heat.pressure_canners_are_vented, carrots(vent_minutes=10), "10 minutes"),
    passes(heat.pressure_canners_are_vented, carrots(), "not said: as published"),
    breaks(heat.pressure_canners_are_vented, carrots(vent_minutes=9.5), "9 1/2 minutes"),
    breaks(heat.pressure_canners_are_vented, carrots(skipped_steps=("vent-10-min",)), "venting skipped"),
    passes(heat.pressure_canners_cool_by_themselves, carrots(cooling="natural"), "left to cool"),
    breaks(heat.pressure_canners_cool_by_themselves, carrots(cooling="forced"), "cold water over the lid"),
    unclear(heat.pressure_canners_cool_by_themselves, carrots(cooling="the usual"), "words that say nothing"),
    passes(
        heat.low_heat_is_for_listed_pickles,
        dills(method="low-temperature-pasteurization", minutes=30, water_temp_f=182),
        "a listed pickle held at 182 F",
    ),
    breaks(
        heat.low_heat_is_for_listed_pickles,
        dills(method="low-temperature-pasteurization", minutes=30, water_temp_f=178),
        "too cool",
    ),
    breaks(
        heat.low_heat_is_for_listed_pickles,
        of_tested("chile-salsa", method="low-temperature-pasteurization", minutes=30),
        "a salsa",
    ),
    breaks(
        heat.low_heat_is_for_listed_pickles,
        dills(method="low-temperature-pasteurization", minutes=29, water_temp_f=180),
        "a minute short",
    ),
    unclear(
        heat.low_heat_is_for_listed_pickles,
        dills(method="low-temperature-pasteurization", minutes=None, water_temp_f=182),
        "minutes not said",
    ),
    passes(
        heat.mixed_vegetables_take_the_longest_time, of_tested("mixed-vegetables", minutes=90, psi=11), "as printed"
    ),
    breaks(
        heat.mixed_vegetables_take_the_longest_time,
        of_tested("mixed-vegetables", change={"lima bean": "6 cups spinach, chopped"}, minutes=90, psi=11),
        "spinach in the mix",
    ),
    passes(heat.soup_takes_the_soup_time, of_tested("meat-stock", minutes=25, psi=11, jars=QUARTS), "plain stock"),
    breaks(
        heat.soup_takes_the_soup_time, soup("2 qt clams", "1 qt water", product="soup", minutes=75), "clams, 75 minutes"
    ),
    unclear(heat.soup_takes_the_soup_time, soup("2 qt clams", "1 qt water", product="soup"), "clams, minutes unsaid"),
    passes(heat.dry_beans_are_soaked, of_tested("dried-beans", minutes=90, psi=11), "soaked and boiled"),
    breaks(heat.dry_beans_are_soaked, of_tested("dried-beans", skipped_steps=("soak",)), "the soak skipped"),
    unclear(
        heat.dry_beans_are_soaked,
        case("5 lb dry pinto beans", product="dried-beans-or-peas", method="pressure-dial", steps=("fill", "process")),
        "no word of soaking",
    ),
    passes(heat.meat_is_part_of_what_was_tested, of_tested("chile-con-carne", minutes=75, psi=11), "a tested chile"),
    breaks(
        heat.meat_is_part_of_what_was_tested,
        of_tested("tomatoes-crushed", add=["2 lb ground beef"]),
        "beef added to tomatoes",
    ),
    passes(heat.fish_takes_the_fish_time, of_tested("fish-pint", minutes=100, psi=11), "pints, 100 minutes"),
    breaks(
        heat.fish_takes_the_fish_time,
        of_tested("smoked-fish", minutes=110, psi=11, equipment="10-quart canner"),
        "smoked fish in a 10 quart canner",
    ),
    passes(heat.jars_cool_slowly, jam(cooling="on a towel"), "on a towel"),
    breaks(heat.jars_cool_slowly, jam(cooling="cold water"), "in cold water"),
    passes(heat.ferments_are_finished, of_tested("fermented-dill-pickles", minutes=15), "three weeks in the crock"),
    breaks(
        heat.ferments_are_finished,
        of_tested("fermented-dill-pickles", steps=("brine", "ferment-4-days", "fill", "process")),
        "four days in the crock",
    ),
    unclear(
        heat.ferments_are_finished,
        of_tested("fermented-dill-pickles", steps=("brine", "fill", "process")),
        "no word of fermenting",
    ),
]


@pytest.mark.parametrize(("rule", "judged", "severity"), EXAMPLES)
def test_heat(rule: Rule, judged: Case, severity: Severity | None) -> None:
    assert agrees(rule, judged, severity)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_of_heat_stands_in_the_catalogue(rule: Rule) -> None:
    assert stands_in_the_catalogue(rule)


def test_every_rule_of_heat_has_its_examples() -> None:
    assert {example.values[0].id for example in EXAMPLES} == {rule.id for rule in RULES}


def test_a_short_process_says_what_was_sent_and_what_is_printed() -> None:
    (found,) = findings(heat.process_is_long_enough, crushed(minutes=44))
    assert found.where == "#/process/minutes"
    assert found.measured is not None
    assert found.limit is not None
    assert (found.measured.bounds.low, found.limit.bounds.low, found.limit.unit) == (44, 45, "minutes")


def test_a_longer_process_is_said_and_no_finding() -> None:
    assert notes(heat.process_is_long_enough, crushed(minutes=60))
    assert not notes(heat.process_is_long_enough, crushed(minutes=45))


def test_a_conserve_with_longer_times_of_its_own_is_held_to_them() -> None:
    """The family's row prints 5 minutes, this recipe 10: Cranberry conserve, National Center, from memory."""
    own = of_tested("cranberry-conserve-no-pectin", minutes=5, jars={"half-pint": 4}, sterile_jars=True)
    assert findings(heat.process_is_long_enough, own)
