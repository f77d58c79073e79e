"""What may never change a verdict, and what may never improve one.

A few examples of each, always the same, run with the other tests. `INVARIANT_EXAMPLES=2000` in the environment asks for
that many new ones of each instead.
"""

import json
import os
from copy import deepcopy
from fractions import Fraction
from pathlib import Path

from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st

from service.checks.bodies import CheckAnswer
from service.core.measures.lines import from_object, read_line
from service.core.rules.case import Handling, JarCount, ProcessSent, Recipe
from service.core.rules.check import check
from service.core.rules.facts import Ingredient
from service.core.rules.findings import Severity, Verdict
from service.core.rules.formula import grams_per_ml
from service.core.rules.recognition import recogniser
from service.published import loading
from service.published.loading import facts
from tests.checks.tally import answered
from tests.checks.tested_recipes import Body, body_of, cells

ASKED_FOR = os.environ.get("INVARIANT_EXAMPLES")
invariant = settings(
    max_examples=int(ASKED_FOR or 8),
    derandomize=ASKED_FOR is None,
    database=None,
    phases=[Phase.generate],  # a recipe is short enough to read as it was drawn
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)

FACTS = facts()
KNOWN = recogniser(FACTS)
CELLS = list(cells())
BADNESS = [severity.value for severity in reversed(Severity)]
VERDICTS = [Verdict.READY.value, Verdict.REVISE.value, Verdict.UNTESTED.value, Verdict.UNSAFE.value]
FACTORS = st.sampled_from([0.25, 0.5, 0.75, 1.5, 2, 3])

# NIST Handbook 44, Appendix C: a gallon is 231 cubic inches of 16.387064 ml, a pound 453.59237 g.
CUP_ML = Fraction("16.387064") * 231 / 16
POUND_GRAMS = Fraction("453.59237")
SIZES = {
    "volume": {
        "tsp": CUP_ML / 48,
        "tbsp": CUP_ML / 16,
        "fl oz": CUP_ML / 8,
        "cup": CUP_ML,
        "pt": CUP_ML * 2,
        "qt": CUP_ML * 4,
        "gal": CUP_ML * 16,
        "ml": Fraction(1),
        "l": Fraction(1000),
    },
    "weight": {"oz": POUND_GRAMS / 16, "lb": POUND_GRAMS, "g": Fraction(1), "kg": Fraction(1000)},
}


FIELDS = ("amount", "amount_max")
PLACES = 6  # decimals that are read


def measure_of(unit: str | None) -> dict[str, Fraction]:
    return next((units for units in SIZES.values() if unit in units), {})


def badness(answer: CheckAnswer) -> tuple[int, int]:
    """The verdict, then the worst finding: the higher the worse."""
    worst = max((BADNESS.index(finding.severity) for finding in answer.findings), default=-1)
    return VERDICTS.index(answer.verdict), worst


def found(answer: CheckAnswer) -> list[str]:
    return [f"{finding.rule} ({finding.severity}): {finding.message}" for finding in answer.findings]


def difference(before: Body, after: Body, first: CheckAnswer, second: CheckAnswer) -> str:
    changed = [field for field in after if before[field] != after[field]]
    sent = [{field: body[field] for field in changed} for body in (before, after)]
    return f"{before['title']}: {sent[0]} gave {found(first)}, {sent[1]} gave {found(second)}"


def assert_no_better(before: Body, after: Body) -> None:
    first, second = answered(before), answered(after)
    assert badness(second) >= badness(first), difference(before, after, first, second)


def assert_the_same(before: Body, after: Body) -> None:
    first, second = answered(before), answered(after)
    assert badness(second) == badness(first), difference(before, after, first, second)
    assert (second.family, second.product) == (first.family, first.product)


# Recipes


tested = st.sampled_from(CELLS).map(body_of)
shelved = st.sampled_from([cell for cell in CELLS if cell.figures is not None]).map(body_of)


def kinds(*wanted: str) -> list[Ingredient]:
    return [each for each in FACTS.ingredients if each.kind in wanted]


def sent(ingredient: Ingredient, amount: float, unit: str) -> Body:
    return {"name": ingredient.name, "amount": amount, "unit": unit}


an_ingredient = st.builds(
    sent,
    st.sampled_from(FACTS.ingredients),
    st.sampled_from([0.25, 0.5, 1, 2, 3, 4, 8]),
    st.sampled_from(["cup", "tbsp", "tsp", "lb", "oz", "g", "each"]),
)


def known(one: Body) -> Ingredient | None:
    return KNOWN.recognise(one["name"], one.get("form") or "", False)


def is_acid(one: Body) -> bool:
    ingredient = known(one)
    return ingredient is None or ingredient.kind == "acid"


def is_low_acid(one: Body) -> bool:
    ingredient = known(one)
    return ingredient is None or ingredient.acidity in ("low-acid", "borderline") or ingredient.kind == "vegetable"


def scale(one: Body, factor: float) -> None:
    """So many times as much, per jar and in all."""
    for amounts in (one, one.get("per_jar") or {}):
        for field in FIELDS:
            if amounts.get(field) is not None:
                amounts[field] = round(amounts[field] * factor, 6)


@st.composite
def edited(draw: st.DrawFn, base: st.SearchStrategy[Body] = tested, keep: object = None) -> Body:
    """A tested recipe, often with a change or two; what `keep` is true of stays as it was."""
    body = deepcopy(draw(base))
    for _ in range(draw(st.integers(0, 2))):
        ingredients = body["ingredients"]
        free = [one for one in ingredients if not (callable(keep) and keep(one))]
        change = draw(st.sampled_from(["more or less", "without", "with", "minutes", "steps unsaid"]))
        if change == "with":
            added = draw(an_ingredient)
            if not (callable(keep) and keep(added)):
                ingredients.append(added)
        elif change == "minutes" and body["process"]["minutes"]:
            body["process"]["minutes"] = max(1, body["process"]["minutes"] + draw(st.sampled_from([-10, -5, 10])))
        elif change == "steps unsaid":
            body.pop("steps", None)
        elif free and change == "more or less":
            scale(draw(st.sampled_from(free)), draw(FACTORS))
        elif free and change == "without" and len(ingredients) > 1:
            ingredients.remove(draw(st.sampled_from(free)))
    return body


# What never changes a verdict


@invariant
@given(edited(), st.randoms(use_true_random=False))
def test_the_order_of_ingredients_never_changes_the_verdict(body, random):
    shuffled = deepcopy(body)
    random.shuffle(shuffled["ingredients"])
    assert_the_same(body, shuffled)


def is_exact(one: Body, units: dict[str, Fraction], to: str) -> bool:
    """Whether the amounts can be written in this unit without rounding."""
    amounts = [(each.get(field), each["unit"]) for each in (one, one.get("per_jar") or one) for field in FIELDS]
    return all(
        unit == to or (Fraction(str(amount)) * units[unit] / units[to] * 10**PLACES).denominator == 1
        for amount, unit in amounts
        if amount is not None
    )


@invariant
@given(edited(), st.data())
def test_the_unit_of_an_amount_never_changes_the_verdict(body, data):
    measured = [one for one in body["ingredients"] if measure_of(one.get("unit")) and one.get("amount")]
    assume(measured)
    other = deepcopy(body)
    for place, one in enumerate(body["ingredients"]):
        if one not in measured:
            continue
        units = measure_of(one["unit"])
        unit = data.draw(st.sampled_from([to for to in sorted(units) if is_exact(one, units, to)]))
        changed = other["ingredients"][place]
        for amounts in (changed, changed.get("per_jar") or {}):
            if amounts.get("unit") in units:
                for field in FIELDS:
                    if amounts.get(field) is not None:
                        exactly = Fraction(str(amounts[field])) * units[amounts["unit"]] / units[unit]
                        amounts[field] = float(exactly)
                amounts["unit"] = unit
    assume(all((one.get("amount_max") or one.get("amount") or 0) <= 100_000 for one in other["ingredients"]))
    assert_the_same(body, other)


@invariant
@given(edited(), st.data())
def test_weighing_what_has_one_published_weight_never_changes_the_verdict(body, data):
    weighable = []
    for place, one in enumerate(body["ingredients"]):
        ingredient = known(one)
        if ingredient is None or one.get("per_jar") or one.get("unit") not in SIZES["volume"] or not one.get("amount"):
            continue
        if "or bottled" in (one.get("form") or ""):
            continue  # so many grams of another juice are another measure of it
        density = grams_per_ml(ingredient, tuple((one.get("form") or "").split(",")))
        if density is not None and density.exact:
            weighable.append((place, density.low))
    assume(weighable)
    place, density = data.draw(st.sampled_from(weighable))
    weighed = deepcopy(body)
    one = weighed["ingredients"][place]
    for field in FIELDS:
        if one.get(field) is not None:
            one[field] = float(Fraction(str(one[field])) * SIZES["volume"][one["unit"]] * density)
    one["unit"] = "g"
    assume(max(one["amount"], one.get("amount_max") or 0) <= 100_000)
    assert_the_same(body, weighed)


LANGUAGES = (
    ("1/2", "½", "0.5", ".5", "half a"),
    ("1/4", "¼", "0.25"),
    ("3/4", "¾", "0.75"),
    ("1 1/2", "1½", "1 ½", "1.5", "1-1/2"),
    ("2 1/4", "2¼", "2.25"),
)


@invariant
@given(
    st.sampled_from(CELLS).map(lambda cell: body_of(cell, as_lines=True)),
    st.sampled_from(FACTS.ingredients),
    st.sampled_from(LANGUAGES),
    st.sampled_from(["cup", "tsp", "lb"]),
    st.booleans(),
)
def test_the_language_of_a_fraction_never_changes_the_verdict(body, ingredient, language, unit, alone):
    answers = []
    for said in language:
        line = f"{said} {unit} {ingredient.name}"
        answers.append(answered(body | {"ingredients": [line] if alone else [*body["ingredients"], line]}))
    assert len({(badness(answer), answer.product) for answer in answers}) == 1, [found(answer) for answer in answers]
    grams = {answer.formula.ingredients[-1].model_dump_json(include={"grams", "role"}) for answer in answers}
    assert len(grams) == 1


# What never improves a verdict


@invariant
@given(edited(keep=is_acid), st.data())
def test_less_acid_never_improves_the_verdict(body, data):
    acids = [place for place, one in enumerate(body["ingredients"]) if is_acid(one)]
    assume(acids)
    less = deepcopy(body)
    place = data.draw(st.sampled_from(acids))
    factor = data.draw(st.sampled_from([0, 0.25, 0.5, 0.9]))
    if factor and less["ingredients"][place].get("amount"):
        scale(less["ingredients"][place], factor)
    else:
        del less["ingredients"][place]
    assume(less["ingredients"])
    assert_no_better(body, less)


@invariant
@given(edited(keep=is_low_acid), st.data())
def test_more_of_a_low_acid_food_never_improves_the_verdict(body, data):
    foods = [
        place
        for place, one in enumerate(body["ingredients"])
        if (ingredient := known(one)) and ingredient.kind == "vegetable" and ingredient.acidity == "low-acid"
    ]
    more = deepcopy(body)
    if foods and data.draw(st.booleans()):
        scale(more["ingredients"][data.draw(st.sampled_from(foods))], data.draw(st.sampled_from([1.25, 2, 4])))
    else:
        food = data.draw(st.sampled_from([one for one in kinds("vegetable") if one.acidity == "low-acid"]))
        more["ingredients"].append(sent(food, data.draw(st.sampled_from([0.5, 1, 3])), "cup"))
    assert_no_better(body, more)


JAR_ORDER = ["quarter-pint", "half-pint", "twelve-ounce", "pint", "pint-and-half", "quart", "half-gallon"]


@invariant
@given(edited(shelved), st.data())
def test_a_bigger_jar_never_improves_the_verdict(body, data):
    size = body["jars"][0]["size"]
    bigger = deepcopy(body)
    bigger["jars"][0]["size"] = data.draw(st.sampled_from([*JAR_ORDER[JAR_ORDER.index(size) + 1 :], "bucket"]))
    for one in bigger["ingredients"]:
        one.pop("per_jar", None)  # what goes into the whole batch stays as it is
    same = deepcopy(body)
    for one in same["ingredients"]:
        one.pop("per_jar", None)
    assert_no_better(same, bigger)


@invariant
@given(edited(shelved), st.integers(1, 200))
def test_a_shorter_process_never_improves_the_verdict(body, cut):
    shorter = deepcopy(body)
    shorter["process"]["minutes"] = max(0, body["process"]["minutes"] - cut)
    assert_no_better(body, shorter)


@invariant
@given(st.sampled_from([cell for cell in CELLS if cell.figures is not None]), st.integers(1, 60))
def test_a_process_shorter_than_printed_is_unsafe(cell, cut):
    body = body_of(cell)
    body["process"]["minutes"] = max(0, body["process"]["minutes"] - cut)
    assert answered(body).verdict == "unsafe"


PRESSURED = [cell for cell in CELLS if cell.figures is not None and cell.figures.pressure_psi]


@invariant
@given(edited(st.sampled_from(PRESSURED).map(body_of)), st.floats(0.5, 15))
def test_a_lower_pressure_never_improves_the_verdict(body, drop):
    lower = deepcopy(body)
    lower["process"]["pressure_psi"] = max(0.0, body["process"]["pressure_psi"] - drop)
    assert_no_better(body, lower)


@invariant
@given(st.sampled_from(PRESSURED), st.floats(0.5, 15))
def test_a_pressure_lower_than_printed_is_unsafe(cell, drop):
    body = body_of(cell)
    body["process"]["pressure_psi"] = max(0.0, body["process"]["pressure_psi"] - drop)
    assert answered(body).verdict == "unsafe"


@invariant
@given(edited(shelved), st.integers(0, 6000), st.integers(1, 12_000))
def test_a_higher_altitude_with_the_same_process_never_improves_the_verdict(body, altitude_ft, climb_ft):
    lower, higher = body | {"altitude_ft": altitude_ft}, body | {"altitude_ft": altitude_ft + climb_ft}
    assert_no_better(lower, higher)


@invariant
@given(edited(), st.sampled_from(["glimmer root", "moon syrup", "2 cups zorb", "a splash of something"]), st.booleans())
def test_with_an_unknown_ingredient_nothing_is_ready(body, name, in_fields):
    unknown = {"name": name, "amount": 1, "unit": "cup"} if in_fields else name
    assert answered(body | {"ingredients": [*body["ingredients"], unknown]}).verdict != "ready"


# What is never ready without cover


DATA = Path(loading.__file__).parent / "data"
PRINTED = [json.loads(line) for line in (DATA / "tested_recipes.jsonl").read_text(encoding="utf-8").splitlines()]
PLAIN = {process.product for process in FACTS.processes if process.covers == "plain-pack"}
# Plain packs that are printed for a kind of food, not for one: what the kind holds, by its foods' beginnings.
KINDS_OF_FOOD = {
    "fruit": "appl apri berr blac blue boys cher cran curr elde goos grap mulb nect oran peac pear pine plum quin rasp "
    "rhub stra",
    "gree": "beet chard coll dand kale must spin swis turn mixe broa amar",
    "bean": "bean blac chic cran garb grea kidn lent lima navy nort pea pint red whit",
    "meat": "bear beef elk lamb moos mutt pork sausa veal veni wild goat",
    "fish": "blue mack salm stee trou fish",
}


def words(text: str) -> set[str]:
    """Words by their first four letters, so that "berries" and "berry", "tomatoes" and "tomato" are one."""
    return {word[:4] for word in text.lower().replace("-", " ").replace(",", " ").split() if len(word) > 2}


def printed_words(recipe: Body) -> set[str]:
    return words(json.dumps([recipe["title"], recipe["ingredients"]]).replace('"', " "))


def is_trifle(ingredient: Ingredient) -> bool:
    """What publications let a cook add to many a jar: dry seasoning, sweetener, acid, water and fruit juice."""
    trifles = ("water", "fruit-juice", "seasoning", "colouring")
    return ingredient.kind in ("spice", "salt", "sugar", "acid") or ingredient.group in trifles


def is_published_beside(ingredient: Ingredient, recipe: dict[str, object]) -> bool:
    """A little onion, broth and tomato juice in meat; vegetables of one's choice in a mixture; shallots as onions."""
    if recipe["product"] == "mixed-vegetables":
        return ingredient.kind == "vegetable"
    beside = {"meat": ("onion", "garlic", "tomato-juice", "broth"), "fish": ("onion", "garlic")}
    shallots = ingredient.name == "shallot" and recipe["product"] == "tomato-vegetable-juice"
    return shallots or ingredient.group in beside.get(recipe["family"], ())


EITHER_WAY = words("juice fresh dried whole ground sweet white red green")  # said of many foods


def is_named_in(ingredient: Ingredient, said: set[str]) -> bool:
    names = (ingredient.name, *ingredient.aliases)
    kinds = {"berr": "berry", "bean": "bean", "nut": "nut"}  # a soybean is a bean
    if any(word in said and any(kind in name for name in names) for word, kind in kinds.items()):
        return True
    return any((words(name) & said) - EITHER_WAY for name in names)


def is_covered(foods: list[Ingredient]) -> bool:
    """Whether any publication names all of these foods together: a tested recipe, or a plain pack of one food.

    By the words of the printed tables alone, so more than the rules may let through, and never less.
    """
    foods = [food for food in foods if not is_trifle(food)]
    together = [printed_words(recipe) for recipe in PRINTED] + [words(product) for product in PLAIN]
    together += [
        set(kind.split()) | words(product)
        for product in PLAIN
        for word, kind in KINDS_OF_FOOD.items()
        if word in words(product)
    ]
    return any(all(is_named_in(food, said) for food in foods) for said in together)


@invariant
@given(
    st.lists(st.sampled_from(FACTS.ingredients), min_size=1, max_size=5, unique_by=lambda each: each.id),
    st.data(),
)
def test_a_random_recipe_is_never_ready_unless_a_publication_covers_its_foods(chosen, data):
    amounts = st.sampled_from([0.25, 0.5, 1, 2, 4, 7])
    units = st.sampled_from(["cup", "tbsp", "tsp", "lb", "qt", "g", "each"])
    product = data.draw(st.none() | st.sampled_from(sorted(FACTS.processes_of)))
    body = {
        "title": data.draw(st.sampled_from([chosen[0].name, "My own", *(recipe["title"] for recipe in PRINTED)])),
        "product": product,
        "ingredients": [sent(each, data.draw(amounts), data.draw(units)) for each in chosen],
        "jars": [
            {"size": data.draw(st.sampled_from(["half-pint", "pint", "quart"])), "count": data.draw(st.integers(1, 9))}
        ],
        "pack": data.draw(st.sampled_from(["hot", "raw"])),
        "process": data.draw(
            st.sampled_from(
                [
                    {"method": "boiling-water", "minutes": 120},
                    {"method": "atmospheric-steam", "minutes": 45},
                    {"method": "pressure-dial", "minutes": 180, "pressure_psi": 15},
                    {"method": "pressure-weighted", "minutes": 180, "pressure_psi": 15},
                ]
            )
        ),
        "handling": {"sterile_jars": True},
        "altitude_ft": 0,
    }
    assert answered(body).verdict != "ready" or is_covered(chosen), body["ingredients"]


@invariant
@given(
    shelved, st.sampled_from([each for each in FACTS.ingredients if not is_trifle(each)]), st.sampled_from([0.5, 1, 3])
)
def test_a_food_that_a_tested_recipe_does_not_name_is_never_ready_in_it(body, food, cups):
    recipe = next(recipe for recipe in PRINTED if recipe["title"] == body["title"])
    assume(not is_named_in(food, printed_words(recipe)))
    assume(not is_published_beside(food, recipe))
    body = body | {"ingredients": [*body["ingredients"], sent(food, cups, "cup")]}
    assert answered(body).verdict != "ready", f"{food.name} in {recipe['id']}"


@invariant
@given(shelved, st.data())
def test_a_food_in_the_place_of_another_is_never_ready_unless_it_is_named(body, data):
    recipe = next(recipe for recipe in PRINTED if recipe["title"] == body["title"])
    food = data.draw(st.sampled_from([each for each in FACTS.ingredients if not is_trifle(each)]))
    assume(not is_named_in(food, printed_words(recipe)))
    assume(not is_published_beside(food, recipe))
    assume(food.group != "firming-agent")  # a spoonful is as published in pickles
    swapped = deepcopy(body)
    place = data.draw(st.integers(0, len(body["ingredients"]) - 1))
    swapped["ingredients"][place] |= {"name": food.name, "form": None}
    assert answered(swapped).verdict != "ready", f"{food.name} for {body['ingredients'][place]} in {recipe['id']}"


# What never fails


text = st.text(max_size=120)
NUMBERS = ["1/2", "½", "1/0", "1e9", "-3", "½½", "٣", "²", "∞", "x", "5%", "\u200b"]
MEASURES = ["cup", "cups", "lb", "can", "(14 oz)", "pinch", "each", "per pint", "tomatoes", "bottled"]
JOINTS = ["or", "and", "to", "of", "plus", ",", ";", "(", ")"]
near_text = st.lists(st.sampled_from(NUMBERS + MEASURES + JOINTS), max_size=9).map(" ".join)
any_text = text | near_text


@invariant
@given(st.lists(any_text, min_size=1, max_size=4), any_text, st.data())
def test_no_text_makes_the_check_fail(lines, title, data):
    word = st.none() | any_text
    number = st.none() | st.floats(0, 1000)
    recipe = Recipe(
        title=title,
        lines=tuple(read_line(line) for line in lines),
        altitude_ft=data.draw(st.integers(-1400, 29_100)),
        family=data.draw(word),
        product=data.draw(word | st.sampled_from(sorted(FACTS.processes_of))),
        steps=data.draw(st.none() | st.lists(any_text, max_size=3).map(tuple)),
        pack=data.draw(word),
        headspace_in=data.draw(number),
        jars=data.draw(st.none() | st.tuples(st.builds(JarCount, any_text | st.just("pint"), st.integers(1, 10_000)))),
        process=data.draw(
            st.none()
            | st.builds(ProcessSent, any_text | st.just("boiling-water"), st.none() | st.integers(0, 1440), number)
        ),
        tested_recipe=data.draw(word | st.sampled_from(sorted(FACTS.tested_recipe))),
        handling=Handling(closure=data.draw(word), storage=data.draw(word), equipment=data.draw(word)),
    )
    assert check(recipe, FACTS).verdict in Verdict


@invariant
@given(
    any_text.filter(bool), st.none() | st.floats(0, 100_000), st.none() | any_text, st.none() | any_text, st.booleans()
)
def test_no_text_in_a_field_makes_the_check_fail(name, amount, unit, form, optional):
    line = from_object(name, amount, None, unit, form, optional)
    assert check(Recipe("A recipe", (line,), 0), FACTS).verdict in Verdict
