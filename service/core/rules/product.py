"""What a recipe makes: its family, and the published product whose rows may cover it."""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

from service.core.rules.case import Comparison, Food, Part, Recipe, Role
from service.core.rules.facts import Facts
from service.core.rules.reading import GEL_FAMILIES, is_mashed, is_unpeeled, said
from service.core.rules.recognition import words_of

# Words of a title, with the family they speak of; the first that stands in it decides.
FAMILY_WORDS: tuple[tuple[str, str], ...] = (
    ("pie filling", "pie-filling"),
    ("mincemeat", "pie-filling"),
    ("fermented", "ferment"),
    ("sauerkraut", "ferment"),
    ("marmalade", "marmalade"),
    ("conserve", "conserve"),
    ("preserve", "preserve"),
    ("jelly", "jelly"),
    ("jam", "jam"),
    ("spread", "jam"),
    ("butter", "fruit-butter"),
    ("salsa", "salsa"),
    ("chutney", "chutney"),
    ("relish", "relish"),
    ("pickle", "pickle"),
    ("pickled", "pickle"),
    ("marinated", "pickle"),
    ("soup", "soup"),
    ("stock", "soup"),
    ("broth", "soup"),
)
FAMILY_OF_ROLE = {
    Role.TOMATO: "tomato",
    Role.MEAT: "meat",
    Role.FISH: "fish",
    Role.LEGUME: "legume",
    Role.VEGETABLE: "vegetable",
    Role.FRUIT: "fruit",
}
NEVER_PLAIN = GEL_FAMILIES | {"salsa", "pickle", "relish", "chutney", "pie-filling"}  # "pear relish" is no pears
PACKED_PLAINLY = frozenset(["fruit", "juice"])  # "plum jam" is no pack of plums
PECTINS = frozenset(["regular-powder-pectin", "liquid-pectin", "bulk-pectin"])

# What a plain pack may be made of, by the groups of the published ingredients; water, syrup and salt come with all.
PLAIN_FOODS: dict[str, str] = {
    "apples-sliced": "apple",
    "applesauce": "apple",
    "apple-juice": "apple apple-juice",
    "apricots": "apricot",
    "nectarines": "nectarine-yellow nectarine-colour-not-stated",
    "peaches": "peach-yellow peach-colour-not-stated",
    "berries": "berry mulberry",
    "cherries": "cherry",
    "cranberries": "cranberry",
    "figs": "fig",
    "fruit-puree": "apple apricot berry cherry cranberry grape peach pear pineapple plum rhubarb strawberry quince",
    "fruit-baby-food": "apple apricot berry cherry peach pear pineapple plum",
    "grapefruit-and-orange-sections": "citrus",
    "grape-juice": "grape grape-juice-unsweetened",
    "grapes": "grape",
    "pears": "pear",
    "asian-pears": "asian-pear",
    "pineapple": "pineapple",
    "plums": "plum",
    "rhubarb": "rhubarb",
    "tomato-juice": "tomato",
    "tomato-vegetable-juice": "tomato tomato-juice celery onion carrot pepper mixed-vegetable",
    "tomatoes-crushed": "tomato",
    "tomato-sauce": "tomato",
    "tomatoes-whole-in-water": "tomato",
    "tomatoes-whole-in-tomato-juice": "tomato tomato-juice",
    "tomatoes-whole-no-added-liquid": "tomato",
    "tomatillos-whole": "tomatillo",
    "sauerkraut": "cabbage sauerkraut",
    "asparagus": "asparagus",
    "dried-beans-or-peas": "dry-bean",
    "lima-beans": "bean-lima-fresh",
    "green-beans": "snap-bean",
    "beets": "beet",
    "carrots": "carrot",
    "corn-cream-style": "corn",
    "corn-whole-kernel": "corn",
    "mixed-vegetables": "carrot corn snap-bean shell-bean tomato summer-squash celery onion pea pepper asparagus okra",
    "mushrooms": "mushroom",
    "okra": "okra",
    "green-peas": "pea-green",
    "peppers": "pepper",
    "sweet-potatoes": "sweet-potato",
    "white-potatoes": "potato",
    "pumpkin-or-winter-squash-cubed": "winter-squash",
    "soup": """carrot corn snap-bean shell-bean tomato celery onion pea pepper okra dry-bean potato turnip root garlic
        red-meat poultry broth tomato-juice mushroom""",
    "soup-with-seafood": "carrot corn celery onion pea tomato potato garlic fish crab shellfish broth tomato-juice",
    "spinach-and-other-greens": "leafy-green",
    "chicken-or-rabbit-without-bones": "poultry broth",
    "chicken-or-rabbit-with-bones": "poultry broth",
    "ground-or-chopped-meat": "red-meat broth tomato-juice",
    "meat-strips-cubes-or-chunks": "red-meat broth tomato-juice",
    "meat-stock": "broth",
    "clams": "clam",
    "king-or-dungeness-crab": "crab",
    "fish-fatty-except-tuna": "fish",
    "oysters": "oyster",
    "smoked-fish": "smoked-fish",
    "tuna": "tuna",
}
# Of two groups at most: chicken and its broth.
OF_ONE_FOOD = tuple([product for product, foods in PLAIN_FOODS.items() if len(foods.split()) <= 2])
# Kinds of that food which the row wasn't printed for: they heat more slowly, or have a row of their own.
OTHER_KINDS: dict[str, tuple[str, ...]] = {
    "tomatoes-crushed": ("whole", "halved", "halves"),
    "tomato-juice": ("whole", "halved", "halves"),
    "tomato-sauce": ("whole", "halved", "halves"),
    "tomato-vegetable-juice": ("whole", "halved", "halves"),
    "tomatoes-whole-in-water": ("crushed", "ground", "grated", "minced", "pressed", "strained", "juiced", "stewed"),
    "fruit-puree": ("whole", "halved", "halves", "sliced", "slices"),
    "fruit-baby-food": ("whole", "halved", "halves", "sliced", "slices"),
    "applesauce": ("whole", "halved", "halves", "sliced", "slices"),
    "chicken-or-rabbit-with-bones": ("meat", "boneless", "boned", "deboned", "ground", "minced"),
    "chicken-or-rabbit-without-bones": ("ground", "minced"),
    "meat-strips-cubes-or-chunks": ("ground", "minced", "sausage"),
    "corn-whole-kernel": ("cream", "creamed", "cream-style"),
    # Printed for "beans or peas, all varieties", whole; lentils and split peas boil to a paste.
    "dried-beans-or-peas": ("lentil", "lentils", "split"),
    "fish-fatty-except-tuna": ("smoked",),
    "pumpkin-or-winter-squash-cubed": (
        *("whole", "halved", "halves", "quartered", "slices", "sliced", "wedge", "spear", "strip"),
        *("large chunk", "large piece", "large cube"),
    ),
    "apples-sliced": ("whole", "halved", "halves", "grated", "shredded"),
    "carrots": ("whole",),
}
# Low-acid food that is printed in pieces: cut finer it packs together, and its liquid carries no heat through the jar.
IN_PIECES = frozenset(
    {"asparagus", "dried-beans-or-peas", "lima-beans", "green-beans", "beets", "carrots", "corn-whole-kernel", "okra"}
    | {"mixed-vegetables", "mushrooms", "green-peas", "peppers", "sweet-potatoes", "white-potatoes", "figs"}
    | {"pumpkin-or-winter-squash-cubed", "spinach-and-other-greens", "chicken-or-rabbit-with-bones", "asian-pears"}
    | {"chicken-or-rabbit-without-bones", "fish-fatty-except-tuna", "oysters", "smoked-fish", "tuna"}
)
CUT_FINE = ("ground", "minced", "crushed", "grated", "shredded", "finely chopped", "finely diced")
# The largest pieces that are printed (Complete Guide, Guide 4): cubes of pumpkin, whole potatoes. Carrots are sliced or
# diced, with no figure: two inches are a working limit of ours.
LARGEST_IN = {"pumpkin-or-winter-squash-cubed": 1, "white-potatoes": 2, "carrots": 2}
_INCHES = re.compile(r"(?<![/0-9])([0-9]+)(/[0-9]| [0-9]/[0-9]|\.[0-9]| ?[½¼¾])?[ -]?inch")
# Packs that are printed for the peeled food (Complete Guide to Home Canning, Guides 2 to 4); peels carry soil.
PEELED = frozenset(
    {"apples-sliced", "peaches", "pears", "asian-pears", "pineapple", "beets", "carrots", "peppers", "sweet-potatoes"}
    | {"white-potatoes", "pumpkin-or-winter-squash-cubed", "tomatoes-crushed", "tomatoes-whole-in-water"}
    | {"tomatoes-whole-in-tomato-juice", "tomatoes-whole-no-added-liquid"}
)
# Cooked or kept as no pack is printed.
COOKED_OTHERWISE = (
    "fried", "sauteed", "caramelized", "caramelised", "roasted", "grilled", "baked", "breaded", "marinated",
    "candied", "leftover", "reheated", "thickened", "battered", "floured", "buttered",
)  # fmt: skip
# Packs of what is crushed, sieved or pressed; in every other, pieces lie in a liquid that carries the heat.
SMOOTH = frozenset(
    {"applesauce", "apple-juice", "fruit-puree", "fruit-baby-food", "grape-juice", "tomato-juice", "tomato-sauce"}
    | {"tomato-vegetable-juice", "tomatoes-crushed", "corn-cream-style", "mango-sauce", "cranberries"}
)
# Packs that are printed for the food alone, with no liquid added.
WITHOUT_LIQUID = frozenset(
    {"tomatoes-crushed", "tomato-sauce", "tomato-juice", "tomato-vegetable-juice", "tomatoes-whole-no-added-liquid"}
)
# Packs of a food so thick that none of their liquid covers it.
THICK = WITHOUT_LIQUID | {"applesauce", "fruit-puree", "fruit-baby-food", "corn-cream-style"}
VEGETABLE_JUICE = "tomato-vegetable-juice"
_WORDLESS = frozenset(words_of("or and in except of cubed sliced style other"))


def family_of(recipe: Recipe, parts: Sequence[Part], tested: Comparison | None) -> str | None:
    if recipe.family is not None:
        return recipe.family
    words = words_of(recipe.title)
    named = next((family for word, family in FAMILY_WORDS if set(words_of(word)) <= set(words)), None)
    a_pack = named in GEL_FAMILIES and tested is not None and tested.recipe.family in PACKED_PLAINLY
    if tested is not None and (named in (None, tested.recipe.family) or (tested.same_formula and not a_pack)):
        return tested.recipe.family
    return named or FAMILY_OF_ROLE.get(main_role(parts))


def main_role(parts: Sequence[Part]) -> Role:
    """What most of the recipe is: by weight where weights are known, else what comes first."""
    foods = [part for part in parts if part.role in FAMILY_OF_ROLE]
    if not foods:
        return Role.UNKNOWN
    return max(foods, key=lambda part: part.grams.low if part.grams else 0).role


def product_of(
    recipe: Recipe, parts: Sequence[Part], tested: Comparison | None, family: str | None, facts: Facts
) -> str | None:
    """The published product: as sent, as of the tested recipe, as the title says, as the food is."""
    if recipe.product is not None:
        return recipe.product
    spoken = _spoken_of(recipe, parts, facts)
    if family in NEVER_PLAIN and facts.covers.get(spoken or "") == "plain-pack":
        spoken = None
    a_pack = tested is not None and family in GEL_FAMILIES and tested.recipe.family in PACKED_PLAINLY
    if tested is not None and not a_pack:
        plain = facts.covers.get(tested.recipe.product or "") == "plain-pack"
        if not plain or (spoken is not None and not _plain_enough(parts, spoken)):
            return tested.recipe.product
        if spoken in (None, tested.recipe.product):
            return tested.recipe.product if tested.named else _told_apart(recipe, parts, tested.recipe.product)
    if spoken is not None:
        return spoken
    return _spread(parts, family) if family in ("jam", "jelly") else _only_food(parts, family, facts)


def of_another_title(recipe: Recipe, parts: Sequence[Part], facts: Facts) -> str | None:
    """The pack that the title names where another one of the same food was sent: crushed tomatoes sent as juice."""
    sent = recipe.product
    if sent is None or facts.covers.get(sent) != "plain-pack":
        return None
    if _product_words(facts).get(sent, frozenset()) <= frozenset(words_of(recipe.title)):
        return None
    spoken = _spoken_of(recipe, parts, facts)
    return spoken if facts.covers.get(spoken or "") == "plain-pack" and _plain_enough(parts, spoken) else None


def _spoken_of(recipe: Recipe, parts: Sequence[Part], facts: Facts) -> str | None:
    """The product whose every word stands in the title, the most telling first."""
    return _named_in(recipe.title, any(part.group == "tomato-juice" for part in parts), facts)


@lru_cache(maxsize=1024)
def _named_in(title: str, in_tomato_juice: bool, facts: Facts) -> str | None:
    said = frozenset(words_of(title))
    if in_tomato_juice:
        said |= {"whole"}  # crushed tomatoes aren't packed in juice
    best: tuple[int, str] | None = None
    for product, words in _product_words(facts).items():
        if words <= said and (best is None or len(words) > best[0]):
            best = len(words), product
    return best[1] if best else None


@lru_cache(maxsize=4)
def _product_words(facts: Facts) -> dict[str, frozenset[str]]:
    return {product: frozenset(words_of(product)) - _WORDLESS for product in facts.processes_of}


def _told_apart(recipe: Recipe, parts: Sequence[Part], nearest: str | None) -> str | None:
    """The nearest product, unless packs of the same food have rows of their own: then title and lines must say which.

    Crushed tomatoes take longer than their juice, and in what was bought for a canner load the two look alike.
    """
    foods = [part for part in parts if part.role in FAMILY_OF_ROLE]
    words = frozenset(words_of(" ".join([recipe.title, *(part.as_written for part in foods)])))
    if nearest == VEGETABLE_JUICE and "juice" not in words:
        return None  # tomatoes with vegetables in them are no juice
    rivals = [product for product in OF_ONE_FOOD if _plain_enough(parts, product)]
    if nearest not in rivals or len(rivals) == 1:
        return nearest
    told = {product: named for product in rivals if (named := frozenset(words_of(product))) <= words}
    most = max(map(len, told.values()), default=0)
    best = [product for product, named in told.items() if len(named) == most]
    return best[0] if len(best) == 1 else None


def _spread(parts: Sequence[Part], family: str | None) -> str | None:
    groups = {part.group for part in parts}
    if groups & PECTINS:
        return "jam-or-jelly-with-pectin"
    if any(part.role is Role.PECTIN for part in parts):
        return None  # another pectin has its maker's own directions
    return "jelly-no-added-pectin" if family == "jelly" else "jam-no-added-pectin"


def _only_food(parts: Sequence[Part], family: str | None, facts: Facts) -> str | None:
    """The one plain pack that can be made of these foods; None where there are several or none."""
    if family not in ("fruit", "vegetable", "tomato", "legume", "meat", "fish", "juice"):
        return None
    fitting = packs_of(parts, facts)
    if len(fitting) > 1:  # corn, cream style or whole kernel: the lines say which
        said = frozenset(word for part in parts if part.role in FAMILY_OF_ROLE for word in words_of(part.as_written))
        fitting = [product for product, words in _product_words(facts).items() if product in fitting and words <= said]
    return fitting[0] if len(fitting) == 1 else None


def packs_of(parts: Sequence[Part], facts: Facts) -> list[str]:
    """Every plain pack of one food that could be made of these foods."""
    if not any(part.role in FAMILY_OF_ROLE for part in parts):
        return []
    return [product for product in OF_ONE_FOOD if product in facts.processes_of and _plain_enough(parts, product)]


def _plain_enough(parts: Iterable[Part], product: str | None) -> bool:
    return product in PLAIN_FOODS and all(
        is_plain_food(part.food, product) for part in parts if part.role in FAMILY_OF_ROLE
    )


@lru_cache(maxsize=4096)
def is_plain_food(food: Food, product: str) -> bool:
    """Whether this food is what the row was printed for."""
    if is_another_kind(food, product):
        return False
    foods = PLAIN_FOODS.get(product, "").split()
    return food.group in foods or (food.ingredient is not None and food.ingredient.id in foods)


@lru_cache(maxsize=4096)
def is_another_kind(food: Food, product: str) -> bool:
    """Whether this is the row's food in a form the row wasn't printed for, such as whole tomatoes for crushed."""
    if food.role not in FAMILY_OF_ROLE or product not in PLAIN_FOODS:
        return False
    if product in PEELED and is_unpeeled(food):
        return True
    if product not in SMOOTH and is_mashed(food):
        return True
    if product in IN_PIECES and food.role is not Role.TOMATO and said(food, *CUT_FINE):
        return True
    if said(food, *COOKED_OTHERWISE) and not (product == "peppers" and said(food, "roasted", "grilled")):
        return True  # peppers are blistered to be peeled
    return said(food, "stuffed") or said(food, *OTHER_KINDS.get(product, ())) or _too_large(food, product)


def _too_large(food: Food, product: str) -> bool:
    """Whether pieces are said to be larger than the printed ones."""
    most = LARGEST_IN.get(product)
    return most is not None and any(
        int(whole) + bool(more) > most for whole, more in _INCHES.findall(food.text) if not more.startswith("/")
    )
