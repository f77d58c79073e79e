"""Home canning jars by their trade sizes, brim-full: what a nominal size is in millilitres, exactly."""

from collections.abc import Mapping
from fractions import Fraction

from service.core.measures.units import ML_PER_FLUID_OUNCE

# Fluid ounces as exact millilitres: NIST Handbook 44, Appendix C.
JAR_ML: dict[str, Fraction] = {
    "quarter-pint": 4 * ML_PER_FLUID_OUNCE,
    "half-pint": 8 * ML_PER_FLUID_OUNCE,
    "twelve-ounce": 12 * ML_PER_FLUID_OUNCE,
    "pint": 16 * ML_PER_FLUID_OUNCE,
    "pint-and-half": 24 * ML_PER_FLUID_OUNCE,
    "quart": 32 * ML_PER_FLUID_OUNCE,
    "half-gallon": 64 * ML_PER_FLUID_OUNCE,
}


def held(capacity: Mapping[str, int], jar_size: str) -> int | None:
    """Jars of this size in one load of a canner; a size that isn't listed goes by the next larger one that is."""
    size_ml = JAR_ML.get(jar_size)
    if size_ml is None:
        return None
    larger = [size for size in capacity if size in JAR_ML and JAR_ML[size] >= size_ml]
    return capacity[min(larger, key=lambda size: JAR_ML[size])] if larger else None
