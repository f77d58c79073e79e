from datetime import date

import pytest

from service.core.jars.records import cell, kept_until
from service.published.loading import facts


@pytest.mark.parametrize(
    ("made_on", "until"),
    [
        # 21 CFR 114.100 (e): "for a period of 3 years from the date of manufacture"
        pytest.param(date(2027, 8, 14), date(2030, 8, 14), id="three years on"),
        pytest.param(date(2028, 2, 29), date(2031, 3, 1), id="made on a leap day"),
    ],
)
def test_a_record_is_kept_for_three_years(made_on: date, until: date) -> None:
    assert kept_until(made_on) == until
    assert facts().statement["record-three-years"].figures == {"keep_years_min": "3"}


# OWASP, "CSV injection": cells that begin with = + - @ tab or carriage return are taken for formulas
@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1", "=cmd|' /C calc'!A0"])
def test_a_text_is_never_a_formula(text: str) -> None:
    assert cell(text) == f"'{text}"


def test_numbers_and_plain_words_stay_as_they_are() -> None:
    assert [cell(each) for each in (-50, 4.6, "Plum jam", "a - b", None, True)] == [
        "-50", "4.6", "Plum jam", "a - b", "", "True",
    ]  # fmt: skip
