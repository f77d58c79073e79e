"""Batches that have begun and run over, in random kitchens: what has begun stays, the rest finds room or says so."""

import os
from dataclasses import replace
from uuid import UUID

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.refusals import Refused
from service.core.scheduling.bookings import Step
from service.core.scheduling.chains import hands
from service.core.scheduling.overruns import Begun, Running, all_go_on, beside, disturbed, minutes_over, running
from service.core.scheduling.planning import NoPlan, Plan, first_plan, improved
from service.core.scheduling.slots import Busy, Kind, Lanes
from service.core.scheduling.solving import Effort
from service.core.scheduling.spans import Span, at_minute, minute_of
from service.core.scheduling.timetables import Order, Timed
from service.core.scheduling.verifying import faults
from tests.core.scheduling.days import kitchen, order
from tests.core.scheduling.test_planning import seen_by_both

EXAMPLES = int(os.environ.get("PLAN_EXAMPLES", "10"))
EFFORT = Effort(seconds=0.1, repeatable=True, seed=1)


def begun_of(timed: Timed, now_min: int) -> Running:
    id_, handling = timed.batch.id, hands(timed.chain, timed.placed)
    return running(id_, timed.batch.member_id, timed.chain, timed.claims, handling, at_minute(now_min))


def again(asked: Order, before: Plan, now_min: int, minutes: int) -> tuple[Order, tuple[Running, ...]] | Refused:
    """The order of a new plan at a minute of the day when the batch that began first runs over."""
    started = [each for each in before.timed if each.placed.prep_min <= now_min < each.free_min]
    work = tuple(begun_of(each, now_min) for each in started)
    if not work:
        return asked, ()
    found = all_go_on([(each, minutes if place == 0 else 0) for place, each in enumerate(work)], asked.kitchen)
    if isinstance(found, Refused):
        return found
    here, cooks = asked.kitchen, dict(asked.cooks)
    for each in found:
        here = beside(here, each)
        member_id = each.promised.member_id
        cooks[member_id] = replace(cooks[member_id], busy=(*cooks[member_id].busy, *each.hands))
    batches = tuple(
        replace(
            each.batch,
            chains=(each.chain,),
            release_min=now_min + 5,
            promised=each.placed,
            promised_units=tuple(claim.equipment_id for claim in each.claims),
        )
        for each in before.timed
        if each.placed.prep_min > now_min
    )
    return replace(asked, kitchen=here, cooks=cooks, batches=batches, begun=found), work


@settings(max_examples=EXAMPLES)
@given(st.integers(0, 10_000), st.integers(8 * 12, 18 * 12), st.integers(1, 24))
def test_what_has_begun_never_moves_and_the_new_plan_keeps_every_constraint(seed: int, slot: int, over: int) -> None:
    asked = order(7, seed)
    before = first_plan(asked)
    assert isinstance(before, Plan)
    found = again(asked, before, slot * 5, over * 5)
    if isinstance(found, Refused):
        assert found.code in ("slot-taken", "kitchen-closed", "out-of-service")
        return
    anew, work = found
    if not work:
        return
    for was, now in zip(sorted(work, key=lambda each: each.booking_id), sorted(anew.begun, key=_id), strict=True):
        assert disturbed(now) is None
        for one, other in zip(was.claims, now.claims, strict=True):
            if minute_of(one.starts_at) <= was.since_min:  # said once more, without the code that decides it
                assert (one.equipment_id, one.starts_at) == (other.equipment_id, other.starts_at)
            assert one.step is Step.REST or other.ends_at - other.starts_at >= one.ends_at - one.starts_at
    plan = improved(anew, first_plan(anew), EFFORT)
    if isinstance(plan, NoPlan):
        return
    assert seen_by_both(anew, plan) == []
    assert all(each.placed.prep_min > slot * 5 for each in plan.timed)
    held = {(each.batch.id): each for each in plan.timed}
    for each in before.timed:
        if each.batch.id in held and not held[each.batch.id].moved:
            units = [claim.equipment_id for claim in held[each.batch.id].claims]
            forced = units != [claim.equipment_id for claim in each.claims]
            assert not forced or _in_the_way(each, anew), "another unit though nothing forced it"


def _id(begun: Begun) -> UUID:
    return begun.promised.booking_id


def _in_the_way(timed: Timed, anew: Order) -> bool:
    """Whether anything but another planned batch has a unit that was promised."""
    pieces = {piece.resource.equipment_id: piece.resource for piece in anew.kitchen.pieces}
    return any(
        busy.span.overlaps(Span(minute_of(claim.starts_at), minute_of(claim.ends_at)))
        for claim in timed.claims
        for busy in pieces[claim.equipment_id].busy
    )


def test_the_verifier_notices_a_begun_step_that_is_moved_or_cut_short() -> None:
    asked = order(9, 3)
    before = first_plan(asked)
    assert isinstance(before, Plan)
    found = again(asked, before, 11 * 60, 30)
    assert not isinstance(found, Refused)
    anew, _ = found
    plan = first_plan(anew)
    assert isinstance(plan, Plan)
    assert list(faults(anew, plan.timed, plan.moves)) == []
    begun, *others = anew.begun
    running_now = next(place for place, claim in enumerate(begun.claims) if claim.step is Step.COOK)
    for spoil in (
        {"starts_at": at_minute(begun.promised.since_min - 1)},
        {"equipment_id": UUID(int=107)},
        {"ends_at": begun.claims[running_now].starts_at},
    ):
        claims = list(begun.claims)
        claims[running_now] = replace(claims[running_now], **spoil)  # type: ignore[arg-type]
        spoilt = replace(anew, begun=(replace(begun, claims=tuple(claims)), *others))
        assert any("begun" in fault for fault in faults(spoilt, plan.timed, plan.moves))
    emptied = replace(anew, kitchen=kitchen(6))
    assert any("doesn't hold" in fault for fault in faults(emptied, plan.timed, plan.moves))


def test_a_canner_that_goes_out_of_service_can_not_be_held_longer() -> None:
    asked = order(3, 1)
    before = first_plan(asked)
    assert isinstance(before, Plan)
    first = min(before.timed, key=lambda each: each.placed.prep_min)
    batch = begun_of(first, first.placed.loads[0].in_min)
    canner = next(claim for claim in first.claims if claim.step is Step.PROCESS)
    broken = Busy(Span(minute_of(canner.ends_at), minute_of(canner.ends_at) + 60), Lanes(0, 1), Kind.OUTAGE)
    pieces = tuple(
        replace(piece, resource=replace(piece.resource, busy=(broken,)))
        if piece.resource.equipment_id == canner.equipment_id
        else piece
        for piece in asked.kitchen.pieces
    )
    refused = all_go_on([(batch, 30)], replace(asked.kitchen, pieces=pieces))
    assert isinstance(refused, Refused)
    assert refused.code == "out-of-service"


@pytest.mark.parametrize(("later", "minutes"), [(-10, 0), (0, 0), (1, 5), (40, 40), (41, 45)])
def test_how_long_a_batch_runs_over_is_rounded_up_to_the_grid(later: int, minutes: int) -> None:
    timed = first_plan(order(1, 1)).timed[0]  # type: ignore[union-attr]
    batch = begun_of(timed, timed.placed.prep_min)
    assert batch.out_min == timed.out_min
    assert minutes_over(batch, at_minute(timed.out_min + later)) == minutes
