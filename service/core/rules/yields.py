"""How many jars a pot will fill: by the solids that stay when the water boils off."""

from fractions import Fraction
from itertools import pairwise

from service.core.measures.bounds import Bounds

# Grams per millilitre of sucrose solution at 20 C, by grams of sucrose in 100 g: NBS Circular 440, from memory.
DENSITIES: tuple[tuple[Fraction, Fraction], ...] = tuple(
    (Fraction(percent, 100), Fraction(grams))
    for percent, grams in (
        (0, "0.99823"),
        (10, "1.03814"),
        (20, "1.08096"),
        (30, "1.12698"),
        (40, "1.17645"),
        (50, "1.22957"),
        (55, "1.25754"),
        (60, "1.28646"),
        (65, "1.31633"),
        (70, "1.34717"),
        (75, "1.37897"),
    )
)
# The solids at which a pot of spread is done: 21 CFR 150, fruit butters 43, jams and jellies 65 (both from memory).
DONE_SPREAD = Fraction(65, 100)
DONE_BUTTER = Fraction(43, 100)


def grams_per_ml(solids: Fraction) -> Fraction:
    """The density of a syrup of this share of solids, between the printed figures along a straight line."""
    within = min(max(solids, DENSITIES[0][0]), DENSITIES[-1][0])
    for (low, light), (high, heavy) in pairwise(DENSITIES):
        if within <= high:
            return light + (heavy - light) * (within - low) / (high - low)
    return DENSITIES[-1][1]


def grams_when_done(solids_grams: Fraction, done: Fraction = DONE_SPREAD) -> Fraction:
    """What is left in the pot when its solids make up this share."""
    return solids_grams / done


def millilitres(grams: Fraction, solids: Fraction) -> Fraction:
    return grams / grams_per_ml(solids)


def spread_millilitres(total_grams: Bounds, solids: Bounds, done: Fraction = DONE_SPREAD) -> Bounds | None:
    """From boiled down to done, to not boiled down at all; None where a weight or share is open."""
    if total_grams.high is None or solids.high is None or not total_grams.low:
        return None
    ends = []
    for grams, share in ((total_grams.low, solids.high), (total_grams.low, solids.low), (total_grams.high, solids.low)):
        ends += [
            millilitres(min(grams, grams_when_done(grams * share, done)), max(share, done)),
            millilitres(grams, share),
        ]
    return Bounds(min(ends), max(ends))
