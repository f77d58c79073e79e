import json
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.measures import lines
from service.core.measures.amounts import LONGEST_TEXT, Measure
from service.core.measures.bounds import Bounds
from service.core.measures.lines import Line, Unread, from_object, read_line
from service.core.measures.units import UNITS

PUBLISHED = json.loads((Path(__file__).parents[2] / "data" / "recipe_lines.json").read_text(encoding="utf-8"))


def read(text):
    line = read_line(text)
    assert isinstance(line, Line), line.reason
    return line


def sent(fields):
    line = from_object(
        fields["name"],
        fields["amount"],
        fields.get("amount_max"),
        fields["unit"],
        fields.get("form"),
        fields.get("optional", False),
        fields.get("per_jar"),
    )
    assert isinstance(line, Line), line.reason
    return line


def said(amount):
    return amount and (amount.bounds, amount.unit, amount.package_size, amount.also)


def meaning(line):
    """All a line says, but for its wording, the order of its descriptions and a total beside an amount per jar."""
    return (
        line.name,
        None if line.per_jar else said(line.amount),
        frozenset(line.form),
        line.optional,
        line.per_jar and (said(line.per_jar.amount), line.per_jar.jar_size),
        tuple(meaning(other) for other in line.alternatives),
        tuple(meaning(other) for other in line.more),
        line.note,
    )


@pytest.mark.parametrize("case", [pytest.param(case, id=case["line"]) for case in PUBLISHED])
def test_a_published_line_says_the_same_as_its_fields(case):
    line = read(case["line"])
    assert line.name == case["fields"]["name"] or line.alternatives
    assert meaning(line) == meaning(sent(case["fields"]))


@pytest.mark.parametrize("case", [pytest.param(case, id=case["line"]) for case in PUBLISHED])
def test_fields_in_our_words_read_back_as_the_same(case):
    line = sent(case["fields"])
    assert meaning(read(line.as_written)) == meaning(line)


@pytest.mark.parametrize(
    ("text", "name", "bounds", "unit", "form"),
    [
        ("4 1/2 cups crushed damsons", "damson", "9/2", "cup", {"crushed"}),
        ("2 cups distilled white vinegar (5%)", "white vinegar", "2", "cup", {"distilled", "5 percent"}),
        ("2 cups 5% white vinegar", "white vinegar", "2", "cup", {"5 percent"}),
        ("2 cups vinegar, 4 to 6% acidity", "vinegar", "2", "cup", {"4 to 6 percent"}),
        ("2 cups sugar, divided", "sugar", "2", "cup", {"divided"}),
        ("juice of 2 lemons", "lemon juice", "2", "each", {"fresh"}),
        ("The juice from 2 lemons", "lemon juice", "2", "each", {"fresh"}),
        ("2 lemons, juiced", "lemon juice", "2", "each", {"fresh"}),
        ("2 lemons (juice only)", "lemon juice", "2", "each", {"fresh"}),
        ("grated zest of 1 lemon", "lemon zest", "1", "each", set()),
        ("8 lb 4-inch pickling cucumbers", "pickling cucumber", "8", "lb", {"4-inch"}),
        ("8 lb of 3- to 5-inch pickling cucumbers", "pickling cucumber", "8", "lb", {"3- to 5-inch"}),
        ("1 3-inch cinnamon stick", "cinnamon", "1", "each", {"3-inch", "stick"}),
        ("1 1-inch piece of ginger", "ginger", "1", "each", {"1-inch piece"}),
        ("7 lb cucumbers, 1 1/2 inches or less", "cucumber", "7", "lb", {"1 1/2 inches or less"}),
        ("1 cup sugar plus 2 tbsp", "sugar", "9/8", "cup", set()),
        ("one and a half cups sugar", "sugar", "3/2", "cup", set()),
        ("- 2 cups\u2009sugar", "sugar", "2", "cup", set()),
        ("1\u202f½\u200b cups sugar", "sugar", "3/2", "cup", set()),
        ("Sugar: 3 cups", "Sugar", "3", "cup", set()),
        ("10 cups tomatoes - peeled, cored & chopped", "tomato", "10", "cup", {"peeled", "cored", "chopped"}),
        ("2 gal water for soaking (poured off)", "water", "2", "gal", {"for soaking", "poured off"}),
        ("2 gal soaking water, drained off", "water", "2", "gal", {"soaking", "drained off"}),
        ("1/2 tsp butter to reduce foaming", "butter", "1/2", "tsp", {"to reduce foaming"}),
        ("3 lb (about 9 medium) apples", "apple", "3", "lb", {"about 9 medium"}),
        ("1 med. onion", "onion", "1", "each", {"med."}),
        ("1 dozen ears of corn", "corn", "12", "each", {"ear"}),
        ("3 cinnamon sticks", "cinnamon", "3", "each", {"stick"}),
        ("6 large cloves garlic", "garlic", "6", "each", {"large", "clove"}),
        ("6 garlic cloves", "garlic", "6", "each", {"clove"}),
        ("12 whole cloves", "clove", "12", "each", {"whole"}),
        ("12 cloves", "clove", "12", "each", set()),
        ("a dozen eggs", "egg", "12", "each", set()),
        ("2 lb of ground beef", "ground beef", "2", "lb", set()),
        ("1 tsp ground cloves", "clove", "1", "tsp", {"ground"}),
        ("2 sticks butter", "butter", "2", "stick of butter", set()),
        ("Sugar, 3 cups", "Sugar", "3", "cup", set()),
        ("4 cups peeled and finely chopped peaches", "peach", "4", "cup", {"peeled", "finely chopped"}),
        ("4 cups fresh or frozen blueberries", "blueberry", "4", "cup", {"fresh or frozen"}),
        ("1 lb asparagus", "asparagus", "1", "lb", set()),
        ("2 cups molasses", "molasses", "2", "cup", set()),
        ("• 2 cups sugar.", "sugar", "2", "cup", set()),
        ("12 ears corn", "corn", "12", "each", {"ear"}),
        ("Pinch of salt", "salt", "1", "pinch", set()),
        ("2 Granny Smith apples", "Granny Smith apple", "2", "each", set()),
    ],
)
def test_a_line_is_taken_apart(text, name, bounds, unit, form):
    line = read(text)
    assert (line.name, line.amount.unit.name, set(line.form)) == (name, unit, form)
    assert line.amount.bounds == Bounds.exactly(Fraction(bounds))


@pytest.mark.parametrize(
    ("text", "name", "note"),
    [
        ("salt to taste", "salt", "to taste"),
        ("Salt, to taste", "Salt", "to taste"),
        ("water", "water", ""),
        ("4-inch pickling cucumbers", "pickling cucumber", ""),
        ("1 inch ginger", "ginger", ""),
    ],
)
def test_an_ingredient_without_an_amount_has_none(text, name, note):
    line = read(text)
    assert (line.name, line.amount, line.note) == (name, None, note)


def test_an_amount_that_may_follow_the_taste_is_kept_with_a_note():
    line = read("1 tsp salt, or to taste")
    assert (line.amount.bounds, line.form, line.note) == (Bounds.exactly(1), (), "to taste")


@pytest.mark.parametrize("text", ["1 tsp salt (optional)", "1 tsp salt, optional", "1 tsp salt, if desired"])
def test_what_may_be_left_out_says_so(text):
    assert read(text).optional


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("2 Tbsp bottled lemon juice per quart", "quart"),
        ("2 Tbsp bottled lemon juice per quart jar", "quart"),
        ("2 Tbsp per half pint bottled lemon juice", "half-pint"),
        ("2 Tbsp bottled lemon juice to each pint (optional)", "pint"),
        ("2 Tbsp bottled lemon juice for each 1 quart jar", "quart"),
        ("2 Tbsp bottled lemon juice per qt. jar", "quart"),
        ("2 Tbsp bottled lemon juice/pint", "pint"),
        ("bottled lemon juice: 2 Tbsp per quart", "quart"),
    ],
)
def test_what_goes_into_each_jar_is_no_amount_for_the_pot(text, size):
    line = read(text)
    assert (line.name, line.amount, line.form) == ("lemon juice", None, ("bottled",))
    assert (line.per_jar.jar_size, line.per_jar.amount.bounds) == (size, Bounds.exactly(2))


@pytest.mark.parametrize(
    "text",
    ["4 lbs. plums, pitted and crushed (about 4 1/2 cups)", "4 lb or 4 1/2 cups plums, pitted, crushed"],
)
def test_the_same_amount_in_another_unit_is_kept(text):
    line = read(text)
    assert (line.name, set(line.form)) == ("plum", {"pitted", "crushed"})
    assert line.amount.also == (Measure(Bounds.exactly(Fraction(9, 2)), UNITS["cup"]),)


@pytest.mark.parametrize(
    ("text", "first", "others"),
    [
        ("1½ c. bottled lemon juice, or bottled lime juice", "lemon juice", ["lime juice"]),
        ("1 cup lemon or lime juice", "lemon juice", ["lime juice"]),
        ("1/4 cup citron peel, minced, or lemon or orange peel", "citron peel", ["lemon peel", "orange peel"]),
        ("2 lb ground beef (or sausage)", "ground beef", ["sausage"]),
        ("2 tbsp lemon juice or 1/2 tsp citric acid per quart", "lemon juice", ["citric acid"]),
        ("2 cups water or apple juice", "water", ["apple juice"]),
    ],
)
def test_what_may_stand_in_its_place_is_kept(text, first, others):
    line = read(text)
    assert (line.name, [other.name for other in line.alternatives]) == (first, others)


@pytest.mark.parametrize("first", ["2 tbsp bottled lemon juice", "2 tbsp bottled lemon juice per quart"])
def test_an_alternative_has_its_own_amount_where_one_is_written(first):
    line = read(f"{first} or 1/2 tsp citric acid per quart")
    [acid] = line.alternatives
    assert (acid.per_jar.amount.bounds, acid.per_jar.amount.unit.name) == (Bounds.exactly(Fraction(1, 2)), "tsp")
    assert line.per_jar.jar_size == acid.per_jar.jar_size == "quart"


def test_an_amount_for_another_jar_is_of_the_same_ingredient():
    line = read("1 tbsp bottled lemon juice per pint, or 2 tbsp per quart")
    [other] = line.alternatives
    assert (line.name, line.per_jar.jar_size) == (other.name, "pint") == ("lemon juice", "pint")
    assert (other.form, other.per_jar.jar_size, other.per_jar.amount.bounds) == (
        ("bottled",),
        "quart",
        Bounds.exactly(2),
    )


@pytest.mark.parametrize(
    "text", ["juice and zest of 1 lemon", "1 lemon (juice and zest)", "1 lemon, zested and juiced"]
)
def test_what_is_taken_from_one_fruit_is_a_line_for_each(text):
    line = read(text)
    assert {line.name, line.more[0].name} == {"lemon juice", "lemon zest"}


def test_two_ingredients_in_one_amount_each_are_two_lines():
    line = read("1 tsp each cinnamon and cloves")
    assert (line.name, [other.name for other in line.more]) == ("cinnamon", ["clove"])
    assert line.more[0].amount == line.amount


def test_two_ingredients_without_an_amount_are_two_lines():
    assert [other.name for other in read("salt and pepper to taste").more] == ["pepper"]


def test_two_ingredients_in_one_shared_amount_stay_one_name_that_nobody_will_know():
    assert (read("9 cups onions and peppers").name, read("9 cups onions and peppers").more) == ("onion and pepper", ())


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "()",
        "2 cups",
        "2 cups (optional)",
        "-2 cups sugar",
        "scant 1 cup sugar",
        "1 heaping cup sugar",
        "2 imperial pints vinegar",
        "1 cup (metric) sugar",
        "1 pot quart sugar",
        "1,5 kg sugar",
        "a squeeze of lemon",
        "1/2 cup salt in 1 gal water, drained",
        "2 cups sugar plus 1 cup honey",
        "2 cups sugar, 1 cup honey",
        "2 cups sugar and 1 cup honey",
        "1 tsp each cinnamon, cloves and nutmeg",
        "salt, pepper, cumin",
        "a few sprigs dill",
        "some salt",
        "1 cup sugar per cup of juice",
        "1 cup sugar per quart of juice",
        "1 tbsp lemon juice per jar",
        "1 tsp salt per pint or per quart",
        "salt per quart",
        "1e999 cups sugar",
        "9**9**9",
        "2 cups <script>",
        "1 cup ٣ sugar",
    ],
)
def test_what_cannot_be_read_for_sure_is_reported(text):
    unread = read_line(text)
    assert isinstance(unread, Unread)
    assert unread.reason.endswith(".")


@pytest.mark.parametrize(
    "fields",
    [
        {"unit": "smidgen"},
        {"unit": "imperial pint"},
        {"amount": float("nan")},
        {"amount": float("inf")},
        {"amount": Decimal("1e999999999")},
        {"amount": Decimal("sNaN")},
        {"amount": 10**5000},
        {"amount": -1},
        {"amount": True},
        {"amount": "2"},
        {"amount": 2, "amount_max": 1},
        {"name": ""},
        {"name": "2 cups sugar"},
        {"name": "x" * 400},
        {"form": "1 cup honey"},
        {"per_jar": {"amount": 1, "unit": "smidgen", "jar": "quart"}},
        {"per_jar": {}},
        {"name": "sugar per pint", "per_jar": {"amount": 1, "unit": "tsp", "jar": "pint"}},
    ],
)
def test_fields_that_cannot_be_meant_are_reported(fields):
    assert isinstance(from_object(**{"name": "sugar", "amount": 1, "unit": "cup"} | fields), Unread)


@pytest.mark.parametrize(
    ("number", "meant"),
    [
        (0.333333, "1/3"),
        (1.666667, "5/3"),
        (0.1666667, "1/6"),
        (0.125, "1/8"),
        (0.33, "0.33"),
        (3, "3"),
        (0.35, "0.35"),
    ],
)
def test_thirds_that_had_to_be_sent_as_decimals_are_thirds(number, meant):
    assert from_object("sugar", number, unit="cup").amount.bounds == Bounds.exactly(Fraction(meant))


def test_a_range_of_fields_is_a_range():
    assert from_object("peach", 5.5, 6, "cup").amount.bounds == Bounds(Fraction(11, 2), Fraction(6))


def test_no_unit_means_pieces():
    assert from_object("lemon", 2).amount.unit.name == "each"


def test_a_total_beside_an_amount_per_jar_is_kept():
    line = from_object("salt", 7, unit="tsp", per_jar={"amount": 1, "unit": "tsp", "jar": "quart"})
    assert (line.amount.bounds, line.per_jar.amount.bounds) == (Bounds.exactly(7), Bounds.exactly(1))


SCRAPS = """1 1/2 ½ 2.5 1,000 cups c T lb pouch (3 oz) ( ) , ; : or and to per quart jar each cloves garlic lemon
    juice zest of a half quarter thirds chopped finely sliced 5% percent optional (optional) salt up to taste sticks
    - – + # ' " . / & x × dozen plus whole metric inch 4-inch for from in juiced water soaking pint qt. ~"""
WORDS = st.sampled_from(SCRAPS.split())


@given(st.text() | st.lists(WORDS, max_size=50).map(" ".join) | st.lists(WORDS, max_size=80).map("".join))
def test_any_text_is_a_line_or_unread(text):
    line = read_line(text)
    assert isinstance(line, Unread) or (line.name and len(line.as_written) <= LONGEST_TEXT)


@given(
    name=st.text(max_size=30) | st.lists(WORDS, max_size=5).map(" ".join),
    amount=st.floats() | st.decimals() | st.integers() | st.none(),
    unit=st.sampled_from(sorted(UNITS)) | st.text(max_size=10),
    form=st.none() | st.text(max_size=30) | st.lists(WORDS, max_size=8).map(" ".join),
    jar=st.none()
    | st.fixed_dictionaries({"amount": st.floats(), "unit": st.text(max_size=5), "jar": st.text(max_size=9)}),
)
def test_any_fields_are_a_line_or_unread(name, amount, unit, form, jar):
    assert isinstance(from_object(name, amount, None, unit, form, per_jar=jar), Line | Unread)


NAMES = st.sampled_from(["sugar", "white vinegar", "ground beef", "sour cherry", "powdered pectin", "Asian pear"])
FORMS = st.lists(
    st.sampled_from(["peeled", "finely chopped", "5 percent", "bottled", "stick", "sliced or cubed"]), unique=True
)


@given(
    NAMES,
    st.decimals(0, 9000, places=3),
    st.sampled_from(sorted(name for name, unit in UNITS.items() if name not in ("whole", "stick of butter"))),
    FORMS.map(", ".join),
    st.booleans(),
)
def test_any_fields_we_print_read_back_as_the_same(name, amount, unit, form, optional):
    line = from_object(name, amount, None, unit, form, optional)
    assert meaning(read(line.as_written)) == meaning(line)


TELLING = st.lists(
    st.sampled_from(
        """peeled; 5 percent; up to; 3 oz each; about 2 lb; or 2 cups honey; per quart; plus 1 cup; sprig; optional;
        to taste; juiced; juice and zest; stick; 2 lb; divided; and salt; drained""".replace("\n", "").split("; ")
    ).map(str.strip),
    max_size=3,
    unique=True,
)


@given(
    NAMES
    | st.sampled_from(["butter", "lemon", "cloves garlic", "salt and pepper", "each salt and mace", "lemon or lime"]),
    st.lists(st.sampled_from([0.25, 1, 1.5, 7, 24]), min_size=2, max_size=2),
    st.sampled_from([None, *sorted(UNITS)]),
    TELLING.map(", ".join),
    st.booleans(),
)
def test_words_that_were_read_before_are_read_the_same_beside_another_amount(name, amounts, unit, form, optional):
    from_object(name, amounts[0], None, unit, form, optional)
    remembered = from_object(name, amounts[1], None, unit, form, optional)
    kept = lines._plain_words
    lines._plain_words = lambda *words: None
    try:
        assert from_object(name, amounts[1], None, unit, form, optional) == remembered
    finally:
        lines._plain_words = kept


@pytest.mark.parametrize("scrap", ["a or ", "or ", "(", "1 cup ", ", ", "per ", "5% ", "juice of ", "and ", "- "])
def test_hostile_lines_end_at_once(scrap):
    assert isinstance(read_line(scrap * 100_000), Unread)
    read_line((scrap * LONGEST_TEXT)[:LONGEST_TEXT])
    read_line(f"1 cup {scrap * LONGEST_TEXT}"[:LONGEST_TEXT])
