"""Home canning jars by their trade sizes, brim-full: what a nominal size is in millilitres, exactly."""

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
