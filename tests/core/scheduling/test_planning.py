"""Plans of whole days in invented kitchens, each looked over by two verifiers that know only the constraints."""

import os
from dataclasses import replace
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.scheduling.chain_slots import Cook
from service.core.scheduling.planning import NoPlan, Plan, first_plan, improved
from service.core.scheduling.slots import Busy, Kind, Lanes
from service.core.scheduling.solving import Effort
from service.core.scheduling.spans import Span
from service.core.scheduling.timetables import Goal, Order
from service.core.scheduling.verifying import faults
from tests.core.scheduling import verifier
from tests.core.scheduling.days import TRAINED, order
from tests.core.scheduling.verifier import Made

EXAMPLES = int(os.environ.get("PLAN_EXAMPLES", "12"))
EFFORT = Effort(seconds=0.5, repeatable=True, seed=1)


@st.composite
def orders(draw: st.DrawFn) -> Order:
    """A few batches in a kitchen with bookings, outages and busy members."""
    asked = order(draw(st.integers(1, 6)), draw(st.integers(0, 10_000)), rack_places=draw(st.integers(20, 60)))
    times = st.builds(
        lambda start, length: Span(start * 5, (start + length) * 5), st.integers(90, 240), st.integers(1, 40)
    )
    pieces = []
    for number, piece in enumerate(asked.kitchen.pieces):
        busy = ()
        if draw(st.integers(0, 2)) == 0:
            kind = draw(st.sampled_from([Kind.BOOKING, Kind.OUTAGE]))
            movable = kind is Kind.BOOKING and piece.resource.lanes == 1 and draw(st.booleans())
            lanes = Lanes(0, draw(st.integers(1, piece.resource.lanes)))
            busy = (Busy(draw(times), lanes, kind, UUID(int=5000 + number), movable),)
        in_service = draw(st.integers(0, 9)) > 0
        pieces.append(replace(piece, resource=replace(piece.resource, busy=busy, in_service=in_service)))
    cooks = {member_id: Cook((draw(times),), draw(st.sampled_from([0, 1440, TRAINED]))) for member_id in asked.cooks}
    return replace(asked, kitchen=replace(asked.kitchen, pieces=tuple(pieces)), cooks=cooks)


def seen_by_both(asked: Order, plan: Plan) -> list[str]:
    made = [
        Made(
            each.chain,
            each.claims,
            each.batch.member_id,
            frozenset(minute for span in asked.cooks[each.batch.member_id].busy for minute in _minutes(span)),
            asked.cooks[each.batch.member_id].trained_until_min,
        )
        for each in plan.timed
    ]
    return [*faults(asked, plan.timed, plan.moves), *verifier.faults(asked.kitchen, made, plan.moves)]


def _minutes(span: Span) -> range:
    return range(span.starts_min, span.ends_min)


def rank(goals: dict[Goal, int]) -> tuple[int, ...]:
    return tuple(goals[goal] for goal in Goal if goal in goals)


@settings(deadline=None, max_examples=EXAMPLES)
@given(orders())
def test_every_plan_keeps_every_constraint_and_is_never_worse_than_first_come(asked: Order) -> None:
    first = first_plan(asked)
    plan = improved(asked, first, EFFORT)
    if isinstance(plan, NoPlan):
        assert isinstance(first, NoPlan)
        return
    assert seen_by_both(asked, plan) == []
    assert isinstance(first, NoPlan) or seen_by_both(asked, first) == []
    reached = {goal: each.minutes for goal, each in plan.goals.items()}
    assert plan.first_come is None or rank(reached) <= rank(dict(plan.first_come))
    assert all(each.bound <= each.minutes for each in plan.goals.values())


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_day_of_eight_is_proven_best(seed: int) -> None:
    asked = order(8, seed)
    plan = improved(asked, first_plan(asked), Effort(20, repeatable=True))
    assert isinstance(plan, Plan)
    assert plan.goals[Goal.LATENESS].proven
    assert seen_by_both(asked, plan) == []


def test_the_same_seed_gives_the_same_plan() -> None:
    asked = order(10, 4)
    plans = [improved(asked, first_plan(asked), Effort(0.3, repeatable=True, seed=5)) for _ in range(2)]
    assert plans[0] == plans[1]


def test_more_than_a_day_holds_is_no_plan_and_says_which_had_no_place() -> None:
    asked = order(12, 1)
    short = replace(asked, within=Span(8 * 60, 12 * 60))
    first = first_plan(short)
    assert isinstance(first, NoPlan)
    assert first.without_place
    plan = improved(short, first, Effort(5, repeatable=True))
    assert isinstance(plan, NoPlan)
    assert plan.proven


def test_what_was_left_of_an_overloaded_day_goes_to_the_next() -> None:
    asked = order(24, 2, nominal_days=1)
    plan = improved(asked, first_plan(asked), EFFORT)
    assert isinstance(plan, Plan)
    assert seen_by_both(asked, plan) == []
    assert max(each.placed.prep_min for each in plan.timed) > 1440


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        pytest.param(lambda claim: replace(claim, ends_at=claim.starts_at), "another length", id="no time to prepare"),
        pytest.param(lambda claim: replace(claim, equipment_id=UUID(int=100)), "steps", id="a burner for a table"),
        pytest.param(lambda claim: replace(claim, places=()), "doesn't hold", id="a table that isn't held"),
    ],
)
def test_the_verifier_notices_a_spoilt_plan(spoil: object, says: str) -> None:
    asked = order(3, 1)
    plan = first_plan(asked)
    assert isinstance(plan, Plan)
    spoilt = replace(plan.timed[0], claims=(spoil(plan.timed[0].claims[0]), *plan.timed[0].claims[1:]))  # type: ignore[operator]
    found = list(faults(asked, (spoilt, *plan.timed[1:]), plan.moves))
    assert any(says in fault for fault in found), found
    assert list(faults(asked, plan.timed[1:], plan.moves))


def test_after_a_break_only_those_move_that_have_to() -> None:
    asked = order(12, 5)
    before = improved(asked, first_plan(asked), EFFORT)
    assert isinstance(before, Plan)
    promised = tuple(replace(each.batch, chains=(each.chain,), promised=each.placed) for each in before.timed)
    lost = Busy(Span(8 * 60, 14 * 60), Lanes(0, 1), Kind.OUTAGE)
    burners = {UUID(int=100), UUID(int=101), UUID(int=102)}
    pieces = tuple(
        replace(piece, resource=replace(piece.resource, busy=(lost,)))
        if piece.resource.equipment_id in burners
        else piece
        for piece in asked.kitchen.pieces
    )
    broken = replace(asked, kitchen=replace(asked.kitchen, pieces=pieces), batches=promised)
    quick = first_plan(broken)
    after = improved(broken, quick, Effort(2, repeatable=True))
    assert isinstance(quick, Plan)
    assert isinstance(after, Plan)
    assert seen_by_both(broken, after) == []
    moved = sum(each.moved for each in after.timed)
    assert moved == after.goals[Goal.MOVED].minutes
    assert rank({goal: each.minutes for goal, each in after.goals.items()}) <= rank(
        {goal: each.minutes for goal, each in quick.goals.items()}
    )
    free = improved(
        replace(broken, batches=tuple(replace(batch, promised=None) for batch in promised)), NoPlan(False, ()), EFFORT
    )
    assert isinstance(free, Plan)
    kept = {each.id: each.promised for each in promised}
    assert moved < sum(each.placed != kept[each.batch.id] for each in free.timed)
    nothing_lost = replace(broken, kitchen=asked.kitchen)
    same = improved(nothing_lost, first_plan(nothing_lost), EFFORT)
    assert isinstance(same, Plan)
    assert not any(each.moved for each in same.timed)
