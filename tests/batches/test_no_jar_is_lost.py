"""Any sequence of a batch day's acts: no jar is lost or invented, and nothing unsafe stands on a shelf."""

import os
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from service.pantry import store as pantry_store
from tests import make
from tests.batches.make import Day, ok
from tests.conftest import Client

LOADS, JARS = st.integers(1, 4), st.integers(0, 8)
HOT_F, COOL_F = 205.0, 203.0  # water boils at 204.29 F at 4,200 ft: NOAA-S/T 76-1562 with IAPWS-IF97, computed
EXAMPLES = int(os.environ.get("INVARIANT_EXAMPLES", "12"))
EXPECTED = {201, 200, 404, 409, 422}


class BatchDays(RuleBasedStateMachine):
    """One batch after another, each with a few loads that go well or badly, and people who decide."""

    client: Client

    @initialize()
    def begin(self) -> None:
        self.day = Day(self.client, hours_ago=72)
        self.minutes = 45.0
        self.filled = 0
        self.loads: dict[int, int] = {}  # the jars of each load that went in first, by its number
        self.counted: set[int] = set()

    def later(self, minutes: float) -> float:
        self.minutes += minutes
        return self.minutes

    def tried(self, answer: Any) -> bool:
        assert answer.status_code in EXPECTED, answer.text
        return bool(answer.status_code < 300)

    @rule(count=st.integers(1, 8))
    def load(self, count: int) -> None:
        answer = self.day.load(count, minutes=self.later(1))
        if self.tried(answer):
            self.loads[answer.json()["load"]] = count

    @rule(again=LOADS, count=st.integers(1, 8), discarded=st.integers(0, 2))
    def once_more(self, again: int, count: int, discarded: int) -> None:
        answer = self.day.load(count, minutes=self.later(1), again=again, discarded=discarded)
        if self.tried(answer) and again in self.loads and again not in self.counted:
            self.counted.add(again)

    @rule(load=LOADS, stay=st.sampled_from([5, 12]))
    def out(self, load: int, stay: float) -> None:
        self.tried(self.day.out(minutes=self.later(stay), load=load))

    @rule(load=LOADS, trace=st.sampled_from([[HOT_F] * 12, [HOT_F] * 4 + [COOL_F]]))
    def log(self, load: int, trace: list[float]) -> None:
        self.tried(self.day.heat(trace, load=load, minutes=self.minutes - 12))

    @rule(load=LOADS, sealed=JARS, unsealed=JARS, broken=st.integers(0, 2))
    def check(self, load: int, sealed: int, unsealed: int, broken: int) -> None:
        counted = (sealed, unsealed, broken)
        jars = self.loads.get(load, 0)
        if sum(counted) != jars:  # mostly right, so that something happens
            counted = (max(0, jars - unsealed), min(jars, unsealed), 0)
        if self.tried(self.day.seals(*counted, load=load, minutes=min(self.later(12 * 60), 71 * 60))):
            self.counted |= {load} & set(self.loads)

    @rule(load=LOADS, frozen=JARS)
    def keep_cold(self, load: int, frozen: int) -> None:
        jars = self.loads.get(load, 0)
        cold = min(frozen, jars)
        if self.tried(self.day.cold(minutes=self.later(1), load=load, to_freezer=cold, discarded=jars - cold)):
            self.counted |= {load} & set(self.loads)

    @rule(ph=st.sampled_from([3.3, 4.7]), calibrated=st.booleans())
    def read(self, ph: float, calibrated: bool) -> None:
        self.client.clock.pass_by(minutes=1)
        assert (self.day.good_ph(ph) if calibrated else self.day.ph(ph)).status_code == 201

    @rule(load=LOADS, cause=st.sampled_from(["interrupted", "canner-swapped", "something-else"]))
    def report(self, load: int, cause: str) -> None:
        self.tried(self.day.deviation(cause, load=load, minutes=self.minutes))

    @rule(decision=st.sampled_from(["release", "reprocess", "destroy"]), to=st.sampled_from(["shelf", "freezer"]))
    def decide(self, decision: str, to: str) -> None:
        if self.day.now()["lot_code"]:
            self.tried(self.day.decide(decision, to_state=to))

    @invariant()
    def every_counted_jar_is_somewhere(self) -> None:
        batch = self.day.now()
        held = self.day.holders() if batch["lot_code"] else {}
        assert sum(held.values()) == sum(self.loads[number] for number in self.counted)
        open_ones = [each for each in batch["deviations"] if each["settled_at"] is None]
        assert batch["on_hold"] == bool(open_ones)
        if any(each["load"] is None for each in open_ones):  # the whole pot is in doubt
            assert not held.get("shelf")
        unsafe = {each["load"] for each in batch["deviations"] if each["severity"] == "unsafe"}
        sound = [load["sealed"] or 0 for load in batch["loads"] if not unsafe & {load["load"], None}]
        assert held.get("shelf", 0) <= sum(sound)
        with make.session(self.client.app.state.database) as session:
            assert pantry_store.prove(session, self.client.member.kitchen_id).holds


def test_no_jar_is_lost_whatever_happens_on_a_batch_day(client: Client) -> None:
    class Days(BatchDays):
        pass

    Days.client = client
    run_state_machine_as_test(
        Days,
        settings=settings(max_examples=EXAMPLES, stateful_step_count=14, suppress_health_check=list(HealthCheck)),
    )
    assert ok(client.get("/v1/holds", headers=client.trainer.headers)) is not None
