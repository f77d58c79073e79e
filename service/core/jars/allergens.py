"""Which allergens a label names, and which packages have to be read because their contents aren't known here.

The nine are those of rule label-allergens, as the FDA names them. A food that is neither named here nor plain by its
kind sends its reader to the package, and so does one that nobody recognised.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

NINE = ("milk", "egg", "fish", "crustacean shellfish", "tree nuts", "peanut", "wheat", "soy", "sesame")

# What each food is made of, as its plain name says; from memory.
HOLDS: dict[str, str] = {
    "butter": "milk",
    "buttermilk": "milk",
    "cheese": "milk",
    "cream-heavy": "milk",
    "ghee": "milk",
    "milk-other": "milk",
    "milk-whole": "milk",
    "yogurt": "milk",
    "egg": "egg",
    "mayonnaise": "egg",
    "fish-kind-not-stated": "fish (kind not stated)",
    "fish-lean": "fish",
    "fish-smoked": "fish",
    "salmon": "fish (salmon)",
    "sardine": "fish",
    "trout": "fish (trout)",
    "tuna": "fish (tuna)",
    "worcestershire-sauce": "fish",
    "crab-blue": "crustacean shellfish (crab)",
    "crab-meat": "crustacean shellfish (crab)",
    "lobster": "crustacean shellfish",
    "shrimp": "crustacean shellfish",
    "almond": "tree nuts (almond)",
    "almond-extract": "tree nuts (almond)",
    "nut-kind-not-stated": "tree nuts (kind not stated)",
    "nut-other": "tree nuts",
    "pecan": "tree nuts (pecan)",
    "walnut": "tree nuts (walnut)",
    "peanut": "peanut",
    "bread": "wheat",
    "flour-all-purpose": "wheat",
    "noodle": "wheat",
    "pasta": "wheat",
    "wheat-grain": "wheat",
    "soy-sauce": "soy",
    "soybean-dry": "soy",
    "tofu": "soy",
    "seed-kind-not-stated": "sesame (kind of seed not stated)",
}
# Bought ready, or a name for several foods: only the package tells.
READ_THE_PACKAGE = frozenset(
    {
        "anti-browning-blend",
        "bean-canned-kind-not-stated",
        "beer",
        "bread",
        "broth",
        "chili-powder",
        "coconut-milk",
        "curry-powder",
        "extract-other",
        "fish-smoked",
        "juice-other",
        "lemon-juice-bottled",  # may hold a sulphite: rule bottled-juice-sulphite-note
        "lemon-juice-kind-not-stated",
        "lime-juice-bottled",
        "lime-juice-key-bottled",
        "lime-juice-kind-not-stated",
        "mayonnaise",
        "mixed-vegetable",
        "noodle",
        "nut-kind-not-stated",
        "pasta",
        "pumpkin-pie-spice",
        "refried-beans",
        "seed-kind-not-stated",
        "soda",
        "soy-sauce",  # with wheat or without
        "spice-other",
        "spirits",
        "tofu",
        "vegetable-juice",
        "wheat-grain",
        "worcestershire-sauce",
    }
)
SULPHITED_GROUPS = frozenset({"dried-fruit", "raisin", "wine"})  # rule sulphite-declare
PLAIN_KINDS = frozenset({"fruit", "vegetable", "sugar", "salt", "acid", "pectin", "spice", "liquid"})
PLAIN = frozenset(
    {
        "agar",
        "arrowroot",
        "baking-soda",
        "beef",
        "beef-ground",
        "calcium-chloride",
        "capers",
        "chicken-ground",
        "chicken-meat",
        "chicken-pieces",
        "clam",  # a mollusc, none of the nine
        "cornmeal",
        "cornstarch",
        "duck",
        "game",
        "gelatin-unsweetened",
        "lamb",
        "modified-starch-cook-type",
        "oil-olive",
        "organ-meat",
        "oyster",
        "pickling-lime",
        "pork",
        "pork-ground",
        "rabbit-pieces",
        "rice",
        "tapioca-pearl",
        "turkey",
        "venison",
    }
)
HONEY = "honey"
HONEY_SAYS = "Holds honey: not for infants under 1 year."  # rule honey-infant-label
SHARED_KITCHEN = "Made in a shared kitchen that also handles allergens."  # rule shared-kitchen-allergen


@dataclass(frozen=True, slots=True)
class Food:
    """An ingredient of what is in the jar; `id` is None where nobody recognised it."""

    name: str
    id: str | None = None
    kind: str = ""
    group: str = ""


@dataclass(frozen=True, slots=True)
class Allergens:
    """What a label says: what the jar contains, and whose packages have to be read to know."""

    contains: tuple[str, ...]
    read_the_package_of: tuple[str, ...]
    honey: bool

    def lines(self) -> tuple[str, ...]:
        """The lines of a label, the first about the nine."""
        first = f"Contains {', '.join(self.contains)}." if self.contains else ""
        packages = ", ".join(self.read_the_package_of)
        read = f"{'Also read' if first else 'Allergens: read'} the package of {packages}." if packages else ""
        none = "" if first or read else "No ingredient is one of the 9 major allergens."
        return tuple(
            line
            for line in (" ".join(filter(None, (first, read, none))), HONEY_SAYS * self.honey, SHARED_KITCHEN)
            if line
        )


NOT_KNOWN = ("Allergens not known here: ask who made it.", SHARED_KITCHEN)


def allergens(foods: Sequence[Food]) -> Allergens:
    """Name the allergens of a recipe's ingredients, optional ones too, in the order of the nine."""
    held = {HOLDS[food.id] for food in foods if food.id in HOLDS}
    return Allergens(
        contains=tuple(sorted(held, key=lambda words: (NINE.index(words.partition(" (")[0]), words))),
        read_the_package_of=_once(food.name for food in foods if _package_tells(food)),
        honey=any(food.id == HONEY for food in foods),
    )


def _package_tells(food: Food) -> bool:
    if food.id is None or food.id in READ_THE_PACKAGE or food.group in SULPHITED_GROUPS:
        return True
    return food.id not in HOLDS and food.id not in PLAIN and food.kind not in PLAIN_KINDS


def _once(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))
