"""How much of what goes into a pot, from the least to the most that is said."""

from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.measures.bounds import Bounds
from service.core.measures.units import GRAMS_PER_POUND, ML_PER_CUP, ML_PER_QUART, ML_PER_TABLESPOON, Dimension
from service.core.rules import formula
from service.core.rules.case import JarCount, Part
from service.core.rules.recognition import recogniser
from tests.core.rules.cases import FACTS, case

SHARES = st.integers(0, 100).map(lambda percent: Fraction(percent, 100))
WEIGHTS = st.integers(0, 50).map(Fraction)


def ranges(ends: st.SearchStrategy[Fraction]) -> st.SearchStrategy[Bounds]:
    return st.tuples(ends, ends).map(lambda pair: Bounds(min(pair), max(pair)))


def parts(*lines: str) -> tuple[Part, ...]:
    return case(*lines, jars={"quart": 4}).parts


@given(st.lists(st.tuples(ranges(WEIGHTS), ranges(SHARES)), min_size=1, max_size=5))
def test_the_share_of_a_mix_is_the_least_and_the_most_of_all_its_corners(mix: list[tuple[Bounds, Bounds]]) -> None:
    """The slow, obvious twin: every way to take each weight and share at one of its ends."""
    ends = [[(grams, part) for grams in (w.low, w.high) for part in (s.low, s.high)] for w, s in mix]
    corners = [
        sum((grams * part for grams, part in corner), Fraction(0)) / total
        for corner in product(*ends)  # type: ignore[arg-type]
        if (total := sum((grams for grams, _ in corner), Fraction(0)))
    ]
    found = formula.share(mix)
    if not corners:
        assert found is None
    else:
        assert found == Bounds(min(corners), max(corners))


def test_a_share_of_what_has_no_end_cant_be_told() -> None:
    assert formula.share([]) is None
    assert formula.share([(Bounds(Fraction(1), None), Bounds.exactly(Fraction(1, 2)))]) is None
    assert formula.share([(Bounds.exactly(0), Bounds.exactly(1))]) is None
    assert formula.share([(Bounds.exactly(2), Bounds(Fraction(1, 2), None))]) == Bounds(Fraction(1, 2), Fraction(1))


@pytest.mark.parametrize(
    ("lines", "grams"),
    [
        (("1 lb plums", "1 lb sugar"), Bounds.exactly(2 * GRAMS_PER_POUND)),
        (("1 to 2 lb plums",), Bounds(Fraction(GRAMS_PER_POUND), 2 * Fraction(GRAMS_PER_POUND))),
        (("1 lb plums", "sugar"), None),
        (("1 lb plums", "1 tsp wild cloudberry bark"), None),
        (("plums",), None),
    ],
)
def test_a_pot_weighs_what_is_in_it_or_cant_be_told(lines: tuple[str, ...], grams: Bounds | None) -> None:
    assert formula.total_grams(parts(*lines)) == grams


def test_a_trace_of_no_weight_is_no_matter() -> None:
    assert formula.total_grams(parts("1 lb plums", "thyme")) == Bounds.exactly(Fraction(GRAMS_PER_POUND))
    assert formula.soluble_solids(parts("1 lb sugar", "dried oregano")) is not None
    assert formula.soluble_solids(parts("1 lb sugar", "canning salt, to taste")) is not None
    with_spice = parts("1 lb sugar", "1 tsp dried oregano", "dried oregano", "3 lb water")
    assert formula.soluble_solids(with_spice) == formula.soluble_solids(parts("1 lb sugar", "3 lb water"))
    assert formula.soluble_solids(parts("1 lb sugar", "plums")) is None
    assert formula.soluble_solids(parts("1 lb sugar", "1 box (1 3/4 oz) pectin")) is None


def test_sugar_is_all_solids_and_water_none() -> None:
    (solids,) = {formula.soluble_solids(parts("1 lb sugar", "3 lb water"))}
    assert solids is not None
    assert solids.low <= Fraction(1, 4) <= (solids.high or 0)
    assert (solids.high or 0) - solids.low < Fraction(1, 100)


@pytest.mark.parametrize(
    ("lines", "ratio"),
    [
        (("2 lb plums", "1 lb sugar"), Bounds.exactly(2)),
        (("1 lb plums", "1 lb apples", "1 lb sugar", "1 lb honey"), Bounds.exactly(1)),
        (("1 to 2 lb plums", "1 to 2 lb sugar"), Bounds(Fraction(1, 2), Fraction(2))),
        (("1 lb raisins", "1 lb sugar"), None),
        (("1 lb plums",), None),
        (("1 lb sugar",), None),
        (("1 lb plums", "sugar"), None),
        (("1 lb plums", "0 lb sugar"), None),
    ],
)
def test_fruit_is_weighed_against_what_sweetens_it(lines: tuple[str, ...], ratio: Bounds | None) -> None:
    assert formula.fruit_to_sugar(parts(*lines)) == ratio


@pytest.mark.parametrize(
    ("lines", "cups"),
    [
        (("4 cups crushed plums",), Bounds.exactly(4)),
        (("2 cups crushed plums", "2 cups grape juice"), Bounds.exactly(4)),
        (("4 cups crushed plums", "plums"), None),
        (("7 cups sugar",), None),
    ],
)
def test_prepared_fruit_is_measured_in_cups(lines: tuple[str, ...], cups: Bounds | None) -> None:
    assert formula.prepared_fruit_cups(parts(*lines)) == cups


@pytest.mark.parametrize(
    ("jars", "size", "ratio"),
    [
        ((JarCount("quart", 7),), "pint", Bounds.exactly(14)),
        ((JarCount("pint", 3), JarCount("half-pint", 2)), "quart", Bounds.exactly(2)),
        ((JarCount("bucket", 3),), "quart", None),
        ((JarCount("quart", 3),), "bucket", None),
        ((), "quart", None),
    ],
)
def test_jars_hold_so_many_of_another_size(jars: tuple[JarCount, ...], size: str, ratio: Bounds | None) -> None:
    assert formula.jars_ratio(jars, size) == ratio


def test_all_jars_together_hold_so_much() -> None:
    assert formula.jars_millilitres((JarCount("quart", 2), JarCount("pint", 2))) == Bounds.exactly(3 * ML_PER_QUART)
    assert formula.jars_millilitres(()) is None
    assert formula.jars_millilitres((JarCount("quart", 2), JarCount("bucket", 2))) is None


def test_what_goes_in_by_the_jar_goes_into_all_of_them() -> None:
    (lemon,) = parts("2 tbsp bottled lemon juice per quart")
    assert lemon.millilitres == Bounds.exactly(8 * ML_PER_TABLESPOON)
    assert lemon.measured == {Dimension.VOLUME: Bounds.exactly(2 * ML_PER_TABLESPOON)}
    (unsaid,) = case("2 tbsp bottled lemon juice per quart").parts
    assert unsaid.millilitres is None


def test_a_line_told_once_is_told_anew_for_other_jars_and_beside_another_in_its_place() -> None:
    known, told = recogniser(FACTS), formula.Told()
    lemon, plums = case("2 tbsp bottled lemon juice per quart", "3 lb plums").recipe.lines
    for lines in ((lemon, plums), (plums, lemon), (plums, plums)):
        for jars in ((JarCount("quart", 7),), (JarCount("quart", 8),), None):
            assert formula.parts(lines, jars, known, told) == formula.parts(lines, jars, known)


@pytest.mark.parametrize(
    ("line", "low", "high"),
    [  # USDA SR26: an onion of 110 g, a clove of garlic of 3 g, an egg of 50 g
        ("1 onion", 55, 165),
        ("2 onions", 110, 330),
        ("4 cloves garlic", 6, 18),
        ("2 eggs", 100, 100),
    ],
)
def test_pieces_weigh_half_to_half_as_much_again_of_the_average(line: str, low: int, high: int) -> None:
    (one,) = parts(line)
    assert one.grams == Bounds(Fraction(low), Fraction(high))


@pytest.mark.parametrize(
    ("line", "grams"),
    [  # a box of 1 3/4 oz is 49.6 g (USDA SR26, NDB 19310); a pouch of 3 oz and an envelope of 1/4 oz, from memory
        ("1 box powdered pectin", "49.6"),
        ("1 pouch liquid pectin", "85"),
        ("1 envelope unflavored gelatin", "7"),
    ],
)
def test_a_package_holds_what_is_sold_in_it(line: str, grams: str) -> None:
    (one,) = parts(line)
    assert one.grams == Bounds.exactly(Fraction(grams))


@pytest.mark.parametrize("line", ["1 head garlic", "3 slices onion", "2 cans tomatoes", "1 jar peaches"])
def test_what_isnt_the_weighed_piece_has_no_weight(line: str) -> None:
    (one,) = parts(line)
    assert one.grams is None


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        ("1 box pectin", "which pectin"),
        ("2 cans tomatoes", "how much one can holds"),
        ("1 cup kosher salt", "Weigh kosher salt"),
        ("plums", "how much"),
        ("2 cups dragon scales", "figures"),
        ("basil", "dried"),
        ("2 cups vinegar (5%), half water", "half water"),
    ],
)
def test_what_the_cook_must_still_say_is_asked(line: str, problem: str) -> None:
    (one,) = parts(line)
    assert problem in one.problem


@pytest.mark.parametrize(
    "line",
    [
        *("2 cans (14 oz) tomatoes", "150 g kosher salt", "salt to taste", "1 pouch (3 oz) liquid pectin"),
        *("plums (optional)", "1 tsp dried basil", "2 cups vinegar (5%), divided", "1 package powdered pectin"),
    ],
)
def test_nothing_is_asked_where_all_is_said(line: str) -> None:
    (one,) = parts(line)
    assert one.problem == ""


@pytest.mark.parametrize(
    ("line", "optional"),
    [
        ("1 tsp salt (optional)", True),
        ("1 tsp salt, or to taste", True),
        ("1 tsp salt", False),
        ("salt to taste", False),
    ],
)
def test_what_is_measured_by_liking_may_be_left_out(line: str, optional: bool) -> None:
    (one,) = parts(line)
    assert one.optional is optional


def test_what_is_poured_away_never_reaches_the_pot() -> None:
    soak, water = parts("2 gal water, for soaking", "2 cups water")
    assert formula.Pot((soak, water)).parts == [water]
    assert water.millilitres == Bounds.exactly(2 * ML_PER_CUP)


@pytest.mark.parametrize(
    ("line", "most"),
    [
        ("2 cups vinegar (5%), half water", 2 * ML_PER_CUP),
        ("about 2 cups vinegar (5%)", 2 * ML_PER_CUP),
        ("1 to 2 cups vinegar (5%), if you have it", 2 * ML_PER_CUP),
        ("2 tbsp bottled lemon juice per quart, some water in it", 8 * ML_PER_TABLESPOON),
    ],
)
def test_acid_that_may_be_less_may_be_none(line: str, most: Fraction) -> None:
    (acid,) = parts(line)
    assert acid.millilitres == Bounds(Fraction(0), most)


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("3 tbsp oregano", False),
        ("3 1/4 tbsp oregano", True),
        ("10 g oregano", False),
        ("11 g oregano", True),
        ("2 to 4 tbsp oregano", True),
        ("1 cup dried oregano", False),
        ("1 cup fresh oregano", False),
        ("1 cup fresh or dried oregano", True),
        ("oregano", True),
    ],
)
def test_a_herb_of_more_than_some_spoons_is_asked_about(line: str, asked: bool) -> None:
    """The most oregano that a tested recipe lists without a word on its kind is 3 tbsp."""
    (herb,) = parts(line)
    assert ("Say whether it is dried" in herb.problem) is asked


@pytest.mark.parametrize(
    ("line", "id"),
    [
        ("1 tbsp pepper", "pepper-black"),
        ("1 1/8 tbsp pepper", "pepper-kind-not-stated"),
        ("10 g pepper", "pepper-black"),
        ("10 1/2 g pepper", "pepper-kind-not-stated"),
        ("pepper to taste", "pepper-black"),
        ("pepper", "pepper-kind-not-stated"),
        ("1 pepper", "pepper-kind-not-stated"),
        ("1 tbsp chopped pepper", "pepper-kind-not-stated"),
    ],
)
def test_a_spoonful_of_pepper_is_the_spice(line: str, id: str) -> None:
    (pepper,) = parts(line)
    assert pepper.ingredient is not None
    assert pepper.ingredient.id == id


@pytest.mark.parametrize(
    ("line", "grams"),
    [  # a cup of granulated sugar weighs 200 g, of water 237 g (USDA SR26); an ounce 28.35 g, a pound 453.59 g
        ("1 cup granulated sugar", 200),
        ("1 cup water", 237),
        ("1 oz sugar", 28),
        ("1 lb (4 cups) plums", 454),
        ("2 cans (14 oz each) tomatoes", 794),
        ("2 14-oz cans tomatoes", 794),
    ],
)
def test_what_is_measured_weighs_what_tables_say(line: str, grams: int) -> None:
    (one,) = parts(line)
    assert one.grams is not None
    assert one.grams.high is not None
    assert round(one.grams.low * Fraction(99, 100)) <= grams <= round(one.grams.high * Fraction(101, 100))
    assert one.grams.high - one.grams.low < one.grams.low / 20
