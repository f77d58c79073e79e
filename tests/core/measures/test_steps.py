"""The words for steps, as the tested recipes use them; how they are spaced is common practice, no source."""

from fractions import Fraction

import pytest

from service.core.measures.steps import StepWord, read_step
from service.published.loading import facts


def test_every_step_of_every_tested_recipe_is_known() -> None:
    assert [step for recipe in facts().tested_recipes for step in recipe.steps if read_step(step) is None] == []


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("boil", StepWord("boil")),
        ("Boil hard 1 min.", StepWord("boil-hard", Fraction(1), Fraction(1))),
        ("stand-8-to-10-h", StepWord("stand", Fraction(480), Fraction(600))),
        ("blanch-30-sec", StepWord("blanch", Fraction(1, 2), Fraction(1, 2))),
        ("rinse-3-times", StepWord("rinse")),
        ("boil-to-8F-over-boiling", StepWord("boil")),
        ("ferment-3-to-4-weeks", StepWord("ferment", Fraction(30_240), Fraction(40_320))),
        ("dance", None),
        ("dance-5-min", None),
        ("fill-cold", None),
        ("boil-5", None),
        ("", None),
    ],
)
def test_a_step_is_its_word_and_how_long(written: str, expected: StepWord | None) -> None:
    assert read_step(written) == expected
