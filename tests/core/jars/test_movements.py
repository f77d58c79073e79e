from dataclasses import replace
from uuid import UUID

import pytest
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from service.core.jars.movements import (
    HELD,
    KEPT,
    TAKES_FROM,
    Kind,
    Movement,
    Place,
    SealCheck,
    State,
    Wish,
    balances,
    fill,
    hold,
    move,
    prove,
    recall,
)
from service.core.refusals import Refused
from tests.core.jars.make import ADA, BEN, LOT, place

ACTS = tuple(TAKES_FROM)

NOTE = "did not seal"


def wish(kind: Kind = Kind.USE, count: int = 1, **values: object) -> Wish:
    return replace(Wish(kind, LOT, "pint", count), **values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("asked", "target"),
    [
        pytest.param(wish(Kind.GIVE, to_member_id=BEN), place(holder_id=BEN), id="given, it stands on another shelf"),
        pytest.param(wish(Kind.USE), place(State.USED), id="used"),
        pytest.param(wish(Kind.OPEN), place(State.OPENED), id="opened"),
        pytest.param(wish(Kind.DISCARD), place(State.DISCARDED), id="discarded"),
        pytest.param(wish(Kind.CHILL), place(State.REFRIGERATOR), id="chilled"),
        pytest.param(wish(Kind.FREEZE), place(State.FREEZER), id="frozen"),
        pytest.param(wish(Kind.RELOCATE, location="cellar"), place(), id="moved to another place"),
    ],
)
def test_an_act_takes_jars_from_one_place_to_another(asked: Wish, target: Place) -> None:
    assert move(asked, ADA, {place(): 3}) == Movement(asked.kind, 1, place(), target, asked.location)


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        pytest.param(wish(count=4), "too-few-jars", id="more than are there"),
        pytest.param(wish(jar_size="quart"), "too-few-jars", id="a size that isn't there"),
        pytest.param(wish(from_state=State.OPENED), "too-few-jars", id="a state in which none is"),
        pytest.param(wish(Kind.GIVE), "not-possible", id="given to nobody"),
        pytest.param(wish(Kind.USE, to_member_id=BEN), "not-possible", id="used by another"),
        pytest.param(wish(Kind.GIVE, to_member_id=ADA), "not-possible", id="given to oneself"),
        pytest.param(wish(Kind.RELOCATE), "not-possible", id="moved nowhere"),
        pytest.param(wish(Kind.USE, from_state=State.HOLD), "not-now", id="held jars aren't eaten"),
        pytest.param(wish(Kind.USE, from_state=State.RECALLED), "recalled", id="recalled jars aren't eaten"),
        pytest.param(wish(Kind.GIVE, from_state=State.HOLD, to_member_id=BEN), "not-now", id="held jars aren't given"),
        pytest.param(wish(Kind.DISCARD, from_state=State.USED), "not-now", id="used jars are gone"),
    ],
)
def test_what_cannot_be_done_is_refused(asked: Wish, code: str) -> None:
    refused = move(asked, ADA, {place(): 3})
    assert isinstance(refused, Refused)
    assert refused.code == code


def test_every_jar_of_a_load_is_counted_into_some_place() -> None:
    filled = fill(LOT, "pint", ADA, SealCheck(5, 2, 1), State.SHELF, NOTE)
    assert [each.location for each in filled] == [None, NOTE, None]
    assert balances(filled) == {place(): 5, place(State.REFRIGERATOR): 2, place(State.DISCARDED): 1}


def test_a_doubtful_load_waits_on_hold() -> None:
    filled = fill(LOT, "pint", ADA, SealCheck(5, 0, 0), State.HOLD, NOTE)
    assert balances(filled) == {place(State.HOLD): 5}


def test_no_act_brings_a_jar_back_to_the_shelf() -> None:
    everywhere = {place(state): 1 for state in State}
    for kind in ACTS:
        for state in set(TAKES_FROM[kind]) - {State.SHELF}:
            asked = wish(kind, from_state=state, to_member_id=BEN if kind is Kind.GIVE else None, location="here")
            moved = move(asked, ADA, everywhere)
            assert isinstance(moved, Movement)
            assert moved.target.state is not State.SHELF


def test_a_balance_that_drifted_from_the_ledger_is_found() -> None:
    filled = fill(LOT, "pint", ADA, SealCheck(5, 2, 1), State.SHELF, NOTE)
    assert prove(filled, balances(filled)).holds
    drifted = balances(filled) | {place(): 6}
    assert prove(filled, drifted).wrong == (place(),)
    assert not prove(filled, drifted).holds


class Ledger(RuleBasedStateMachine):
    """Members fill, move, hold and recall jars in any order; a plain dictionary is the twin."""

    def __init__(self) -> None:
        super().__init__()
        self.written: list[Movement] = []
        self.kept: dict[Place, int] = {}
        self.filled = 0

    def write(self, movements: list[Movement]) -> None:
        for movement in movements:
            if movement.source:
                self.kept[movement.source] -= movement.jars
            self.kept[movement.target] = self.kept.get(movement.target, 0) + movement.jars
        self.written += movements

    @rule(
        seals=st.builds(SealCheck, st.integers(0, 9), st.integers(0, 3), st.integers(0, 3)),
        holder=st.sampled_from([ADA, BEN]),
        sealed_to=st.sampled_from([State.SHELF, State.HOLD, State.RECALLED]),
    )
    def a_load_is_checked(self, seals: SealCheck, holder: UUID, sealed_to: State) -> None:
        self.write(fill(LOT, "pint", holder, seals, sealed_to, NOTE))
        self.filled += seals.total

    @rule(
        kind=st.sampled_from(ACTS),
        count=st.integers(1, 12),
        state=st.sampled_from(list(State)),
        holder=st.sampled_from([ADA, BEN]),
        receiver=st.sampled_from([None, ADA, BEN]),
    )
    def a_member_acts(self, kind: Kind, count: int, state: State, holder: UUID, receiver: UUID | None) -> None:
        asked = wish(kind, count, from_state=state, to_member_id=receiver, location="here")
        moved = move(asked, holder, self.kept)
        if isinstance(moved, Movement):
            self.write([moved])

    @rule()
    def the_lot_is_held(self) -> None:
        self.write(hold(self.kept))
        assert not any(jars for place, jars in self.kept.items() if place.state in (*KEPT, State.OPENED))

    @rule()
    def the_lot_is_recalled(self) -> None:
        self.write(recall(self.kept))
        assert not any(
            jars for place, jars in self.kept.items() if place.state in HELD and place.state is not State.RECALLED
        )

    @invariant()
    def no_place_goes_below_zero(self) -> None:
        assert all(jars >= 0 for jars in self.kept.values())

    @invariant()
    def every_jar_ever_filled_is_somewhere(self) -> None:
        assert sum(self.kept.values()) == self.filled
        assert prove(self.written, self.kept).holds


TestLedger = Ledger.TestCase
