from fractions import Fraction

import pytest

from service.core.measures import units
from service.core.measures.jars import JAR_ML
from service.core.measures.units import UNITS, Dimension, unit_named

BASE = {Dimension.VOLUME: "ml", Dimension.MASS: "g", Dimension.COUNT: "each"}


def test_the_unit_library_agrees_with_every_factor_exactly():
    registry = units.registry()
    shared = [unit for unit in UNITS.values() if unit.measured or unit.name in ("each", "dozen")]
    for unit in shared:
        library = registry.Quantity(Fraction(1), unit.name.replace(" ", "_")).to(BASE[unit.dimension])
        assert library.magnitude == unit.factor, unit.name
    assert all(UNITS[name].factor == 1 for name in UNITS if UNITS[name] not in shared)


@pytest.mark.parametrize(
    ("word", "size"),
    [
        # NIST Handbook 44, Appendix C, General Tables of Units of Measurement
        ("tsp", "4.92892159375"),
        ("tbsp", "14.78676478125"),
        ("fl oz", "29.5735295625"),
        ("gill", "118.29411825"),
        ("cup", "236.5882365"),
        ("pint", "473.176473"),
        ("quart", "946.352946"),
        ("gallon", "3785.411784"),
        ("bushel", "35239.07016688"),
        ("peck", "8809.76754172"),
        ("dry quart", "1101.220942715"),
        ("dry pint", "550.6104713575"),
        ("ounce", "28.349523125"),
        ("pound", "453.59237"),
        ("kilogram", "1000"),
        ("litre", "1000"),
    ],
)
def test_factors_are_the_ones_in_print(word, size):
    assert unit_named(word).factor == Fraction(size)


@pytest.mark.parametrize("name", ["teaspoon", "tablespoon", "cup", "pint", "quart"])
def test_the_named_constants_are_the_factors_of_their_units(name):
    assert getattr(units, f"ML_PER_{name.upper()}") == unit_named(name).factor


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("T", "tbsp"),
        ("T.", "tbsp"),
        ("t", "tsp"),
        ("t.", "tsp"),
        ("Tbsp.", "tbsp"),
        ("TBSP", "tbsp"),
        ("Tbs", "tbsp"),
        ("tablespoonfuls", "tbsp"),
        ("c", "cup"),
        ("C.", "cup"),
        ("Cups", "cup"),
        ("lbs.", "lb"),
        ("#", "lb"),
        ("pkg.", "package"),
        ("pouches", "pouch"),
        ("boxes", "box"),
        ("fl. oz.", "fl oz"),
        ("fluid ounces", "fl oz"),
        ("bunches", "bunch"),
        ("dashes", "dash"),
        ("cloves", "clove"),
        ("grams", "g"),
        ("L", "l"),
    ],
)
def test_a_word_is_found_however_it_is_written(word, name):
    assert unit_named(word).name == name


@pytest.mark.parametrize("word", ["", ".", "s", "es", "smidgen", "cupboard", "imperial pint", "9**9**9", "gr", "F"])
def test_any_other_word_is_no_unit(word):
    assert unit_named(word) is None


def test_a_pinch_is_no_exact_measure():
    assert all(not UNITS[name].spread.exact for name in ("pinch", "dash"))
    assert UNITS["cup"].spread.exact


def test_a_stick_of_butter_weighs_what_is_printed_within_half_a_gram():
    assert abs(units.BUTTER_STICK.factor - 113) < Fraction(1, 2)  # USDA SR26 NDB 01145


@pytest.mark.parametrize(
    ("size", "fluid_ounces"),
    [
        # trade sizes; common practice, no source
        ("quarter-pint", 4),
        ("half-pint", 8),
        ("twelve-ounce", 12),
        ("pint", 16),
        ("pint-and-half", 24),
        ("quart", 32),
        ("half-gallon", 64),
    ],
)
def test_a_jar_holds_its_trade_size(size, fluid_ounces):
    assert JAR_ML[size] == fluid_ounces * Fraction("29.5735295625")  # NIST Handbook 44, Appendix C


def test_no_other_jar_is_listed():
    assert len(JAR_ML) == 7
