from collections import Counter

import pytest

from service.core.jars.movements import Place, State
from service.core.jars.years import Column, Moved, Row, column, rows
from tests.core.jars.make import ADA, BEN, place


@pytest.mark.parametrize(
    ("source", "target", "expected"),
    [
        pytest.param(None, place(), Column.PUT_UP, id="filled and sealed"),
        pytest.param(None, place(State.REFRIGERATOR), Column.PUT_UP, id="filled, without a seal"),
        pytest.param(None, place(State.DISCARDED), Column.LOST, id="broken"),
        pytest.param(place(holder_id=BEN), place(), Column.RECEIVED, id="from a member"),
        pytest.param(place(), place(holder_id=BEN), Column.GIVEN, id="to a member"),
        pytest.param(place(), place(State.GIVEN), Column.GIVEN, id="to an outsider"),
        pytest.param(place(State.OPENED), place(State.USED), Column.EATEN, id="eaten"),
        pytest.param(place(State.RECALLED), place(State.RETURNED), Column.LOST, id="brought back"),
        pytest.param(place(), place(State.DISCARDED), Column.LOST, id="thrown away"),
        pytest.param(place(), place(State.OPENED), None, id="opened"),
        pytest.param(place(), place(State.FREEZER), None, id="frozen"),
        pytest.param(place(State.GIVEN), place(State.RECALLED), None, id="called back"),
    ],
)
def test_a_movement_counts_once_in_a_members_year(source: Place | None, target: Place, expected: Column | None) -> None:
    assert column(source, target, ADA) == expected


def test_a_year_is_added_up_by_family_and_size() -> None:
    moved = [
        Moved("jam", "pint", None, place(), 8),
        Moved("jam", "pint", place(), place(State.USED), 2),
        Moved("jam", "pint", place(State.OPENED), place(State.USED), 1),
        Moved("salsa", "pint", place(), place(State.OPENED), 5),
    ]
    assert rows(moved, ADA) == [Row("jam", "pint", Counter({Column.PUT_UP: 8, Column.EATEN: 3}))]
