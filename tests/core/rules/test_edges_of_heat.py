"""Time, canners, jars and headspace at the edge of what is published and just beside it.

The figures are those of the catalogue, under each rule's id, and of the Complete Guide's tables (AIB 539 rev. 2015).
"""

from typing import Any

import pytest

from service.core.rules import altitude, equipment, headspace, heat, jars_and_lids
from service.core.rules.case import Case
from service.core.rules.findings import Rule
from tests.core.rules.cases import case, findings, notes, of_tested
from tests.core.rules.test_heat import carrots, crushed, dills, jam, own_jam, peaches

PINTS, QUARTS = {"pint": 9}, {"quart": 7}
DIAL = "pressure-dial"
Sides = tuple[Rule, Case, Case]  # a rule, the last case that it lets through, the first that it finds


def ours(*lines: str, minutes: int | None = None, **sent: Any) -> Case:
    """Food under pressure that no row is printed for."""
    return case(*lines, title="Ours", minutes=minutes, **({"method": DIAL, "psi": 11, "jars": QUARTS} | sent))


def soup(minutes: int | None, **sent: Any) -> Case:
    return ours("2 lb sunchokes", "2 qt water", minutes=minutes, family="soup", **sent)


def seafood_soup(minutes: int | None, **sent: Any) -> Case:
    return ours("2 lb squid", "2 qt water", minutes=minutes, family="soup", **sent)


def roots(minutes: int | None, **sent: Any) -> Case:
    return ours("2 lb sunchokes", "2 lb salsify", minutes=minutes, family="vegetable", **sent)


def squid(minutes: int | None, **sent: Any) -> Case:
    return ours("4 lb squid", minutes=minutes, family="fish", **sent)


def smoked(equipment: str) -> Case:
    return of_tested("smoked-fish", minutes=110, psi=11, equipment=equipment)


def beef(*lines: str, **sent: Any) -> Case:
    beef = "meat-strips-cubes-or-chunks"
    return case("14 lb beef, cubed", *lines, title="Beef", family="meat", product=beef, method=DIAL, **sent)


def chicken(*lines: str, **sent: Any) -> Case:
    product = "chicken-or-rabbit-without-bones"
    return case("14 lb chicken, boned", *lines, title="Chicken", family="meat", product=product, method=DIAL, **sent)


def fermented(step: str) -> Case:
    return of_tested("fermented-dill-pickles", minutes=15, steps=("brine", step, "fill", "process"))


def dried(line: str, **sent: Any) -> Case:
    return case(line, title="Beans", product="dried-beans-or-peas", family="legume", method=DIAL, **sent)


HEAT: tuple[Sides, ...] = (
    *(
        (rule, made(needed, jars=jars), made(needed - 1, jars=jars))
        for rule, made, jars, needed in (
            (heat.soup_takes_the_soup_time, soup, PINTS, 60),
            (heat.soup_takes_the_soup_time, soup, {"half-pint": 9}, 60),
            (heat.soup_takes_the_soup_time, soup, QUARTS, 75),
            (heat.soup_takes_the_soup_time, soup, {"pint": 4, "quart": 3}, 75),
            (heat.soup_takes_the_soup_time, soup, {}, 75),
            (heat.soup_takes_the_soup_time, seafood_soup, PINTS, 100),
            (heat.soup_takes_the_soup_time, seafood_soup, QUARTS, 100),
            (heat.mixed_vegetables_take_the_longest_time, roots, PINTS, 75),
            (heat.mixed_vegetables_take_the_longest_time, roots, QUARTS, 90),
            (heat.fish_takes_the_fish_time, squid, PINTS, 100),
            (heat.fish_takes_the_fish_time, squid, QUARTS, 160),
        )
    ),
    (heat.soup_takes_the_soup_time, soup(75), soup(None)),
    (heat.fish_takes_the_fish_time, ours("2 lb sunchokes", family="vegetable", minutes=20), squid(20)),
    (heat.fish_takes_the_fish_time, squid(20, storage="refrigerator"), squid(20)),
    (heat.mixed_vegetables_take_the_longest_time, ours("2 lb sunchokes", family="vegetable", minutes=20), roots(20)),
    (
        heat.mixed_vegetables_take_the_longest_time,
        case("9 cups carrots, cubed", product="mixed-vegetables", family="vegetable", method=DIAL),
        case("9 cups spinach, chopped", product="mixed-vegetables", family="vegetable", method=DIAL),
    ),
    (heat.fish_takes_the_fish_time, smoked("22-quart canner"), smoked("15-quart canner")),
    (heat.fish_takes_the_fish_time, smoked("16-quart canner"), smoked("15 qt canner")),
    (
        heat.fish_takes_the_fish_time,
        of_tested("fish-pint", minutes=100, psi=11, equipment="10-quart canner"),
        ours("4 lb trout, smoked", family="fish", minutes=160, equipment="10-quart canner"),
    ),
    (
        heat.food_is_covered_with_liquid,
        beef(pack="raw", covering_liquid=False),
        beef(pack="hot", covering_liquid=False),
    ),
    (
        heat.food_is_covered_with_liquid,
        carrots(pack="raw", covering_liquid=True),
        carrots(pack="raw", covering_liquid=False),
    ),
    (
        heat.food_is_covered_with_liquid,
        beef(pack="raw", covering_liquid=False),
        beef("2 lb carrots", pack="raw", covering_liquid=False),
    ),
    (
        heat.only_canners_process_jars,
        dills(method="low-temperature-pasteurization", minutes=30, water_temp_f=182),
        dills(method="low-temperature"),
    ),
    (heat.low_heat_is_for_listed_pickles, peaches(water_temp_f=212), peaches(water_temp_f=185)),
    (heat.low_heat_is_for_listed_pickles, peaches(water_temp_f=190), peaches(water_temp_f=189)),
    (heat.ferments_are_finished, fermented("ferment-21-days"), fermented("ferment-20-days")),
    (heat.ferments_are_finished, fermented("ferment-3-weeks"), fermented("ferment-2-weeks")),
    (
        heat.time_belongs_to_the_pack,
        peaches(pack="raw", minutes=30, jars={"pint": 4, "quart": 4}),
        peaches(pack="raw", minutes=25, jars={"pint": 4, "quart": 4}),
    ),
    (
        heat.process_is_long_enough,
        crushed(minutes=45, jars={"half-gallon": 1, "quart": 6}),
        crushed(minutes=44, jars={"half-gallon": 1, "quart": 6}),
    ),
    (
        heat.low_acid_food_is_pressure_canned,
        case("4 cups feijoas", "1 cup sugar", title="Ours", family="other", product="no-row"),
        case("4 cups sunchokes", "1 cup sugar", title="Ours", family="other", product="no-row"),
    ),
    (
        heat.low_acid_food_is_pressure_canned,
        case("4 cups sunchokes", "4 cups vinegar (5%)", title="Ours", family="pickle", product="no-row"),
        case("4 cups sunchokes", title="Ours", family="pickle", product="no-row"),
    ),
    (
        heat.jam_is_processed,
        case("4 cups feijoas", title="Ours", family="fruit", product="no-row"),
        case("4 cups feijoas", title="Ours", family="jam", product="no-row"),
    ),
    (heat.jam_is_processed, own_jam(method=DIAL, minutes=1), own_jam(minutes=1)),
    (heat.jam_is_processed, jam(minutes=1), own_jam(minutes=1)),
    (
        heat.meat_is_part_of_what_was_tested,
        case("14 lb chicken", "1 tsp salt per quart", "2 qt water", title="Chicken", family="meat", method=DIAL),
        case("14 lb chicken", "2 cups onions", "2 qt water", title="Chicken", family="other", method=DIAL),
    ),
    (
        heat.meat_is_part_of_what_was_tested,
        case("4 qt clams", "2 qt water", title="Clams", product="clams", method=DIAL),
        case("4 qt clams", "4 cups peaches", title="Ours", family="fruit", method=DIAL),
    ),
)
MORE_HEAT: tuple[Sides, ...] = (
    (heat.pressure_canners_are_vented, peaches(vent_minutes=5), carrots(vent_minutes=5)),
    (heat.pressure_canners_are_vented, carrots(vent_minutes=20), carrots(vent_minutes=9.9)),
    (heat.ferments_are_finished, fermented("ferment-4-weeks"), of_tested(
        "fermented-dill-pickles", add=["2 lb cucumbers, freshly salted"], minutes=15)),
    (heat.ferments_are_finished, fermented("ferment-3-to-4-weeks"), fermented("ferment-2-to-4-weeks")),
    (
        heat.dry_beans_are_soaked,
        dried("5 lb dry pinto beans, soaked", steps=("fill", "process")),
        dried("5 lb dry pinto beans, unsoaked", steps=("soak-12-h", "fill", "process")),
    ),
    (
        heat.dry_beans_are_soaked,
        dried("5 lb dry pinto beans", steps=("soak-12-h", "fill", "process")),
        ours("5 lb dry pinto beans", family="soup", steps=("fill",)),
    ),
    (
        heat.dry_beans_are_soaked,
        ours("5 lb cooked pinto beans", family="soup"),
        dried("5 lb pinto beans", steps=("fill",)),
    ),
    (heat.jam_is_processed, own_jam(minutes=10), own_jam(minutes=4)),
    (
        heat.short_processes_start_with_sterile_jars,
        carrots(minutes=8, sterile_jars=False),
        jam(minutes=9, sterile_jars=False),
    ),
    (
        heat.short_processes_start_with_sterile_jars,
        jam(minutes=5, sterile_jars=False, storage="freezer"),
        jam(minutes=5, sterile_jars=False),
    ),
    (heat.only_canners_process_jars, jam(method="refrigerate", storage="shelf"), jam(method="sealed")),
    (
        heat.fish_takes_the_fish_time,
        case("4 lb trout", product="smoked-fish", family="fish", method=DIAL, equipment="16-quart canner"),
        case("4 lb trout", product="smoked-fish", family="fish", method=DIAL, equipment="12-quart canner"),
    ),
    (heat.process_is_long_enough, jam(), case(
        "21 lb tomatoes", "2 tbsp bottled lemon juice per quart", product="tomatoes-whole-no-added-liquid",
        title="Tomatoes", family="tomato", method="atmospheric-steam", minutes=85, jars=QUARTS)),
    (heat.process_is_long_enough, carrots(method=None, minutes=None), carrots(method=None, jars={"bucket": 1})),
    (heat.process_is_long_enough, carrots(method=None, jars={"bucket": 1}, storage="freezer"), carrots(minutes=29)),
    (
        heat.low_heat_is_for_listed_pickles,
        dills(method="low-temperature-pasteurization", minutes=40, water_temp_f=185),
        dills(method="low-temperature-pasteurization", minutes=40, water_temp_f=186),
    ),
    (
        heat.low_heat_is_for_listed_pickles,
        dills(method="low-temperature-pasteurization", minutes=30, water_temp_f=180),
        dills(method="low-temperature-pasteurization", minutes=30, water_temp_f=179),
    ),
    (heat.soup_takes_the_soup_time, soup(120), soup(1)),
    (
        heat.mixed_vegetables_take_the_longest_time,
        ours("4 lb plums", family="vegetable", minutes=20),
        roots(20),
    ),
    (
        heat.meat_is_part_of_what_was_tested,
        case("22 lb tomatoes", "2 lb ground beef", title="Ours", family="tomato", storage="freezer"),
        case("22 lb tomatoes", "2 lb ground beef", title="Ours", family="tomato"),
    ),
)  # fmt: skip
ALTITUDE: tuple[Sides, ...] = (
    *(
        (
            altitude.jam_boils_longer_higher_up,
            own_jam(minutes=5, altitude_ft=last),
            own_jam(minutes=5, altitude_ft=first),
        )
        for last, first in ((1000, 1001), (-200, 6000))
    ),
    *(
        (
            altitude.jam_boils_longer_higher_up,
            own_jam(minutes=10, altitude_ft=last),
            own_jam(minutes=9, altitude_ft=last),
        )
        for last in (1001, 6000)
    ),
    (
        altitude.jam_boils_longer_higher_up,
        own_jam(minutes=10, altitude_ft=6000),
        own_jam(minutes=10, altitude_ft=6001),
    ),
    (altitude.jam_boils_longer_higher_up, own_jam(minutes=15, altitude_ft=9000), own_jam(minutes=14, altitude_ft=9000)),
    (
        altitude.jam_boils_longer_higher_up,
        case("4 cups feijoas", title="Ours", family="fruit", product="no-row", minutes=5, altitude_ft=4000),
        own_jam(minutes=5, altitude_ft=4000),
    ),
    (
        altitude.jam_boils_longer_higher_up,
        own_jam(method=DIAL, minutes=5, altitude_ft=4000),
        own_jam(method="atmospheric-steam", minutes=5, altitude_ft=4000),
    ),
    (altitude.jam_boils_longer_higher_up, own_jam(minutes=20, altitude_ft=4000), own_jam(minutes=9, altitude_ft=4000)),
    (altitude.jam_boils_longer_higher_up, own_jam(minutes=4, altitude_ft=4000), own_jam(minutes=6, altitude_ft=4000)),
    (
        altitude.dial_belongs_to_the_altitude,
        carrots(method="pressure-weighted", psi=5),
        carrots(psi=5),
    ),
    (
        altitude.dial_belongs_to_the_altitude,
        of_tested("figs-whole-acidified", method="atmospheric-steam", minutes=45, jars=PINTS, altitude_ft=9000),
        carrots(psi=15, altitude_ft=9000),
    ),
    (altitude.jam_boils_longer_higher_up, jam(altitude_ft=4000), own_jam(minutes=5, altitude_ft=4000)),
)
JARS: tuple[Sides, ...] = (
    (
        jars_and_lids.some_foods_go_into_pints_only,
        ours("4 lb mushrooms", "4 lb carrots", family="vegetable", product="no-row"),
        ours("4 lb mushrooms", family="vegetable", product="no-row"),
    ),
    (
        jars_and_lids.some_foods_go_into_pints_only,
        ours("4 lb mushrooms", family="vegetable", product="no-row", jars=PINTS),
        ours("4 lb trout, smoked fish", family="fish", product="no-row"),
    ),
    (headspace.poultry_leaves_more, beef("2 qt water", pack="raw"), chicken("2 qt water", pack="raw")),
    (headspace.poultry_leaves_more, chicken("2 qt water", pack="hot"), chicken("2 qt broth", pack="raw")),
    *(
        (headspace.freezer_jam_has_room_to_swell, frozen_jam(last), frozen_jam(first))
        for frozen_jam in (lambda inches: own_jam(method="freeze", headspace_in=inches),)
        for last, first in ((0.5, 0.25), (0.375, 0.37), (1.5, 0.125))
    ),
    *(
        (headspace.headspace_is_the_published_one, carrots(headspace_in=last), carrots(headspace_in=first))
        for last, first in ((0.875, 0.87), (1.125, 1.13), (0.95, 0.5), (1.05, 1.5))
    ),
    (
        headspace.headspace_is_the_published_one,
        carrots(headspace_in=0.25, storage="refrigerator"),
        carrots(headspace_in=0.25),
    ),
    (
        headspace.headspace_is_the_published_one,
        case("4 qt clams", product="clams", method=DIAL, pack="raw", headspace_in=1),
        case("4 qt clams", product="clams", method=DIAL, pack="raw", headspace_in=0.5),
    ),
    (
        equipment.acid_food_stays_off_reactive_metal,
        carrots(equipment="copper kettle"),
        peaches(equipment="copper kettle"),
    ),
    (
        equipment.acid_food_stays_off_reactive_metal,
        peaches(equipment="aluminum kettle"),
        dills(equipment="aluminium kettle"),
    ),
    (
        equipment.elderberry_spreads_are_weighed,
        case("4 cups blue elderberries", "5 cups sugar", title="Jam", family="jam"),
        case("4 cups feijoas", "1 cup elderberry cordial", "2 lb sugar", title="Jam", family="jam"),
    ),
    (
        equipment.pressure_canners_are_large_enough,
        carrots(equipment="22-quart canner"),
        carrots(method="pressure-saucepan"),
    ),
    (
        equipment.pressure_canners_are_large_enough,
        peaches(equipment="6-quart canner"),
        carrots(equipment="small canner"),
    ),
    (
        equipment.steam_runs_45_minutes_at_most,
        peaches(method="atmospheric-steam", minutes=30),
        peaches(method="atmospheric-steam", minutes=46),
    ),
    (
        equipment.steam_is_for_acid_food,
        peaches(method="atmospheric-steam", minutes=30),
        case(
            "21 lb tomatoes", "2 tbsp bottled lemon juice per quart", product="tomatoes-whole-no-added-liquid",
            title="Tomatoes", family="tomato", method="atmospheric-steam", minutes=85, jars=QUARTS,
        ),
    ),
    (jars_and_lids.jars_are_no_larger_than_tested, carrots(), carrots(jars={})),
    (jars_and_lids.jars_are_no_larger_than_tested, carrots(jars={}, storage="freezer"), carrots(jars={"bucket": 1})),
    (
        jars_and_lids.curd_goes_into_half_pints,
        case("1 cup bottled lime juice", "2 cups sugar", title="Lime curd", jars={"half-pint": 3}),
        case("1 cup bottled lime juice", "2 cups sugar", title="Lime curd", jars={"pint": 3}),
    ),
    (
        equipment.pressure_canners_are_large_enough,
        carrots(equipment="16-quart canner"),
        carrots(equipment="15-quart canner"),
    ),
)  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "last", "first"),
    [
        pytest.param(*sides, id=f"{sides[0].id} {number}")
        for number, sides in enumerate((*HEAT, *MORE_HEAT, *ALTITUDE, *JARS))
    ],
)
def test_a_limit_lets_its_edge_through_and_nothing_beyond(rule: Rule, last: Case, first: Case) -> None:
    assert not findings(rule, last)
    assert findings(rule, first)


@pytest.mark.parametrize(
    ("altitude_ft", "minutes"), [(-200, 5), (0, 5), (1000, 5), (1001, 10), (6000, 10), (6001, 15), (9000, 15)]
)
def test_jam_takes_five_minutes_more_in_each_band(altitude_ft: int, minutes: int) -> None:
    """Complete Guide to Home Canning, Guide 7: 0 to 1,000, 1,001 to 6,000 and above 6,000 ft."""
    (found,) = findings(heat.jam_is_processed, own_jam(minutes=1, altitude_ft=altitude_ft))
    assert found.fix == f"Process half-pints and pints {minutes} minutes."


def test_no_full_time_is_promised_to_a_jar_that_falls_short() -> None:
    short = carrots(jars={"half-pint": 4}, minutes=24)
    assert findings(heat.process_is_long_enough, short)
    assert not notes(jars_and_lids.smaller_jars_take_the_full_time, short)


@pytest.mark.parametrize(
    ("minutes", "begins"), [(46, "A steam canner may boil dry"), (None, "How long the steam canner")]
)
def test_a_long_time_in_steam_and_one_that_is_not_said_are_told_apart(minutes: int | None, begins: str) -> None:
    steamed = peaches(method="atmospheric-steam", minutes=minutes)
    (found,) = findings(equipment.steam_runs_45_minutes_at_most, steamed)
    assert found.message.startswith(begins)


@pytest.mark.parametrize(("inch", "begins"), [(0.5, "With so little space"), (1.5, "So much space")])
def test_too_little_and_too_much_headspace_are_told_apart(inch: float, begins: str) -> None:
    (found,) = findings(headspace.headspace_is_the_published_one, carrots(headspace_in=inch))
    assert found.message.startswith(begins)
    assert found.fix == "Fill the jars to 1 inch from the rim."
