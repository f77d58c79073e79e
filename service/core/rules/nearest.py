"""The tested recipe that is nearest to a recipe, and every way in which the two differ.

One factor for the whole batch is taken out first. What is left over is a difference, unless the tested recipe itself
allows it: an optional ingredient, a listed alternative, an amount inside a printed range, a kind it names in passing.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm

from service.core.measures.amounts import as_fraction
from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.letters import without_accents
from service.core.measures.lines import Line, from_object
from service.core.measures.units import METRIC, Dimension, Unit
from service.core.measures.values import value
from service.core.rules import formula, reading
from service.core.rules.case import (
    MOST_FOODS,
    ONE_BATCH,
    AnyFood,
    Comparison,
    Difference,
    Food,
    JarCount,
    Part,
    Recipe,
    Role,
)
from service.core.rules.facts import Facts, Ingredient, TestedAlternative, TestedIngredient, TestedRecipe
from service.core.rules.recognition import KIND_WORDS, PREPARATION, Recogniser, recogniser, words_of

# 1/3 cup is sent as 0.33, 2/3 as 0.667: what the printed figure rounds to is the printed figure.
PRINTED_PRECISION = Fraction(1, 200)
ROUNDED_TO = Fraction(1, 200)  # half of the last of two decimals
MOST_BY_A_DIGIT = Fraction(2, 100)  # of a small amount, half a digit would be much
WEIGHED_PRECISION = Fraction(2, 100)  # where volume and weight are compared through the published cup weights
SCALING_PRECISION = Fraction(2, 100)  # the ratio that proportional scaling must keep

CONVERTED_PRECISION = Fraction(6, 100)  # 250 mL for a cup: a working limit of ours
RAISED_AT_NO_RISK = frozenset({Role.ACID, Role.SWEETENER, Role.SALT, Role.SPICE, Role.PECTIN})

MINOR = frozenset({Role.SALT, Role.SPICE, Role.HERB, Role.ADDITIVE, Role.LIQUID, Role.NUT})
MAIN = frozenset({Role.FRUIT, Role.VEGETABLE, Role.TOMATO, Role.LEGUME, Role.MEAT, Role.FISH})
HEAVINESS = {role: 1 if role in MINOR else 4 if role in MAIN else 3 for role in Role}
VEGETABLES = frozenset({Role.VEGETABLE, Role.LEGUME, Role.TOMATO})
SMALL_BATCH_JARS = 6  # where no yield is printed: a working figure of ours
CANDIDATES = 6  # tested recipes that are compared in full
JELLY_BY_ITSELF = "jelly-no-added-pectin"
BOUGHT = ("bottled", "bought", "store-bought", "canned", "frozen", "concentrate", "reconstituted")
SEVERAL_FRUITS = frozenset({"marmalade", "conserve"})
NEAR_ENOUGH_TENTHS = 5  # of the two ingredient lists in common
ALIKE_IN_NAME = Fraction(3, 4)  # of the words of both titles
OF_ONE_ORDER = (Fraction(1, 2), Fraction(2))  # amounts further apart are of another recipe
# Foods that a cook may take for one another: near, and not the same.
KIN = {
    "white-peach": "peach",
    "mango-green": "mango",
    "mango-ripe": "mango",
    "elderberry": "berry",
    "asian-pear": "pear",
}

# Words that change a food, or its acid: said by the cook alone, or by the tested recipe alone, they make another food.
STATES_OF_EITHER: tuple[frozenset[str], ...] = (
    frozenset({"pureed", "puree", "mashed", "blended"}),
    frozenset({"drained"}),
    frozenset({"concentrate", "concentrated", "reconstituted"}),
)
STATES_OF_THE_COOK: tuple[frozenset[str], ...] = (
    frozenset({"canned", "factory-canned", "tinned", "jarred"}),
    frozenset({"dried", "dehydrated", "freeze-dried"}),
    frozenset({"overripe", "over-ripe"}),
    frozenset({"reduced-sodium", "low-sodium"}),
    frozenset({"white-flesh", "white-fleshed"}),
    frozenset({"smoked"}),
    frozenset({"pickled", "fermented"}),
    frozenset({"homemade", "home-made"}),
    frozenset({"sweetened"}),
    frozenset({"roasted", "grilled", "baked", "fried", "breaded", "sauteed", "caramelized", "caramelised"}),
    frozenset({"marinated", "candied"}),
    frozenset({"leftover", "reheated"}),
    frozenset({"thickened", "battered", "floured", "buttered"}),
    frozenset({"stuffed"}),
)
# Of a vegetable measured by the cup: so there is more of it in a cup than of pieces, and of raw ones.
FINE = ("ground", "crushed", "grated")
PRINTED_FINE = ("finely chopped", "minced", "shredded", "julienned", "blended", "pressed")
SHRUNK = ("cooked", "wilted", "softened")
PRINTED_SOFT = ("boiled", "blanched", "soaked", "canned")
CUT_SMALL = frozenset({"diced", "minced"})  # as close together as what is chopped
# Kinds that stand for one another without a word: the same food under a printed and a plain name.
SAME_FOOD: tuple[frozenset[str], ...] = (
    frozenset({"vinegar-white-distilled", "vinegar-cider", "vinegar-kind-not-stated"}),
    frozenset({"salt-kind-not-stated", "salt-canning-or-pickling", "salt-table", "salt-sea-fine"}),
    frozenset({"tomato-red", "tomato-paste-type"}),
    frozenset({"peach-yellow", "peach-colour-not-stated"}),
    frozenset({"nectarine-yellow", "nectarine-colour-not-stated"}),
    frozenset({"basil-dried", "basil-kind-not-stated"}),
)
KINDS_OF_ONE = {kind: same for same in SAME_FOOD for kind in same}
PIECES = frozenset({"head", "bulb", "sprig", "slice"})  # counted beside anything else, they tell no amount
# "Without tops", "ground or chopped" and "green or yellow" name neither beet tops nor ground cherries nor greens.
SAYING_NO_FOOD = PREPARATION | KIND_WORDS | {"top", "green", "red", "yellow", "black", "purple", "brown", "orange"}
NOT_STATED = "-not-stated"
STATE_WORDS = frozenset().union(*STATES_OF_EITHER, *STATES_OF_THE_COOK)
# What "hot pepper", "sweet pepper" and "pepper" take in.
PEPPERS: dict[str, tuple[str, ...]] = {
    "pepper-kind-not-stated": ("pepper-", "pimiento"),
    "pepper-hot-kind-not-stated": ("pepper-hot", "pepper-jalapeno", "pepper-serrano", "pepper-banana"),
    "pepper-sweet-colour-not-stated": ("pepper-bell", "pepper-sweet"),
}

Known = Ingredient | tuple[str, ...]  # a published ingredient, or the words of another name
ONE = Fraction(1)  # `_scale` returns this very one where a batch isn't scaled: to compare Fractions takes longer
NOTHING = Fraction(0)


@dataclass(frozen=True, slots=True, eq=False)  # what is found of a food beside one is remembered by identity
class Listed:
    """A food of a tested recipe, with what a cook's is compared with."""

    part: Part
    by_the_jar: bool  # so much goes into each jar, however large the batch
    unit: Unit | None  # of the whole batch's amount, as printed
    amounts: dict[Dimension, Bounds]  # in the printed unit's measure first; by the millilitre of jar, if by the jar
    weight: Bounds | None  # by the published weights, where the cook measures in another way
    said: frozenset[str]
    strength_percent: Fraction | None


@dataclass(frozen=True, slots=True, eq=False)
class Slot:
    """One ingredient of a tested recipe, with what may stand in its place."""

    tested: Part
    foods: tuple[Listed, ...]  # the tested ingredient, then its listed alternatives
    named: frozenset[str]  # words of the foods it names in passing: "mackerel, salmon, trout, bluefish and kin"


@dataclass(frozen=True, slots=True)
class Ready:
    """A tested recipe, prepared once: its ingredients as understood and what to find it by."""

    recipe: TestedRecipe
    parts: tuple[Part, ...]
    slots: tuple[Slot, ...]
    slots_of: dict[Known, tuple[int, ...]]  # where each food stands
    groups: dict[str, int]  # what it is made of, by weight of meaning
    weight: int  # of all groups together
    title: frozenset[str]


@lru_cache(maxsize=4)
def prepared(facts: Facts) -> dict[str, Ready]:
    known = recogniser(facts)
    return {recipe.id: _prepare(recipe, known) for recipe in facts.tested_recipes}


class Shelf:
    """Prepared recipes, and in which of them each group of foods and each word of a title stands."""

    def __init__(self, ready: Iterable[Ready]) -> None:
        self.ready = tuple(ready)
        self._with_group: dict[str, list[int]] = {}
        self._with_word: dict[str, list[int]] = {}
        for place, one in enumerate(self.ready):
            for group in one.groups:
                self._with_group.setdefault(group, []).append(place)
            for word in one.title:
                self._with_word.setdefault(word, []).append(place)

    def in_common(self, groups: Mapping[str, int], title: frozenset[str]) -> Iterator[tuple[Ready, int, int]]:
        """Each recipe with the weight of the groups, and the number of the title's words, that it shares."""
        shared, same_words = [0] * len(self.ready), [0] * len(self.ready)
        for group, weight in groups.items():
            for place in self._with_group.get(group, ()):
                shared[place] += weight
        for word in title:
            for place in self._with_word.get(word, ()):
                same_words[place] += 1
        return zip(self.ready, shared, same_words, strict=True)


@lru_cache(maxsize=4)
def _all_on_a_shelf(facts: Facts) -> Shelf:
    return Shelf(prepared(facts).values())


@lru_cache(maxsize=4)
def _shelf_of(facts: Facts) -> dict[str | None, Shelf]:
    """The prepared recipes by the product they make."""
    found: dict[str | None, list[Ready]] = {}
    for one in prepared(facts).values():
        found.setdefault(one.recipe.product, []).append(one)
    return {product: Shelf(ready) for product, ready in found.items()}


def compare(recipe: Recipe, parts: Sequence[Part], facts: Facts) -> Comparison | None:
    """The nearest tested recipe, or the one that was named; None where nothing tested is near."""
    named = prepared(facts).get(recipe.tested_recipe or "")
    if named is not None:
        return _compare(recipe, parts, named, named_by_caller=True)
    title = title_words(recipe.title)
    best: tuple[Fraction, Comparison] | None = None
    for alike, of_all, one in _candidates(recipe, _groups(parts), title, facts):
        comparison = _compare(recipe, parts, one, named_by_caller=False)
        if not _of_one_kind(comparison, recipe, title, one):
            continue
        if comparison.same_formula:
            return comparison  # those that follow are less alike
        rank = Fraction(alike, of_all) - Fraction(_weight_of(comparison.differences), 10)
        if best is None or rank > best[0]:
            best = rank, comparison
    return best[1] if best else None


def _candidates(
    recipe: Recipe, groups: dict[str, int], title: frozenset[str], facts: Facts
) -> list[tuple[int, int, Ready]]:
    """The tested recipes that are alike enough to be compared in full, the most alike first.

    How alike, as the part of a whole: how much of both ingredient lists is in common, and of both titles by half;
    family and product count too.
    """
    shelf = _all_on_a_shelf(facts)
    if recipe.product in facts.processes_of:  # the product that was named, or none
        of_the_product = _shelf_of(facts).get(recipe.product)
        if of_the_product is None:
            return []
        shelf = of_the_product
    weight = sum(groups.values())
    near = []
    for one, shared, same_words in shelf.in_common(groups, title):
        everything = weight - shared + one.weight or 1
        words = len(title) + len(one.title) - same_words or 1
        tenths = 5 if recipe.product is not None and recipe.product == one.recipe.product else 0
        tenths += 1 if recipe.family is not None and recipe.family == one.recipe.family else 0
        likeness, whole = (10 * shared + tenths * everything) * words + 5 * same_words * everything, everything * words
        if likeness >= NEAR_ENOUGH_TENTHS * whole:
            near.append((likeness, 10 * whole, one))
    if len(near) > 1:
        near.sort(key=lambda found: Fraction(*found[:2]), reverse=True)
    return near[:CANDIDATES]


@lru_cache(maxsize=1024)
def title_words(title: str) -> frozenset[str]:
    return frozenset(words_of(title)) - {"with", "and", "in", "or", "no", "of", "the", "a", "my", "our", "added", "own"}


def _prepare(recipe: TestedRecipe, known: Recogniser) -> Ready:
    jars = (JarCount(recipe.yield_jar, _jar_count(recipe)),)
    title = title_words(recipe.title)
    slots = []
    slots_of: dict[Known, tuple[int, ...]] = {}
    for number, printed in enumerate(recipe.ingredients):
        where = f"#/{number}"
        line = _line(printed)
        instead = (*(_line(other) for other in printed.alternatives), *line.alternatives)
        parts = [formula.part(where, one, jars, known) for one in (line, *instead)]
        tested = parts[0]
        named = frozenset(words_of(" ".join(line.form)))
        if tested.ingredient is not None and NOT_STATED in tested.ingredient.id:
            named |= title
        slots.append(Slot(tested, tuple(map(_listed, parts)), named))
        slots_of[_known_as(tested)] = (*slots_of.get(_known_as(tested), ()), number)
    tested_parts = tuple(slot.tested for slot in slots)
    groups = _groups(tested_parts)
    return Ready(recipe, tested_parts, tuple(slots), slots_of, groups, sum(groups.values()), title)


def _known_as(part: Part) -> Known:
    return part.ingredient or words_of(part.name)


def _listed(part: Part) -> Listed:
    assert part.line is not None
    each, said = part.line.per_jar, part.line.amount
    unit, amounts = None, part.measured
    if each is not None:
        amounts = _by_the_ml(amounts, JAR_ML[each.jar_size])
    elif said is not None:
        unit = said.unit
        amounts = {kind: amounts[kind] for kind in sorted(amounts, key=lambda kind: kind is not unit.dimension)}
    if unit is not None and ("up to" in part.form or "at most" in part.form):
        amounts = {kind: Bounds(Fraction(0), amount.high) for kind, amount in amounts.items()}
    strength = strength_percent(part.food)
    return Listed(part, each is not None, unit, amounts, _weighed(amounts, part), _said(part.food), strength)


def _jar_count(recipe: TestedRecipe) -> int:
    return int(recipe.yield_count.low) if recipe.yield_count else SMALL_BATCH_JARS


def _line(printed: TestedIngredient | TestedAlternative) -> Line:
    amount, each = printed.amount, printed.per_jar
    line = from_object(
        printed.name,
        amount.low if amount else None,
        amount.high if amount else None,
        printed.unit,
        printed.form,
        isinstance(printed, TestedIngredient) and printed.optional,
        {"amount": each.amount, "unit": each.unit, "jar": each.jar_size} if each else None,
    )
    assert isinstance(line, Line), f"a printed ingredient can't be read: {printed.name}"
    return line


# How near


def _groups(parts: Iterable[Part]) -> dict[str, int]:
    groups: dict[str, int] = {}
    for part in parts:
        group, heaviness = _standing(part.food)
        if heaviness > groups.get(group, 0):
            groups[group] = heaviness
    return groups


@lru_cache(maxsize=MOST_FOODS)
def _standing(food: Food) -> tuple[str, int]:
    return KIN.get(food.group, food.group) or food.name, HEAVINESS[food.role]


def _of_one_kind(comparison: Comparison, recipe: Recipe, title: frozenset[str], one: Ready) -> bool:
    """Whether most of the recipe, by what matters in it, is in the tested one, and in amounts of the same order."""
    if _of_another_main_fruit(comparison):
        return False
    if comparison.same_formula or (recipe.product is not None and recipe.product == one.recipe.product):
        return True
    if len(title & one.title) >= ALIKE_IN_NAME * len(title | one.title):
        return True
    unlike = {
        id(difference.part or difference.tested): HEAVINESS[part.role]
        for difference in comparison.differences
        if (part := difference.part or difference.tested) is not None and not _of_one_order(difference)
    }
    everything = sum(HEAVINESS[slot.tested.role] for slot in one.slots if not slot.tested.optional)
    everything += sum(
        HEAVINESS[found.part.role] for found in comparison.differences if found.kind == "added" and found.part
    )
    return 2 * sum(unlike.values()) < everything


def _of_another_main_fruit(comparison: Comparison) -> bool:
    """Whether a spread of several fruits lacks the one that the tested recipe has most of: apples, beside oranges."""
    if comparison.recipe.family not in SEVERAL_FRUITS:
        return False
    fruits = [part for part in comparison.parts if part.role in MAIN]
    main = max(fruits, key=lambda part: part.grams.low if part.grams else 0)
    return any(
        found.tested is main and (found.part is None or found.part.group != main.group)
        for found in comparison.differences
        if found.kind in ("missing", "swapped")
    )


def _of_one_order(difference: Difference) -> bool:
    if difference.kind == "form":
        return True
    ratio = difference.ratio
    if difference.kind not in ("less", "more") or ratio is None or ratio.high is None:
        return False
    return OF_ONE_ORDER[0] < ratio.low and ratio.high < OF_ONE_ORDER[1]


def _weight_of(differences: Iterable[Difference]) -> int:
    """How far apart: a missing food says more than a missing spice."""
    weight = 0
    for difference in differences:
        part = difference.tested or difference.part
        assert part is not None
        heavy = part.role not in MINOR
        weight += (4 if heavy else 1) if difference.kind in ("missing", "added", "swapped") else (2 if heavy else 1)
    return weight


# Side by side


def _compare(recipe: Recipe, parts: Sequence[Part], ready: Ready, *, named_by_caller: bool) -> Comparison:
    pairs = _pairs(parts, ready, recipe.jars)
    basis = ready.recipe.amount_basis != "" and _is_one_food(ready)
    scale = ONE if basis else _scale(pairs)
    unlike = pairs if scale is not ONE else [pair for pair in pairs if not pair.as_printed]
    differences = [difference for pair in unlike for difference in pair.differences(scale, basis)]
    if ready.recipe.product == JELLY_BY_ITSELF:
        differences += [
            Difference("form", pair.part, pair.slot.tested, None, f"{pair.part.name} not pressed for it")
            for pair in pairs
            if pair.part is not None and pair.slot is not None and pair.allowed and _is_bought_juice(pair.part)
        ]
    return Comparison(
        recipe=ready.recipe,
        named=named_by_caller,
        scale=ONE_BATCH if scale is ONE else Bounds.exactly(scale),
        parts=ready.parts,
        differences=tuple(differences),
        same_formula=not differences and scale is ONE,
    )


def _is_bought_juice(part: AnyFood) -> bool:
    """Juice from a shop or a freezer, which has too little pectin of its own to set."""
    return part.group == "fruit-juice" and reading.said(part, *BOUGHT)


def _is_one_food(ready: Ready) -> bool:
    """Whether there is nothing to keep in proportion: so many pounds fill so many jars."""
    return sum(part.role in MAIN and part.line is not None for part in ready.parts) < 2


@dataclass(frozen=True, slots=True)
class Fit:
    """What a food is in one place of a tested recipe."""

    meant: Listed  # the tested ingredient, or the alternative that was taken in its place
    allowed: bool  # the tested recipe allows this food here
    unlike: str  # what changes it, said on one side only; empty where nothing is


@value(frozen=True, slots=True)
class _Pair:
    """An ingredient beside the tested one it stands for; either may be missing."""

    part: Part | None
    slot: Slot | None
    fit: Fit | None = None
    beside: "_Beside | None" = None  # None: the two can't be compared
    as_printed: bool = False  # in one batch nothing of it differs

    @property
    def allowed(self) -> bool:
        return self.fit is not None and self.fit.allowed

    def differences(self, scale: Fraction, basis: bool) -> list[Difference]:
        part, slot, fit = self.part, self.slot, self.fit
        if slot is None:
            assert part is not None
            return [Difference("added", part, None, None, f"{part.name} added")]
        tested = slot.tested
        if part is None:
            return [] if tested.optional else [Difference("missing", None, tested, None, f"no {tested.name}")]
        assert fit is not None
        found = []
        if fit.allowed:
            if fit.unlike:
                found.append(Difference("form", part, tested, None, fit.unlike))
            if not basis or fit.meant.by_the_jar:
                found += self.amounts(part, fit.meant.part, scale)
        else:
            ratio = self.beside.ratio(scale) if self.beside else None
            found.append(Difference("swapped", part, tested, ratio, f"{part.name} instead of {tested.name}"))
        if part.optional and not tested.optional:
            found.append(Difference("missing", part, tested, None, f"{tested.name} may be left out"))
        return found

    def amounts(self, part: Part, tested: Part, scale: Fraction) -> list[Difference]:
        if not part.measured:
            says = f"no amount of {part.name}"
            return [] if tested.optional or part.role in MINOR else [Difference("less", part, tested, None, says)]
        if self.beside is None:
            return [Difference("form", part, tested, None, f"{part.name} measured another way")]
        if self.beside.within and scale is ONE:
            return []
        under, over = self.beside.outside(scale)
        if not (under or over):
            return []
        ratio = self.beside.ratio(scale)
        less = [Difference("less", part, tested, ratio, _says(ratio.low, part))] if under else []
        more = [Difference("more", part, tested, ratio, _says(ratio.high, part))] if over else []
        return less + more


def _pair(part: Part, slot: Slot, jars: tuple[JarCount, ...] | None) -> _Pair:
    fit = _fit(part.food, slot)
    beside = _side_by_side(part, fit.meant, jars)
    as_printed = (
        beside is not None
        and beside.within
        and fit.allowed
        and not fit.unlike
        and (slot.tested.optional or not part.optional)
    )
    return _Pair(part, slot, fit, beside, as_printed)


# What may stand for what: by words alone, and so told once for all who say the same.


def _same_food(food: Food, tested: Food) -> bool:
    ours, theirs = food.ingredient, tested.ingredient
    if ours is None or theirs is None:
        return ours is theirs and words_of(food.name) == words_of(tested.name)
    if ours.id == theirs.id or (ours.id in KINDS_OF_ONE and KINDS_OF_ONE[ours.id] is KINDS_OF_ONE.get(theirs.id)):
        return True
    kind = theirs.id.split("-")[0]
    if theirs.id in PEPPERS:
        return ours.group == "pepper" and ours.id.startswith(PEPPERS[theirs.id])
    if NOT_STATED in theirs.id and theirs.group != "pectin":
        alike = ours.group == theirs.group or (kind == "salt" and food.role is Role.SALT)
        return alike and (theirs.group not in ("peach", "grape", "cherry") or ours.id.split("-")[0] == kind)
    # "Lemon juice" where the tested recipe says bottled: the same food, and a form that wasn't said.
    return NOT_STATED in ours.id and ours.group == theirs.group and ours.id.split("-")[:2] == theirs.id.split("-")[:2]


@lru_cache(maxsize=4096)
def _fit(food: Food, slot: Slot) -> Fit:
    same = _same(food, slot)
    meant = same or slot.foods[0]
    return Fit(meant, same is not None or _named_in_passing(food, slot), _unlike(food, meant))


def _same(food: Food, slot: Slot) -> Listed | None:
    """The tested ingredient or listed alternative that this is."""
    return next((listed for listed in slot.foods if _same_food(food, listed.part.food)), None)


def _named_in_passing(food: Food, slot: Slot) -> bool:
    if food.ingredient is None or not (food.role is slot.tested.role or food.group == slot.tested.group):
        return False
    kind = slot.named | frozenset(words_of(slot.tested.name))
    names = (food.name, food.ingredient.name, *food.ingredient.aliases)
    telling = slot.named if food.group == slot.tested.group else slot.named - SAYING_NO_FOOD
    return any(words <= kind and words & telling for name in names if (words := frozenset(words_of(name))))


def _unlike(food: Food, listed: Listed) -> str:
    """What is said about the food on one side only, and changes it; empty where nothing is."""
    tested, ours, theirs = listed.part.food, _said(food), listed.said
    if not _same_food(food, tested):  # a kind named in passing: its name says nothing for it
        ours |= frozenset(words_of(" ".join((food.name, *food.form))))
    if not STATE_WORDS.isdisjoint(ours | theirs):
        for state in STATES_OF_EITHER + STATES_OF_THE_COOK:
            if state & ours and not state & theirs:
                return f"{food.name} {min(state & ours)}"
            if state & theirs and not state & ours and state in STATES_OF_EITHER:
                return f"{food.name} not {min(state & theirs)}"
    if _is_finer_by_the_cup(food, listed):
        return f"{food.name} that fills the cup closer"
    if reading.is_unpeeled(food) and not reading.is_unpeeled(tested):
        return f"{food.name} unpeeled"
    if "bottled" in tested.form and "bottled" not in food.form and food.role is Role.ACID and _kind_open(food):
        return f"{food.name} not said to be bottled"
    printed = listed.strength_percent
    if printed is not None:
        strength = strength_percent(food)
        if strength is None:
            return f"{food.name} of no stated strength"
        if strength < printed:
            return f"{food.name} of {strength} percent"
    return ""


def _is_finer_by_the_cup(food: Food, listed: Listed) -> bool:
    """Whether a vegetable printed by the cup in pieces is so fine, or so soft, that a cup holds more of it."""
    by_the_cup = listed.unit is not None and listed.unit.dimension is Dimension.VOLUME
    if not by_the_cup or food.role not in (Role.VEGETABLE, Role.LEGUME) or listed.part.role is Role.SPICE:
        return False
    finer = reading.said(food, *FINE) and not reading.said(listed.part, *FINE, *PRINTED_FINE)
    return finer or (reading.said(food, *SHRUNK) and not reading.said(listed.part, *SHRUNK, *PRINTED_SOFT))


def _said(food: Food) -> frozenset[str]:
    """What is said of the food, without what its own name already speaks for."""
    own = _kind_words(food.ingredient) if food.ingredient else frozenset()
    return food.form.union(without_accents(food.name.lower()).split()) - own


def _kind_open(food: Food) -> bool:
    return food.ingredient is None or NOT_STATED in food.ingredient.id


def strength_percent(food: Food) -> Fraction | None:
    """The strength that is said: 5 of "5 percent"."""
    said = [end for phrase in food.form if phrase.endswith(" percent") for end in re.split(r"[ –-]", phrase)]
    numbers = [Fraction(number) for number in said if number.replace(".", "", 1).isdigit()]
    grains = [Fraction(phrase.removesuffix("-grain")) for phrase in food.form if re.fullmatch(r"[0-9]+-grain", phrase)]
    return min((*numbers, *(grain / 10 for grain in grains)), default=None)


@lru_cache(maxsize=4096)
def _kind_words(ingredient: Ingredient) -> frozenset[str]:
    """Words that the ingredient's own name already speaks for."""
    return frozenset(words_of(" ".join((ingredient.name, *ingredient.aliases))))


# Amounts


@value(frozen=True, slots=True)
class _Beside:
    """An amount beside the printed one, both in the same measure."""

    part: Part
    listed: Listed
    ours: Bounds
    theirs: Bounds
    kind: Dimension | None  # of this measure; None: it took the published weights
    within: bool  # all of it lies in the printed range

    @property
    def weighed(self) -> bool:
        return self.kind is None

    @property
    def unit_size(self) -> Fraction:
        """Of the printed unit in this measure; 0 in any other measure."""
        unit = self.listed.unit
        return unit.factor if unit is not None and unit.dimension is self.kind else NOTHING

    def scaled(self, scale: Fraction) -> Bounds:
        """What is printed, for so large a batch."""
        return self.theirs if scale is ONE or self.listed.by_the_jar else self.theirs * scale

    def outside(self, scale: Fraction) -> tuple[bool, bool]:
        """Whether some of it lies below, and some above, all that rounds to what is printed."""
        theirs = self.scaled(scale)
        as_printed = theirs is self.theirs
        if as_printed and self.within:
            return False, False
        of_one, ours_low, ours_high, low, high = self.ours.beside(theirs)
        precision = WEIGHED_PRECISION if self.weighed else PRINTED_PRECISION if as_printed else SCALING_PRECISION
        less_by, more_by = _rounding(self.part, self.listed.part, precision)
        digit = self.unit_size if as_printed else NOTHING
        under = ours_low < low and _is_apart(ours_low, low, of_one, less_by, digit)
        if high is None or ours_high is None:
            return under, high is not None
        return under, high < ours_high and _is_apart(ours_high, high, of_one, more_by, digit)

    def ratio(self, scale: Fraction) -> Bounds:
        """How much there is of what is printed: of the least of it where there is too little, else of the most."""
        under, over = self.outside(scale)
        theirs = self.scaled(scale)
        against = theirs.low if under or theirs.high is None else theirs.high
        if not against:
            return Bounds(ONE, None) if over else Bounds(ONE, ONE)
        return self.ours / against


def _is_apart(amount: int, printed: int, of_one: int, precision: Fraction, unit_size: Fraction) -> bool:
    """Whether an amount can't be the printed one rounded: by this share of it, or to its last digit as sent.

    Both are so many of a small part, of which so many make one.
    """
    if _rounds_to(amount, printed, precision):
        return False
    return abs(amount - printed) > min(ROUNDED_TO * unit_size * of_one, printed * MOST_BY_A_DIGIT)


def _rounds_to(number: int, printed: int, precision: Fraction) -> bool:
    share, whole = precision.as_integer_ratio()
    return abs(number - printed) * whole <= share * printed


def _rounding(part: Part, tested: Part, precision: Fraction) -> tuple[Fraction, Fraction]:
    """How far below and above a printed amount still counts as it.

    Grams and litres for printed pounds and cups are rounded by the cook: as far as the printed figure is itself. Acid
    and salt are never cut so, and what thins the acid is raised no further than scaling may.
    """
    acid = part.role is Role.ACID or tested.role is Role.ACID
    less_by = PRINTED_PRECISION if acid else precision  # no precision is finer
    said = part.line.amount if part.line else None
    printed = tested.line.amount if tested.line else None
    if said is None or printed is None or said.unit.name not in METRIC or printed.unit.name in METRIC:
        return less_by, precision
    value = printed.bounds.low
    step = min(1 / (2 * value.denominator * value), CONVERTED_PRECISION) if value else Fraction(0)
    mild = part.role in RAISED_AT_NO_RISK or (part.ingredient is not None and part.ingredient.acidity == "acid")
    more_by = step if mild else min(step, SCALING_PRECISION)
    return (less_by if acid or part.role is Role.SALT else max(less_by, step)), max(precision, more_by)


def _says(ratio: Fraction | None, part: Part) -> str:
    if ratio is None:
        return f"more {part.name}"
    if ratio == 0:
        return f"no {part.name}"
    near = ratio.limit_denominator(8)
    told = near != 1 and abs(near - ratio) <= ratio / 50
    number = as_fraction(near) if told else f"{float(ratio):.3g}"
    return f"{number} {'of' if ratio < 1 else 'times'} the {part.name}"


def _side_by_side(part: Part, listed: Listed, jars: tuple[JarCount, ...] | None) -> _Beside | None:
    """Both amounts in the printed measure if the cook's are in it, else in any they share, else both weighed.

    A vegetable of which a cup holds more as the cook cuts it is weighed: chopped onions for sliced ones.
    """
    ours = _measured(part, listed, jars)
    for kind, theirs in listed.amounts.items():
        amount = ours.get(kind)
        if amount is not None and not (
            (kind is Dimension.COUNT and _of_other_pieces(part, listed.part))
            or (kind is Dimension.VOLUME and _packs_closer(part.food, listed.part.food))
        ):
            return _Beside(part, listed, amount, theirs, kind, theirs.holds(amount))
    weight = _weighed(ours, part)
    if weight is None or listed.weight is None:
        return None
    return _Beside(part, listed, weight, listed.weight, None, listed.weight.holds(weight))


@lru_cache(maxsize=4096)
def _packs_closer(food: Food, tested: Food) -> bool:
    """Whether, by the published weights, a cup holds more of this vegetable as the cook cuts it than as printed."""
    if food.role is not Role.VEGETABLE or food.ingredient is None or food.ingredient is not tested.ingredient:
        return False
    form = (*food.form, "chopped") if food.form & CUT_SMALL else tuple(food.form)
    ours, theirs = formula.grams_per_ml(food.ingredient, form), tested.grams_per_ml
    return ours is not None and theirs is not None and theirs.high is not None and ours.low > theirs.high


def _of_other_pieces(part: Part, tested: Part) -> bool:
    """Whether heads are counted here and cloves there."""
    return not (part.form ^ tested.form).isdisjoint(PIECES)


def _measured(part: Part, listed: Listed, jars: tuple[JarCount, ...] | None) -> dict[Dimension, Bounds]:
    """What goes into the pot, or each millilitre of jar where that is printed; nothing where it can't be told."""
    each = part.line.per_jar if part.line else None
    if listed.by_the_jar:
        volume = formula.jars_millilitres(jars or ()) if each is None else JAR_ML.get(each.jar_size)
        return {} if volume is None else _by_the_ml(part.measured, volume)
    return part.measured if each is None else formula.for_all(part.measured, formula.jars_ratio(jars, each.jar_size))


def _by_the_ml(measured: Mapping[Dimension, Bounds], volume: Bounds | Fraction) -> dict[Dimension, Bounds]:
    return {kind: amount / volume for kind, amount in measured.items()}


def _weighed(bases: Mapping[Dimension, Bounds], part: Part) -> Bounds | None:
    if Dimension.MASS in bases:
        return bases[Dimension.MASS]
    if part.ingredient is None:
        return None
    if Dimension.VOLUME in bases:
        return None if part.food.grams_per_ml is None else bases[Dimension.VOLUME] * part.food.grams_per_ml
    if Dimension.COUNT not in bases or part.line is None:
        return None
    each = formula.grams_each(part.ingredient, part.line.form)
    return None if each is None else bases[Dimension.COUNT] * each


# Pairs and the common factor


def _pairs(parts: Sequence[Part], ready: Ready, jars: tuple[JarCount, ...] | None) -> list[_Pair]:
    """Every ingredient beside the tested one it stands for, the surest pairs first: those of the very same food."""
    same = [
        (theirs, ours)
        for ours, part in enumerate(parts)
        if part.line is not None
        for theirs in ready.slots_of.get(_known_as(part), ())
    ]
    taken = dict(same)
    used = frozenset(taken.values())
    if len(same) != len(taken) or len(same) != len(used):  # only where there is a choice the nearest is looked for
        taken = {}
        _take(_by_distance(same, parts, ready), taken)
        used = frozenset(taken.values())
    if len(taken) < len(ready.slots) and len(used) < len(parts):
        left = [place for place in range(len(ready.slots)) if place not in taken]
        others = [(theirs, ours) for ours in range(len(parts)) if ours not in used for theirs in left]
        _take(_by_distance(others, parts, ready), taken)
    pairs = [
        _pair(parts[taken[theirs]], slot, jars) if theirs in taken else _Pair(None, slot)
        for theirs, slot in enumerate(ready.slots)
    ]
    used = frozenset(taken.values())
    return pairs + [_Pair(part, None) for ours, part in enumerate(parts) if ours not in used]


def _by_distance(
    pairs: Iterable[tuple[int, int]], parts: Sequence[Part], ready: Ready
) -> Iterator[tuple[int, int, int]]:
    """Of such places of the tested recipe and of the other one, those that may stand for one another."""
    for theirs, ours in pairs:
        distance = _distance(parts[ours], ready.slots[theirs])
        if distance is not None:
            yield distance, theirs, ours


def _take(choices: Iterable[tuple[int, int, int]], taken: dict[int, int]) -> None:
    """Pair off tested ingredients with the recipe's, the nearest first; what is taken once isn't taken again."""
    used = set(taken.values())
    for _, theirs, ours in sorted(choices):
        if theirs not in taken and ours not in used:
            taken[theirs] = ours
            used.add(ours)


def _distance(part: Part, slot: Slot) -> int | None:
    """How sure it is that this ingredient stands for that one; None where it can't."""
    return None if part.line is None else _distance_of(part.food, slot)


@lru_cache(maxsize=4096)
def _distance_of(food: Food, slot: Slot) -> int | None:
    tested = slot.tested.food
    if _same_food(food, tested):
        named_alike = food.ingredient is tested.ingredient
        unlike = len(food.form ^ tested.form)
        return (0 if named_alike else 100) + min(2 * unlike, 80) + (words_of(food.name) != words_of(tested.name))
    if _same(food, slot) is not None or _named_in_passing(food, slot):
        return 200
    if (food.group and food.group == tested.group) or food.role is tested.role is Role.SALT:
        return 300
    standing_in = food.role is tested.role or {food.role, tested.role} <= VEGETABLES
    if standing_in and food.role not in MINOR and food.role is not Role.UNKNOWN and not slot.tested.optional:
        return 400
    return None


def _scale(pairs: Sequence[_Pair]) -> Fraction:
    """The one factor that most of the batch agrees on; 1 where it agrees on none."""
    outside = [pair for pair in pairs if pair.beside is not None and not pair.beside.within]
    if not outside:
        return ONE
    ratios: list[tuple[int, int]] = []
    counts: list[int] = []
    for pair in pairs:
        part, beside = pair.part, pair.beside
        if part is None or beside is None or beside.listed.by_the_jar or not pair.allowed:
            continue
        _, ours_low, ours_high, low, high = beside.ours.beside(beside.theirs)
        if beside.weighed and (ours_high is None or high is None or ours_low * high != ours_high * low):
            continue  # published weights with a spread tell no factor
        if beside.within:
            ratios.append((1, 1))
        elif ours_high and high:
            ratios.append((ours_low + ours_high, low + high))  # by the middle of both
        else:
            continue
        counts.append(1 if part.role in MINOR else 3)
    if all(_rounds_to(*ratio, PRINTED_PRECISION) for ratio in ratios):
        return ONE
    one = lcm(*[under for _, under in ratios])
    ballots: dict[int, int] = {}
    for (over, under), count in zip(ratios, counts, strict=True):
        number = over * (one // under)
        ballots[number] = ballots.get(number, 0) + count
    votes = [
        (
            sum([count for other, count in ballots.items() if _rounds_to(other, number, SCALING_PRECISION)]),
            -abs(number - one),
            number,
        )
        for number in ballots
    ]
    most, _, number = max(votes)
    if _rounds_to(number, one, PRINTED_PRECISION) or 2 * most <= sum(counts):
        return ONE
    scale = Fraction(number, one).limit_denominator(60)
    return ONE if scale == 1 else scale


def with_jars(comparison: Comparison, recipe: Recipe, parts: Sequence[Part], facts: Facts) -> Comparison:
    """The same comparison after the jars have been taken from the tested recipe."""
    ready = prepared(facts)[comparison.recipe.id]
    return _compare(recipe, parts, ready, named_by_caller=comparison.named)
