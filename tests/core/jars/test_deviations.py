from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.jars.deviations import (
    ABOUT,
    CLEARED_BY_A_READING,
    BrokenRule,
    Deviation,
    DeviationSeverity,
    Held,
    HoldOutcome,
    Wish,
    decide,
    origins,
)
from service.core.jars.movements import Kind, Movement, Place, State, balances
from service.core.refusals import Refused
from service.published.loading import facts
from tests.core.jars.make import ADA, BEN, LOT, NOON, place

HOLD = place(State.HOLD)
LATE = NOON + timedelta(hours=24, seconds=1)
COLD = Wish(HoldOutcome.RELEASE, State.FREEZER)


def held(*causes: BrokenRule, jars: dict[State, int] | None = None, **values: object) -> Held:
    against = tuple(Deviation(cause, 1, NOON) for cause in causes)
    return Held(against, {HOLD: jars or {State.SHELF: 6, State.REFRIGERATOR: 2}}, **values)  # type: ignore[arg-type]


def code(answer: object) -> str:
    assert isinstance(answer, Refused)
    return answer.code


def test_each_cause_is_a_published_rule() -> None:
    assert set(ABOUT) == set(BrokenRule)
    assert {about.rule for about in ABOUT.values()} <= set(facts().statement)


def test_a_limit_against_illness_that_was_broken_is_unsafe() -> None:
    """Severities follow the published rule, but where a missing proof or a bad reading may still be made good."""
    softer = {BrokenRule.HEAT_NOT_SHOWN, BrokenRule.CANNER_OVERFILLED, BrokenRule.SOMETHING_ELSE, *CLEARED_BY_A_READING}
    for cause in set(BrokenRule) - softer:
        assert ABOUT[cause].severity.value == str(facts().statement[ABOUT[cause].rule].severity), cause
    assert {ABOUT[cause].severity for cause in softer} == {DeviationSeverity.UNTESTED}


@pytest.mark.parametrize("cause", [cause for cause in BrokenRule if ABOUT[cause].severity is DeviationSeverity.UNSAFE])
def test_what_is_unsafe_never_goes_back_to_the_shelf(cause: BrokenRule) -> None:
    for wish in (Wish(HoldOutcome.RELEASE), Wish(HoldOutcome.RELEASE, evaluated=True)):
        assert code(decide(held(cause, cleared=True), wish, NOON)) == "held-unsafe"
        assert code(decide(held(BrokenRule.CANNER_SWAPPED, cause), wish, NOON)) == "held-unsafe"


def test_paperwork_is_let_go_on_a_persons_word_and_each_jar_to_where_it_was() -> None:
    moved = decide(held(BrokenRule.CANNER_SWAPPED), Wish(HoldOutcome.RELEASE), LATE)
    assert moved == [
        Movement(Kind.RELEASE, 6, HOLD, place(State.SHELF)),
        Movement(Kind.RELEASE, 2, HOLD, place(State.REFRIGERATOR)),
    ]


@pytest.mark.parametrize(
    ("lot", "wish", "let_go"),
    [
        pytest.param(held(BrokenRule.HEAT_NOT_SHOWN), Wish(HoldOutcome.RELEASE), False, id="nothing shows the heat"),
        pytest.param(
            held(BrokenRule.HEAT_NOT_SHOWN),
            Wish(HoldOutcome.RELEASE, evaluated=True),
            True,
            id="an authority judged it",
        ),
        pytest.param(
            held(BrokenRule.HEAT_NOT_SHOWN, cleared=True),
            Wish(HoldOutcome.RELEASE),
            False,
            id="no pH shows heat",
        ),
        pytest.param(held(BrokenRule.PH_TOO_EARLY), Wish(HoldOutcome.RELEASE), False, id="a reading too early"),
        pytest.param(held(BrokenRule.PH_TOO_EARLY, cleared=True), Wish(HoldOutcome.RELEASE), True, id="read again"),
        pytest.param(held(), Wish(HoldOutcome.RELEASE), True, id="what it was held for is settled"),
    ],
)
def test_what_is_not_known_to_be_safe_takes_more_than_a_word(lot: Held, wish: Wish, let_go: bool) -> None:
    answer = decide(lot, wish, NOON)
    assert isinstance(answer, list) == let_go
    if not let_go:
        assert code(answer) == "not-now"


def test_what_was_not_heated_enough_may_be_kept_cold_or_go_in_again_within_a_day() -> None:
    """USDA and Utah State University Extension: within 24 hours."""
    for wish in (COLD, Wish(HoldOutcome.REPROCESS)):
        assert isinstance(decide(held(BrokenRule.INTERRUPTED), wish, NOON + timedelta(hours=24)), list)
        assert code(decide(held(BrokenRule.INTERRUPTED), wish, LATE)) == "too-late"
    moved = decide(held(BrokenRule.INTERRUPTED), COLD, NOON)
    assert isinstance(moved, list)
    assert sum(each.jars for each in moved) == 8
    assert {each.target.state for each in moved} == {State.FREEZER}
    assert decide(held(BrokenRule.INTERRUPTED), Wish(HoldOutcome.REPROCESS), NOON) == []


def test_too_little_acid_is_mended_by_no_heat_and_no_cold() -> None:
    assert code(decide(held(BrokenRule.PH_ABOVE_LIMIT), Wish(HoldOutcome.REPROCESS), NOON)) == "not-possible"
    assert (
        code(decide(held(BrokenRule.PH_ABOVE_LIMIT, BrokenRule.INTERRUPTED), Wish(HoldOutcome.REPROCESS), NOON))
        == "not-possible"
    )
    assert code(decide(held(BrokenRule.PH_ABOVE_LIMIT), COLD, NOON)) == "held-unsafe"
    assert code(decide(held(BrokenRule.CANNER_SWAPPED), Wish(HoldOutcome.REPROCESS), NOON)) == "not-possible"


@pytest.mark.parametrize("cause", list(BrokenRule))
def test_whatever_it_was_every_jar_may_be_destroyed(cause: BrokenRule) -> None:
    moved = decide(held(cause), Wish(HoldOutcome.DESTROY), LATE)
    assert moved == [Movement(Kind.DISCARD, 8, HOLD, place(State.DISCARDED))]


def test_there_is_nothing_to_decide_about_no_jars_or_recalled_ones() -> None:
    for decision in HoldOutcome:
        assert code(decide(Held((), {}), Wish(decision), NOON)) == "not-now"
        assert code(decide(held(BrokenRule.INTERRUPTED, recalled=True), Wish(decision), NOON)) == "recalled"


def test_jars_on_hold_know_where_they_came_from_and_the_sealed_ones_leave_first() -> None:
    bens = Place(LOT, "pint", BEN, State.HOLD)
    ledger = [
        Movement(Kind.FILL, 5, None, HOLD),
        Movement(Kind.HOLD, 2, place(State.REFRIGERATOR), HOLD),
        Movement(Kind.HOLD, 1, place(State.FREEZER, BEN), bens),
        Movement(Kind.DISCARD, 4, HOLD, place(State.DISCARDED)),
        Movement(Kind.RELOCATE, 3, HOLD, HOLD, "cellar"),
    ]
    assert origins(ledger) == {HOLD: {State.SHELF: 1, State.REFRIGERATOR: 2}, bens: {State.FREEZER: 1}}


@given(
    st.lists(
        st.tuples(st.sampled_from([State.SHELF, State.REFRIGERATOR, State.FREEZER, State.OPENED]), st.integers(1, 9)),
        min_size=1,
        max_size=6,
    ),
    st.integers(0, 20),
)
def test_origins_add_up_to_the_jars_on_hold_and_a_release_loses_none(
    put_aside: list[tuple[State, int]], discarded: int
) -> None:
    came = [Movement(Kind.HOLD, jars, Place(LOT, "pint", ADA, state), HOLD) for state, jars in put_aside]
    there = sum(jars for _, jars in put_aside)
    gone = min(discarded, there)
    ledger = [*came, *([Movement(Kind.DISCARD, gone, HOLD, place(State.DISCARDED))] if gone else [])]
    found = origins(ledger)
    assert sum(found[HOLD].values()) == there - gone == balances(ledger).get(HOLD, 0)
    if there > gone:
        moved = decide(Held((), found), Wish(HoldOutcome.RELEASE), NOON)
        assert isinstance(moved, list)
        assert balances([*ledger, *moved]).get(HOLD, 0) == 0
        unsealed = sum(jars for state, jars in put_aside if state is not State.SHELF)
        assert sum(each.jars for each in moved if each.target.state is State.SHELF) <= there - unsealed
