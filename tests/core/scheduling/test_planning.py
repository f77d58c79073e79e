"""Plans of whole days in invented kitchens, each looked over by two verifiers that know only the constraints."""

import os
from dataclasses import replace
from datetime import UTC
from time import monotonic
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.scheduling.chain_slots import Cook
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.fair_use import FairUse, Limits, Shares, Use
from service.core.scheduling.planning import NoPlan, Plan, first_plan, improved, measured
from service.core.scheduling.slots import Busy, Kind, Lanes, shut_lanes
from service.core.scheduling.solving import Effort
from service.core.scheduling.spans import EPOCH, Span
from service.core.scheduling.timetables import Goal, Order
from service.core.scheduling.verifying import faults
from tests.core.scheduling import verifier
from tests.core.scheduling.days import TRAINED, kitchen, order
from tests.core.scheduling.verifier import Made

EXAMPLES = int(os.environ.get("PLAN_EXAMPLES", "6"))
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


@settings(max_examples=EXAMPLES)
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


def test_jars_on_two_small_racks_are_never_counted_as_on_one() -> None:
    """Of two racks with ten places each, a third load of eight jars finds none, though four and four are left over."""
    asked = order(6, 2, rack_places=40)
    racks = [piece for piece in asked.kitchen.pieces if piece.kind is EquipmentKind.RACK]
    others = tuple(piece for piece in asked.kitchen.pieces if piece.kind is not EquipmentKind.RACK)
    largest = max(load.jars for batch in asked.batches for load in batch.chains[0].loads)
    small = tuple(
        replace(racks[0], resource=replace(racks[0].resource, equipment_id=UUID(int=400 + place), lanes=largest + 1))
        for place in range(3)
    )
    split = replace(asked, kitchen=replace(asked.kitchen, pieces=(*others, *small)))
    plan = improved(split, NoPlan(False, ()), EFFORT)
    assert isinstance(plan, Plan)
    assert seen_by_both(split, plan) == []


def test_jars_rest_across_a_closure_and_no_plan_is_lost_by_it() -> None:
    """A closure takes no place of a rack, and what isn't at rest before it begins after it: the solver has to know."""
    asked = order(4, 3)
    pieces = tuple(
        replace(
            piece,
            resource=replace(
                piece.resource,
                busy=(Busy(Span(13 * 60, 14 * 60), shut_lanes(piece.kind, piece.resource.lanes), Kind.CLOSURE),),
            ),
        )
        for piece in asked.kitchen.pieces
    )
    closed = replace(asked, kitchen=replace(asked.kitchen, pieces=pieces))
    plan = improved(closed, NoPlan(False, ()), EFFORT)
    assert isinstance(plan, Plan)
    assert seen_by_both(closed, plan) == []


@pytest.mark.parametrize(("reopens_on", "can_be_planned"), [(7, True), (8, False)])
def test_no_jars_are_planned_to_rest_in_a_kitchen_that_is_closed_for_over_a_week(
    reopens_on: int, can_be_planned: bool
) -> None:
    asked = order(2, 3)
    today, *later = asked.kitchen.open_spans
    opens = (today, *(span for span in later if span.starts_min >= reopens_on * 1440))
    away = replace(asked, kitchen=replace(asked.kitchen, open_spans=opens))
    first = first_plan(away)
    plan = improved(away, first, EFFORT)
    assert isinstance(first, Plan) == isinstance(plan, Plan) == can_be_planned
    if isinstance(plan, Plan):
        assert seen_by_both(away, plan) == []
    else:
        assert plan.proven


def shares(**limits: int) -> Shares:
    """Nobody has anything yet; it is the first of January 1970, at midnight in UTC."""
    return Shares(FairUse(Limits(**limits)), UTC, EPOCH, {})


@pytest.mark.parametrize(
    "limits",
    [
        pytest.param({"canner_minutes_a_week": 200}, id="canner hours"),
        pytest.param({"days_ahead": 1}, id="days ahead"),
        pytest.param({"open_bookings": 2}, id="open bookings"),
    ],
)
def test_no_member_gets_more_than_their_share(limits: dict[str, int]) -> None:
    asked = order(6, 3)
    first = first_plan(asked)
    assert isinstance(first, Plan)
    fair = replace(asked, shares=shares(**limits))
    plan = improved(fair, first_plan(fair), EFFORT)
    if isinstance(plan, Plan):
        assert seen_by_both(fair, plan) == []
    else:
        assert plan.proven
        assert any("share" in fault for fault in faults(fair, first.timed, first.moves))


def test_the_canner_minutes_of_a_week_send_a_batch_to_the_next() -> None:
    asked = order(1, 1)
    member = asked.batches[0].member_id
    had = Use(Span(0, 600), (Span(0, 600),), is_open=False)
    limited = Shares(FairUse(Limits(canner_minutes_a_week=640)), UTC, EPOCH, {member: (had,)})
    week = replace(asked, within=Span(0, 7 * 1440), kitchen=kitchen(7), shares=limited)
    for plan in (first_plan(week), improved(week, NoPlan(False, ()), EFFORT)):
        assert isinstance(plan, Plan)
        assert plan.timed[0].placed.prep_min >= 4 * 1440  # the first of January 1970 was a Thursday
        assert list(faults(week, plan.timed, plan.moves)) == []


def test_canners_stand_about_no_longer_than_without_that_goal() -> None:
    asked = order(8, 1)
    plan = improved(asked, first_plan(asked), EFFORT)
    assert isinstance(plan, Plan)
    reached = plan.goals[Goal.IDLE]
    assert 0 <= reached.bound <= reached.minutes
    assert reached.minutes == measured(asked, plan.timed)[Goal.IDLE]


def test_the_solver_stops_when_its_time_is_up() -> None:
    asked = order(24, 2, nominal_days=1)
    first, started = first_plan(asked), monotonic()
    improved(asked, first, Effort(1.0))
    assert monotonic() - started < 10  # a busy machine builds the model slowly
