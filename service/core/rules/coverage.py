"""What nothing published covers: the rules that keep an unknown from passing.

They come last. Where a bar or a limit is broken as well, that finding decides.
"""

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_TEASPOON
from service.core.rules.case import MOST_FOODS, AnyFood, Case, Food, Part, Role
from service.core.rules.facts import Facts, Process
from service.core.rules.findings import Finding, Note, Rule, Severity, rule
from service.core.rules.nearest import BOUGHT, prepared, title_words
from service.core.rules.permitted import MEAT_SEASONINGS, allowance, is_too_much_spice, not_allowed
from service.core.rules.printed import COLD
from service.core.rules.product import (
    FAMILY_OF_ROLE,
    PLAIN_FOODS,
    SMOOTH,
    THICK,
    WITHOUT_LIQUID,
    is_another_kind,
    is_plain_food,
    of_another_title,
    packs_of,
)
from service.core.rules.reading import GEL_FAMILIES, in_grams, in_millilitres, in_words, is_ferment, said
from service.core.rules.recognition import CHANGING_NOTHING, is_no_leaf, recogniser, role_of, role_of_unknown, words_of
from service.core.rules.steps import strange_work

COLD_INSTEAD = "Keep it in the refrigerator or freezer, or follow a tested recipe."
ACIDS_IN_ROW = {
    "citric acid": "citric-acid",
    "bottled lemon juice": "lemon-juice",
    "vinegar, 5 percent": "vinegar",
}
KEEP_THE_COLOUR = frozenset({"lemon-juice", "lime-juice", "citric-acid"})  # of cut fruit and of shellfish
JUDGED_BY_SET = "fruit-swap-acid-class"
COVERING = frozenset({Role.SWEETENER, Role.SALT, Role.SPICE})
PLAIN = "plain-pack"
FOODS = frozenset({*FAMILY_OF_ROLE, Role.FAT, Role.DAIRY, Role.EGG, Role.GRAIN, Role.THICKENER, Role.NUT})
_JOINED = re.compile(r"(?<!\w)(?:and|with|plus|in) ")
SWEETENED = frozenset({"fruit", "juice", "tomato", "sweet-potatoes"})
ADDED_LIQUIDS = frozenset({"water", "fruit-juice"})
JUICES = frozenset({"apple-juice", "grape-juice"})  # printed for the one juice
LEAF, TOPS = frozenset({"leaf"}), frozenset({"top"})
SAUCES = frozenset({"applesauce"})
# Mixtures: one food alone, in broth or not, has a time of its own, which for beef and dried beans is longer.
SEVERAL_FOODS = frozenset({"soup", "soup-with-seafood", "mixed-vegetables"})
# A bare name that may be one of two foods, of which one takes longer or isn't canned, and the words that tell.
WHICH = {
    "bean-kind-not-stated": ("snap or dried beans", ("green", "snap", "string", "wax", "yellow", "dried", "dry")),
    "squash-kind-not-stated": ("winter or summer squash", ("winter", "pumpkin")),
}
PSI_MAX = 15  # Complete Guide, Guide 1
SAUCE_LIQUID_TIMES = 4  # cooks add a little more or less against sticking: a working limit of ours
THINNING = frozenset({"water", "canning-syrup"})
# Millilitres to a gram of fruit in packs of what is pressed or crushed: more thins the acid that the short process
# rests on. Printed in the Complete Guide, Guide 2 (from memory): no water in apple juice, as much as covers the grapes,
# a cup to a quart of fruit in purees. By weight, and with a little more, these are working limits of ours.
MOST_ML_PER_GRAM = {
    "apple-juice": Fraction(0),
    "grape-juice": Fraction(1),
    **dict.fromkeys(("applesauce", "fruit-puree", "fruit-baby-food"), Fraction(1, 2)),
}
CANNED = (
    *("canned", "bottled", "jarred", "factory", "store-bought", "tinned", "from a can", "from a jar"),
    "opened and repacked",
)


@lru_cache(maxsize=64)
def is_covered(case: Case) -> bool:
    """Whether a published process covers this food as it is made."""
    if case.product in PLAIN_FOODS and any(is_another_kind(part.food, case.product) for part in case.parts):
        return False
    return _followed(case) or _plain(case)


def _followed(case: Case) -> bool:
    """A tested recipe's own formula, within what publications allow; in a spread, within what its set rules judge."""
    tested = case.tested
    if tested is None or tested.recipe.product not in (None, case.product):
        return False
    if not any(_keeps(case, row) for row in tested.recipe.options):
        return False
    return not not_allowed(case)


def changes_to_the_set(case: Case) -> Iterator[Finding]:
    """A spread's fruit, sugar, acid and pectin not as tested: nothing covers it, unless a set rule mends it."""
    tested = case.tested
    if not case.on_the_shelf or tested is None or case.family not in GEL_FAMILIES or not _followed(case):
        return
    for change in tested.differences:
        if allowance(case, change) == JUDGED_BY_SET:
            where = change.part.where if change.part else "#/ingredients"
            yield Finding(f"Not as tested: {change.says}.", "Follow the tested recipe, or keep it cold.", where)
    smaller_butter = case.family == "fruit-butter" and tested.scale.low < 1  # it doesn't gel: a smaller pot is as good
    if tested.scale.low != 1 and not smaller_butter:
        yield Finding("Not the tested batch.", "Make the batch as printed, one after another.", "#/ingredients")


def _keeps(case: Case, row: Process) -> bool:
    """Whether this process is for food that is stored so: none of the cold ones makes a jar keep on the shelf."""
    return not case.on_the_shelf or row.method not in COLD


def sets_as_tested(case: Case) -> bool:
    """Whether the formula equals a tested one but for changes that have nothing to do with the set."""
    tested = case.tested
    if tested is None or case.same_as_tested or tested.scale.low != 1:
        return case.same_as_tested
    return all(allowance(case, change) not in (None, JUDGED_BY_SET) for change in tested.differences)


def _plain(case: Case) -> bool:
    """The product of a row, packed plainly."""
    if case.product is None or case.facts.covers.get(case.product) != PLAIN:
        return False
    if case.product not in case.facts.processes_of:
        return False
    return not any(True for _ in _not_plain(case))


def _not_plain(case: Case) -> Iterator[Part]:
    """What has no place in a plain pack of this product."""
    assert case.product is not None
    in_rows = {ACIDS_IN_ROW.get(acid.name, acid.name) for row in case.options for acid in row.acids}
    allowed_changes = {
        id(difference.part)
        for difference in case.differs("added", "swapped", "more", "less", "form")
        if difference.part is not None and allowance(case, difference)
    }
    compared = case.tested is not None and case.tested.recipe.product == case.product
    unlike = {id(found.part) for found in case.differs("added", "swapped", "form") if found.part is not None}
    foods = strangers = 0
    if _is_alone(case):
        yield case.parts[0]
    for part in case.parts:
        food = is_plain_food(part.food, case.product)
        pressed = part.group == "fruit-juice" and case.product in JUICES and not said(part, *BOUGHT)
        foods += (food and (part.role in FAMILY_OF_ROLE or pressed)) or part.group == "broth"
        added = (
            part.group in ADDED_LIQUIDS and case.product in WITHOUT_LIQUID and not (compared and id(part) not in unlike)
        )
        if added:
            strangers += 1
            yield part
        if _thins(case, part):
            strangers += 1
            yield part
            continue
        seasoned = part.role in COVERING and part.group != "mustard"  # from the jar, it is a sauce
        if (part.role is Role.SWEETENER and not _takes_syrup(case)) or is_too_much_spice(case, part):
            seasoned = False
        if food or added or part.group == "water" or seasoned or part.group in in_rows:
            continue
        if part.group == "ascorbic-acid" or id(part) in allowed_changes:
            continue
        families = {row.family for row in case.options}
        if families & {"fruit", "juice"} and part.group == "fruit-juice" and case.product not in JUICES:
            continue  # it covers the fruit
        if families & {"fruit", "juice", "fish"} and part.group in KEEP_THE_COLOUR:
            continue
        if compared and id(part) not in unlike:
            continue
        if part.role is Role.FAT and part.millilitres and (part.millilitres.high or 99) <= ML_PER_TEASPOON:
            continue
        strangers += 1
        yield part
    if not (foods or strangers):
        yield case.parts[0]


def _thins(case: Case, part: Part) -> bool:
    """Whether there is too much of this liquid and its like to so much fruit; what covers it isn't measured."""
    limit = MOST_ML_PER_GRAM.get(case.product or "")
    if limit is None or part.group not in THINNING:
        return False
    liquids = [each for each in case.parts if each.group in THINNING and _is_measured(each)]
    if not limit or part not in liquids:
        return not limit
    share = _ml_per_gram(liquids, [each for each in case.parts if each.role in FAMILY_OF_ROLE])
    return share is None or share.high is None or share.high > limit


def _is_measured(part: Part) -> bool:
    return part.line is not None and (part.line.amount is not None or part.line.per_jar is not None)


def _is_alone(case: Case) -> bool:
    """Whether a soup or mixture is of one food, or of one meat with onion or garlic, which is a pack of its own."""
    if case.product not in SEVERAL_FOODS:
        return False
    foods = case.of(*FAMILY_OF_ROLE)
    meats = {part.group for part in foods if part.group not in MEAT_SEASONINGS}
    seasoned = len(meats) == 1 and all(part.role is Role.MEAT for part in foods if part.group in meats)
    return seasoned or len({part.group for part in foods}) == 1


def _takes_syrup(case: Case) -> bool:
    """Fruit and sweet potatoes go into syrup, tomatoes take sugar for taste (Complete Guide, Guides 2 to 4)."""
    return case.product in SWEETENED or any(row.family in SWEETENED for row in case.options)


@rule(
    id="process-source-required",
    says="Every shelf-stable recipe matches a published process on food, pack, jar, method and time.",
    severity=Severity.UNTESTED,
)
def everything_is_known(case: Case) -> Iterator[Finding | Note]:
    for part in case.parts:
        if part.line is None:
            yield Finding(
                f"This line can't be read: {part.problem}", "Write it as amount, unit and ingredient.", part.where
            )
        elif part.problem and not (_listed(case, part) or _covers_the_food(case, part)):
            yield Finding(f"{part.problem} ({part.name})", _clearer(part), part.where)
        elif (kinds := _kinds_left_open(case, part)) is not None:
            yield Finding(f"Say which it is, {kinds}: each has a time of its own, or none.", _clearer(part), part.where)
        asked = _to_be_asked(case.facts, part.food)
        if asked is None:
            continue
        seconds, strange = asked
        for second in seconds:
            if not _is_printed(case, second):
                yield Finding(
                    f"“{second}” looks like a second ingredient.",
                    "Write it on a line of its own, with its amount.",
                    part.where,
                )
        for phrase in strange:
            if not _is_printed(case, phrase):
                yield Finding(
                    f"What “{phrase}” does to this food isn't known here.",
                    "Leave it out if it changes nothing; otherwise follow a tested recipe that says it.",
                    part.where,
                )
    if not case.on_the_shelf:
        return
    for step in case.handling.skipped_steps:
        yield Finding(
            f"The step “{step}” is left out.",
            "Do everything that the published process says.",
            "#/handling/skipped_steps",
        )
    yield from strange_work(case)
    psi = case.process.pressure_psi if case.process is not None else None
    if psi is not None and psi > PSI_MAX:
        yield Finding(
            f"No process is published for more than {PSI_MAX} psi, and canners aren't made for it.",
            "Use the published pressure for this altitude.",
            "#/process/pressure_psi",
        )
    if case.handling.covering_liquid is False and _is_printed_in_liquid(case):
        yield Finding(
            "This food is published in a liquid that covers it and carries the heat.",
            "Cover it with the published syrup, juice, water or brine.",
            "#/handling/covering_liquid",
        )
    recipe = case.recipe
    otherwise = of_another_title(recipe, case.parts, case.facts)
    if otherwise is not None:
        yield Finding(
            f"The title speaks of {in_words(otherwise)}, and the product is another, with a time of its own.",
            "Say which it is, in the title and as product.",
            "#/product",
        )
    packs = _which_pack(case)
    if packs:
        yield Finding(
            f"More than one published process fits this food: {', '.join(map(in_words, packs))}.",
            "Say which it is, in the title or as product; each has a time of its own.",
            "#/product",
        )
    elif recipe.product is not None and recipe.product not in case.facts.covers and not case.options:
        yield Finding("No process is published for a product of this name.", COLD_INSTEAD, "#/product")
    elif not any(_keeps(case, row) for row in case.options) and not _is_said_of_the_mixture(case):
        yield Finding("No published process covers this food.", COLD_INSTEAD, "#/process")
    if recipe.tested_recipe is not None and recipe.tested_recipe not in case.facts.tested_recipe:
        yield Finding(
            "There is no tested recipe of this name.", "Name one of the published tested recipes.", "#/tested_recipe"
        )


def _kinds_left_open(case: Case, part: Part) -> str | None:
    """The foods that a bare name in a plain pack may mean, where neither title nor product says which."""
    kinds = WHICH.get(part.ingredient.id) if part.ingredient is not None else None
    if kinds is None or case.recipe.product is not None or case.facts.covers.get(case.product or "") != PLAIN:
        return None
    told = frozenset(words_of(f"{case.recipe.title} {part.as_written}")).intersection(kinds[1])
    return None if told else kinds[0]


def _is_printed_in_liquid(case: Case) -> bool:
    """Whether pieces lie in syrup, juice, water or vinegar in every published pack: not sauces, nor stewed rhubarb."""
    families = {row.family for row in case.options}
    pickled = bool(families & {"pickle", "ferment"}) and case.facts.covers.get(case.product or "") != PLAIN
    return pickled or ("fruit" in families and case.product in PLAIN_FOODS.keys() - SMOOTH - {"rhubarb"})


@lru_cache(maxsize=MOST_FOODS)
def _to_be_asked(facts: Facts, food: Food) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """What may be a second food, and what isn't understood: of most foods neither."""
    seconds, strange = _second_foods(facts, food), _not_understood(facts, food)
    return (seconds, strange) if seconds or strange else None


def _second_foods(facts: Facts, food: Food) -> tuple[str, ...]:
    """Foods among what is said of another: "apples, bananas"."""
    if food.role is Role.ACID:
        return ()
    return tuple([phrase for phrase in food.phrases if _names_another(facts, food, phrase)])


def _names_another(facts: Facts, food: Food, phrase: str) -> bool:
    """Whether a phrase is a food, or any word of it is, and none of this one's names ("strained through garlic")."""
    return any(
        group != food.group
        and (word is None or frozenset({*words_of(food.name), word}) not in recogniser(facts).by_words)
        for word, group in _foods_named_in(facts, phrase)
    )


@lru_cache(maxsize=MOST_FOODS)
def _foods_named_in(facts: Facts, phrase: str) -> tuple[tuple[str | None, str | None], ...]:
    """The foods that a phrase names: each by its one word, or None for the whole, and by its group if that is known."""
    joined = _JOINED.search(phrase)
    name = phrase[joined.end() :] if joined else phrase
    found = recogniser(facts).recognise(name, "", spoonful=False)
    role = role_of(found) if found else role_of_unknown(name) if joined else Role.UNKNOWN
    whole = [(None, found.group if found else None)] if role in FOODS else []
    known = recogniser(facts).by_words
    named = [(word, other) for word in words_of(phrase) if (other := known.get(frozenset({word}))) is not None]
    return (*whole, *[(word, other.group) for word, other in named if role_of(other) in FOODS])


def _not_understood(facts: Facts, food: Food) -> tuple[str, ...]:
    """What is said of a food in words that don't tell of preparation and aren't of its own name."""
    own = _varieties(facts, food.group).union(words_of(food.name))
    bears_leaves = food.ingredient is not None and is_no_leaf(food.ingredient)
    return tuple(
        [
            phrase
            for phrase in food.phrases
            if not own.issuperset(_words_that_tell(phrase) | (_leaves_named_in(phrase) if bears_leaves else set()))
        ]
    )


def _leaves_named_in(phrase: str) -> frozenset[str]:
    """The words by which a phrase means the leaves of a food: "leaves", or "tops" without what becomes of them."""
    words = frozenset(words_of(phrase))
    return words if words == TOPS else words & LEAF


@lru_cache(maxsize=MOST_FOODS)
def _words_that_tell(phrase: str) -> frozenset[str]:
    return frozenset(words_of(phrase)) - CHANGING_NOTHING


@lru_cache(maxsize=256)
def _varieties(facts: Facts, group: str) -> frozenset[str]:
    """The words of every published name for a food of this group."""
    foods = [food for food in facts.ingredients if food.group == group]
    return frozenset().union(*(words_of(name) for food in foods for name in (food.name, *food.aliases)))


def _is_printed(case: Case, phrase: str) -> bool:
    return any(phrase in tested.food.phrases for tested in (case.tested.parts if case.tested else ()))


def _which_pack(case: Case) -> list[str]:
    """The plain packs that the food may be meant for, where it isn't said which and there are several."""
    if case.product is not None or case.options:
        return []
    packs = packs_of(case.parts, case.facts)
    return packs if len(packs) > 1 else []


def _clearer(part: Part) -> str:
    """What to write instead: a name the tables have, or the amount that wasn't said."""
    return "Name it as the tables do, or leave it out." if part.ingredient is None else "Say so on this line."


def _covers_the_food(case: Case, part: Part) -> bool:
    """Water, syrup or juice of no stated amount that fills a jar of plainly packed food up."""
    if part.line is None or part.line.amount is not None or part.line.per_jar is not None or case.product in THICK:
        return False
    liquid = part.role is Role.LIQUID or part.group == "canning-syrup"
    to_cover = part.line.note == "to cover" or part.group == "water"
    return liquid and to_cover and case.facts.covers.get(case.product or "") == PLAIN


def _listed(case: Case, part: Part) -> bool:
    """Salt for taste, and what the tested recipe lists in the same words, need no figures of their own."""
    if part.role is Role.SALT and part.ingredient is not None and not is_ferment(case):
        return True
    return (
        (part.ingredient is None or part.role is Role.SPICE)
        and case.tested is not None
        and not any(found.part is part for found in case.tested.differences)
    )


@rule(
    id="recanning-bar",
    says="Food from a can or a jar of the shop isn't canned again, but for ingredients that a tested recipe lists.",
    severity=Severity.UNSAFE,
)
def canned_food_is_not_canned_again(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf:
        return
    foods = case.those(_is_main_food)
    suspected = [part for part in foods if part.food.kinds[_is_canned] or _measured_by_can(part)]
    if not suspected:
        return
    unlisted = {
        difference.part.where for difference in case.differs("added", "form", "swapped") if difference.part is not None
    }
    tested_canned = {part.group for part in case.tested.parts if part.food.kinds[_is_canned]} if case.tested else set()
    for part in suspected:
        if part.group == "tomato-paste" and any(
            change.part is part and allowance(case, change) == "salsa-thicken" for change in case.differs("added")
        ):
            continue  # it always comes canned, and a little of it is allowed
        canned = part.food.kinds[_is_canned] and (part.where in unlisted or part.group not in tested_canned)
        if canned or (_measured_by_can(part) and part.group not in tested_canned):
            yield Finding(
                f"The {part.name} has been canned before.",
                "Use fresh food, or keep what was opened in the refrigerator.",
                part.where,
            )


def _is_main_food(part: AnyFood) -> bool:
    return part.role in FAMILY_OF_ROLE


def _measured_by_can(part: Part) -> bool:
    amount = part.line.amount if part.line is not None else None
    return amount is not None and amount.unit.name == "can"


def _is_canned(part: AnyFood) -> bool:
    return part.group == "canned-bean" or any(word in part.text for word in CANNED)


@rule(
    id="own-mixture-default",
    says="A mixture with no tested match is kept in the refrigerator or freezer.",
    severity=Severity.UNTESTED,
)
def mixtures_follow_a_tested_recipe(case: Case) -> Iterator[Finding | Note]:
    if not case.on_the_shelf:
        return
    yield from _thinned(case)
    if is_covered(case) or _which_pack(case):
        return
    changes = not_allowed(case)
    if not changes:
        foreign = _foreign(case)
        for part in foreign:
            says = "has no place in this plain pack"
            if is_another_kind(part.food, case.product or ""):
                says = "is no food that this pack is printed for, as it is prepared"
            elif part is case.parts[0] and _is_alone(case):
                says = "alone is no mixture: it has a process of its own"
            yield Finding(f"{part.name.capitalize()} {says}.", COLD_INSTEAD, part.where)
        if not foreign:
            closest = _closest(case)
            yield Finding(
                "No published process or tested recipe covers this food.",
                f"Follow the closest one that is published, {closest}, or keep this one in the refrigerator or freezer."
                if closest
                else COLD_INSTEAD,
                "#/ingredients",
            )
    for change in changes:
        if change.part is not None and change.part.ingredient is None and change.part.problem:
            continue  # said already: nobody knows what it is
        where = change.part.where if change.part else "#/ingredients"
        yield Finding(f"Not as tested: {change.says}.", "Follow the tested recipe, or keep it cold.", where)


def _foreign(case: Case) -> list[Part]:
    """What has no place in the plain pack that this is meant for."""
    return list(_not_plain(case)) if case.facts.covers.get(case.product or "") == PLAIN else []


def _is_said_of_the_mixture(case: Case) -> bool:
    """Whether the rule of mixtures says that nothing covers this food; once is enough."""
    return not (is_covered(case) or _which_pack(case) or not_allowed(case) or _foreign(case))


def _closest(case: Case) -> str | None:
    """The title of the published recipe of this family that has the main food, and most else, in common."""
    foods = [part for part in case.parts if part.role in FAMILY_OF_ROLE]
    if not foods:
        return None
    main = _heaviest(foods)
    groups, title = {part.group for part in foods}, title_words(case.recipe.title)
    pectins = {part.group for part in case.of(Role.PECTIN)}
    best: tuple[tuple[bool, int], str] | None = None
    for ready in prepared(case.facts).values():
        recipe = ready.recipe
        if (
            recipe.family != case.family
            or main != _heaviest([part for part in ready.parts if part.role in FAMILY_OF_ROLE])
            or case.facts.covers.get(recipe.product or "") == PLAIN
        ):
            continue
        printed = {slot.tested.group for slot in ready.slots if slot.tested.role is Role.PECTIN}
        rank = (printed == pectins, len(groups & ready.groups.keys()) + len(title & ready.title))
        if best is None or rank > best[0]:
            best = rank, recipe.title
    return best[1] if best else None


def _heaviest(foods: Sequence[Part]) -> str:
    """The group of the food that there is most of, as far as weights are known."""
    return max(foods, key=lambda part: part.grams.low if part.grams else 0).group if foods else ""


def _thinned(case: Case) -> Iterator[Finding]:
    """Sauce with more liquid to so much fruit than is printed: not what was tested, and safe while it is fruit."""
    if case.product not in SAUCES:
        return
    ours = [part for part in case.parts if part.group in ADDED_LIQUIDS]
    tested = case.tested.parts if case.tested is not None and case.tested.recipe.product == case.product else ()
    printed = [part for part in tested if part.group in ADDED_LIQUIDS]
    foods, foods_tested = ([part for part in parts if part.role in FAMILY_OF_ROLE] for parts in (case.parts, tested))
    limit = _ml_per_gram(printed, foods_tested)
    share = _ml_per_gram(ours, foods)
    if ours and (limit is None or share is None or share.high is None or share.high > limit.low * SAUCE_LIQUID_TIMES):
        yield Finding(
            "So much liquid makes a thin sauce, or how much it is can't be told.",
            "Add no more than keeps the fruit from sticking"
            + (f": {printed[0].as_written} to {foods_tested[0].as_written}." if limit else "."),
            ours[0].where,
            severity=Severity.UNTESTED if any(_thins(case, part) for part in ours) else Severity.QUALITY,
        )


def _ml_per_gram(liquids: Sequence[Part], foods: Sequence[Part]) -> Bounds | None:
    weight = in_grams(foods)
    return in_millilitres(liquids) / weight if weight.low and liquids else None


RULES: tuple[Rule, ...] = (
    canned_food_is_not_canned_again,
    everything_is_known,
    mixtures_follow_a_tested_recipe,
)
