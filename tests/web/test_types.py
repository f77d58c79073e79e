"""What each type of a request takes and refuses."""

from datetime import datetime
from decimal import Decimal
from typing import Annotated

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field, TypeAdapter, ValidationError

from service.web.types import (
    NOBODY,
    Amount,
    Day,
    Flag,
    FlagQuery,
    Id,
    Key,
    Length,
    Name,
    Text,
    Timestamp,
    Whole,
    WholeQuery,
    write_timestamp,
)

# naive bounds: the strategy adds the zone itself
MOMENTS = st.datetimes(datetime(1970, 1, 2), datetime(2199, 12, 30), timezones=st.timezones())  # noqa: DTZ001

TAKES = [
    (Timestamp, '"2027-08-14T16:30:00Z"', "2027-08-14T16:30:00Z"),
    (Timestamp, '"2027-08-14T10:30:00-06:00"', "2027-08-14T16:30:00Z"),
    (Timestamp, '"2027-08-14t16:30:00.75z"', "2027-08-14T16:30:00Z"),
    (Day, '"2028-02-29"', "2028-02-29"),
    (Whole, "5", 5),
    (Whole, "-2147483647", -2147483647),
    (WholeQuery, '"5"', 5),
    (Amount, "4.5", 4.5),
    (Amount, "0.1", 0.1),
    (Flag, "true", True),
    (FlagQuery, '"false"', False),
    (Text, '"plum jam\\nwith cinnamon"', "plum jam\nwith cinnamon"),
    (Text, '"cafe\\u0301"', "caf\u00e9"),
    (Name, '"\u05d0\u05d3\u05d4 7"', "\u05d0\u05d3\u05d4 7"),
    (Name, '"?"', "?"),
    (Key, '"a key"', "a key"),
    (Key, '"\\"quoted\\""', "quoted"),
]

REFUSES = [
    *[(Timestamp, bad) for bad in (
        "5", "1.5", "true", '"1754000000"', '"2027-08-14 16:30:00Z"', '"2027-08-14T16:30:00"', '"2027-08-14T16:30Z"',
        '"2027-08-14"', '"2027-02-30T16:30:00Z"', '"2027-08-14T16:30:60Z"', '"1969-12-31T23:59:59Z"',
        '"2200-01-01T00:00:00Z"', '"0001-01-01T00:00:00+14:00"', '"2027-08-14T16:30:00+25:00"',
        '"٢٠٢٧-08-14T16:30:00Z"',
    )],
    *[(Day, bad) for bad in (
        "20680", "1786665600", "true", '"1786665600"', '"2027-08-14T00:00:00Z"', '"20270814"', '"2027-8-14"',
        '"2027-02-29"', '"2027-W32-6"', '"1969-12-31"', '"2200-01-01"', '"٢٠٢٧-08-14"', "null",
    )],
    *[(Whole, bad) for bad in ("true", '"5"', "5.0", "2147483648", "1" + "0" * 400, "null")],
    *[(WholeQuery, bad) for bad in ('"+5"', '"5.0"', '" 5"', '"٥"', '"1e3"', '"99999999999"')],
    *[(Amount, bad) for bad in ('"4"', "true", "1e400000", "NaN", "Infinity", "-Infinity", "1e10", "1e-7", "null")],
    *[(Flag, bad) for bad in ('"yes"', "1", "0", '"true"', "null")],
    *[(FlagQuery, bad) for bad in ('"yes"', '"1"', '"True"')],
    *[(Text, bad) for bad in ('"a\\u0000b"', '"a\\rb"', '"a\\u0085b"', '"\\ud800"', "5", '"' + "a" * 10_001 + '"')],
    *[(Name, bad) for bad in ('""', '" "', '"\\u200b"', '"Ada\\nCora"', '"Ada\\u202earoC"', '"\\u2066Ada"')],
    *[(Key, bad) for bad in ('""', '"' + "a" * 256 + '"', '"caf\\u00e9"', '"a\\nb"', "5")],
    (Id, "5"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "written", "value"), TAKES)
def test_a_type_takes_what_it_should(kind, written, value):
    adapter = TypeAdapter(kind)
    assert adapter.dump_python(adapter.validate_json(written), mode="json") == value


@pytest.mark.parametrize(("kind", "written"), REFUSES)
def test_a_type_refuses_the_rest(kind, written):
    with pytest.raises(ValidationError):
        TypeAdapter(kind).validate_json(written)


@pytest.mark.parametrize("written", ["", "5", "nobody", "{0f9c2c1e-5f0b-4a2e-9b57-3d7f6f1f2a10}", "0" * 5000])
def test_an_id_that_cannot_be_ours_names_nothing(written):
    assert TypeAdapter(Id).validate_python(written) == NOBODY


@given(st.text())
def test_any_text_is_taken_or_refused_and_never_breaks(written):
    for kind in (Timestamp, WholeQuery, Text, Key, FlagQuery, Id, Amount):
        try:
            TypeAdapter(kind).validate_python(written)
        except ValidationError:
            continue


@given(MOMENTS)
def test_a_moment_comes_back_as_it_was_written(moment):
    written = write_timestamp(moment)
    assert write_timestamp(TypeAdapter(Timestamp).validate_python(written)) == written


@given(st.integers(-(10**9), 10**9), st.integers(0, 6))
def test_an_amount_is_exactly_what_was_written(digits, places):
    exact = Decimal(digits).scaleb(-places)
    assert TypeAdapter(Amount).validate_json(str(exact) if places < 6 else f"{exact:f}") == exact


def outcome(kind: TypeAdapter, value: object) -> object:
    try:
        return kind.validate_python(value)
    except ValidationError as wrong:
        return [(error["type"], error["msg"], error["loc"]) for error in wrong.errors()]


@pytest.mark.parametrize(("least", "field"), [(1, Field(min_length=1, max_length=5)), (0, Field(max_length=5))])
def test_a_length_is_what_the_validators_own_bounds_are(least, field):
    """Pydantic's own bounds around `Text` are the outside source: same texts, same errors, same contract."""
    ours, theirs = TypeAdapter(Annotated[str, Length(least, 5)]), TypeAdapter(Annotated[Text, field])
    combined = "e\u0301"  # two characters that become one
    for value in (
        "",
        "a",
        "a" * 5,
        "a" * 6,
        "a" * 10_001,
        combined * 5,
        combined * 6,
        "a\x00b",
        "\x00" * 6,
        "\ud800",
        5,
        None,
    ):
        assert outcome(ours, value) == outcome(theirs, value), value
    assert ours.json_schema() == theirs.json_schema()
