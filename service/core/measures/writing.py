"""Amounts as a kitchen measures them: "4 1/2 cups", "2 tbsp + 1 tsp" for seven teaspoons, "4 to 4 1/2 lb"."""

from fractions import Fraction
from math import ceil

from service.core.measures.amounts import Measure, written
from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_CUP, ML_PER_TABLESPOON, ML_PER_TEASPOON, UNITS, Dimension, Unit

QUARTER_CUP = ML_PER_CUP / 4  # the smallest cup there is


def amount(bounds: Bounds, unit: Unit) -> str:
    """So many of a unit; exact spoonfuls in the largest measures that hold them."""
    spoons = unit.dimension is Dimension.VOLUME and unit.factor in (ML_PER_TEASPOON, ML_PER_TABLESPOON)
    if spoons and bounds.exact:
        return _measures(bounds.low * unit.factor)
    return written(Measure(bounds, unit))


def _measures(ml: Fraction) -> str:
    cups = ml // QUARTER_CUP
    left = ml - cups * QUARTER_CUP
    tablespoons = left // ML_PER_TABLESPOON
    teaspoons = (left - tablespoons * ML_PER_TABLESPOON) / ML_PER_TEASPOON
    parts = ((Fraction(cups, 4), "cup"), (Fraction(tablespoons), "tbsp"), (teaspoons, "tsp"))
    said = (written(Measure(Bounds.exactly(count), UNITS[name])) for count, name in parts if count)
    return " + ".join(said) or "0 tsp"


def spoons_up(ml: Fraction) -> str:
    """At least so much, to the next quarter of a teaspoon; to the next eighth where there is less than one."""
    teaspoons = ml / ML_PER_TEASPOON
    parts = 8 if teaspoons < 1 else 4
    return amount(Bounds.exactly(Fraction(ceil(teaspoons * parts), parts)), UNITS["tsp"])
