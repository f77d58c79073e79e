"""The words for the steps of a recipe, alone or with how long: `boil`, `boil-hard-1-min`, `stand-8-to-10-h`."""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

TIMED = re.compile(r"(?P<word>[a-z-]+?)-(?P<low>\d+)(?:-to-(?P<high>\d+))?-(?P<unit>sec|min|h|days|weeks|times)")
OVER_BOILING = re.compile(r"boil-to-(?P<degrees>\d+)F-over-boiling")
MINUTES = {
    "sec": Fraction(1, 60),
    "min": Fraction(1),
    "h": Fraction(60),
    "days": Fraction(24 * 60),
    "weeks": Fraction(7 * 24 * 60),
}

HEATING = ("heat", "boil", "boil-hard", "boil-to-gel-point", "simmer", "cook-thick", "blanch", "precook")
REDUCING = ("reduce-by-half", "reduce-by-third")
INTO_JARS = ("pack", "fill", "cover", "acid-in-jar")
WORDS = (
    *("trim", "trim-blossom-end", "peel", "cut", "crush", "antibrown", "soak"),
    *("fruit", "vegetable", "juice", "citrus", "skins", "extra", "acid", "vinegar", "sugar", "sweetener", "syrup"),
    *("salt", "brine", "pectin", "gelatin", "starch", "spice", "spice-bag", "oil", "water", "liquid", "combine"),
    *HEATING,
    *REDUCING,
    *("remove-heat", "skim", "strain", "drain"),
    *("stand", "brine-soak", "syrup-soak", "lime-soak", "rinse", "acid-soak", "ferment"),
    *INTO_JARS,
    *("vent", "process", "refrigerate"),
)
# What a cook also writes, and what changes nothing in the jar.
BESIDE = ("wash", "weigh", "measure", "mix", "stir", "heat-jars", "sterilize-jars", "free-bubbles", "wipe-rims")
AFTERWARDS = ("cool", "check-seals", "label", "store")  # once the jars are processed
_KNOWN = frozenset({*WORDS, *BESIDE, *AFTERWARDS, "fit-lids"})


@dataclass(frozen=True, slots=True)
class StepWord:
    """What a step says: its word and, where it has a time, its shortest and longest in minutes."""

    word: str
    low: Fraction | None = None
    high: Fraction | None = None


@lru_cache(maxsize=2048)
def begins_so(steps: tuple[str, ...], beginnings: tuple[str, ...]) -> bool:
    """Whether one of these steps is of one of these words, with or without more to it."""
    continued = tuple([f"{word}-" for word in beginnings])
    return any(step in beginnings or step.startswith(continued) for step in steps)


def any_says(steps: tuple[str, ...], words: tuple[str, ...]) -> bool:
    """Whether one of these words stands anywhere in one of these steps."""
    return any(word in step.lower() for step in steps for word in words)


def read_step(written: str) -> StepWord | None:
    """The step in these words, however they are spaced; None where it isn't one of the words."""
    plain = "-".join(re.split(r"[\s_-]+", written.strip().rstrip(".").lower()))
    if plain in _KNOWN or OVER_BOILING.fullmatch(plain.replace("f-over", "F-over")):
        return StepWord("boil" if plain.startswith("boil-to-") else plain)
    timed = TIMED.fullmatch(plain)
    if timed is None or timed["word"] not in _KNOWN:
        return None
    if timed["unit"] not in MINUTES:
        return StepWord(timed["word"])
    each = MINUTES[timed["unit"]]
    low = int(timed["low"]) * each
    return StepWord(timed["word"], low, int(timed["high"] or timed["low"]) * each)
