"""Every tested recipe and plain pack, changed in ways that publications warn of or allow.

The recipes and processes are those of the Complete Guide to Home Canning (USDA AIB 539, rev. 2015), HG-56 and the
extension publications named with each in the published data. Guide 1 says why: acid is never cut, low-acid food and
thickeners are never added, times and jars are as printed; salt, dry spices and fewer vegetables are the cook's choice.
"""

import json
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest

from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.checks.checking import check_recipe
from service.core.measures.jars import JAR_ML
from service.core.rules import facts as rule_facts
from service.core.rules.facts import Process
from service.core.rules.findings import Severity
from service.core.rules.recognition import recogniser
from service.published.loading import facts
from tests.checks.tested_recipes import Body, Cell, body_of

ORDER = [severity.value for severity in Severity]
SIZES = sorted(JAR_ML, key=JAR_ML.__getitem__)
SPREADS = frozenset({"jam", "jelly", "preserve", "marmalade", "conserve", "fruit-butter"})
ACIDIFIED = frozenset({"salsa", "pickle", "relish", "chutney"})
ACIDS = frozenset({"vinegar", "lemon-juice", "lime-juice", "citric-acid"})
STRANGERS = (
    "1 cup heavy cream",
    "1/2 cup flour",
    "1 cup white rice",
    "1/4 cup oil",
    "2 eggs",
    "1 cup elbow macaroni",
    "1/2 cup cornstarch",
    "1 cup flurble",
    "1 mashed banana",
    "1 cup coconut milk",
)
NO_CANNERS = ("oven", "open-kettle", "none", "dishwasher", "slow-cooker", "inversion", "microwave", "solar")

# One plain pack to a canner load of quarts for each food: pounds from the Complete Guide, acid by the jar.
PLAIN_PACKS: dict[str, tuple[str, ...]] = {
    "apples-sliced": ("19 lb apples, sliced", "2 qt water"),
    "applesauce": ("21 lb apples, peeled, cored",),
    "apricots": ("16 lb apricots, halved", "9 cups light syrup"),
    "nectarines": ("17 1/2 lb yellow nectarines, halved", "9 cups water"),
    "peaches": ("17 1/2 pounds yellow peaches, peeled", "9 c water", "2 1/4 c sugar"),
    "berries": ("12 lb blackberries", "9 cups water"),
    "cherries": ("17 lb sweet cherries", "9 cups water"),
    "figs": ("16 lb figs", "9 cups water", "2 tablespoons bottled lemon juice per quart jar"),
    "pears": ("17 1/2 lb Bartlett pears, halved", "9 cups water", "2 tbsp lemon juice"),
    "asian-pears": ("17 lb Asian pears, peeled", "9 cups water", "2 tbsp bottled lemon juice per quart"),
    "plums": ("14 lb plums", "9 cups water"),
    "tomatoes-crushed": ("22 lb fresh, ripe tomatoes, crushed", "2 tbsp bottled lemon juice per quart jar"),
    "tomato-sauce": ("35 lb Roma tomatoes", "1/2 tsp citric acid per quart jar"),
    "tomatoes-whole-in-water": ("21 lb tomatoes, peeled", "2 qt water", "1/2 tsp citric acid per quart jar"),
    "tomatoes-whole-in-tomato-juice": ("21 lb tomatoes", "2 qt tomato juice", "4 tbsp 5% vinegar per quart jar"),
    "tomatillos-whole": ("14 lb tomatillos", "2 qt water", "2 tbsp bottled lemon juice per quart jar"),
    "sauerkraut": ("25 lb cabbage, shredded", "3/4 cup canning salt"),
    "asparagus": ("24 1/2 lb asparagus", "2 qt water", "1 tsp salt per quart jar"),
    "dried-beans-or-peas": ("5 lb dried pinto beans", "3 qt water"),
    "green-beans": ("14 lb Italian green beans", "2 qt water", "7 tsp canning salt"),
    "carrots": ("17 1/2 lb carrots, sliced", "2 qt water"),
    "corn-whole-kernel": ("31 1/2 lb sweet corn in husks", "2 qt water"),
    "green-peas": ("31 1/2 lb green peas in pods", "2 qt water"),
    "white-potatoes": ("20 lb potatoes, peeled, cubed", "2 qt water"),
    "soup": ("4 cups sliced carrots", "4 cups diced potatoes", "2 lb beef, cubed", "3 qt beef broth"),
    "chicken-or-rabbit-without-bones": ("14 lb boneless, skinless chicken thighs", "2 qt chicken broth"),
    "chicken-or-rabbit-with-bones": ("20 lb chicken pieces, bone-in", "2 qt water"),
    "ground-or-chopped-meat": ("14 lb ground beef", "2 qt water"),
    "meat-strips-cubes-or-chunks": ("14 lb beef, cubed", "2 qt beef broth"),
    "king-or-dungeness-crab": ("8 lb Dungeness crab meat", "2 qt water", "4 tbsp bottled lemon juice per pint jar"),
    "fish-fatty-except-tuna": ("14 lb salmon fillets", "7 tsp salt"),
    "smoked-fish": ("10 lb smoked salmon",),
    "tuna": ("10 lb tuna",),
}
# Foods that a row of nearly the same name wasn't printed for.
WRONG_ROWS = (
    ("chicken-or-rabbit-with-bones", "20 lb chicken breast, boneless"),
    ("chicken-or-rabbit-without-bones", "14 lb ground chicken"),
    ("meat-strips-cubes-or-chunks", "14 lb ground beef"),
    ("corn-whole-kernel", "20 lb sweet corn, cream style"),
    ("fish-fatty-except-tuna", "10 lb salmon, smoked"),
    ("green-beans", "5 lb dried beans"),
)


@cache
def answered(body: str) -> CheckAnswer:
    sent = json.loads(body)
    return check_recipe(RecipeCheckRequest.model_validate(sent), sent["altitude_ft"])


def base_of(recipe: rule_facts.TestedRecipe) -> Body:
    """The recipe in its first process, at sea level."""
    option = next((one for one in recipe.options if recipe.yield_jar in one.jar_sizes), recipe.options[0])
    jar = recipe.yield_jar if recipe.yield_jar in option.jar_sizes else option.jar_sizes[0]
    return body_of(Cell(recipe, option, jar, option.bands[0] if option.bands else None)) | {"altitude_ft": 0}


def changed(body: Body, at: int | None = None, **change: Any) -> str:
    """The body with fields of its ingredient `at`, or its own, set anew."""
    copy = json.loads(json.dumps(body))
    (copy if at is None else copy["ingredients"][at]).update(change)
    return json.dumps(copy)


def cut(body: Body, at: int, factor: float, **more: Any) -> str:
    """The body with so much of its ingredient `at`."""
    copy = json.loads(json.dumps(body))
    one = copy["ingredients"][at]
    for amounts in (one, one.get("per_jar") or {}):
        for field in ("amount", "amount_max"):
            if amounts.get(field) is not None:
                amounts[field] *= factor
    return json.dumps(copy | more)


def without(body: Body, at: int) -> str:
    return json.dumps(body | {"ingredients": [one for place, one in enumerate(body["ingredients"]) if place != at]})


def scaled(body: Body, factor: int) -> str:
    """The batch this many times, and as many jars; what goes in by the jar stays."""
    copy = json.loads(json.dumps(body))
    for one in copy["ingredients"]:
        for field in ("amount", "amount_max"):
            if one.get(field) is not None:
                one[field] *= factor
    for jars in copy["jars"]:
        jars["count"] *= factor
    return json.dumps(copy)


Edit = tuple[str, str, str]  # what it says, the body, the mildest severity that will do


def bad_edits(number: int, recipe: rule_facts.TestedRecipe) -> Iterator[Edit]:
    body, id = base_of(recipe), recipe.id
    if body["process"]["minutes"] is None:
        yield f"{id} on a shelf", changed(body, handling={"storage": "shelf"}), "spoilage"
        process = {"method": "boiling-water", "minutes": 10, "pressure_psi": None}
        yield f"{id} in boiling water", changed(body, process=process), "spoilage"
        return
    spread = recipe.family in SPREADS
    for at, one in enumerate(body["ingredients"]):
        known = recogniser(facts()).recognise(one["name"], one["form"] or "", False)
        group = known.group if known else ""
        if group not in ACIDS or one["optional"]:
            continue
        worst = "quality" if spread else "untested"
        yield f"{id} without its {one['name']}", without(body, at), worst
        yield f"{id} with half the {one['name']}", cut(body, at, 0.5), worst
        if not spread:
            half = {"per_jar": None, "amount": one["amount"] / 2, "amount_max": one["amount"]}
            yield f"{id} with half to all of the {one['name']}", changed(body, at, **half), worst
            yield f"{id} with {one['name']} optional", changed(body, at, optional=True), worst
            unmeasured = {"per_jar": None, "amount": None, "unit": None}
            yield f"{id} with some {one['name']}", changed(body, at, **unmeasured), worst
        if group == "vinegar":
            yield f"{id} with 4 percent {one['name']}", changed(body, at, form="4 percent"), "unsafe"
            yield f"{id} with {one['name']} of no stated strength", changed(body, at, form=""), "unsafe"
    stranger = STRANGERS[number % len(STRANGERS)]
    yield f"{id} and {stranger}", changed(body, ingredients=[*body["ingredients"], stranger]), "untested"
    process = body["process"]
    odd = NO_CANNERS[number % len(NO_CANNERS)]
    yield f"{id} by {odd}", changed(body, process=process | {"method": odd}), "spoilage"
    yield f"{id} a minute short", changed(body, process=process | {"minutes": process["minutes"] - 1}), "spoilage"
    if process["pressure_psi"]:
        psi = process["pressure_psi"] - 1
        yield f"{id} a pound short", changed(body, process=process | {"pressure_psi": psi}), "unsafe"
    rows = (*recipe.options, *facts().processes_of.get(recipe.product or "", ()))
    largest = max((size for row in rows for size in row.jar_sizes), key=JAR_ML.__getitem__)
    if largest != SIZES[-1]:
        larger = SIZES[SIZES.index(largest) + 1]
        yield f"{id} in {larger} jars", changed(body, jars=[{"size": larger, "count": 3}]), "spoilage"
    if spread and any("pectin" in one["name"] for one in body["ingredients"]):
        yield f"{id} doubled", scaled(body, 2), "set-failure"


def good_edits(recipe: rule_facts.TestedRecipe) -> Iterator[tuple[str, str]]:
    body, id = base_of(recipe), recipe.id
    if body["process"]["minutes"] is None or recipe.family in SPREADS:
        return
    yield f"{id} and a dry herb", changed(body, ingredients=[*body["ingredients"], "1 tsp dried oregano"])
    if recipe.family in ACIDIFIED:
        yield f"{id} doubled", scaled(body, 2)
    bare = {"title": body["title"], "ingredients": body["ingredients"], "jars": body["jars"]}
    brined = any(step.startswith("brine-soak") and step.endswith("-days") for step in recipe.steps)
    fermented = any(row.acid_source == "fermentation" for row in facts().processes_of.get(recipe.product or "", ()))
    if not fermented and not brined:
        for at, one in enumerate(body["ingredients"]):
            if one["name"] in ("salt", "canning salt") and "soak" not in (one["form"] or ""):
                yield f"{id} without its {one['name']}", without(body, at)
    if recipe.product != "tomatoes-crushed":
        sent = bare | {"process": body["process"], "altitude_ft": 0}
        yield f"{id} with nothing said but its title, jars and process", json.dumps(sent)


BAD = [edit for number, recipe in enumerate(facts().tested_recipes) for edit in bad_edits(number, recipe)]
GOOD = [edit for recipe in facts().tested_recipes for edit in good_edits(recipe)]


@pytest.mark.parametrize(("body", "mildest"), [pytest.param(body, worst, id=says) for says, body, worst in BAD])
def test_an_edit_that_publications_warn_of_is_never_ready(body: str, mildest: str) -> None:
    answer = answered(body)
    assert answer.verdict != "ready"
    assert min(ORDER.index(finding.severity) for finding in answer.findings) <= ORDER.index(mildest)


@pytest.mark.parametrize("body", [pytest.param(body, id=says) for says, body in GOOD])
def test_an_edit_that_publications_allow_stays_ready(body: str) -> None:
    answer = answered(body)
    assert answer.verdict == "ready", [finding.message for finding in answer.findings]


def plain(product: str, row: Process, *lines: str) -> Body:
    figures, jar = row.bands[0], row.jar_sizes[-1]
    psi = figures.pressure_psi
    return {
        "title": product.replace("-", " "),
        "product": product,
        "ingredients": list(lines),
        "pack": "hot" if row.pack == "either" else row.pack,
        "jars": [{"size": jar, "count": max(1, int(7 * JAR_ML["quart"] / JAR_ML[jar]))}],
        "process": {
            "method": row.method,
            "minutes": figures.minutes,
            "pressure_psi": None if psi is None else float(psi),
        },
        "altitude_ft": 0,
    }


PLAIN = [
    pytest.param(plain(product, row, *lines), id=row.id)
    for product, lines in PLAIN_PACKS.items()
    for row in facts().processes_of[product]
]


@pytest.mark.parametrize("body", PLAIN)
def test_a_plain_pack_is_ready_as_printed_and_not_a_minute_sooner(body: Body) -> None:
    answer = answered(json.dumps(body))
    assert answer.verdict == "ready", [finding.message for finding in answer.findings]
    process = body["process"]
    short = answered(changed(body, process=process | {"minutes": process["minutes"] - 1}))
    assert short.verdict == "unsafe" or process["minutes"] == 1


@pytest.mark.parametrize(("product", "line"), WRONG_ROWS)
def test_a_row_covers_only_the_kind_that_it_was_printed_for(product: str, line: str) -> None:
    for row in facts().processes_of[product]:
        assert answered(json.dumps(plain(product, row, line, "2 qt water"))).verdict in ("untested", "unsafe")


SALSA = "tomato-salsa-slicing"


@pytest.mark.parametrize(
    ("vinegar", "verdict"),
    [
        ("2 cups 5% white vinegar", "ready"),
        ("2 cups bottled lime juice", "ready"),
        ("1 cup vinegar (5%)\n1 cup bottled lemon juice", "ready"),
        ("1 to 2 cups vinegar (5%)", "unsafe"),
        ("2 cups vinegar (5%) or 2 cups water", "unsafe"),
        ("2 cups vinegar (5%), optional", "unsafe"),
        ("2 cups lime juice", "unsafe"),
        ("1 cup bottled lime juice", "unsafe"),
    ],
)
def test_a_salsa_takes_juice_for_its_vinegar_and_nothing_else(vinegar: str, verdict: str) -> None:
    """Bottled lemon or lime juice may replace vinegar in a salsa, never the reverse (salsa recipes, PNW 395)."""
    recipe = facts().tested_recipe[SALSA]
    others = [one.line for one in recipe.ingredients if one.name != "vinegar"]
    body = base_of(recipe) | {"ingredients": [*others, *vinegar.split("\n")]}
    assert answered(json.dumps(body)).verdict == verdict


@pytest.mark.parametrize(
    ("acid", "verdict"),
    [
        ("2 tbsp bottled lemon juice or 1/2 tsp citric acid per quart", "ready"),
        ("2 tbsp bottled lemon juice per quart or 1/2 tsp citric acid per quart", "ready"),
        ("1 tbsp bottled lemon juice per pint, or 2 tbsp per quart", "ready"),
        ("2 tbsp bottled lemon or lime juice per quart", "unsafe"),
        ("2 tbsp bottled lemon juice or 1/4 tsp citric acid per quart", "unsafe"),
        ("2 tbsp bottled lemon juice or fresh lemon juice per quart", "unsafe"),
        ("2 tbsp bottled lemon juice or 4 tbsp homemade vinegar per quart", "unsafe"),
        ("juice of 7 lemons", "unsafe"),
        ("2 tbsp bottled lemon juice per quart, or to taste", "unsafe"),
        ("2 tbsp bottled lemon juice per quart, optional", "unsafe"),
        ("1 to 2 tbsp bottled lemon juice per quart", "unsafe"),
        ("2 tbsp bottled lemon juice", "unsafe"),
    ],
)
def test_whatever_the_cook_would_take_is_acid_enough_for_tomatoes(acid: str, verdict: str) -> None:
    """2 tbsp of bottled lemon juice or 1/2 tsp of citric acid to the quart (Complete Guide, Guide 3 p. 3-5)."""
    body = plain("tomatoes-crushed", facts().processes_of["tomatoes-crushed"][-1], "22 lb tomatoes, crushed", acid)
    assert answered(json.dumps(body)).verdict == verdict


@pytest.mark.parametrize(
    ("recipe", "name", "line", "verdict"),
    [
        pytest.param("sweet-gherkins", "cucumber", "3.2 kg cucumbers, whole", "ready", id="7 lb"),
        pytest.param("sweet-gherkins", "cucumber", "3 kg cucumbers, whole", "ready", id="less under the same vinegar"),
        pytest.param(
            "sweet-gherkins", "cucumber", "3.3 kg cucumbers, whole", "unsafe", id="more, which thins the acid"
        ),
        pytest.param("chile-salsa", "tomato", "2.25 kg peeled tomatoes, cored, chopped", "ready", id="5 lb"),
        pytest.param("chile-salsa", "onion", "450 g chopped onions", "ready", id="1 lb"),
        pytest.param("chile-salsa", "onion", "500 g chopped onions", "unsafe", id="a tenth more onion"),
        pytest.param("chile-salsa", "vinegar", "250 ml vinegar (5 percent)", "ready", id="a cup of vinegar, and more"),
        pytest.param("chile-salsa", "vinegar", "235 ml vinegar (5 percent)", "unsafe", id="a drop less vinegar"),
        pytest.param("sweet-gherkins", "vinegar", "1.4 l vinegar (5 percent)", "unsafe", id="not quite 6 cups"),
        pytest.param("plum-jam-liquid", "plum", "1.1 l crushed plums", "ready", id="4 1/2 cups of fruit"),
        pytest.param("plum-jam-liquid", "sugar", "1.5 kg sugar", "ready", id="7 1/2 cups of sugar"),
        pytest.param("plum-jam-liquid", "sugar", "1.25 kg sugar", "revise", id="far less sugar"),
    ],
)
def test_an_amount_in_grams_or_litres_is_rounded_as_the_printed_one_is_but_acid_is_not(
    recipe: str, name: str, line: str, verdict: str
) -> None:
    """The printed lines are in pounds and cups; 453.59237 g and 236.588 ml (NIST Handbook 44, Appendix C)."""
    printed = facts().tested_recipe[recipe]
    lines = [line if one.name == name else one.line for one in printed.ingredients]
    assert answered(json.dumps(base_of(printed) | {"ingredients": lines})).verdict == verdict


@pytest.mark.parametrize(("each", "verdict"), [("30 ml", "ready"), ("29.5 ml", "unsafe")])
def test_the_acid_of_a_quart_is_never_rounded(each: str, verdict: str) -> None:
    """2 tbsp are 29.574 ml (NIST Handbook 44, Appendix C)."""
    row = facts().processes_of["tomatoes-crushed"][-1]
    body = plain("tomatoes-crushed", row, "22 lb tomatoes, crushed", f"{each} bottled lemon juice per quart")
    assert answered(json.dumps(body)).verdict == verdict


def test_kosher_salt_for_taste_is_a_question_of_quality() -> None:
    recipe = facts().tested_recipe["pickled-beets"]
    lines = ["1 1/2 tsp kosher salt" if "salt" in one.line else one.line for one in recipe.ingredients]
    answer = answered(json.dumps(base_of(recipe) | {"ingredients": lines}))
    assert {finding.severity for finding in answer.findings} == {"quality"}


def test_crab_has_the_acid_of_its_row_with_no_recipe_beside_it() -> None:
    """2 tbsp of bottled lemon juice to the half-pint, 4 to the pint, under pressure too (Complete Guide, Guide 5)."""
    row = facts().processes_of["king-or-dungeness-crab"][0]
    for each, verdict in (("4 tbsp", "ready"), ("2 tbsp", "unsafe"), ("2 to 4 tbsp", "unsafe")):
        body = plain(
            "king-or-dungeness-crab", row, "8 lb crab meat", "2 qt water", f"{each} bottled lemon juice per pint"
        )
        body |= {"product": None, "title": "King or Dungeness crab"}
        assert answered(json.dumps(body)).verdict == verdict


def test_what_goes_in_by_the_jar_does_not_grow_with_the_batch() -> None:
    """Figs: 2 tbsp of bottled lemon juice to each quart, however many quarts (Complete Guide, Guide 2)."""
    figs = facts().processes_of["figs"][0]
    body = plain("figs", figs, "8 lb figs", "5 cups water", "2 tbsp bottled lemon juice per quart jar")
    assert answered(json.dumps(body)).verdict == "ready"
    body["ingredients"][-1] = "1 tbsp bottled lemon juice per quart jar"
    assert answered(json.dumps(body)).verdict == "unsafe"
