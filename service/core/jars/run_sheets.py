"""What the cook does, in order: the recipe's own steps with its amounts."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

# The roles of the ingredients that a step puts in; what no step takes goes in where everything is combined.
TAKES: dict[str, frozenset[str]] = {
    "fruit": frozenset({"fruit", "tomato"}),
    "vegetable": frozenset({"vegetable", "tomato", "legume"}),
    "juice": frozenset({"fruit", "tomato"}),
    "citrus": frozenset({"fruit"}),
    "extra": frozenset({"nut", "fruit"}),
    "acid": frozenset({"acid"}),
    "vinegar": frozenset({"acid"}),
    "sugar": frozenset({"sweetener"}),
    "sweetener": frozenset({"sweetener"}),
    "syrup": frozenset({"sweetener"}),
    "brine": frozenset({"salt", "acid", "liquid"}),
    "salt": frozenset({"salt"}),
    "pectin": frozenset({"pectin"}),
    "gelatin": frozenset({"thickener"}),
    "starch": frozenset({"thickener"}),
    "spice": frozenset({"spice", "herb"}),
    "spice-bag": frozenset({"spice", "herb"}),
    "oil": frozenset({"fat"}),
    "water": frozenset({"liquid"}),
    "liquid": frozenset({"liquid"}),
}
ADDS = frozenset({*TAKES, "combine", "skins"})

SAYS = {
    "trim": "Trim and clean.",
    "trim-blossom-end": "Cut off the blossom ends.",
    "peel": "Peel or shell.",
    "cut": "Cut up or grate.",
    "crush": "Crush or blend.",
    "antibrown": "Dip against browning.",
    "soak": "Soak in plain water.",
    "combine": "Put in all that no other step names.",
    "heat": "Warm through, without boiling.",
    "boil": "Bring to a boil.",
    "boil-to-gel-point": "Boil until a gel test passes.",
    "cook-thick": "Cook until thick.",
    "simmer": "Cook gently.",
    "precook": "Cook or brown first.",
    "remove-heat": "Take off the heat.",
    "skim": "Skim off the foam.",
    "strain": "Strain through cloth or a sieve.",
    "drain": "Drain.",
    "stand": "Leave to stand.",
    "fill": "Fill the hot jars to the headspace, free bubbles, wipe the rims, fit the lids.",
    "process": "Process in the canner as stated below.",
}


@dataclass(frozen=True, slots=True)
class Part:
    role: str
    as_written: str


@dataclass(frozen=True, slots=True)
class Step:
    word: str
    says: str
    amounts: tuple[str, ...]


def steps(words: Sequence[str], parts: Sequence[Part]) -> list[Step]:
    """The recipe's steps, each ingredient with the first step that takes it, none left out.

    A recipe without steps has one, which combines everything.
    """
    words = words or ("combine", "fill", "process")
    places: dict[int, list[str]] = {}
    for part in parts:
        taking = (at for at, word in enumerate(words) if part.role in TAKES.get(word, ()))
        combining = (at for at, word in enumerate(words) if word == "combine")
        adding = (at for at, word in enumerate(words) if word in ADDS)
        at = next((found for each in (taking, combining, adding) for found in each), 0)
        places.setdefault(at, []).append(part.as_written)
    return [Step(word, _says(word), tuple(places.get(at, ()))) for at, word in enumerate(words)]


def _says(word: str) -> str:
    """A known word's sentence; any other in plain words: `boil-hard-1-min` is boil hard 1 min."""
    if word in TAKES:
        return f"Put in the {word.replace('-', ' ')}."
    plain = re.sub(r"-", " ", word)
    return SAYS.get(word, f"{plain[:1].upper()}{plain[1:]}.")
