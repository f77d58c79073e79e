import pytest

from service.core.jars.run_sheets import Part, steps

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
    assert [step.amounts for step in steps(words, [FRUIT, SUGAR, LEMON])] == amounts


def test_a_word_that_is_not_known_is_said_in_plain_words() -> None:
    assert [step.says for step in steps(("boil-hard-1-min", "remove-heat"), [])] == [
        "Boil hard 1 min.",
        "Take off the heat.",
    ]
