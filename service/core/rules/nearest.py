"""The tested recipe that is nearest to a recipe, and every way in which the two differ.

One factor for the whole batch is taken out first. What is left over is a difference, unless the tested recipe itself
allows it: an optional ingredient, a listed alternative, an amount inside a printed range, a kind it names in passing.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from service.core.measures.amounts import Amount, Measure, as_fraction
from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.lines import Line, from_object
from service.core.measures.units import METRIC, Dimension
from service.core.rules import formula
from service.core.rules.case import Comparison, Difference, JarCount, Part, Recipe, Role
from service.core.rules.facts import Facts, TestedAlternative, TestedIngredient, TestedRecipe
from service.core.rules.recognition import Recogniser, recogniser, words_of

# 1/3 cup is sent as 0.33, 2/3 as 0.667: what the printed figure rounds to is the printed figure.
PRINTED_PRECISION = Fraction(1, 200)
ROUNDED_TO = Fraction(1, 200)  # half of the last of two decimals
WEIGHED_PRECISION = Fraction(2, 100)  # where volume and weight are compared through the published cup weights
SCALING_PRECISION = Fraction(2, 100)  # the ratio that proportional scaling must keep

CONVERTED_PRECISION = Fraction(6, 100)  # 250 mL for a cup: a working limit of ours
RAISED_AT_NO_RISK = frozenset({Role.ACID, Role.SWEETENER, Role.SALT, Role.SPICE, Role.PECTIN})

MINOR = frozenset({Role.SALT, Role.SPICE, Role.HERB, Role.ADDITIVE, Role.LIQUID, Role.NUT})
MAIN = frozenset({Role.FRUIT, Role.VEGETABLE, Role.TOMATO, Role.LEGUME, Role.MEAT, Role.FISH})
VEGETABLES = frozenset({Role.VEGETABLE, Role.LEGUME, Role.TOMATO})
SMALL_BATCH_JARS = 6  # where no yield is printed: a working figure of ours
CANDIDATES = 6  # tested recipes that are compared in full
NEAR_ENOUGH = Fraction(1, 2)  # of the two ingredient lists in common
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
    frozenset({"roasted", "grilled", "fried", "breaded"}),
    frozenset({"unpeeled"}),
)
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
NOT_STATED = "-not-stated"
# What "hot pepper", "sweet pepper" and "pepper" take in.
PEPPERS: dict[str, tuple[str, ...]] = {
    "pepper-kind-not-stated": ("pepper-", "pimiento"),
    "pepper-hot-kind-not-stated": ("pepper-hot", "pepper-jalapeno", "pepper-serrano", "pepper-banana"),
    "pepper-sweet-colour-not-stated": ("pepper-bell", "pepper-sweet"),
}


@dataclass(frozen=True, slots=True)
class Slot:
    """One ingredient of a tested recipe, with what may stand in its place."""

    tested: Part
    alternatives: tuple[Part, ...]
    named: frozenset[str]  # words of the foods it names in passing: "mackerel, salmon, trout, bluefish and kin"


@dataclass(frozen=True, slots=True)
class Ready:
    """A tested recipe, prepared once: its ingredients as understood and what to find it by."""

    recipe: TestedRecipe
    slots: tuple[Slot, ...]
    groups: dict[str, int]  # what it is made of, by weight of meaning
    title: frozenset[str]


@lru_cache(maxsize=4)
def prepared(facts: Facts) -> tuple[Ready, ...]:
    known = recogniser(facts)
    return tuple(_prepare(recipe, known) for recipe in facts.tested_recipes)


def compare(recipe: Recipe, parts: Sequence[Part], facts: Facts) -> Comparison | None:
    """The nearest tested recipe, or the one that was named; None where nothing tested is near."""
    ready = prepared(facts)
    if recipe.tested_recipe is not None:
        named = next((one for one in ready if one.recipe.id == recipe.tested_recipe), None)
        if named is not None:
            return _compare(recipe, parts, named, named_by_caller=True)
    groups, title = _groups(parts), title_words(recipe.title)
    same_product = [one for one in ready if recipe.product is not None and one.recipe.product == recipe.product]
    if recipe.product in facts.processes_of:
        ready = tuple(same_product)  # the product that was named, or none
    scored = [(_likeness(recipe, groups, title, one), one) for one in ready]
    scored.sort(key=lambda pair: pair[0], reverse=True)
    best: tuple[Fraction, Comparison] | None = None
    for likeness, one in scored[:CANDIDATES]:
        if likeness < NEAR_ENOUGH:
            break
        comparison = _compare(recipe, parts, one, named_by_caller=False)
        if not _of_one_kind(comparison, recipe, title, one):
            continue
        rank = likeness - Fraction(_weight_of(comparison.differences), 10)
        if comparison.same_formula:
            return comparison  # those that follow are less alike
        if best is None or rank > best[0]:
            best = rank, comparison
    return best[1] if best else None


def title_words(title: str) -> frozenset[str]:
    return frozenset(words_of(title)) - {"with", "and", "in", "or", "no", "of", "the", "a", "my", "our", "added", "own"}


def _prepare(recipe: TestedRecipe, known: Recogniser) -> Ready:
    jars = (JarCount(recipe.yield_jar, _jar_count(recipe)),)
    title = title_words(recipe.title)
    slots = []
    for number, printed in enumerate(recipe.ingredients):
        where = f"#/{number}"
        line = _line(printed)
        tested = formula.part(where, line, jars, known)
        others = [formula.part(where, _line(other), jars, known) for other in printed.alternatives]
        others += [formula.part(where, other, jars, known) for other in line.alternatives]
        named = frozenset(words_of(" ".join(line.form)))
        if tested.ingredient is not None and NOT_STATED in tested.ingredient.id:
            named |= title
        slots.append(Slot(tested, tuple(others), named))
    return Ready(recipe, tuple(slots), _groups(slot.tested for slot in slots), title)


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
        group = KIN.get(part.group, part.group) or part.name
        groups[group] = max(_heaviness(part), groups.get(group, 0))
    return groups


def _heaviness(part: Part) -> int:
    return 1 if part.role in MINOR else 4 if part.role in MAIN else 3


def _of_one_kind(comparison: Comparison, recipe: Recipe, title: frozenset[str], one: Ready) -> bool:
    """Whether most of the recipe, by what matters in it, is in the tested one, and in amounts of the same order."""
    alike_in_name = len(title & one.title) >= ALIKE_IN_NAME * len(title | one.title)
    if (
        comparison.same_formula
        or alike_in_name
        or (recipe.product is not None and recipe.product == one.recipe.product)
    ):
        return True
    unlike = {
        id(difference.part or difference.tested): _heaviness(part)
        for difference in comparison.differences
        if (part := difference.part or difference.tested) is not None and not _of_one_order(difference)
    }
    everything = sum(_heaviness(slot.tested) for slot in one.slots if not slot.tested.optional)
    everything += sum(
        _heaviness(found.part) for found in comparison.differences if found.kind == "added" and found.part
    )
    return 2 * sum(unlike.values()) < everything


def _of_one_order(difference: Difference) -> bool:
    if difference.kind == "form":
        return True
    ratio = difference.ratio
    if difference.kind not in ("less", "more") or ratio is None or ratio.high is None:
        return False
    return OF_ONE_ORDER[0] < ratio.low and ratio.high < OF_ONE_ORDER[1]


def _likeness(recipe: Recipe, groups: dict[str, int], title: frozenset[str], one: Ready) -> Fraction:
    shared = sum(weight for group, weight in groups.items() if group in one.groups)
    everything = sum((groups | one.groups).values())
    alike = Fraction(shared, everything or 1)
    named = Fraction(len(title & one.title), len(title | one.title) or 1)
    family = recipe.family is not None and recipe.family == one.recipe.family
    product = recipe.product is not None and recipe.product == one.recipe.product
    return alike + named / 2 + Fraction(family, 10) + Fraction(product, 2)


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
    pairs = _pairs(parts, ready)
    basis = ready.recipe.amount_basis != "" and _is_one_food(ready)
    scale = Fraction(1) if basis else _scale(pairs, recipe.jars)
    differences: list[Difference] = []
    for pair in pairs:
        differences += pair.differences(scale, recipe.jars, basis)
    return Comparison(
        recipe=ready.recipe,
        named=named_by_caller,
        scale=Bounds.exactly(scale),
        parts=tuple(slot.tested for slot in ready.slots),
        differences=tuple(differences),
        same_formula=not differences and scale == 1,
    )


def _is_one_food(ready: Ready) -> bool:
    """Whether there is nothing to keep in proportion: so many pounds fill so many jars."""
    return sum(slot.tested.role in MAIN and slot.tested.line is not None for slot in ready.slots) < 2


@dataclass(frozen=True, slots=True)
class _Pair:
    part: Part | None
    slot: Slot | None
    allowed: bool  # the tested recipe allows this food here

    def differences(self, scale: Fraction, jars: Sequence[JarCount] | None, basis: bool) -> list[Difference]:
        part = self.part
        if self.slot is None:
            assert part is not None
            return [Difference("added", part, None, None, f"{part.name} added")]
        tested = self.slot.tested
        if part is None:
            return [] if tested.optional else [Difference("missing", None, tested, None, f"no {tested.name}")]
        if self.allowed:
            found = [*_forms(part, self.slot), *_amounts(part, self.slot, scale, jars, basis)]
        else:
            ratio = _ratio(part, tested, scale, jars)
            says = f"{part.name} instead of {tested.name}"
            found = [Difference("swapped", part, tested, ratio.bounds if ratio else None, says)]
        if part.optional and not tested.optional:
            found.append(Difference("missing", part, tested, None, f"{tested.name} may be left out"))
        return found


def _forms(part: Part, slot: Slot) -> list[Difference]:
    said = _unlike(part, _meant(part, slot))
    return [Difference("form", part, slot.tested, None, said)] if said else []


def _amounts(part: Part, slot: Slot, scale: Fraction, jars: Sequence[JarCount] | None, basis: bool) -> list[Difference]:
    tested = _meant(part, slot)
    assert tested.line is not None
    if basis and tested.line.per_jar is None:
        return []
    if _unmeasured(part):
        says = f"no amount of {part.name}"
        return [] if tested.optional or part.role in MINOR else [Difference("less", part, tested, None, says)]
    ratio = _ratio(part, tested, scale, jars)
    if ratio is None:
        return [Difference("form", part, tested, None, f"{part.name} measured another way")]
    return ratio.differences(part, tested)


def _unmeasured(part: Part) -> bool:
    return part.line is None or (part.line.amount is None and part.line.per_jar is None)


def _meant(part: Part, slot: Slot) -> Part:
    """The tested ingredient, or the listed alternative that was taken in its place."""
    if _same_food(part, slot.tested):
        return slot.tested
    return next((other for other in slot.alternatives if _same_food(part, other)), slot.tested)


# What may stand for what


def _same_food(part: Part, tested: Part) -> bool:
    ours, theirs = part.ingredient, tested.ingredient
    if ours is None or theirs is None:
        return ours is theirs and words_of(part.name) == words_of(tested.name)
    if ours.id == theirs.id or (ours.id in KINDS_OF_ONE and KINDS_OF_ONE[ours.id] is KINDS_OF_ONE.get(theirs.id)):
        return True
    kind = theirs.id.split("-")[0]
    if theirs.id in PEPPERS:
        return ours.group == "pepper" and ours.id.startswith(PEPPERS[theirs.id])
    if NOT_STATED in theirs.id and theirs.group != "pectin":
        alike = ours.group == theirs.group or (kind == "salt" and part.role is Role.SALT)
        return alike and (theirs.group not in ("peach", "grape", "cherry") or ours.id.split("-")[0] == kind)
    # "Lemon juice" where the tested recipe says bottled: the same food, and a form that wasn't said.
    return NOT_STATED in ours.id and ours.group == theirs.group and ours.id.split("-")[:2] == theirs.id.split("-")[:2]


def _allowed(part: Part, slot: Slot) -> bool:
    if _same_food(part, slot.tested) or any(_same_food(part, other) for other in slot.alternatives):
        return True
    if part.ingredient is None or not (part.role is slot.tested.role or part.group == slot.tested.group):
        return False
    kind = slot.named | frozenset(words_of(slot.tested.name))
    names = (part.name, part.ingredient.name, *part.ingredient.aliases)
    return any(words <= kind and words & slot.named for name in names if (words := frozenset(words_of(name))))


def _unlike(part: Part, tested: Part) -> str:
    """What is said about the food on one side only, and changes it; empty where nothing is."""
    ours, theirs = _said(part), _said(tested)
    if not _same_food(part, tested):  # a kind named in passing: its name says nothing for it
        ours |= frozenset(words_of(" ".join((part.name, *part.form))))
    for state in STATES_OF_EITHER + STATES_OF_THE_COOK:
        if state & ours and not state & theirs:
            return f"{part.name} {min(state & ours)}"
        if state & theirs and not state & ours and state in STATES_OF_EITHER:
            return f"{part.name} not {min(state & theirs)}"
    if "bottled" in tested.form and "bottled" not in part.form and part.role is Role.ACID and _kind_open(part):
        return f"{part.name} not said to be bottled"
    strength, printed = strength_percent(part), strength_percent(tested)
    if printed is not None and (strength is None or strength < printed):
        return f"{part.name} of no stated strength" if strength is None else f"{part.name} of {strength} percent"
    return ""


def _said(part: Part) -> frozenset[str]:
    """What is said of the food, without what its own name already speaks for."""
    own = _kind_words(part) if part.ingredient else frozenset()
    return (part.form | frozenset(part.name.lower().split())) - own


def _kind_open(part: Part) -> bool:
    return part.ingredient is None or NOT_STATED in part.ingredient.id


def strength_percent(part: Part) -> Fraction | None:
    """The strength that is said: 5 of "5 percent"."""
    said = [phrase.removesuffix(" percent") for phrase in part.form if phrase.endswith(" percent")]
    numbers = [Fraction(number) for number in said if number.replace(".", "", 1).isdigit()]
    return min(numbers, default=None)


def _kind_words(part: Part) -> frozenset[str]:
    """Words that the ingredient's own name already speaks for."""
    assert part.ingredient is not None
    return frozenset(words_of(" ".join((part.ingredient.name, *part.ingredient.aliases))))


# Amounts


@dataclass(frozen=True, slots=True)
class _Ratio:
    """One amount against another, after the common factor."""

    bounds: Bounds
    under: bool  # some of it lies below what is printed
    over: bool

    def differences(self, part: Part, tested: Part) -> list[Difference]:
        found = []
        if self.under:
            found.append(Difference("less", part, tested, self.bounds, _says(self.bounds.low, part)))
        if self.over:
            found.append(Difference("more", part, tested, self.bounds, _says(self.bounds.high, part)))
        return found


def _says(ratio: Fraction | None, part: Part) -> str:
    if ratio is None:
        return f"more {part.name}"
    if ratio == 0:
        return f"no {part.name}"
    near = ratio.limit_denominator(8)
    told = near != 1 and abs(near - ratio) <= ratio / 50
    number = as_fraction(near) if told else f"{float(ratio):.3g}"
    return f"{number} {'of' if ratio < 1 else 'times'} the {part.name}"


def _ratio(part: Part, tested: Part, scale: Fraction, jars: Sequence[JarCount] | None) -> _Ratio | None:
    """How much there is of what is printed; None where the two can't be compared."""
    beside = _side_by_side(part, tested, jars)
    if beside is None:
        return None
    ours, theirs, weighed, unit = beside
    scale = Fraction(1) if _by_the_jar(tested) else scale
    theirs = theirs * scale
    precision = WEIGHED_PRECISION if weighed else PRINTED_PRECISION if scale == 1 else SCALING_PRECISION
    less_by, more_by = _rounding(part, tested, precision)
    low = theirs.low * (1 - less_by)
    high = None if theirs.high is None else theirs.high * (1 + more_by)
    if not weighed and scale == 1:  # what rounds to the printed figure
        low = min(low, max(theirs.low - ROUNDED_TO * unit, theirs.low * Fraction(98, 100)))
        if theirs.high is not None and high is not None:
            high = max(high, min(theirs.high + ROUNDED_TO * unit, theirs.high * Fraction(102, 100)))
    under = ours.low < low
    over = high is not None and (ours.high is None or ours.high > high)
    against = theirs.low if under or theirs.high is None else theirs.high
    if not against:
        return _Ratio(Bounds.exactly(1) if not over else Bounds(Fraction(1), None), under, over)
    return _Ratio(ours / against, under, over)


def _rounding(part: Part, tested: Part, precision: Fraction) -> tuple[Fraction, Fraction]:
    """How far below and above a printed amount still counts as it.

    Grams and litres for printed pounds and cups are rounded by the cook: as far as the printed figure is itself. Acid
    and salt are never cut so, and what thins the acid is raised no further than scaling may.
    """
    acid = part.role is Role.ACID or tested.role is Role.ACID
    less_by = min(precision, PRINTED_PRECISION) if acid else precision
    said, printed = (one.line.amount if one.line else None for one in (part, tested))
    if said is None or printed is None or said.unit.name not in METRIC or printed.unit.name in METRIC:
        return less_by, precision
    value = printed.bounds.low
    step = min(1 / (2 * value.denominator * value), CONVERTED_PRECISION) if value else Fraction(0)
    mild = part.role in RAISED_AT_NO_RISK or (part.ingredient is not None and part.ingredient.acidity == "acid")
    more_by = step if mild else min(step, SCALING_PRECISION)
    return (less_by if acid or part.role is Role.SALT else max(less_by, step)), max(precision, more_by)


def _side_by_side(
    part: Part, tested: Part, jars: Sequence[JarCount] | None
) -> tuple[Bounds, Bounds, bool, Fraction] | None:
    """Both amounts in the same measure, whether it took the published weights, and the unit's size in that measure."""
    assert part.line is not None
    assert tested.line is not None
    if _by_the_jar(tested):
        ours, theirs = _per_ml(part.line, jars), _per_ml(tested.line, None)
        if ours is None or theirs is None:
            return None
        return _shared(ours, theirs, part, tested, None)
    said = tested.line.amount
    if said is None:
        return None
    ours_said = part.line.amount
    if part.line.per_jar is not None:
        times = formula.jars_ratio(jars, part.line.per_jar.jar_size)
        if times is None:
            return None
        ours_all = {kind: base * times for kind, base in _bases(part.line.per_jar.amount).items()}
    elif ours_said is None:
        return None
    else:
        ours_all = _bases(ours_said)
    return _shared(ours_all, _bases(said, _is_up_to(tested)), part, tested, said)


def _by_the_jar(tested: Part) -> bool:
    """Whether so much goes into each jar, however large the batch."""
    each = tested.line.per_jar if tested.line else None
    return each is not None and each.jar_size in JAR_ML


def _is_up_to(tested: Part) -> bool:
    return "up to" in tested.form or "at most" in tested.form


def _per_ml(line: Line, jars: Sequence[JarCount] | None) -> dict[Dimension, Bounds] | None:
    """What goes into each millilitre of jar."""
    if line.per_jar is not None:
        size = JAR_ML.get(line.per_jar.jar_size)
        return None if size is None else {kind: base / size for kind, base in _bases(line.per_jar.amount).items()}
    volume = formula.jars_millilitres(jars) if jars else None
    if line.amount is None or volume is None:
        return None
    return {kind: base / volume for kind, base in _bases(line.amount).items()}


def _bases(amount: Amount, up_to: bool = False) -> dict[Dimension, Bounds]:
    measures = [*([amount.contents] if amount.contents else []), Measure(amount.bounds, amount.unit), *amount.also]
    bases: dict[Dimension, Bounds] = {}
    for measure in measures:
        base = measure.base
        bases.setdefault(measure.unit.dimension, Bounds(Fraction(0), base.high) if up_to else base)
    return bases


def _shared(
    ours: dict[Dimension, Bounds], theirs: dict[Dimension, Bounds], part: Part, tested: Part, said: Amount | None
) -> tuple[Bounds, Bounds, bool, Fraction] | None:
    printed = said.unit.dimension if said else None
    for kind in sorted(theirs, key=lambda kind: kind is not printed):
        if kind in ours:
            size = said.unit.factor if said and kind is printed else Fraction(0)
            return ours[kind], theirs[kind], False, size
    a, b = _weighed(ours, part), _weighed(theirs, tested)
    return None if a is None or b is None else (a, b, True, Fraction(0))


def _weighed(bases: dict[Dimension, Bounds], part: Part) -> Bounds | None:
    if Dimension.MASS in bases:
        return bases[Dimension.MASS]
    if part.ingredient is None or part.line is None:
        return None
    if Dimension.VOLUME in bases:
        density = formula.grams_per_ml(part.ingredient, part.line.form)
        return None if density is None else bases[Dimension.VOLUME] * density
    each = [form.grams_each for form in part.ingredient.forms if form.grams_each is not None]
    return bases[Dimension.COUNT] * each[0] if each and Dimension.COUNT in bases else None


# Pairs and the common factor


def _pairs(parts: Sequence[Part], ready: Ready) -> list[_Pair]:
    """Every ingredient beside the tested one it stands for, the surest pairs first."""
    choices: list[tuple[int, int, int]] = []
    for ours, part in enumerate(parts):
        for theirs, slot in enumerate(ready.slots):
            distance = _distance(part, slot)
            if distance is not None:
                choices.append((distance, theirs, ours))
    choices.sort()
    taken: dict[int, int] = {}
    used: set[int] = set()
    for _, theirs, ours in choices:
        if theirs not in taken and ours not in used:
            taken[theirs] = ours
            used.add(ours)
    pairs = []
    for theirs, slot in enumerate(ready.slots):
        mate = parts[taken[theirs]] if theirs in taken else None
        pairs.append(_Pair(mate, slot, mate is not None and _allowed(mate, slot)))
    return pairs + [_Pair(part, None, False) for ours, part in enumerate(parts) if ours not in used]


def _distance(part: Part, slot: Slot) -> int | None:
    """How sure it is that this ingredient stands for that one; None where it can't."""
    tested = slot.tested
    if part.line is None:
        return None
    if _same_food(part, tested):
        named_alike = part.ingredient is tested.ingredient
        unlike = len(part.form ^ tested.form)
        return (0 if named_alike else 100) + min(2 * unlike, 80) + (words_of(part.name) != words_of(tested.name))
    if _allowed(part, slot):
        return 200
    if (part.group and part.group == tested.group) or part.role is tested.role is Role.SALT:
        return 300
    standing_in = part.role is tested.role or {part.role, tested.role} <= VEGETABLES
    if standing_in and part.role not in MINOR and part.role is not Role.UNKNOWN and not tested.optional:
        return 400
    return None


def _scale(pairs: Sequence[_Pair], jars: Sequence[JarCount] | None) -> Fraction:
    """The one factor that most of the batch agrees on; 1 where it agrees on none."""
    ratios: Counter[Fraction] = Counter()
    for pair in pairs:
        part, slot = pair.part, pair.slot
        if part is None or slot is None or not pair.allowed or _unmeasured(part):
            continue
        tested = _meant(part, slot)
        if tested.line is None or tested.line.per_jar is not None:
            continue
        beside = _side_by_side(part, tested, jars)
        if beside is None:
            continue
        ours, theirs, weighed, _ = beside
        if weighed and (ours.high is None or theirs.high is None or ours.low * theirs.high != ours.high * theirs.low):
            continue  # published weights with a spread tell no factor
        if theirs.contains(ours):
            ratios[Fraction(1)] += _vote(part)
        elif theirs.high and ours.high:
            ratios[(ours.low + ours.high) / (theirs.low + theirs.high)] += _vote(part)
    votes = [
        (
            sum(ballots for other, ballots in ratios.items() if abs(other - ratio) <= ratio * SCALING_PRECISION),
            -abs(ratio - 1),
            ratio,
        )
        for ratio in ratios
    ]
    if not votes:
        return Fraction(1)
    most, _, ratio = max(votes)
    if abs(ratio - 1) <= PRINTED_PRECISION or 2 * most <= ratios.total():
        return Fraction(1)
    return ratio.limit_denominator(60)


def _vote(part: Part) -> int:
    return 1 if part.role in MINOR else 3


def with_jars(comparison: Comparison, recipe: Recipe, parts: Sequence[Part], facts: Facts) -> Comparison:
    """The same comparison after the jars have been taken from the tested recipe."""
    ready = next(one for one in prepared(facts) if one.recipe.id == comparison.recipe.id)
    return _compare(recipe, parts, ready, named_by_caller=comparison.named)
