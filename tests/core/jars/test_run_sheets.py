import pytest

from service.core.jars.run_sheets import Part, steps
from service.core.measures.lines import Line, read_line

FRUIT, SUGAR, LEMON = (
    Part("fruit", "4 cups plums"),
    Part("sweetener", "7 cups sugar"),
    Part("acid", "2 tbsp lemon juice"),
)


@pytest.mark.parametrize(
    ("words", "amounts"),
    [
        pytest.param(
            ("fruit", "sugar", "boil"),
            [(FRUIT.as_written, LEMON.as_written), (SUGAR.as_written,), ()],
            id="an ingredient no step names goes in first",
        ),
        pytest.param(
            ("sugar", "combine"),
            [(SUGAR.as_written,), (FRUIT.as_written, LEMON.as_written)],
            id="or where all is combined",
        ),
        pytest.param(
            ("acid", "fruit", "fruit", "sugar"),
            [(LEMON.as_written,), (FRUIT.as_written,), (), (SUGAR.as_written,)],
            id="a step that comes twice takes it the first time",
        ),
        pytest.param(
            ("boil",), [(FRUIT.as_written, SUGAR.as_written, LEMON.as_written)], id="nothing is added anywhere"
        ),
        pytest.param((), [(FRUIT.as_written, SUGAR.as_written, LEMON.as_written), (), ()], id="no steps at all"),
    ],
)
def test_every_ingredient_goes_in_once(words: tuple[str, ...], amounts: list[tuple[str, ...]]) -> None:
    found = steps(words, [FRUIT, SUGAR, LEMON])
    assert [tuple(part.as_written for part in step.parts) for step in found] == amounts


@pytest.mark.parametrize(
    ("word", "says", "minutes"),
    [
        pytest.param(
            "boil-hard-1-min", "Boil hard, with a boil that stirring doesn't stop, for 1 minute.", (1, 1), id="the boil"
        ),
        pytest.param("simmer-25-to-30-min", "Cook gently 25 to 30 minutes.", (25, 30), id="a range"),
        pytest.param("blanch-30-sec", "Blanch 30 seconds.", (0.5, 0.5), id="seconds"),
        pytest.param("stand-8-to-10-h", "Stand 8 to 10 hours.", (480, 600), id="hours"),
        pytest.param("rinse-3-times", "Rinse and soak in fresh water 3 times.", None, id="no time at all"),
        pytest.param("vent-10-min", "Let steam flow 10 minutes.", (10, 10), id="steam"),
        pytest.param("remove-heat", "Take off the heat.", None, id="a plain word"),
        pytest.param("sing-loudly", "Sing loudly.", None, id="a word nobody knows"),
    ],
)
def test_a_step_is_said_in_plain_words_with_its_time(word: str, says: str, minutes: tuple[float, float] | None) -> None:
    (step,) = steps((word,), [])
    assert (step.says, step.minutes) == (says, minutes)


def test_the_gel_point_is_over_boiling_water_here() -> None:
    """Water boils at 202.83 F at 5,000 ft: NOAA-S/T 76-1562 with IAPWS-IF97, computed."""
    (step,) = steps(("boil-to-8F-over-boiling",), [], altitude_ft=5000)
    assert "211 F" in step.says
    assert "203 F" in step.says


@pytest.mark.parametrize(
    ("words", "says"),
    [
        # USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 7: powder before the sugar, liquid after the boil.
        pytest.param(("fruit", "pectin", "boil", "sugar"), "Put in the pectin, before the sugar.", id="powder"),
        pytest.param(
            ("fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin"),
            "Put in the pectin, after the sugar, off the heat.",
            id="liquid",
        ),
        pytest.param(("juice", "pectin"), "Put in the pectin.", id="no sugar"),
    ],
)
def test_the_pectin_stands_where_the_recipe_has_it_to_the_sugar(words: tuple[str, ...], says: str) -> None:
    assert says in [step.says for step in steps(words, [])]


def test_what_goes_into_each_jar_comes_with_the_jars() -> None:
    line = read_line("2 tbsp bottled lemon juice per quart")
    assert isinstance(line, Line)
    lemon = Part("acid", "2 tbsp bottled lemon juice per quart", per_jar=line.per_jar)
    fruit = Part("tomato", "22 lb tomatoes")
    for words, at in ((["peel", "crush", "boil", "acid-in-jar", "fill", "process"], 3), (["crush", "fill"], 1)):
        found = steps(words, [fruit, lemon])
        assert found[at].parts == (lemon,)
        assert found[0].parts == (fruit,)
