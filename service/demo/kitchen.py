"""The invented kitchen: a parish hall at 4,200 ft. No name, place or record in it is real.

Its recipes are tested ones: the liquid-pectin plum jam and the crushed tomatoes of the USDA Complete Guide to Home
Canning (AIB 539, revised 2015), Guides 7 and 3, and plain snap beans under pressure of its Guide 4.
"""

from dataclasses import dataclass
from typing import Any

KITCHEN = "Fellside Hall Kitchen"
ALTITUDE_FT = 4200
TIME_ZONE = "America/Denver"
COORDINATOR = "Orla Fennimore"
TRAINER = "Tobias Quillfeather"
MEMBERS = (  # the first has the pressure-canner sign-off, the second has none
    "Maren Holloway-Ash",
    "Piet Underbrook",
    "Suri Lanternwick",
    "Wendell Marrowby",
    "Ines Copperfield-Rue",
)

BURNERS = tuple(f"Burner {number}" for number in range(1, 7))
TABLES = ("Long table", "Window table", "Low table")
RACKS = (("Cooling rack, left", 72), ("Cooling rack, right", 72))
# Capacities are the loads published for canners of these sizes (USDA AIB 539, Guide 1; half-pints from memory).
CANNERS: tuple[tuple[str, str, dict[str, int]], ...] = (
    ("Blue kettle", "boiling-water", {"half-pint": 12, "pint": 9, "quart": 7}),
    ("Speckled kettle", "boiling-water", {"half-pint": 12, "pint": 9, "quart": 7}),
    ("Small kettle", "boiling-water", {"half-pint": 8, "pint": 7, "quart": 4}),
    ("Steam canner", "atmospheric-steam", {"half-pint": 12, "pint": 8, "quart": 7}),
    ("Dial canner", "pressure-dial", {"half-pint": 12, "pint": 9, "quart": 7}),
    ("Weight canner", "pressure-weighted", {"half-pint": 24, "pint": 18, "quart": 7}),
)

PLUM_JAM: dict[str, Any] = {
    "title": "Plum jam",
    "family": "jam",
    "ingredients": ["4 1/2 cups crushed plums", "7 1/2 cups sugar", "1 pouch (3 oz) liquid pectin"],
    "steps": ["fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin", "skim", "fill", "process"],
    "pack": "hot",
    "headspace_in": 0.25,
    "jars": [{"size": "half-pint", "count": 8}],
    "process": {"method": "boiling-water", "minutes": 10},
}
CRUSHED_TOMATOES: dict[str, Any] = {
    "title": "Crushed tomatoes",
    "family": "tomato",
    "product": "tomatoes-crushed",
    "ingredients": [
        "22 lb tomatoes, peeled, cored, quartered, crushed",
        "2 tbsp bottled lemon juice per quart",
        "1 tsp salt per quart (optional)",
    ],
    "pack": "hot",
    "headspace_in": 0.5,
    "jars": [{"size": "quart", "count": 7}],
    "process": {"method": "boiling-water", "minutes": 55},
}
SNAP_BEANS: dict[str, Any] = {
    "title": "Snap beans",
    "family": "vegetable",
    "product": "green-beans",
    "ingredients": ["14 lb green beans, trimmed, cut", "1 tsp canning salt per quart (optional)"],
    "pack": "hot",
    "headspace_in": 1,
    "jars": [{"size": "quart", "count": 7}],
    "process": {"method": "pressure-dial", "minutes": 25, "pressure_psi": 13},
}


@dataclass(frozen=True)
class PastBatch:
    """A batch of this season: who made what, how long ago, and how its jars came out."""

    member: int  # index into MEMBERS
    recipe: str  # jam | tomatoes | beans
    days_ago: int
    canner: str
    jar_size: str
    sealed: int
    unsealed: int = 0
    broken: int = 0
    gives: int = 0  # jars given on to the next member
    uses: int = 0


SEASON = (
    PastBatch(0, "jam", 96, "Blue kettle", "half-pint", sealed=8, gives=2, uses=2),
    PastBatch(2, "jam", 91, "Speckled kettle", "half-pint", sealed=7, unsealed=1, uses=1),
    PastBatch(1, "tomatoes", 84, "Blue kettle", "quart", sealed=7, uses=2),
    PastBatch(0, "beans", 77, "Dial canner", "quart", sealed=6, broken=1, gives=1, uses=1),
    PastBatch(3, "tomatoes", 70, "Speckled kettle", "quart", sealed=7, gives=2),
    PastBatch(4, "jam", 63, "Small kettle", "half-pint", sealed=8, uses=3),
    PastBatch(0, "tomatoes", 49, "Blue kettle", "quart", sealed=6, unsealed=1, uses=1),
    PastBatch(2, "tomatoes", 35, "Blue kettle", "quart", sealed=7, gives=1),
    PastBatch(1, "jam", 21, "Speckled kettle", "half-pint", sealed=8, uses=1),
    PastBatch(0, "beans", 10, "Dial canner", "quart", sealed=7),
)
