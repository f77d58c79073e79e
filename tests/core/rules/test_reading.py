"""What rules ask of a recipe: words, kinds of food, and how much of the required acid is there."""

from fractions import Fraction

import pytest

from service.core.measures.bounds import Bounds
from service.core.measures.units import ML_PER_QUART, ML_PER_TABLESPOON
from service.core.rules import acid, reading
from service.core.rules.case import Case, Part
from tests.core.rules.cases import case, of_tested

TOMATOES = "22 lb tomatoes, crushed"


def part(line: str) -> Part:
    (found,) = case(line).parts
    return found


@pytest.mark.parametrize(
    ("text", "word", "mentioned"),
    [
        ("Drained tomatoes", "drained", True),
        ("undrained", "drained", False),
        ("tomatoes, drain ed", "drained", False),
        ("two jellies", "jelly", False),
        ("pumpkins", "pumpkin", True),
        ("squashes", "squash", True),
        ("well-drained", "drained", True),
    ],
)
def test_a_word_is_mentioned_where_it_stands_whole(text: str, word: str, mentioned: bool) -> None:
    assert reading.mentions(text, word) is mentioned


@pytest.mark.parametrize(
    ("asked", "those", "others"),
    [
        (reading.is_vinegar, ("1 cup cider vinegar", "1 cup homemade vinegar"), ("1 cup lemon juice", "1 cup wine")),
        (reading.is_citrus_juice, ("1 cup lime juice", "1 cup bottled key lime juice"), ("1 cup orange juice",)),
        (reading.is_key_lime, ("1 cup key lime juice",), ("1 cup bottled lime juice", "1 cup limes")),
        (reading.is_acid, ("1 tsp citric acid", "1 cup vinegar", "1 cup lemon juice"), ("1 tsp ascorbic acid",)),
        (reading.is_ascorbic, ("1 tsp ascorbic acid", "1 tsp vitamin C powder"), ("1 tsp citric acid",)),
        (reading.is_alcohol, ("1 cup wine", "1 cup dark rum", "1 cup hard cider"), ("1 cup wine vinegar",)),
        (reading.is_bottled, ("1 cup bottled lemon juice", "1 cup lemon juice, from concentrate"),
         ("1 cup lemon juice", "1 cup fresh lemon juice, bottled at home")),
        (reading.is_low_acid_vegetable, ("1 onion", "1 cup fresh basil", "1 cup dry beans"),
         ("1 cup rhubarb", "1 lb tomatoes")),
        (reading.is_low_acid_fruit,
         ("1 cup figs", "1 cup dates", "1 lb mangoes", "1 lb white peaches", "1 lb dried figs"),
         ("1 lb peaches", "1 lb unripe mangoes", "1 lb green mangoes", "1 lb plums")),
        (reading.is_white_peach, ("1 lb white-fleshed peaches", "1 lb white nectarines"), ("1 lb yellow peaches",)),
        (reading.is_oil, ("1 cup olive oil", "1 cup walnut oil"), ("3 drops clove oil", "1 cup butter")),
        (reading.is_mashed, ("1 lb carrots, pureed", "1 lb refried beans"), ("1 lb carrots, sliced",)),
        (reading.is_unpeeled, ("1 lb carrots, unpeeled", "1 lb peaches, skins on"), ("1 lb carrots, peeled",)),
    ],
)  # fmt: skip
def test_a_kind_is_told_by_what_it_is(asked: object, those: tuple[str, ...], others: tuple[str, ...]) -> None:
    assert callable(asked)
    assert [line for line in those if not asked(part(line))] == []
    assert [line for line in others if asked(part(line))] == []


def tomatoes(*acids: str, **sent: object) -> Case:
    return case(TOMATOES, *acids, product="tomatoes-crushed", **({"jars": {"quart": 7}} | sent))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("acids", "share"),
    [
        ((), Bounds.exactly(0)),
        (("2 tbsp bottled lemon juice per quart",), Bounds.exactly(1)),
        (("1 tbsp bottled lemon juice per pint",), Bounds.exactly(1)),
        (("7 tbsp bottled lemon juice",), Bounds.exactly(Fraction(1, 2))),
        (("1 to 3 tbsp bottled lemon juice per quart",), Bounds(Fraction(1, 2), Fraction(3, 2))),
        (("2 tbsp bottled lemon juice per quart (optional)",), Bounds(Fraction(0), Fraction(1))),
        (("1 tbsp bottled lemon juice per quart", "1/4 tsp citric acid per quart"), Bounds.exactly(1)),
        (("bottled lemon juice",), Bounds(Fraction(0), None)),
        (("about 2 tbsp bottled lemon juice per quart",), Bounds(Fraction(0), Fraction(1))),
        (("2 tbsp lime juice per quart",), Bounds.exactly(0)),
    ],
)
def test_acids_add_up_as_shares_of_what_each_must_be(acids: tuple[str, ...], share: Bounds) -> None:
    """2 tbsp of bottled lemon juice or 1/2 tsp of citric acid to the quart (Complete Guide, Guide 3)."""
    assert reading.share_of_floor(tomatoes(*acids), acid.TOMATO_FLOORS) == share


def test_what_goes_to_a_quart_is_told_by_the_jar_or_by_all_the_jars() -> None:
    each, whole, unsaid = tomatoes("1 tbsp salt per pint", "7 tbsp sugar", "bottled lemon juice").parts[1:]
    judged = tomatoes("1 tbsp salt per pint", "7 tbsp sugar", "bottled lemon juice")
    assert reading.ml_per_quart(judged, each) == Bounds.exactly(2 * ML_PER_TABLESPOON)
    assert reading.ml_per_quart(judged, whole) == Bounds.exactly(ML_PER_TABLESPOON)
    assert reading.ml_per_quart(judged, unsaid) is None
    assert judged.jars_millilitres == Bounds.exactly(7 * ML_PER_QUART)


def test_without_jars_nobody_knows_what_goes_to_a_quart() -> None:
    judged = case("4 lb eggplant", "7 tbsp sugar", title="Ours")
    assert judged.jars_millilitres is None
    assert reading.ml_per_quart(judged, judged.parts[1]) is None


@pytest.mark.parametrize(
    ("lines", "main"),
    [
        (("2 lb melon, cubed", "1 lb peaches", "4 lb sugar"), True),
        (("2 lb melon, cubed", "2 lb peaches"), True),
        (("1 lb melon, cubed", "2 lb peaches"), False),
        (("melon", "2 lb peaches"), True),
        (("1 lb melon, cubed", "2 cups vinegar (5%)", "9 lb water"), True),
    ],
)
def test_what_may_be_half_of_the_food_is_main(lines: tuple[str, ...], main: bool) -> None:
    judged = case(*lines, title="Ours", family="other")
    assert reading.is_main(judged, judged.parts[0]) is main
    assert not reading.is_main(judged, case("1 lb plums").parts[0])


@pytest.mark.parametrize(("word", "named"), [("boil", True), ("boil-hard", True), ("boi", False), ("hard", False)])
def test_a_step_is_named_by_its_beginning(word: str, named: bool) -> None:
    assert reading.step_named(case("1 lb plums", steps=("fill", "boil-hard-1-min")), word) is named


@pytest.mark.parametrize(
    ("added", "more"),
    [
        (("1 cup chopped celery",), True),
        (("celery",), True),
        ((), False),
    ],
)
def test_vegetables_rise_in_all_or_they_dont(added: tuple[str, ...], more: bool) -> None:
    judged = of_tested("corn-relish", add=added)
    assert judged.tested is not None
    found = judged.tested.differences
    assert reading.total_raised(judged.tested, found, reading.is_low_acid_vegetable) is more


@pytest.mark.parametrize(
    ("peppers", "onions", "more"),
    [
        ("3 cups chile peppers, seeded, chopped", "4 cups onions, chopped", False),
        ("6 cups chile peppers, seeded, chopped", "5 cups onions, chopped", True),
        ("5 cups chile peppers, seeded, chopped", "5 cups onions, chopped", False),
        ("5 cups chile peppers, seeded, chopped", "5 1/4 cups onions, chopped", True),
    ],
)
def test_one_vegetable_may_rise_as_another_falls(peppers: str, onions: str, more: bool) -> None:
    """10 cups of peppers and onions together are printed (chile salsa II)."""
    judged = of_tested("chile-salsa-2", change={"chile pepper": peppers, "onion": onions})
    assert judged.tested is not None
    found = judged.tested.differences
    assert reading.total_raised(judged.tested, found, reading.is_low_acid_vegetable) is more


@pytest.mark.parametrize(
    ("title", "product", "lines", "id"),
    [
        ("Ours", None, ("4 1/2 cups crushed plums", "7 cups sugar", "1 pouch (3 oz) liquid pectin"), "plum-jam-liquid"),
        ("Ours", None, ("4 1/2 cups crushed kiwis", "2 cups honey", "1 pouch (3 oz) liquid pectin"), None),
    ],
)  # fmt: skip
def test_a_recipe_is_built_on_the_tested_one_that_it_mostly_is(
    title: str, product: str | None, lines: tuple[str, ...], id: str | None
) -> None:
    found = reading.built_on(case(*lines, title=title, product=product, family="jam"))
    assert (found.recipe.id if found else None) == id


def test_what_is_printed_is_said_with_its_amount() -> None:
    tested = of_tested("choice-salsa").tested
    assert tested is not None
    assert next(reading.in_print(one) for one in tested.parts if reading.is_acid(one)).startswith("1 1/2 cup")
    assert reading.in_words("tomatoes-whole-in-water") == "tomatoes whole in water"


@pytest.mark.parametrize(("zucchini", "more"), [("1/2 lb", False), ("1 lb", False), ("1 1/16 lb", True)])
def test_a_vegetable_in_the_place_of_another_may_weigh_as_much(zucchini: str, more: bool) -> None:
    """1 lb of onions is printed (chile salsa)."""
    judged = of_tested("chile-salsa", change={"onion": f"{zucchini} zucchini, chopped"})
    assert judged.tested is not None
    assert reading.total_raised(judged.tested, judged.tested.differences, reading.is_low_acid_vegetable) is more


@pytest.mark.parametrize(
    ("id", "name", "line", "raised", "lowered"),
    [
        ("chile-salsa", "onion", "1 lb zucchini, chopped", 0, 0),
        ("chile-salsa", "onion", "1 1/16 lb zucchini, chopped", 1, 0),
        ("chile-salsa", "onion", "1/2 lb zucchini, chopped", 0, 1),
        ("peach-jam-liquid", "lemon juice", "1/4 cup bottled lime juice", 0, 0),
        ("peach-jam-liquid", "lemon juice", "3 tbsp bottled lime juice", 0, 1),
        ("peach-jam-liquid", "lemon juice", "5 tbsp bottled lime juice", 1, 0),
    ],
)
def test_one_for_another_of_its_kind_neither_raises_nor_lowers_it(
    id: str, name: str, line: str, raised: int, lowered: int
) -> None:
    judged = of_tested(id, change={name: line})
    more = [*reading.raised(judged, reading.is_low_acid_vegetable), *reading.raised(judged, reading.is_acid)]
    assert len(more) == raised
    less = [*reading.lowered(judged, reading.is_low_acid_vegetable), *reading.lowered(judged, reading.is_acid)]
    assert len(less) == lowered


@pytest.mark.parametrize(
    ("said", "tablespoons"),
    [
        ("1/4 tbsp bottled lemon juice per quarter-pint", 2),
        ("1 tbsp bottled lemon juice per half-pint", 4),
        ("3/4 tbsp bottled lemon juice per twelve-ounce", 2),
        ("1 tbsp bottled lemon juice per pint", 2),
        ("1 1/2 tbsp bottled lemon juice per pint-and-half", 2),
        ("2 tbsp bottled lemon juice per quart", 2),
        ("3 tbsp bottled lemon juice per half-gallon", Fraction(3, 2)),
    ],
)
def test_what_goes_into_any_jar_is_told_by_the_quart(said: str, tablespoons: Fraction) -> None:
    judged = tomatoes(said)
    assert reading.ml_per_quart(judged, judged.parts[1]) == Bounds.exactly(tablespoons * ML_PER_TABLESPOON)
