"""What the cook does, in order: the recipe's own steps with the amounts for this pot."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.core.measures.altitude import boiling_f
from service.core.measures.bounds import Bounds
from service.core.measures.lines import PerJar
from service.core.measures.steps import MINUTES, OVER_BOILING, TIMED

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


UNIT_WORDS = {"sec": "seconds", "min": "minutes", "h": "hours", "days": "days", "weeks": "weeks", "times": "times"}
HOW_LONG = {
    "boil": "Boil",
    "boil-hard": "Boil hard, with a boil that stirring doesn't stop, for",
    "simmer": "Cook gently",
    "vent": "Let steam flow",
    "rinse": "Rinse and soak in fresh water",
    "brine-soak": "Hold in the brine",
    "syrup-soak": "Hold in the syrup",
    "lime-soak": "Soak in the pickling lime",
}


@dataclass(frozen=True, slots=True)
class Part:
    """One ingredient: what it does in the pot, its line, and how much of it this pot takes."""

    role: str
    as_written: str
    name: str = ""
    kitchen: str | None = None  # in kitchen units; None where none is said
    grams: Bounds | None = None
    per_jar: PerJar | None = None  # what goes into each jar by itself


@dataclass(frozen=True, slots=True)
class Step:
    """One step in words; `minutes` where it has a time, a step's shortest and longest."""

    word: str
    says: str
    parts: tuple[Part, ...]
    minutes: tuple[float, float] | None = None


def steps(words: Sequence[str], parts: Sequence[Part], altitude_ft: int = 0) -> list[Step]:
    """The recipe's steps, each ingredient with the first step that takes it, none left out.

    What goes into each jar by itself comes with the jars. A recipe without steps has one, which combines everything.
    """
    words = words or ("combine", "fill", "process")
    places: dict[int, list[Part]] = {}
    for part in parts:
        in_jars = (at for at, word in enumerate(words) if part.per_jar and (word.endswith("-in-jar") or word == "fill"))
        taking = (at for at, word in enumerate(words) if part.role in TAKES.get(word, ()))
        combining = (at for at, word in enumerate(words) if word == "combine")
        adding = (at for at, word in enumerate(words) if word in ADDS)
        at = next((found for each in (in_jars, taking, combining, adding) for found in each), 0)
        places.setdefault(at, []).append(part)
    return [
        Step(word, _says(words, at, altitude_ft), tuple(places.get(at, ())), _how_long(word))
        for at, word in enumerate(words)
    ]


def _says(words: Sequence[str], at: int, altitude_ft: int) -> str:
    """A known word's sentence; any other in plain words: `blanch-hot` is blanch hot."""
    word = words[at]
    if word == "pectin":
        return f"Put in the pectin{_beside_the_sugar(words, at)}."
    if word in TAKES:
        return f"Put in the {word.replace('-', ' ')}."
    if word in SAYS:
        return SAYS[word]
    if (over := OVER_BOILING.fullmatch(word)) is not None:
        degrees = int(over["degrees"])
        return (
            f"Boil to {boiling_f(altitude_ft) + degrees:.0f} F: {degrees} F over boiling water, which by the table is"
            f" at {boiling_f(altitude_ft):.0f} F here. Measure boiling water on the day."
        )
    if (timed := TIMED.fullmatch(word)) is not None:
        how = HOW_LONG.get(timed["word"]) or timed["word"].replace("-", " ").capitalize()
        many = " to ".join(filter(None, (timed["low"], timed["high"])))
        unit = UNIT_WORDS[timed["unit"]]
        return f"{how} {many} {unit[:-1] if many == '1' else unit}."
    return f"{word.replace('-', ' ').capitalize()}."


def _beside_the_sugar(words: Sequence[str], at: int) -> str:
    """Powder goes in before the sugar and liquid after the boil: the recipe's own order is said, whichever it is."""
    if "sugar" not in words:
        return ""
    after = "sugar" in words[:at]
    off = "remove-heat" in words[:at]
    return f", {'after' if after else 'before'} the sugar{', off the heat' if off else ''}"


def _how_long(word: str) -> tuple[float, float] | None:
    timed = TIMED.fullmatch(word)
    if timed is None or timed["unit"] not in MINUTES:
        return None
    each = MINUTES[timed["unit"]]
    return float(int(timed["low"]) * each), float(int(timed["high"] or timed["low"]) * each)
