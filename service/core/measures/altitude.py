"""Where water boils, by altitude or by the barometer, and how hot a vented pressure canner gets.

For showing and for heat logs only: a process is always looked up in a published table, never derived from these.

The air is the U.S. Standard Atmosphere, 1976 (NOAA-S/T 76-1562), troposphere; water and steam follow IAPWS-IF97
(R7-97, 2012), region 4, backward equation.
"""

from math import sqrt

FT_M = 0.3048
PSI_PA = 6894.757293168361  # NIST SP 811
SEA_LEVEL_PA = 101325.0
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
EARTH_RADIUS_M = 6356766.0
EXPONENT = 9.80665 * 0.0289644 / (8.31432 * LAPSE_K_PER_M)  # g M / (R L), with the R of 1976

# IAPWS R7-97, table 34.
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)


def to_celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) * 5 / 9


def to_fahrenheit(celsius: float) -> float:
    return celsius * 9 / 5 + 32


def air_pressure_pa(altitude_ft: float) -> float:
    """The pressure of still standard air at this height above the sea, up to 36,000 ft."""
    height_m = altitude_ft * FT_M
    geopotential_m = EARTH_RADIUS_M * height_m / (EARTH_RADIUS_M + height_m)
    return float(SEA_LEVEL_PA * (1 - LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_K) ** EXPONENT)


def saturation_c(pressure_pa: float) -> float:
    """The temperature at which water boils under this absolute pressure, from 611.213 Pa to 22.064 MPa."""
    if not 611.213 <= pressure_pa <= 22.064e6:
        raise ValueError("no boiling water at this pressure")
    beta = sqrt(sqrt(pressure_pa / 1e6))
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2 * g / (-f - sqrt(f**2 - 4 * e * g))
    kelvin = (_N[9] + d - sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2
    return kelvin - 273.15


def boiling_c(altitude_ft: float, barometer_hpa: float | None = None) -> float:
    """Where water boils here: by the barometer's own reading (not reduced to sea level) if there is one."""
    return saturation_c(air_pressure_pa(altitude_ft) if barometer_hpa is None else barometer_hpa * 100)


def boiling_f(altitude_ft: float, barometer_hpa: float | None = None) -> float:
    return to_fahrenheit(boiling_c(altitude_ft, barometer_hpa))


def canner_f(gauge_psi: float, altitude_ft: float, barometer_hpa: float | None = None) -> float:
    """The temperature in a fully vented canner at this gauge pressure."""
    outside_pa = air_pressure_pa(altitude_ft) if barometer_hpa is None else barometer_hpa * 100
    return to_fahrenheit(saturation_c(outside_pa + gauge_psi * PSI_PA))
