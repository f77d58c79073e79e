from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.measures.amounts import LONGEST_TEXT, Amount, Measure, Unread, as_fraction, read_amount, written
from service.core.measures.bounds import Bounds
from service.core.measures.units import UNITS, Dimension


def read(text):
    amount = read_amount(text)
    assert isinstance(amount, Amount), amount.reason
    return amount


@pytest.mark.parametrize(
    ("text", "low", "high", "unit"),
    [
        ("1 1/2 cups", "3/2", "3/2", "cup"),
        ("1-1/2 cups", "3/2", "3/2", "cup"),
        ("7½ c", "15/2", "15/2", "cup"),
        ("7 ½ c.", "15/2", "15/2", "cup"),
        ("⅔ cup", "2/3", "2/3", "cup"),
        ("1⁄3 cup", "1/3", "1/3", "cup"),
        ("4 to 4 1/2 lb", "4", "9/2", "lb"),
        ("4-5 cups", "4", "5", "cup"),
        ("4–5 cups", "4", "5", "cup"),
        ("1/2-1 cup", "1/2", "1", "cup"),
        ("1-2 1/2 cups", "1", "5/2", "cup"),
        ("4 or 5 cups", "4", "5", "cup"),
        ("1 cup to 1 1/2 cups", "1", "3/2", "cup"),
        ("8 oz to 1 lb", "8", "16", "oz"),
        ("3/4 cup + 2 tbsp", "7/8", "7/8", "cup"),
        ("3/4 cup plus 2 tablespoons", "7/8", "7/8", "cup"),
        ("1 cup and 2 tbsp", "9/8", "9/8", "cup"),
        ("1 lb 4 oz", "5/4", "5/4", "lb"),
        ("12 whole", "12", "12", "whole"),
        ("12", "12", "12", "each"),
        ("1,000 g", "1000", "1000", "g"),
        ("500g", "500", "500", "g"),
        ("1.75 oz", "7/4", "7/4", "oz"),
        (".5 oz", "1/2", "1/2", "oz"),
        ("a dozen", "1", "1", "dozen"),
        ("one cup", "1", "1", "cup"),
        ("half a cup", "1/2", "1/2", "cup"),
        ("a half cup", "1/2", "1/2", "cup"),
        ("one half cup", "1/2", "1/2", "cup"),
        ("a quarter cup", "1/4", "1/4", "cup"),
        ("a third of a cup", "1/3", "1/3", "cup"),
        ("one-third cup", "1/3", "1/3", "cup"),
        ("two thirds cup", "2/3", "2/3", "cup"),
        ("three-quarters of a cup", "3/4", "3/4", "cup"),
        ("3/4 of a cup", "3/4", "3/4", "cup"),
        ("1 and 1/2 cups", "3/2", "3/2", "cup"),
        ("one and a half cups", "3/2", "3/2", "cup"),
        ("two and one-quarter cups", "9/4", "9/4", "cup"),
        ("a cup and a half", "3/2", "3/2", "cup"),
        ("half a dozen", "1/2", "1/2", "dozen"),
        ("1 to 1 and 1/2 cups", "1", "3/2", "cup"),
        ("a half to three-quarters cup", "1/2", "3/4", "cup"),
        ("1½–2 cups", "3/2", "2", "cup"),
        ("about 2 cups", "2", "2", "cup"),
        ("~2 cups", "2", "2", "cup"),
        ("up to 2 cups", "0", "2", "cup"),
        ("2 fl. oz.", "2", "2", "fl oz"),
        ("1 T", "1", "1", "tbsp"),
        ("1 t", "1", "1", "tsp"),
    ],
)
def test_amounts_are_read_as_people_write_them(text, low, high, unit):
    amount = read(text)
    assert (amount.bounds, amount.unit.name, amount.text) == (Bounds(Fraction(low), Fraction(high)), unit, text)


def test_at_least_has_no_upper_end():
    assert read("at least 3 lb").bounds == Bounds(Fraction(3), None)


@pytest.mark.parametrize(
    ("text", "count", "unit", "size", "size_unit"),
    [
        ("1 package (1 3/4 oz)", 1, "package", "7/4", "oz"),
        ("2 pouches (3 oz each)", 2, "pouch", "3", "oz"),
        ("1 (3 oz) pouch", 1, "pouch", "3", "oz"),
        ("1 pouch (3 fl oz)", 1, "pouch", "3", "fl oz"),
        ("a 3-ounce pouch", 1, "pouch", "3", "oz"),
        ("3-oz pouch", 1, "pouch", "3", "oz"),
        ("2 14-ounce cans", 2, "can", "14", "oz"),
        ("2 (6 oz) cans", 2, "can", "6", "oz"),
        ("2 x 400 g tins", 2, "can", "400", "g"),
    ],
)
def test_a_package_carries_the_size_on_its_label(text, count, unit, size, size_unit):
    amount = read(text)
    assert (amount.bounds, amount.unit.name) == (Bounds.exactly(count), unit)
    assert amount.package_size == Measure(Bounds.exactly(Fraction(size)), UNITS[size_unit])
    assert amount.contents == Measure(Bounds.exactly(count * Fraction(size)), UNITS[size_unit])


def test_a_package_without_a_size_has_none():
    assert read("1 package").package_size is None
    assert read("1 package").contents is None


@pytest.mark.parametrize("text", ["5 cups or 2 lb", "5 cups (2 lb)", "5 cups (about 2 lb)"])
def test_the_same_amount_said_twice_is_kept_twice(text):
    amount = read(text)
    assert (amount.bounds, amount.unit.name) == (Bounds.exactly(5), "cup")
    assert amount.also == (Measure(Bounds.exactly(2), UNITS["lb"]),)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        # worked from NIST Handbook 44, Appendix C, General Tables of Units of Measurement
        ("1 cup", "236.5882365", "236.5882365"),
        ("5 1/3 Tbsp", "78.8627455", "78.8627455"),
        ("2 1/2 tsp", "12.322303984375", "12.322303984375"),
        ("1 gallon + 1 pint", "4258.588257", "4258.588257"),
        ("1 dry pint", "550.6104713575", "550.6104713575"),
        ("1 bushel", "35239.07016688", "35239.07016688"),
        ("3 1/2 lb", "1587.573295", "1587.573295"),
        ("1 3/4 oz", "49.61166546875", "49.61166546875"),
        ("3 fl oz", "88.7205886875", "88.7205886875"),
        ("15 Tbsp", "221.80147171875", "221.80147171875"),  # 15/16 cup
        # custom: a pinch is 1/16 teaspoon, give or take half to double; common practice, no source
        ("a pinch", "0.1540287998046875", "0.616115199218750"),
    ],
)
def test_amounts_come_out_in_millilitres_or_grams_exactly(text, low, high):
    assert read(text).base == Bounds(Fraction(low), Fraction(high))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "salt",
        "to taste",
        "a few",
        "several cups",
        "-2 cups",
        "NaN",
        "inf cups",
        "1e999",
        "1e5 cups",
        "1/0 cup",
        "0/0",
        "1/1000000 cup",
        "9999999 cups",
        "0.123456789 cup",
        "5-4 cups",
        "2 metric cups",
        "1 imperial pint",
        "1 Australian tablespoon",
        "1 heaping cup",
        "1,00 g",
        "1,5 kg",
        "a little",
        "two halves",
        "1 quarter-pint",
        "4 inch",
        '4"',
        "1.2.3 g",
        "1 1/2 2/3 cups",
        "1 1/2/3 cups",
        "1 cup plus 2 lb",
        "1 cup + 1",
        "2 x 3 oz",
        "5%",
        "240 degrees",
        "4-inch",
        "3 smidgens",
        "1 (2 lb) cup",
        "9**9**9 g",
        "٣ cups",
        "² cups",
        "1 cup or more",
        "cup",
    ],
)
def test_anything_else_is_reported_with_a_reason(text):
    unread = read_amount(text)
    assert isinstance(unread, Unread)
    assert unread.reason.endswith(".")


NUMBERS = st.builds(Fraction, st.integers(0, 5000), st.sampled_from([1, 2, 3, 4, 5, 6, 8, 16]))
BOUNDS = st.tuples(NUMBERS, NUMBERS).map(lambda ends: Bounds(min(ends), max(ends))) | st.builds(
    Bounds, NUMBERS, st.none()
)
MEASURED = st.sampled_from([unit for unit in UNITS.values() if unit.measured and unit.name != "stick of butter"])
CONTAINERS = st.sampled_from([unit for unit in UNITS.values() if unit.container])
MEASURES = st.builds(Measure, NUMBERS.map(Bounds.exactly), MEASURED)
AMOUNTS = st.builds(
    Amount, BOUNDS, MEASURED, st.none(), st.just(""), st.lists(MEASURES, max_size=2).map(tuple)
) | st.builds(Amount, BOUNDS, CONTAINERS, MEASURES | st.none(), st.just(""))


@given(AMOUNTS)
def test_an_amount_in_our_words_reads_back_as_the_same(amount):
    again = read(written(amount))
    assert (again.bounds, again.unit, again.package_size, again.also) == (
        amount.bounds,
        amount.unit,
        amount.package_size,
        amount.also,
    )


SCRAPS = st.lists(
    st.sampled_from(
        [
            "1",
            "1/2",
            "½",
            "12.5",
            "1,000",
            "cup",
            "oz",
            "pouch",
            "(",
            ")",
            "or",
            "to",
            "-",
            "+",
            "a",
            "half",
            "each",
            "%",
        ]
    ),
    max_size=60,
)


@given(st.text() | SCRAPS.map(" ".join) | SCRAPS.map("".join))
def test_any_text_is_an_amount_or_unread(text):
    answer = read_amount(text)
    assert isinstance(answer, Unread) or (answer.bounds.low >= 0 and answer.unit.dimension in Dimension)


@pytest.mark.parametrize(
    "scrap", ["1", "1 ", "1/", "½", "(", "1 oz (", "1 cup or ", "1 cup + ", "a ", "1-", " ", "1,000,"]
)
def test_hostile_texts_end_at_once(scrap):
    assert isinstance(read_amount(scrap * 100_000), Unread)
    read_amount((scrap * LONGEST_TEXT)[:LONGEST_TEXT])


@pytest.mark.parametrize(
    ("number", "text"),
    [
        ("1/3", "1/3"),
        ("9/2", "4 1/2"),
        ("12", "12"),
        ("0", "0"),
        ("1/64", "1/64"),
        ("7/200", "0.035"),
        ("1/66", "0.015152"),
        ("301/100", "3.01"),
        ("33333333/1000000", "33.333333"),
    ],
)
def test_a_number_is_written_as_cooks_write_it(number, text):
    assert as_fraction(Fraction(number)) == text
