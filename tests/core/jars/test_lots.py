from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.jars.lots import SYMBOLS, best_by, check_character, lot_code, read_code
from service.core.refusals import Refused

DAYS = st.dates(date(2020, 1, 1), date(2099, 12, 31))


def test_the_check_character_is_that_of_the_standard() -> None:
    # The example of the Global Release Identifier standard, which uses ISO 7064 MOD 37,36; from memory.
    assert check_character("A12425GABC1234002") == "M"


@given(DAYS, st.integers(1, 99))
def test_a_lot_code_is_read_back_however_it_is_written(made_on: date, number: int) -> None:
    code = lot_code(made_on, number)
    assert read_code(code) == code
    assert read_code(code.lower().replace("-", " ")) == code


@given(DAYS, st.integers(1, 99), st.integers(0, 8), st.sampled_from(SYMBOLS))
def test_one_wrong_character_is_noticed(made_on: date, number: int, at: int, wrong: str) -> None:
    plain = lot_code(made_on, number).replace("-", "")
    misread = plain[:at] + wrong + plain[at + 1 :]
    if misread != plain:
        assert read_code(misread) is None


def test_all_but_one_in_fifty_swaps_of_two_digits_are_noticed() -> None:
    swaps = missed = 0
    for day in range(365):
        plain = lot_code(date(2027, 1, 1) + timedelta(days=day), day % 9 + 1).replace("-", "")
        for at in range(7):
            swapped = plain[:at] + plain[at + 1] + plain[at] + plain[at + 2 :]
            swaps += swapped != plain
            missed += swapped != plain and read_code(swapped) is not None
    assert missed * 50 < swaps


@pytest.mark.parametrize("written", ["", "jam", "270814", "27081403é", "\x00" * 9, "٢٧٠٨١٤٠٣Q"])
def test_what_is_no_lot_code_is_no_lot(written: str) -> None:
    assert read_code(written) is None


@pytest.mark.parametrize(
    ("made_on", "months", "expected"),
    [
        pytest.param(date(2027, 8, 14), 12, date(2028, 8, 14), id="a year on"),
        pytest.param(date(2028, 2, 29), 12, date(2029, 2, 28), id="made on a leap day"),
        pytest.param(date(2027, 8, 31), 18, date(2029, 2, 28), id="a month without that day"),
        pytest.param(date(2027, 12, 31), 12, date(2028, 12, 31), id="over the turn of the year"),
    ],
)
def test_jars_are_best_by_the_same_day_of_a_later_month(made_on: date, months: int, expected: date) -> None:
    assert best_by(made_on, months) == expected


@given(DAYS)
def test_best_by_is_about_a_year_after_making(made_on: date) -> None:
    best = best_by(made_on)
    assert isinstance(best, date)
    assert timedelta(days=364) <= best - made_on <= timedelta(days=366)


@pytest.mark.parametrize("months", [0, 19])
def test_best_by_is_never_beyond_eighteen_months(months: int) -> None:
    assert isinstance(best_by(date(2027, 8, 14), months), Refused)
