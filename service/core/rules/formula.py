"""From the lines of a recipe to its ingredients as understood, with what they weigh, measure and hold in solids.

Amounts are intervals: a cup of a food weighs what the published tables say for that form of it, from the least to the
most.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cached_property, lru_cache

from service.core.measures.amounts import Amount
from service.core.measures.bounds import Bounds, in_common
from service.core.measures.jars import JAR_ML
from service.core.measures.letters import without_accents
from service.core.measures.lines import Line, Unread
from service.core.measures.units import ML_PER_CUP, ML_PER_TABLESPOON, ML_PER_TEASPOON, Dimension
from service.core.rules.case import MOST_FOODS, AnyFood, Food, JarCount, Part, Role
from service.core.rules.facts import Ingredient, IngredientForm
from service.core.rules.recognition import BY_THE_SPOON, Recogniser, role_of, role_of_unknown, words_of

PAN_ROLES = frozenset({Role.FRUIT, Role.TOMATO})
# Water and salt that are poured away never reach the pot.
POURED_AWAY = ("soak", "drained off", "poured off", "brining solution")
# What is measured by liking may come to nothing.
AS_ONE_LIKES = frozenset(["to taste", "as desired", "as needed", "as required"])
# Packages whose contents are published; any other package must say its own.
PACKAGE_GRAMS = {
    "pectin-powdered-regular": Bounds.exactly(Fraction("49.6")),  # 1 3/4 oz box: USDA SR26, NDB 19310
    "pectin-powdered-low-sugar": Bounds.exactly(Fraction("49.6")),
    "pectin-liquid": Bounds.exactly(Fraction(85)),  # 3 oz pouch: from memory
    "gelatin-unsweetened": Bounds.exactly(Fraction(7)),  # 1/4 oz envelope
}
# A piece may be half as heavy as the published average, or half as heavy again: a working limit of ours. It spans the
# small and the large onions, carrots, tomatoes and apples of USDA SR26.
PIECE_TO_PIECE = Bounds(Fraction(1, 2), Fraction(3, 2))
OF_VARYING_SIZE = frozenset({Role.FRUIT, Role.VEGETABLE, Role.TOMATO})
AT_ODDS = Fraction(2)  # times; packed and heaped cups, large and small pieces lie within: a working limit of ours
PARTS_OF_ONE = frozenset({"piece", "slice", "sprig"})  # not what was weighed
# What may be said of an acid without taking any of it away: whatever else is said may do that.
ALL_OF_AN_ACID = frozenset(
    words_of(
        """percent grain labelled labeled acidity acetic acid white distilled cider apple wine red rice malt
        vinegar lemon lime juice bottled commercial commercially store bought purchased strained fresh
        freshly squeezed from concentrate reconstituted hot cold boiling warm heated room temperature at to
        more higher stronger least divided in two three four additions preferred for brining brine solution
        canning syrup pickling liquid powder powdered crystals granulated food grade good quality plain pure
        organic prevent browning darkening full strength raw unfiltered"""
    )
)
# Sold fresh and dried: dried they are spices, fresh they are low-acid vegetables. The ids are those of the bare names.
HERBS = frozenset(
    {
        "basil-kind-not-stated",
        "dill-kind-not-stated",
        "dill-weed-dried",
        "oregano-dried",
        "thyme-dried",
        "rosemary-dried",
        "sage-ground",
    }
    | {"savory-ground", "marjoram-dried", "tarragon-dried", "parsley-fresh", "mint-fresh", "herb-fresh"}
    | {"coriander-seed", "fenugreek-seed"}
)
SAID_DRY = frozenset({"dried", "dry", "ground", "rubbed", "powdered", "powder", "flake", "crumbled", "crushed", "seed"})
SAID_FRESH = frozenset({"fresh", "freshly", "chopped", "minced", "torn", "snipped", "sprig", "bunch", "head", "frond"})
SPOONFUL_ML = Bounds.exactly(ML_PER_TABLESPOON)
SPOONFUL_GRAMS = Bounds.exactly(10)  # what a tablespoon of chopped pepper weighs, and 3 of oregano: a figure of ours
DRIED_HERB_ML_MOST = SPOONFUL_ML * 3  # the most oregano that a tested recipe lists without a word on its kind
# Too little to weigh in a pot, wherever no weight is published for them.
TRACES = frozenset({Role.SPICE, Role.HERB, Role.ADDITIVE, Role.SALT})

# By jars, the ingredients of lines by place and identity; the line is kept beside them, so that no other gets its own.
Told = dict[tuple[JarCount, ...] | None, dict[tuple[int, int], tuple[Line | Unread, tuple[Part, ...]]]]


def parts(
    lines: Sequence[Line | Unread], jars: tuple[JarCount, ...] | None, known: Recogniser, told: Told | None = None
) -> tuple[Part, ...]:
    """Every ingredient of every line, in order; `jars` are what an amount per jar is multiplied by.

    A line that stands in `told`, in the same place and with the same jars, isn't worked out again; the others are put
    there. It serves the versions of one recipe, which share most of their lines; one without versions needs none.
    """
    if told is None:
        return tuple(
            [one for at, line in enumerate(lines) for one in _parts_of(f"#/ingredients/{at}", line, jars, known)]
        )
    with_these = told.setdefault(jars, {})
    found: list[Part] = []
    for number, line in enumerate(lines):
        key = number, id(line)
        told_before = with_these.get(key)
        if told_before is None:
            told_before = with_these[key] = line, _parts_of(f"#/ingredients/{number}", line, jars, known)
        found += told_before[1]
    return tuple(found)


def _parts_of(
    where: str, line: Line | Unread, jars: tuple[JarCount, ...] | None, known: Recogniser
) -> tuple[Part, ...]:
    if isinstance(line, Unread):
        return (_unread(where, line),)
    first = part(where, line, jars, known)
    return (first, *[part(where, one, jars, known) for one in line.more]) if line.more else (first,)


def part(where: str, line: Line, jars: tuple[JarCount, ...] | None, known: Recogniser) -> Part:
    """One ingredient as understood."""
    said = _said(line)
    measured = {} if said is None else said.measured
    usual, by_the_spoon = _foods(known, line.name, line.form)
    food = usual if usual is by_the_spoon or not _is_spoonful(line, measured) else by_the_spoon
    problem = ""
    if food.ingredient is not None and food.ingredient.id in HERBS:
        food, problem = _herb(line, food, food.ingredient, known)
    elif food.role is Role.ACID and (unclear := _less_of_an_acid(line)):
        line, problem = _down_to_none(line), f"Say how much of it goes in: {unclear} may take some of it away."
        said = _said(line)
        measured = {} if said is None else said.measured
    grams = ml = count = None
    optional = line.optional
    if said is not None:
        whole = measured if line.per_jar is None else for_all(measured, jars_ratio(jars, line.per_jar.jar_size))
        grams, ml, count = _amounts(said, whole, food, line.form)
        optional = optional or line.note in AS_ONE_LIKES
    problem = problem or _problem(line, said, food)
    return Part(where, line.as_written, food, line, grams, ml, count, optional, problem, measured, *food.spread)


@lru_cache(maxsize=MOST_FOODS)
def _foods(known: Recogniser, name: str, form: tuple[str, ...]) -> tuple[Food, Food]:
    """What is meant by these words, and what where at most a tablespoon goes in: nearly always the same."""
    usual = known.recognise(name, ",".join(form), spoonful=False)
    other = usual is None or usual.id in BY_THE_SPOON
    little = known.recognise(name, ",".join(form), spoonful=True) if other else usual
    return _said_to_be(name, form, usual), _said_to_be(name, form, little)


def _said_to_be(name: str, form: tuple[str, ...], ingredient: Ingredient | None) -> Food:
    return _food_as(name, form, ingredient, role_of(ingredient) if ingredient else role_of_unknown(name))


@lru_cache(maxsize=MOST_FOODS)
def _food_as(name: str, form: tuple[str, ...], ingredient: Ingredient | None, role: Role) -> Food:
    density = grams_per_ml(ingredient, form) if ingredient else None
    return Food(name, ingredient, role, form, form_words(form), density)


def form_words(form: tuple[str, ...]) -> frozenset[str]:
    """The phrases of a form, and each of their words, in plain letters."""
    phrases = [without_accents(phrase.lower().strip()) for phrase in form]
    return frozenset([*phrases, *[word.strip(".") for phrase in phrases for word in phrase.split()]])


def jars_ratio(jars: tuple[JarCount, ...] | None, size: str) -> Bounds | None:
    """How many jars of one size the declared jars hold; None where either isn't a known size."""
    held = jars_millilitres(jars or ())
    return None if held is None or size not in JAR_ML else held / JAR_ML[size]


@lru_cache(maxsize=1024)
def jars_millilitres(jars: tuple[JarCount, ...]) -> Bounds | None:
    if not jars or any(jar.size not in JAR_ML for jar in jars):
        return None
    return Bounds.exactly(sum((JAR_ML[jar.size] * jar.count for jar in jars), Fraction(0)))


class Pot:
    """All that goes into the pot, with its sums: each is worked out when a rule or the answer asks for it."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = [part for part in parts if not part.food.kinds[_is_poured_away]]

    @cached_property
    def total_grams(self) -> Bounds | None:
        return total_grams(self.parts)

    @cached_property
    def soluble_solids(self) -> Bounds | None:
        return soluble_solids(self.parts)

    @cached_property
    def fruit_to_sugar(self) -> Bounds | None:
        return fruit_to_sugar(self.parts)

    @cached_property
    def prepared_fruit_cups(self) -> Bounds | None:
        return prepared_fruit_cups(self.parts)


def _is_poured_away(part: AnyFood) -> bool:
    return any(words in part.text for words in POURED_AWAY)


def total_grams(pot: Sequence[Part]) -> Bounds | None:
    """What the whole pot weighs before it boils; None where the weight of more than a trace isn't known."""
    weighed = [part.grams for part in pot if part.grams is not None]
    if not weighed or any(part.grams is None and part.role not in TRACES for part in pot):
        return None
    return Bounds.total(weighed)


def soluble_solids(pot: Sequence[Part]) -> Bounds | None:
    """Grams of soluble solids per gram of the cold mix, from the least to the most that all intervals allow."""
    mix: list[tuple[Bounds, Bounds]] = []
    for part in pot:
        if part.role is Role.PECTIN or part.grams is not None:
            solids = part.ingredient.soluble_solids if part.ingredient else None
            if solids is None and part.role in TRACES:
                continue
            if part.grams is None or solids is None:
                return None
            mix.append((part.grams, solids))
        elif part.role not in TRACES:
            return None
    return share(mix)


def share(mix: Sequence[tuple[Bounds, Bounds]]) -> Bounds | None:
    """The share that parts of these weights, each with a share of its own, make up together."""
    of_a_gram, of_one = in_common([grams for grams, _ in mix]), in_common([solids for _, solids in mix])
    spans: list[tuple[int, int]] = []
    lean: list[int] = []
    rich: list[int] = []
    for grams, solids in mix:
        least, most = grams.in_parts(of_a_gram)
        if most is None:
            return None
        spans.append((least, most - least))
        leanest, richest = solids.in_parts(of_one)
        lean.append(leanest)
        rich.append(of_one if richest is None else richest)
    if not any(least or more for least, more in spans):
        return None
    return Bounds(_extreme(spans, lean, of_one, richest=False), _extreme(spans, rich, of_one, richest=True))


def _extreme(spans: Sequence[tuple[int, int]], shares: Sequence[int], of_one: int, *, richest: bool) -> Fraction:
    """The lowest (highest) share: the leanest (richest) parts at their heaviest, as many of them as make it extreme.

    A span is the least weight and what may come on top, both as multiples of one small weight; `of_one` of what the
    shares are counted in make one.
    """
    total = sum([least for least, _ in spans])
    solids = sum([least * share for (least, _), share in zip(spans, shares, strict=True)])
    best = solids, total
    for share, (_, more) in sorted(zip(shares, spans, strict=True), reverse=richest):
        total, solids = total + more, solids + more * share
        ahead = solids * best[1] - best[0] * total
        if not best[1] or (ahead > 0 if richest else ahead < 0):
            best = solids, total
    return Fraction(best[0], best[1] * of_one)


def fruit_to_sugar(pot: Sequence[Part]) -> Bounds | None:
    """Fruit, juice or tomato against sweetener, by weight."""
    fruit = [part.grams for part in pot if is_fruit(part)]
    sugar = [part.grams for part in pot if part.role is Role.SWEETENER]
    if not fruit or not sugar:
        return None
    weighed = [grams for grams in (*fruit, *sugar) if grams is not None]
    if len(weighed) != len(fruit) + len(sugar):
        return None
    total = Bounds.total(weighed[len(fruit) :])
    return Bounds.total(weighed[: len(fruit)]) / total if total.high else None


def is_fruit(part: AnyFood) -> bool:
    """Fruit or its juice, not its rind or skin."""
    if part.group in ("citrus-zest", "grape-skin", "raisin", "dried-fruit"):
        return False
    return part.role in PAN_ROLES or part.group in ("fruit-juice", "juice-concentrate", "tomato-juice")


def prepared_fruit_cups(pot: Sequence[Part]) -> Bounds | None:
    """Cups of prepared fruit or juice, where all of it is measured by the cup."""
    fruit = [part.millilitres for part in pot if is_fruit(part) and part.group != "citrus"]
    fruit = fruit or [part.millilitres for part in pot if is_fruit(part)]
    measured = [ml for ml in fruit if ml is not None]
    if not measured or len(measured) != len(fruit):
        return None
    return Bounds.total(measured) / ML_PER_CUP


# One amount


def _unread(where: str, line: Unread) -> Part:
    food = _food_as(line.text, (), None, role_of_unknown(line.text))
    return Part(where, line.text, food, None, None, None, None, False, line.reason, {}, *food.spread)


def for_all(each: Mapping[Dimension, Bounds], jars: Bounds | None) -> dict[Dimension, Bounds]:
    """What goes into all jars, of what goes into each; nothing where their number can't be told."""
    return {} if jars is None else {kind: amount * jars for kind, amount in each.items()}


def _said(line: Line) -> Amount | None:
    """The amount that counts: into each jar, where that is said."""
    return line.per_jar.amount if line.per_jar else line.amount


def _is_spoonful(line: Line, measured: Mapping[Dimension, Bounds]) -> bool:
    said = _said(line)
    return line.note == "to taste" if said is None else _at_most(said, measured, SPOONFUL_ML)


def _at_most(said: Amount, measured: Mapping[Dimension, Bounds], millilitres: Bounds) -> bool:
    """Whether it is at most so much, or weighs no more than a spoonful."""
    kind = said.unit.dimension
    limit = millilitres if kind is Dimension.VOLUME else SPOONFUL_GRAMS if kind is Dimension.MASS else None
    return limit is not None and not measured[kind].ends_above(limit)


def _herb(line: Line, food: Food, ingredient: Ingredient, known: Recogniser) -> tuple[Food, str]:
    """A herb by its bare name: fresh, dried, or a question where neither is said and it is no matter of spoons."""
    said, role = _said(line), food.role
    words = frozenset(words_of(" ".join((line.name, *line.form))))
    dry = bool(words & SAID_DRY)
    fresh = bool(words & SAID_FRESH) or (said is not None and said.unit.name in SAID_FRESH)
    if fresh and not dry:
        fresh_herb = _food_as(line.name, line.form, known.by_id["herb-fresh"], Role.HERB)
        return (fresh_herb if role is Role.SPICE else food), ""
    if dry and not fresh:
        return food, ""
    if not fresh and role is Role.SPICE and said is not None and _at_most(said, said.measured, DRIED_HERB_ML_MOST):
        return food, ""
    unclear = _food_as(line.name, line.form, ingredient, Role.SPICE)
    return unclear, "Say whether it is dried, and how much goes in: fresh herbs are vegetables here."


def _less_of_an_acid(line: Line) -> str:
    """What is said of an acid that may take some of it away: "half water", "if you have it"; empty where nothing is."""
    said = _said(line)
    if said is not None and said.approximate:
        return f"“{said.text}”"
    for phrase in line.form:
        words = words_of(phrase.replace("or more", "").replace("or higher", "").replace("or stronger", ""))
        if not ALL_OF_AN_ACID.issuperset(words):
            return f"“{phrase}”"
    return ""


def _down_to_none(line: Line) -> Line:
    """The same line with any amount of it from none to what is written."""
    amount, each = line.amount, line.per_jar
    if amount is not None:
        amount = replace(amount, bounds=Bounds(Fraction(0), amount.bounds.high), also=())
    if each is not None:
        each = replace(each, amount=replace(each.amount, bounds=Bounds(Fraction(0), each.amount.bounds.high), also=()))
    return replace(line, amount=amount, per_jar=each)


def _amounts(
    said: Amount,
    whole: Mapping[Dimension, Bounds],
    food: Food,
    form: Sequence[str],
) -> tuple[Bounds | None, Bounds | None, Bounds | None]:
    """Grams, millilitres and pieces: as measured, else by the published weights."""
    grams, ml, count = whole.get(Dimension.MASS), whole.get(Dimension.VOLUME), whole.get(Dimension.COUNT)
    ingredient, density = food.ingredient, food.grams_per_ml
    if ingredient is None:
        return grams, ml, count
    if grams is None and ml is not None and density is not None:
        grams = ml * density
    elif grams is None and ml is None and count is not None:
        each = PACKAGE_GRAMS.get(ingredient.id) if said.unit.container else grams_each(ingredient, form)
        grams = None if each is None else count * each
    if ml is None and grams is not None and density is not None:
        ml = grams / density
    return grams, ml, count


def grams_each(ingredient: Ingredient, form: Sequence[str]) -> Bounds | None:
    """What one piece weighs, as published for an average one; None of a part of one, or of many in one."""
    heads = ingredient.group == "garlic" and "head" in form
    if heads or not PARTS_OF_ONE.isdisjoint(form):
        return None
    return _grams_of_a_whole_one(ingredient)


@lru_cache(maxsize=4096)
def _grams_of_a_whole_one(ingredient: Ingredient) -> Bounds | None:
    average = _union([one.grams_each for one in ingredient.forms if one.grams_each is not None])
    return average * PIECE_TO_PIECE if average and role_of(ingredient) in OF_VARYING_SIZE else average


def grams_per_ml(ingredient: Ingredient, form: tuple[str, ...]) -> Bounds | None:
    """What a millilitre of it weighs, filled in this form; every form the tables print where none of them is meant."""
    measured = _densities(ingredient)
    if len(measured) < 2:
        return measured[0][1] if measured else None
    said = frozenset(words_of(" ".join(form)))
    best = max((len(said & words) for words, _ in measured), default=0)
    return _union([density for words, density in measured if len(said & words) == best])


@lru_cache(maxsize=4096)
def _densities(ingredient: Ingredient) -> tuple[tuple[frozenset[str], Bounds], ...]:
    """The words of each form that is weighed by volume, and what a millilitre of it weighs."""
    measured = ((one.form, _density(one)) for one in ingredient.forms)
    return tuple((frozenset(words_of(form)), density) for form, density in measured if density is not None)


def _density(form: IngredientForm) -> Bounds | None:
    for grams, ml in (
        (form.grams_per_cup, ML_PER_CUP),
        (form.grams_per_tbsp, ML_PER_TABLESPOON),
        (form.grams_per_tsp, ML_PER_TEASPOON),
    ):
        if grams is not None and grams.low:
            return grams / ml
    return None


def _union(ranges: Sequence[Bounds]) -> Bounds | None:
    if not ranges:
        return None
    whole = ranges[0]
    for other in ranges[1:]:
        whole = whole.union(other)
    return whole


def _problem(line: Line, said: Amount | None, food: Food) -> str:
    """What the cook must still say before this ingredient can be judged."""
    ingredient, role = food.ingredient, food.role
    if ingredient is None:
        return "This ingredient isn't one that we have figures for."
    if ingredient.id == "pectin-kind-not-stated":
        return "Say which pectin: regular powder, liquid, low-sugar or calcium-set."
    if said is None:
        return "" if role in TRACES or line.optional else "Say how much goes in."
    if ingredient.id == "salt-kosher-brand-unstated" and said.unit.dimension is Dimension.VOLUME and not said.also:
        return "Weigh kosher salt, or use canning salt: a cup of it differs by half from brand to brand."
    if said.unit.container and said.contents is None and ingredient.id not in PACKAGE_GRAMS:
        return f"Say how much one {said.unit.name} holds."
    if said.also and _at_odds(said.measured, food, line.form):
        return "Say how much it is: the two amounts on this line are not the same."
    return ""


def _at_odds(measured: Mapping[Dimension, Bounds], food: Food, form: Sequence[str]) -> bool:
    """Whether a weight beside a volume or a number of pieces is far from what that weighs by the published figures."""
    assert food.ingredient is not None
    weight, ml, count = (measured.get(kind) for kind in (Dimension.MASS, Dimension.VOLUME, Dimension.COUNT))
    if weight is None:
        return False
    published = None
    if ml is not None and food.grams_per_ml is not None:
        published = ml * food.grams_per_ml
    elif count is not None and (each := grams_each(food.ingredient, form)) is not None:
        published = count * each
    if published is None:
        return False
    too_light = weight.high is not None and weight.high * AT_ODDS < published.low
    return too_light or (published.high is not None and weight.low > published.high * AT_ODDS)
