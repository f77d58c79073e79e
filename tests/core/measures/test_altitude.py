import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws.iapws97 import _TSat_P

from service.core.measures import altitude

TABLES = {
    # Complete Guide to Home Canning, USDA AIB 539, read in a copy: at most a quarter of a degree above the computed
    "complete-guide": (0.25, {0: 212.0, 1000: 210.2, 2000: 208.5, 3000: 206.7, 4000: 204.9}),
    # The Art of High Altitude Cooking, a Colorado utility's bulletin, about 1965, read in a reprint
    "high-altitude-cooking": (
        0.34,
        {3000: 206.4, 4000: 204.6, 5000: 202.8, 5500: 201.9, 6000: 201.0, 7000: 199.2, 8000: 197.5, 10000: 194.0},
    ),
    # Why elevation matters, Colorado State University Extension: whole degrees
    "why-elevation-matters": (0.5, {0: 212, 5000: 203}),
}
PRINTED = [
    pytest.param(feet, printed, tolerance, id=f"{table} at {feet} ft")
    for table, (tolerance, rows) in TABLES.items()
    for feet, printed in rows.items()
]


@pytest.mark.parametrize(("feet", "printed", "tolerance"), PRINTED)
def test_water_boils_where_the_published_tables_say(feet, printed, tolerance):
    assert altitude.boiling_f(feet) == pytest.approx(printed, abs=tolerance)


@given(st.floats(700, 22e6))
def test_saturation_agrees_with_a_steam_table_library(pascals):
    assert altitude.saturation_c(pascals) == pytest.approx(_TSat_P(pascals / 1e6) - 273.15, abs=1e-9)


@pytest.mark.parametrize(
    ("megapascals", "kelvin"),
    [(0.1, 372.755919), (1, 453.035632), (10, 584.149488)],  # IAPWS R7-97 (2012), table 36
)
def test_saturation_agrees_with_the_check_values_of_the_standard(megapascals, kelvin):
    assert altitude.saturation_c(megapascals * 1e6) == pytest.approx(kelvin - 273.15, abs=1e-6)


@pytest.mark.parametrize("pascals", [0.0, 600.0, 30e6])
def test_pressures_at_which_nothing_boils_are_refused(pascals):
    with pytest.raises(ValueError, match="no boiling water"):
        altitude.saturation_c(pascals)


@pytest.mark.parametrize(
    ("feet", "kilopascals"),
    [(0, 101.325), (500, 99.508), (1000, 97.717), (2000, 94.214), (3000, 90.813)],
)
def test_air_thins_as_in_the_standard_atmosphere(feet, kilopascals):
    # U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562; values computed from its constants
    assert altitude.air_pressure_pa(feet) / 1000 == pytest.approx(kilopascals, abs=0.001)


@pytest.mark.parametrize(
    ("psi", "feet", "printed"),
    # Complete Guide to Home Canning, guide 1: 240 to 250 F at 10 to 15 psi at sea level (from memory)
    [(10, 0, 240), (15, 0, 250)],
)
def test_a_vented_canner_gets_as_hot_as_printed_within_a_degree(psi, feet, printed):
    assert altitude.canner_f(psi, feet) == pytest.approx(printed, abs=1)


@pytest.mark.parametrize(("psi", "foot", "top"), [(11, 0, 2000), (12, 2001, 4000), (13, 4001, 6000), (14, 6001, 8000)])
def test_the_published_dial_gauge_bands_all_reach_about_240_degrees(psi, foot, top):
    # Complete Guide to Home Canning, process tables for vegetables, in UF/IFAS EDIS HE224
    assert 239 <= altitude.canner_f(psi, top) < altitude.canner_f(psi, foot) <= 242


def test_the_days_barometer_counts_before_the_altitude():
    assert altitude.boiling_c(5000, barometer_hpa=1013.25) == altitude.boiling_c(0)
    assert altitude.canner_f(10, 5000, barometer_hpa=1013.25) == altitude.canner_f(10, 0)


@given(st.integers(-1000, 20000), st.integers(1, 1000))
def test_higher_up_water_boils_cooler(feet, more):
    assert altitude.boiling_c(feet + more) < altitude.boiling_c(feet)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(240, 115.5556), (212, 100), (32, 0)])  # NIST SP 811, appendix B
def test_degrees_convert_both_ways(fahrenheit, celsius):
    assert altitude.to_celsius(fahrenheit) == pytest.approx(celsius, abs=1e-4)
    assert altitude.to_fahrenheit(celsius) == pytest.approx(fahrenheit, abs=1e-3)
