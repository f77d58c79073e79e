"""How published processes are looked up. The figures themselves are compared with their pages in tests/published."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.rules import processes
from service.core.rules.facts import Band, BandFigures, Evidence, Facts, Process, Source
from service.core.rules.processes import How
from service.published.loading import facts

SOURCE = Source("An invented table", "Nobody", None, Evidence.COMMON_PRACTICE)


def band(low_ft, high_ft, minutes, psi=None, *, steam=False):
    return BandFigures(Band(low_ft, high_ft), minutes, psi, sterile_jars=False, atmospheric_steam=steam)


def row(id="row", **changes):
    """An invented row: quinces, hot pack, in pints."""
    return replace(
        Process(
            id=id,
            product="quinces",
            family="fruit",
            acidity="acid",
            pack="hot",
            jar_sizes=("pint",),
            method="boiling-water",
            bands=(band(0, 1000, 20, steam=True), band(1001, 6000, 25, steam=True), band(6001, None, 50)),
            headspace_in=None,
            acid_source="natural",
            acids=(),
            starch=None,
            covers="plain-pack",
            notes="",
            source=SOURCE,
        ),
        **changes,
    )


def facts_of(*rows):
    return Facts("test", rows, (), (), (), (), ())


@pytest.mark.parametrize(
    ("altitude_ft", "minutes"),
    [
        pytest.param(0, 20, id="the foot of the first band"),
        pytest.param(1000, 20, id="its top"),
        pytest.param(1001, 25, id="a foot higher"),
        pytest.param(6001, 50, id="the open band"),
        pytest.param(14_000, 50, id="far up in the open band"),
    ],
)
def test_the_band_that_holds_the_altitude_decides(altitude_ft, minutes):
    figures = processes.at(row(), altitude_ft)
    assert figures is not None
    assert figures.minutes == minutes


@pytest.mark.parametrize("altitude_ft", [-1, 8001, 30_000])
def test_an_altitude_without_a_printed_band_has_no_figures(altitude_ft):
    dial = row(method="pressure-dial", bands=(band(0, 2000, 25, 11), band(2001, 8000, 25, 12)))
    assert processes.at(dial, altitude_ft) is None


@given(st.integers(0, 15_000))
def test_figures_are_only_ever_those_of_a_printed_band(altitude_ft):
    process = row()
    assert processes.at(process, altitude_ft) in process.bands


@pytest.mark.parametrize(
    ("printed", "jar_size", "how"),
    [
        pytest.param(("pint",), "pint", How.PRINTED, id="its own size"),
        pytest.param(("pint",), "half-pint", How.HALF_PINT_AS_PINT, id="a half-pint as a pint"),
        pytest.param(("pint",), "twelve-ounce", How.TWELVE_OUNCE_AS_PINT, id="12 ounces as a pint"),
        pytest.param(("quart",), "pint-and-half", How.PINT_AND_HALF_AS_QUART, id="24 ounces as a quart"),
        pytest.param(("half-pint",), "quarter-pint", How.QUARTER_PINT_AS_HALF_PINT, id="4 ounces as a half-pint"),
        pytest.param(("pint",), "quarter-pint", None, id="4 ounces where no half-pint is printed"),
        pytest.param(("pint",), "pint-and-half", None, id="24 ounces where no quart is printed"),
        pytest.param(("pint",), "quart", None, id="a larger jar than any printed"),
        pytest.param(("quart",), "pint", None, id="a pint as a quart, which nobody published"),
        pytest.param(("quart",), "half-gallon", None, id="a half-gallon"),
        pytest.param(("pint", "quart"), "bottle", None, id="no canning jar"),
    ],
)
def test_a_jar_takes_its_own_row_or_a_published_equivalent(printed, jar_size, how):
    process = row(jar_sizes=printed)
    assert processes.covering(facts_of(process), process, jar_size) is how


@pytest.mark.parametrize("product", ["clams", "king-or-dungeness-crab", "reduced-sugar-fruit-spread"])
def test_some_half_pints_never_take_the_pint_row(product):
    """Complete Guide to Home Canning, rev. 2015: their half-pints have times of their own (Guides 5 and 7)."""
    pints = row(product=product)
    assert processes.covering(facts_of(pints), pints, "half-pint") is None


def test_a_size_with_a_row_of_its_own_takes_no_other():
    pints, half_pints = row("pints"), row("half-pints", jar_sizes=("half-pint",))
    facts = facts_of(pints, half_pints)
    assert [found.id for found in processes.rows(facts, jar_size="half-pint")] == ["half-pints"]


def test_a_row_for_another_pack_is_no_row_of_its_own():
    pints, raw = row("pints"), row("raw", pack="raw", jar_sizes=("half-pint",))
    assert processes.covering(facts_of(pints, raw), pints, "half-pint") is How.HALF_PINT_AS_PINT


def test_steam_takes_the_minutes_of_boiling_water_where_it_may_stand_for_it():
    (found,) = processes.rows(facts_of(row()), method="atmospheric-steam")
    assert (found.id, found.method) == ("row:steam", "atmospheric-steam")
    assert [(each.band, each.minutes) for each in found.bands] == [(Band(0, 1000), 20), (Band(1001, 6000), 25)]
    assert processes.at(found, 6001) is None


def test_no_pressure_process_is_done_in_steam():
    assert processes.steam(row(method="pressure-dial", bands=(band(0, 2000, 25, 11),))) is None


def test_a_steam_row_knows_the_rows_of_boiling_water_beside_it():
    pints, half_pints = row("pints"), row("half-pints", jar_sizes=("half-pint",))
    found = processes.rows(facts_of(pints, half_pints), method="atmospheric-steam", jar_size="half-pint")
    assert [each.id for each in found] == ["half-pints:steam"]


def test_rows_are_found_by_product_family_and_method():
    quinces = row("quinces")
    beans = row("beans", product="beans", family="vegetable", method="pressure-dial", bands=(band(0, 2000, 25, 11),))
    facts = facts_of(quinces, beans)
    assert [each.id for each in processes.rows(facts)] == ["quinces", "beans"]
    assert [each.id for each in processes.rows(facts, product="beans")] == ["beans"]
    assert [each.id for each in processes.rows(facts, family="fruit")] == ["quinces"]
    assert [each.id for each in processes.rows(facts, method="pressure-dial")] == ["beans"]
    assert list(processes.rows(facts, product="cake")) == []


def test_an_option_is_a_row_at_a_band_and_how_it_serves_the_jar():
    facts = facts_of(row())
    assert len(list(processes.options_at(facts))) == 3
    (option,) = processes.options_at(facts, 4200, jar_size="half-pint")
    assert (option.figures.minutes, option.how) == (25, How.HALF_PINT_AS_PINT)


def test_steam_stands_for_boiling_water_alone_and_for_45_minutes_at_most() -> None:
    """The published rule "steam-canner-45-minutes": altitude included."""
    most = int(facts().statement["steam-canner-45-minutes"].figures["minutes_max"])
    for row in facts().processes:
        derived = processes.steam(row)
        bands = [figures for figures in row.bands if figures.atmospheric_steam and row.method == "boiling-water"]
        assert (derived is None) == (not bands)
        if derived is not None:
            assert derived.method == "atmospheric-steam"
            assert list(derived.bands) == bands
            assert max(figures.minutes for figures in derived.bands) <= most
