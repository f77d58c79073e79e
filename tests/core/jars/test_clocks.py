from datetime import UTC, date, datetime

import pytest

from service.core.jars.clocks import ACID_FAMILIES, STATEMENTS, Clock, EatBy, cautions, eat_by, since
from service.core.jars.movements import State
from service.published.loading import facts

SINCE, BEST_BY = date(2027, 8, 14), date(2028, 7, 1)
MONDAY, FRIDAY = datetime(2027, 8, 9, tzinfo=UTC), datetime(2027, 8, 13, tzinfo=UTC)


@pytest.mark.parametrize(
    ("state", "family", "expected"),
    [
        pytest.param(State.SHELF, "jam", EatBy(Clock.BEST_BY, BEST_BY), id="a sealed jar"),
        pytest.param(State.FREEZER, "jam", EatBy(Clock.BEST_BY, BEST_BY), id="a frozen one"),
        # working limits of teaching kitchens (common practice): low-sugar spreads 3 to 4 weeks, others 3 to 5 days
        pytest.param(State.OPENED, "jam", EatBy(Clock.OPENED, date(2027, 9, 4)), id="an opened jam"),
        pytest.param(State.OPENED, "salsa", EatBy(Clock.OPENED, date(2027, 8, 17)), id="an opened salsa"),
        # UC Master Food Preservers, on mixtures without a tested process: refrigerated 3 to 4 days
        pytest.param(State.REFRIGERATOR, None, EatBy(Clock.REFRIGERATED, date(2027, 8, 17)), id="one without a seal"),
        pytest.param(State.HOLD, "jam", None, id="a held jar isn't eaten"),
        pytest.param(State.RECALLED, "jam", None, id="nor a recalled one"),
        pytest.param(State.USED, "jam", None, id="nor an empty one"),
    ],
)
def test_each_state_has_its_own_clock(state: State, family: str | None, expected: EatBy | None) -> None:
    assert eat_by(state, family, BEST_BY, SINCE) == expected


def test_no_clock_runs_past_best_by() -> None:
    assert eat_by(State.OPENED, "jam", date(2027, 8, 20), SINCE) == EatBy(Clock.OPENED, date(2027, 8, 20))


def test_the_days_are_those_of_the_published_statements() -> None:
    statements = facts().statement
    assert "low-sugar spread 3 to 4 weeks, other foods 3 to 5 days" in statements[STATEMENTS[Clock.OPENED]].says
    assert statements[STATEMENTS[Clock.REFRIGERATED]].figures["refrigerate_days_low"] == "3"
    assert statements[STATEMENTS[Clock.BEST_BY]].figures == {"default_months": "12", "max_months": "18"}


def test_time_that_has_passed_is_not_given_back() -> None:
    assert since(State.SHELF, MONDAY, FRIDAY) == FRIDAY
    assert since(State.FREEZER, MONDAY, FRIDAY) == FRIDAY
    for state in (State.REFRIGERATOR, State.OPENED, State.HOLD):
        assert since(state, MONDAY, FRIDAY) == MONDAY


@pytest.mark.parametrize("family", ["vegetable", "meat", "soup", "tomato", "salsa", "other", None])
def test_what_is_not_surely_acid_gets_the_cautions_for_low_acid_food(family: str | None) -> None:
    assert cautions(family) == (
        "discard-signs",
        "altitude-detox-boil",
        "spoiled-low-acid-sealed",
        "spoiled-low-acid-open",
    )


def test_no_published_process_of_an_acid_family_is_for_low_acid_food() -> None:
    wrong = {each.product for each in facts().processes if each.family in ACID_FAMILIES and each.acidity == "low-acid"}
    assert wrong == set()
    assert all(rule in facts().statement for rule in (*STATEMENTS.values(), *cautions(None)))
