"""The units of a kitchen, exactly: US customary measures, grams and litres, and things that are counted.

Words are looked up in plain dictionaries, so no text of a caller ever reaches the unit library. The library's
own registry of the same few units stands beside them, and a test holds the two equal.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING

from service.core.measures.bounds import Bounds
from service.core.measures.terms import Term

if TYPE_CHECKING:
    import pint

# NIST Handbook 44, Appendix C: a gallon is 231 cubic inches, a bushel 2150.42, an inch 25.4 mm, a pound 453.59237 g.
ML_PER_CUBIC_INCH = Fraction("16.387064")
ML_PER_GALLON = 231 * ML_PER_CUBIC_INCH
ML_PER_QUART = ML_PER_GALLON / 4
ML_PER_PINT = ML_PER_QUART / 2
ML_PER_CUP = ML_PER_PINT / 2
ML_PER_FLUID_OUNCE = ML_PER_CUP / 8
ML_PER_TABLESPOON = ML_PER_FLUID_OUNCE / 2
ML_PER_TEASPOON = ML_PER_TABLESPOON / 3
ML_PER_BUSHEL = Fraction("2150.42") * ML_PER_CUBIC_INCH
GRAMS_PER_POUND = Fraction("453.59237")
GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16


class Dimension(Term):
    VOLUME = "volume"  # in millilitres
    MASS = "mass"  # in grams
    COUNT = "count"  # in pieces


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit by its trade word, with its size in millilitres, grams or pieces."""

    name: str
    dimension: Dimension
    factor: Fraction
    spread: Bounds = field(default=Bounds.exactly(1))  # of the factor, where custom leaves it open
    container: bool = False  # a package: worth what its label says
    piece: bool = False  # a part as it grows or breaks: a clove, a stalk
    measured: bool = field(init=False)  # not counted
    size: Bounds = field(init=False)  # in millilitres, grams or pieces, as wide as custom leaves it

    def __post_init__(self) -> None:
        object.__setattr__(self, "measured", self.dimension is not Dimension.COUNT)
        object.__setattr__(self, "size", self.spread * self.factor)


# Spoon customs differ from kitchen to kitchen; half to double of the usual figure: common practice, no source.
ROUGHLY = Bounds(Fraction(1, 2), Fraction(2))


def _volume(name: str, ml: Fraction | int, spread: Bounds = Bounds.exactly(1)) -> Unit:  # noqa: B008 (a frozen value)
    return Unit(name, Dimension.VOLUME, Fraction(ml), spread)


def _mass(name: str, grams: Fraction | int) -> Unit:
    return Unit(name, Dimension.MASS, Fraction(grams))


def _container(name: str) -> Unit:
    return Unit(name, Dimension.COUNT, Fraction(1), container=True)


def _piece(name: str) -> Unit:
    return Unit(name, Dimension.COUNT, Fraction(1), piece=True)


EACH = Unit("each", Dimension.COUNT, Fraction(1))
BUTTER_STICK = _mass("stick of butter", GRAMS_PER_POUND / 4)  # nominal; USDA SR26 NDB 01145 weighs it as 113 g

# Each unit with the other words for it, in lower case and without plural endings or dots.
_WORDS: tuple[tuple[Unit, str], ...] = (
    (_volume("tsp", ML_PER_TEASPOON), "teaspoon teaspoonful"),
    (_volume("tbsp", ML_PER_TABLESPOON), "tablespoon tablespoonful tb tbl tbs tblsp"),
    (_volume("fl oz", ML_PER_FLUID_OUNCE), "fluid-ounce fluid-oz fl-ounce fl-oz"),
    (_volume("gill", ML_PER_CUP / 2), ""),
    (_volume("cup", ML_PER_CUP), "c cupful"),
    (_volume("pt", ML_PER_PINT), "pint"),
    (_volume("qt", ML_PER_QUART), "quart"),
    (_volume("gal", ML_PER_GALLON), "gallon"),
    (_volume("ml", 1), "milliliter millilitre"),
    (_volume("l", 1000), "liter litre"),
    (_volume("dry pt", ML_PER_BUSHEL / 64), "dry-pint dry-pt"),
    (_volume("dry qt", ML_PER_BUSHEL / 32), "dry-quart dry-qt"),
    (_volume("peck", ML_PER_BUSHEL / 4), "pk"),
    (_volume("bushel", ML_PER_BUSHEL), "bu"),
    (_volume("dash", ML_PER_TEASPOON / 8, ROUGHLY), ""),
    (_volume("pinch", ML_PER_TEASPOON / 16, ROUGHLY), ""),
    (_mass("g", 1), "gram gm"),
    (_mass("kg", 1000), "kilogram kilo"),
    (_mass("oz", GRAMS_PER_OUNCE), "ounce"),
    (_mass("lb", GRAMS_PER_POUND), "pound #"),
    (BUTTER_STICK, ""),
    (EACH, "ea piece"),
    (Unit("dozen", Dimension.COUNT, Fraction(12)), "doz"),
    (_container("package"), "pkg packet pkt"),
    (_container("pouch"), ""),
    (_container("box"), ""),
    (_container("envelope"), "env"),
    (_container("can"), "tin"),
    (_container("jar"), ""),
    (_container("bottle"), ""),
    (_container("bag"), ""),
    (_container("bunch"), ""),
    (_piece("clove"), ""),
    (_piece("head"), ""),
    (_piece("stalk"), "rib"),
    (_piece("sprig"), ""),
    (_piece("slice"), ""),
    (_piece("stick"), ""),
    (_piece("drop"), ""),
    (_piece("tablet"), ""),
    (_piece("ear"), ""),
    (_piece("whole"), ""),
)

UNITS: dict[str, Unit] = {unit.name: unit for unit, _ in _WORDS}
_BY_WORD: dict[str, Unit] = UNITS | {word: unit for unit, words in _WORDS for word in words.split()}
_BY_WORD |= {unit.name.replace(" ", "-"): unit for unit in UNITS.values()}
_BY_LETTER = {"T": UNITS["tbsp"], "t": UNITS["tsp"]}  # the one place where case decides

METRIC = frozenset({"ml", "l", "g", "kg"})
FOREIGN = frozenset(
    {"imperial", "metric", "australian", "british", "uk", "japanese", "label"} | {"heaped", "heaping", "scant"}
)


@lru_cache(maxsize=1024)
def unit_named(word: str) -> Unit | None:
    """The unit people mean by this word, if it is one of ours: plural, dotted, spaced or short."""
    plain = word.strip().rstrip(".")
    if plain in _BY_LETTER:
        return _BY_LETTER[plain]
    key = "-".join(plain.lower().replace(".", " ").replace("-", " ").split())
    for ending in ("", "s", "es"):
        unit = _BY_WORD.get(key.removesuffix(ending))
        if key.endswith(ending) and unit is not None:
            return unit
    return None


def registry() -> "pint.UnitRegistry[Fraction]":
    """A unit library's view of the same kitchen, made from the definitions alone: what the tables above must equal."""
    from pint import UnitRegistry  # slow to import, and nothing but a check needs it

    kitchen: pint.UnitRegistry[Fraction] = UnitRegistry(None, non_int_type=Fraction)
    for line in (
        "ml = [volume]",
        "g = [mass]",
        "each = [count]",
        "l = 1000 * ml",
        "kg = 1000 * g",
        "cubic_inch = 16.387064 * ml",
        "gal = 231 * cubic_inch",
        "qt = gal / 4",
        "pt = gal / 8",
        "cup = gal / 16",
        "gill = gal / 32",
        "fl_oz = gal / 128",
        "tbsp = gal / 256",
        "tsp = gal / 768",
        "dash = gal / 6144",
        "pinch = gal / 12288",
        "bushel = 2150.42 * cubic_inch",
        "peck = bushel / 4",
        "dry_qt = bushel / 32",
        "dry_pt = bushel / 64",
        "lb = 453.59237 * g",
        "oz = lb / 16",
        "stick_of_butter = lb / 4",
        "dozen = 12 * each",
    ):
        kitchen.define(line)
    return kitchen
