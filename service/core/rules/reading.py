"""What rules ask of a recipe, in the words they ask it in."""

import re
from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from functools import lru_cache, wraps

from service.core.measures.bounds import Bounds
from service.core.measures.jars import JAR_ML
from service.core.measures.letters import without_accents
from service.core.measures.steps import begins_so
from service.core.measures.units import ML_PER_QUART, Dimension
from service.core.rules.case import AnyFood, Case, Comparison, Difference, Part, Role
from service.core.rules.facts import Facts, Process
from service.core.rules.findings import Finding, Judge, Note

GEL_FAMILIES = frozenset({"jam", "jelly", "preserve", "marmalade", "conserve", "fruit-butter"})
ACIDIFIED_FAMILIES = frozenset({"salsa", "pickle", "relish", "chutney", "tomato", "pie-filling"})
PICKLED_FAMILIES = frozenset({"pickle", "relish", "chutney"})
MEAT_FAMILIES = frozenset({"meat", "fish"})

VINEGARS = ("vinegar", "homemade-vinegar")
CITRUS_JUICES = ("lemon-juice", "lime-juice", "key-lime-juice")
SALTS = ("salt", "canning-salt", "table-salt", "sea-salt", "flake-salt")
ONIONS_AND_PEPPERS = ("onion", "pepper", "onion-and-pepper")
LOW_ACID_FRUITS = frozenset(
    {"elderberry", "mango-ripe", "fig", "asian-pear", "melon", "banana", "papaya", "white-peach", "persimmon"}
    | {"coconut", "avocado", "lychee", "pawpaw", "prickly-pear"}
)
SEASONINGS = frozenset({Role.SALT, Role.SPICE, Role.HERB})


def on_the_shelf(judge: Judge) -> Judge:
    """A rule for jars that keep without a refrigerator or freezer; chilled and frozen food isn't judged by it."""

    @wraps(judge)
    def judge_on_the_shelf(case: Case) -> Iterator[Finding | Note]:
        return judge(case) if case.on_the_shelf else iter(())

    return judge_on_the_shelf


@lru_cache(maxsize=1024)
def _phrase(words: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile(r"(?<!\w)(?:" + "|".join(re.escape(word) for word in words) + r")(?:s|es)?(?!\w)")


@lru_cache(maxsize=2048)  # a method, a title, a closure: every recipe's is asked for the same words
def mentions(text: str, *words: str) -> bool:
    """Whether one of these words or phrases stands whole in the text: "undrained" doesn't mention "drained"."""
    return _stands_in(without_accents(text.lower()), words)


def saying(case: Case, *words: str) -> tuple[Part, ...]:
    """The ingredients whose name or form holds one of these words or phrases, whole."""
    if not _stands_in(case.text, words):
        return ()
    return tuple([part for part in case.parts if _stands_in(part.text, words)])


def _stands_in(text: str, words: tuple[str, ...]) -> bool:
    for word in words:
        if word in text:  # hardly ever: the pattern is left for then
            return _phrase(words).search(text) is not None
    return False


def said(part: AnyFood, *words: str) -> bool:
    """Whether the ingredient's name or form holds one of these words or phrases, whole."""
    return _stands_in(part.text, words)


def named(part: AnyFood, *words: str) -> bool:
    """Whether an ingredient that no table knows goes by one of these words."""
    return part.ingredient is None and mentions(part.name, *words)


def is_vinegar(part: AnyFood) -> bool:
    return part.group in VINEGARS or named(part, "vinegar")


def is_citrus_juice(part: AnyFood) -> bool:
    return part.group in CITRUS_JUICES or named(part, "lemon juice", "lime juice")


def is_key_lime(part: AnyFood) -> bool:
    return is_citrus_juice(part) and (part.group == "key-lime-juice" or said(part, "key lime"))


def is_citric_acid(part: AnyFood) -> bool:
    return part.group == "citric-acid"


def is_acid(part: AnyFood) -> bool:
    """Whether this is one of the acids that publications make food safe with."""
    return is_vinegar(part) or is_citrus_juice(part) or is_citric_acid(part)


def is_ascorbic(part: AnyFood) -> bool:
    return part.group == "ascorbic-acid" or named(part, "ascorbic acid", "vitamin c")


def is_alcohol(part: AnyFood) -> bool:
    if is_vinegar(part):
        return False
    return part.group in ("wine", "beer", "spirits") or named(
        part, "wine", "beer", "ale", "vodka", "rum", "whiskey", "whisky", "brandy", "gin", "cider", "sherry", "sake"
    )


def is_bottled(part: AnyFood) -> bool:
    """Whether juice is stated to come from a bottle, at a strength that doesn't vary."""
    bottled = part.ingredient is not None and part.ingredient.id.endswith("-bottled")
    if said(part, "fresh", "freshly", "squeezed", "homemade"):
        return False
    return bottled or said(part, "bottled", "from concentrate", "reconstituted")


def is_low_acid_vegetable(part: AnyFood) -> bool:
    """Vegetables, legumes and fresh herbs, unless their own pH is safely acid."""
    if part.role not in (Role.VEGETABLE, Role.LEGUME, Role.HERB):
        return False
    return part.ingredient is None or part.ingredient.acidity != "acid"


def is_low_acid_fruit(part: AnyFood) -> bool:
    if part.ingredient is not None and part.ingredient.id in ("date", "fig-dried"):
        return True
    if part.group == "mango-ripe":
        return not said(part, "unripe", "underripe", "under-ripe", "green")
    return part.group in LOW_ACID_FRUITS or is_white_peach(part)


def is_white_peach(part: AnyFood) -> bool:
    if part.group == "white-peach":
        return True
    return (part.group == "peach" or named(part, "peach", "nectarine")) and said(
        part, "white", "white-flesh", "white-fleshed"
    )


def is_tomato(part: AnyFood) -> bool:
    return part.role is Role.TOMATO


def is_oil(part: AnyFood) -> bool:
    return part.group == "oil" or (
        named(part, "oil")
        and not mentions(part.name, "clove", "cinnamon", "peppermint", "lemon", "orange", "essential")
    )


def is_mashed(part: AnyFood) -> bool:
    return said(part, "mashed", "pureed", "puree", "sieved", "blended", "pulped", "refried")


def is_unpeeled(part: AnyFood) -> bool:
    return said(
        part, "unpeeled", "unskinned", "not peeled", "without peeling", "skin on", "skins on", "skin-on",
        "skin left on", "skins left on", "with skin", "with skins", "with the skin", "with the skins", "with peel",
        "half peeled", "partly peeled", "partially peeled",
    )  # fmt: skip


@lru_cache(maxsize=64)
def is_ferment(case: Case) -> bool:
    """Whether salt, not vinegar, keeps this food at first: as sent, or as its steps say."""
    fermented = "fermentation" in acid_sources(case)
    sent = case.recipe.product is not None and case.recipe.product == case.product
    return case.family == "ferment" or (fermented and sent) or step_named(case, "ferment")


def is_pressure(case: Case) -> bool:
    return case.method is not None and case.method.startswith("pressure")


def rows(case: Case) -> tuple[Process, ...]:
    """Every published process of the product, whatever the pack."""
    return case.facts.processes_of.get(case.product or "", ())


def acid_per_jar(case: Case) -> bool:
    """Whether the product's own rows put acid into each jar."""
    return "per-jar" in acid_sources(case)


def acid_sources(case: Case) -> frozenset[str]:
    """Where the acid comes from in the published processes of the product."""
    return _acid_sources(case.facts, case.product or "")


@lru_cache(maxsize=1024)
def _acid_sources(facts: Facts, product: str) -> frozenset[str]:
    return frozenset([row.acid_source for row in facts.processes_of.get(product, ())])


@lru_cache(maxsize=64)
def safety_rests_on_acid(case: Case) -> bool:
    """Whether acid makes this food safe; otherwise it only helps the set, the colour or the taste."""
    if rows(case):
        tested = case.tested
        bottled_in_print = (
            tested is not None
            and tested.recipe.product == case.product
            and any(part.food.kinds[is_citrus_juice] and part.food.kinds[is_bottled] for part in tested.parts)
        )
        return bottled_in_print or not acid_sources(case).isdisjoint(("per-jar", "recipe"))
    return case.family in ACIDIFIED_FAMILIES or any(
        is_tomato(part) or is_low_acid_fruit(part) or (is_low_acid_vegetable(part) and part.group != "ginger")
        for part in case.parts
    )


@lru_cache(maxsize=64)
def built_on(case: Case) -> Comparison | None:
    """The tested recipe that this one is a version of; None where it is a mixture of one's own that only comes near.

    It is a version where the caller says so, or where most of the main ingredients are the tested recipe's.
    """
    tested = case.tested
    if tested is None:
        return None
    recipe = case.recipe
    same_product = recipe.product is not None and recipe.product == tested.recipe.product
    same_title = recipe.title.strip().lower() == tested.recipe.title.lower()
    if tested.named or same_title or (same_product and case.family not in GEL_FAMILIES):
        return tested
    main = [part for part in tested.parts if part.role not in SEASONINGS]
    changed = [
        difference
        for difference in tested.differences
        if difference.kind in ("missing", "added", "swapped")
        and any(part is not None and part.role not in SEASONINGS for part in (difference.part, difference.tested))
        and not (difference.part and difference.tested and difference.part.group == difference.tested.group)
    ]
    return tested if 2 * len(changed) < len(main) else None


def changes(case: Case) -> tuple[Difference, ...]:
    """Every difference from the tested recipe that this one is a version of."""
    tested = built_on(case)
    return tested.differences if tested else ()


def as_tested(case: Case, part: Part) -> bool:
    """Whether the tested recipe lists this ingredient, and no less of it."""
    return built_on(case) is not None and not any(
        difference.part is not None and difference.part.where == part.where and may_be_more(difference)
        for difference in changes(case)
    )


def may_be_more(difference: Difference) -> bool:
    """Whether there may be more of something than tested; an amount that isn't said may be any."""
    unsaid = difference.kind == "less" and difference.part is not None and difference.ratio is None
    return unsaid or difference.kind in ("more", "added", "swapped")


def raised(case: Case, wanted: Callable[[Part], bool]) -> Iterator[tuple[Difference, Part]]:
    """Ingredients of this kind that the tested recipe lacks, or has less of."""
    for difference in filter(may_be_more, changes(case)):
        part = difference.part
        if part is None or not wanted(part):
            continue
        if difference.kind == "swapped" and not_raised_by_swap(difference, wanted):
            continue
        yield difference, part


def not_raised_by_swap(difference: Difference, wanted: Callable[[Part], bool]) -> bool:
    """Whether one of a kind stands for another of that kind, in no larger amount."""
    if difference.tested is None or not wanted(difference.tested) or difference.ratio is None:
        return False
    return difference.ratio.high is not None and difference.ratio.high <= 1


def lowered(case: Case, wanted: Callable[[Part], bool]) -> Iterator[tuple[Difference, Part]]:
    """Ingredients of the tested recipe of this kind that are left out, cut, or replaced."""
    for difference in changes(case):
        tested = difference.tested
        if difference.kind not in ("missing", "less", "swapped") or tested is None or not wanted(tested):
            continue
        if difference.kind == "swapped" and not_lowered_by_swap(difference, wanted):
            continue
        yield difference, tested


def not_lowered_by_swap(difference: Difference, wanted: Callable[[Part], bool]) -> bool:
    """Whether one of a kind stands for another of that kind, in no smaller amount."""
    if difference.part is None or not wanted(difference.part) or difference.ratio is None:
        return False
    return difference.ratio.low >= 1


def where(difference: Difference) -> str | None:
    return difference.part.where if difference.part else None


def in_words(name: str) -> str:
    """A published name as it is said: "tomatoes whole in water"."""
    return name.replace("-", " ")


def in_print(tested: Part) -> str:
    """How much of what the tested recipe says: "1 1/2 cups lemon juice, bottled"."""
    line = tested.line
    said = (line.per_jar.amount if line.per_jar else line.amount) if line else None
    if said is None or tested.as_written.startswith(said.text):
        return tested.as_written
    return f"{said.text} {tested.as_written}"  # an alternative, in the amount of the first


def amount_of(parts: Iterable[Part]) -> tuple[Bounds, str] | None:
    """What these parts add up to, in one unit they all have; None where there is none."""
    listed = tuple(parts)
    volumes = [part.millilitres for part in listed if part.millilitres is not None]
    if len(volumes) == len(listed):
        return Bounds.total(volumes), "ml"
    weights = [part.grams for part in listed if part.grams is not None]
    if len(weights) == len(listed):
        return Bounds.total(weights), "g"
    return None


def total_raised(comparison: Comparison, differences: Iterable[Difference], wanted: Callable[[Part], bool]) -> bool:
    """Whether all of this kind together may come to more than tested; what can't be told may.

    Only what differs is added up, so what is equal on both sides can't blur the comparison.
    """
    changed = tuple(
        difference
        for difference in differences
        if any(part is not None and wanted(part) for part in (difference.part, difference.tested))
    )
    if not any(may_be_more(difference) for difference in changed):
        return False
    ours = [difference.part for difference in changed if difference.part and wanted(difference.part)]
    theirs = [difference.tested for difference in changed if difference.tested and wanted(difference.tested)]
    if len(ours) == len(theirs) == len(changed) == 1 and (ratio := changed[0].ratio) is not None:
        return ratio.high is None or ratio.high > 1
    together = amount_of([*ours, *theirs])
    mine, printed = amount_of(ours), amount_of(theirs)
    if together is None or mine is None or printed is None or mine[1] != printed[1]:
        return True
    limit = printed[0].low * comparison.scale.low
    return mine[0].high is None or mine[0].high > limit


def ml_per_quart(case: Case, part: Part) -> Bounds | None:
    """How much of this goes to each quart of jar: by the jar where so stated, else by the volume of all jars."""
    each = part.line.per_jar if part.line else None
    if each is not None and each.amount.unit.dimension is Dimension.VOLUME and each.jar_size in JAR_ML:
        return each.amount.base * (ML_PER_QUART / JAR_ML[each.jar_size])
    jars = case.jars_millilitres
    if part.millilitres is None or jars is None or not jars.high:
        return None
    return part.millilitres / jars * ML_PER_QUART


def share_of_floor(case: Case, floors: dict[str, Fraction]) -> Bounds:
    """How much of the required acid is there, 1 being exactly enough: part-amounts add up as fractions of their floors.

    `floors` names acids by group, in millilitres to the quart. An amount that can't be told counts as nothing, with no
    upper end; so does what may be left out, up to all of it.
    """
    shares = []
    for part in case.parts:
        if part.group in floors:
            amount = ml_per_quart(case, part)
            share = Bounds(Fraction(0), None) if amount is None else amount / floors[part.group]
            shares.append(Bounds(Fraction(0), share.high) if part.optional else share)
    return Bounds.total(shares)


def in_millilitres(parts: Iterable[Part]) -> Bounds:
    """The volume of these parts together; without an upper end where one can't be told."""
    return Bounds.total(Bounds(Fraction(0), None) if part.millilitres is None else part.millilitres for part in parts)


def in_grams(parts: Iterable[Part]) -> Bounds:
    """The weight of these parts together; without an upper end where one can't be told."""
    return Bounds.total(Bounds(Fraction(0), None) if part.grams is None else part.grams for part in parts)


def is_main(case: Case, part: Part) -> bool:
    """Whether this may be half of the food or more: the food without its sweetener, acid, water and seasoning."""
    foods = [
        other
        for other in case.parts
        if other.role
        not in (Role.SWEETENER, Role.ACID, Role.PECTIN, Role.SALT, Role.SPICE, Role.ADDITIVE, Role.THICKENER)
        and other.group != "water"
    ]
    if part not in foods:
        return False
    rest = in_grams(other for other in foods if other != part)
    if part.grams is None or part.grams.high is None:
        return True
    return part.grams.high >= rest.low


def step_named(case: Case, *beginnings: str) -> bool:
    return begins_so(case.steps, beginnings)
