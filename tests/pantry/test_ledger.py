"""The ledger on a real database, in any order of acts: no jar is lost or invented, and a plain dictionary agrees.

A few short runs, always the same ones, with the other tests. `LEDGER_EXAMPLES=200` in the environment asks for that
many new ones of `LEDGER_STEPS` acts each (50 unless it says otherwise).
"""

import os
from collections.abc import Iterator
from datetime import timedelta
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test
from sqlmodel import Session, select

from service.core.jars import movements, recalls, sharing
from service.core.jars.movements import ENDS, TAKES_FROM, Kind, Movement, Place, SealCheck, State, Wish
from service.core.jars.recalls import Outcome
from service.core.refusals import Refused
from service.database.engine import Database, open_engine
from service.pantry import store
from service.pantry.lots import store as lots
from service.pantry.tables import Balance
from tests import make

ASKED_FOR = os.environ.get("LEDGER_EXAMPLES")
SETTINGS = settings(
    max_examples=int(ASKED_FOR or 6),
    stateful_step_count=int(os.environ.get("LEDGER_STEPS") or (50 if ASKED_FOR else 25)),
    derandomize=ASKED_FOR is None,
    database=None,
    suppress_health_check=list(HealthCheck),
)
SIZES = st.sampled_from(["half-pint", "pint"])
STATES = st.sampled_from(list(State))
PEOPLE = st.integers(0, 2)


class Ledger(RuleBasedStateMachine):
    """Three members and one lot; every act is decided by the core, written by the store and committed."""

    database: Database

    @initialize()
    def a_lot_is_made(self) -> None:
        self.at = make.A_MOMENT
        self.filled = 0
        self.twin: dict[Place, int] = {}
        with make.session(self.database) as session:
            self.kitchen_id = make.kitchen(session).id
            self.people = [make.member(session, self.kitchen_id, name=name)[0].id for name in ("Ada", "Bo", "Cy")]
            lot = store.add_lot(session, self.kitchen_id, "Plum jam", "jam", None, self.at.date(), 12)
            assert not isinstance(lot, Refused)
            self.code, self.lot_id = lot.code, lot.id

    def lot(self, session: Session) -> store.Lot:
        found = store.lot(session, self.kitchen_id, self.code)
        assert found is not None
        return found

    def write(self, session: Session, moved: list[Movement]) -> None:
        self.at += timedelta(minutes=1)
        store.write(session, self.lot(session), moved, self.people[0], self.at)
        self.follow(moved)

    def follow(self, moved: list[Movement]) -> None:
        for movement in moved:
            if movement.source is not None:
                self.twin[movement.source] -= movement.jars
            self.twin[movement.target] = self.twin.get(movement.target, 0) + movement.jars

    def place(self, size: str, person: int, state: State) -> Place:
        return Place(self.lot_id, size, self.people[person], state)

    @rule(size=SIZES, person=PEOPLE, counts=st.tuples(st.integers(0, 12), st.integers(0, 3), st.integers(0, 2)))
    def a_load_is_checked(self, size: str, person: int, counts: tuple[int, int, int]) -> None:
        with make.session(self.database) as session:
            sealed_to = State.RECALLED if self.lot(session).recalled_at else State.SHELF
            seals = SealCheck(*counts)
            self.write(session, movements.fill(self.lot_id, size, self.people[person], seals, sealed_to, ""))
        self.filled += seals.total

    @rule(
        kind=st.sampled_from(list(TAKES_FROM)),
        size=SIZES,
        person=PEOPLE,
        state=STATES,
        count=st.integers(1, 9),
        receiver=st.one_of(st.none(), PEOPLE, st.just("a neighbour")),
    )
    def a_member_acts(self, kind: Kind, size: str, person: int, state: State, count: int, receiver: Any) -> None:
        to_member = self.people[receiver] if isinstance(receiver, int) else None
        outsider = receiver if isinstance(receiver, str) else None
        wish = Wish(kind, self.lot_id, size, count, state, to_member, outsider, "the cellar")
        with make.session(self.database) as session:
            moved = movements.move(wish, self.people[person], store.balances(session, self.lot_id, self.people[person]))
            if isinstance(moved, Refused):
                assert moved.code != "too-few-jars" or self.twin.get(self.place(size, person, state), 0) < count
            else:
                self.write(session, [moved])

    @rule(
        size=SIZES, person=PEOPLE, count=st.integers(1, 12), parts=st.lists(st.integers(0, 5), min_size=3, max_size=3)
    )
    def jars_are_shared(self, size: str, person: int, count: int, parts: tuple[int, ...]) -> None:
        shares = [
            sharing.Share(member_id, part=Fraction(part)) for member_id, part in zip(self.people, parts, strict=True)
        ]
        with make.session(self.database) as session:
            there = store.balances(session, self.lot_id, self.people[person])
            shared = sharing.share(self.lot_id, self.people[person], State.SHELF, {size: count}, shares, there)
            if not isinstance(shared, Refused):
                self.write(session, list(shared.moved))

    @rule()
    def the_lot_is_held(self) -> None:
        with make.session(self.database) as session:
            self.write(session, movements.hold(store.balances(session, self.lot_id)))

    @rule(chance=st.integers(0, 3))
    def the_lot_is_recalled(self, chance: int) -> None:
        """Seldom: nothing else happens to a lot afterwards."""
        if chance or not self.filled:
            return
        with make.session(self.database) as session:
            if self.lot(session).recalled_at:
                return
            moved = movements.recall(store.balances(session, self.lot_id))
            seen = lots.recall(session, self.lot(session), "Seals let go.", self.people[0], self.at)
            self.follow(moved)
        assert {each.state for each in seen.holders if each.jars} <= {*ENDS, State.RECALLED}

    @rule(outcome=st.sampled_from(Outcome), size=SIZES, person=PEOPLE, count=st.integers(1, 6))
    def called_back_jars_are_accounted_for(self, outcome: Outcome, size: str, person: int, count: int) -> None:
        source = self.place(size, person, State.RECALLED)
        with make.session(self.database) as session:
            moved = recalls.account(outcome, count, source, store.balances(session, self.lot_id))
            if not isinstance(moved, Refused):
                self.write(session, [moved])

    @invariant()
    def every_jar_that_was_filled_is_somewhere(self) -> None:
        with Session(self.database.reader) as session:
            kept = store.balances(session, self.lot_id)
            proof = store.prove(session, self.kitchen_id)
        assert all(jars >= 0 for jars in kept.values())
        assert sum(kept.values()) == proof.filled == self.filled
        assert proof.holds

    @invariant()
    def the_database_says_what_a_dictionary_says(self) -> None:
        with Session(self.database.reader) as session:
            rows = session.exec(select(Balance).where(Balance.lot_id == self.lot_id)).all()
        kept = {Place(row.lot_id, row.jar_size, row.holder_id, row.state): row.jars for row in rows if row.jars}
        assert kept == {place: jars for place, jars in self.twin.items() if jars}
        assert all((row.since_at is None) == (row.jars == 0) for row in rows)


@pytest.fixture
def database(database_url: str) -> Iterator[Database]:
    opened = open_engine(database_url)
    yield opened
    opened.close()


def test_no_jar_is_lost_or_invented_whatever_happens(database: Database) -> None:
    class OnThisDatabase(Ledger):
        pass

    OnThisDatabase.database = database
    run_state_machine_as_test(OnThisDatabase, settings=SETTINGS)
