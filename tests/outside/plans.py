"""Plans in random kitchens, looked over by verifiers that know only the constraints: `python -m tests.outside.plans`.

Each kitchen has bookings, outages, pieces out of service, busy members, small racks, and perhaps a closure or limits of
fair use. Every plan has to pass both verifiers, must not be worse than first come, first served, and no goal may be
below its bound. In a second kitchen of the same seed all bookings may change their unit, as the solver takes it that
they can: there the first start that the slot search finds for one more batch has to be the first that the solver finds.
No solution may be done before the bound that is told for the makespan.
"""

import argparse
import sys
from collections import Counter
from dataclasses import dataclass, replace
from datetime import UTC
from random import Random
from uuid import UUID

from service.core.scheduling.chain_slots import Cook, Kitchen, seated
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.fair_use import FairUse, Limits, Shares
from service.core.scheduling.modelling import Model
from service.core.scheduling.planning import NoPlan, Plan, first_plan, improved
from service.core.scheduling.slots import Busy, Kind, Lanes, shut_lanes
from service.core.scheduling.solving import Effort, Outcome, solve
from service.core.scheduling.spans import EPOCH, Span
from service.core.scheduling.timetables import Goal, Order
from tests.core.scheduling.days import TRAINED, order
from tests.core.scheduling.test_planning import rank, seen_by_both

KITCHENS = 500
EFFORT = Effort(seconds=0.3, repeatable=True, seed=1)
PROOF = Effort(seconds=3, repeatable=True)
NOBODY_DUE = 10**6


@dataclass(frozen=True)
class Tried:
    """What came of one kitchen: words to count, and what is wrong."""

    counted: tuple[str, ...]
    faults: tuple[str, ...]


def planned(seed: int) -> Tried:
    """A plan of a few batches in a random kitchen."""
    asked = disturbed(seed)
    first = first_plan(asked)
    plan = improved(asked, first, EFFORT)
    if isinstance(plan, NoPlan):
        wrong = () if isinstance(first, NoPlan) else ("a first plan was lost",)
        return Tried(("no plan, proven" if plan.proven else "no plan, unproven",), wrong)
    wrong_ones = seen_by_both(asked, plan) + (seen_by_both(asked, first) if isinstance(first, Plan) else [])
    reached = {goal: each.minutes for goal, each in plan.goals.items()}
    if plan.first_come is not None and rank(reached) > rank(dict(plan.first_come)):
        wrong_ones.append("worse than first come, first served")
    if any(not 0 <= each.bound <= each.minutes for each in plan.goals.values()):
        wrong_ones.append("a goal is below its bound")
    proven = plan.goals[Goal.LATENESS].proven
    return Tried(("a plan", "with its lateness proven" if proven else "with its lateness unproven"), tuple(wrong_ones))


def first_start(seed: int) -> Tried:
    """The first start of one batch, by the slot search and by the solver."""
    asked = disturbed(seed, movable_only=True)
    batch = replace(asked.batches[0], due_min=NOBODY_DUE)
    alone = replace(asked, batches=(batch,), shares=None)
    chain = batch.chains[0]
    time = Span(max(alone.within.starts_min, batch.release_min), alone.within.ends_min)
    searched = next(seated(alone.kitchen, alone.cooks[batch.member_id], [chain], time), None)
    found = None if searched is None else searched.placed.prep_min
    model = Model(alone, {batch.id: chain}, {})
    if model.without_day:
        return Tried(("no start",), () if found is None else (f"found {found}, the model has no day for it",))
    model.problem.goals = [model.start_of(batch.id)]
    solution = solve(model.problem, PROOF)
    if solution.outcome is Outcome.UNKNOWN or not solution.proven:
        return Tried(("a first start unproven",), ())
    proven = None if solution.outcome is Outcome.IMPOSSIBLE else next(model.placed(solution.values)).placed.prep_min
    return Tried(
        ("no start" if proven is None else "the first start",),
        () if found == proven else (f"the search found {found}, the solver {proven}",),
    )


def soonest_end(seed: int) -> Tried:
    """The end of all work: no solution may have it before the bound that goes by the work of the units alone."""
    asked = disturbed(seed)
    model = Model(asked, {batch.id: batch.chains[0] for batch in asked.batches}, {})
    if model.without_day:
        return Tried(("no end",), ())
    model.problem.goals = [model.last_free]
    solution = solve(model.problem, PROOF)
    if solution.outcome is not Outcome.FOUND:
        return Tried(("no end",), ())
    (reached,), bound = solution.levels, model.soonest()
    counted = "an end unproven" if not reached.proven else "a soonest end" if bound == reached.value else "a later end"
    wrong = () if bound <= reached.value else (f"all is done in slot {reached.value}, and the bound is {bound}",)
    return Tried((counted,), wrong)


def disturbed(seed: int, *, movable_only: bool = False) -> Order:
    """A few batches in a kitchen where much is taken already."""
    random = Random(seed)
    asked = order(random.randint(1, 7), random.randrange(10_000), rack_places=random.randint(20, 60))
    pieces = []
    for number, piece in enumerate(asked.kitchen.pieces):
        busy: tuple[Busy, ...] = ()
        if random.random() < (0.8 if movable_only else 0.4):
            lanes = Lanes(0, random.randint(1, piece.resource.lanes))
            kind = Kind.BOOKING if movable_only else random.choice([Kind.BOOKING, Kind.OUTAGE])
            movable = kind is Kind.BOOKING and piece.resource.lanes == 1 and (movable_only or random.random() < 0.5)
            busy = (Busy(_time(random, while_open=movable_only), lanes, kind, UUID(int=5000 + number), movable),)
        in_service = random.random() < 0.9
        pieces.append(replace(piece, resource=replace(piece.resource, busy=busy, in_service=in_service)))
    cooks = {member_id: Cook((_time(random),), random.choice([0, 1440, TRAINED, TRAINED])) for member_id in asked.cooks}
    here = _two_racks(Kitchen(tuple(pieces), asked.kitchen.open_spans), random)
    if random.random() < 0.2:
        here = _closed(here, _time(random))
    shares = None
    if random.random() < 0.3:
        limits = Limits(random.randint(0, 3), random.randint(1, 4), random.choice([120, 240, 480]))
        shares = Shares(FairUse(limits), UTC, EPOCH, {})
    return replace(asked, kitchen=here, cooks=cooks, shares=shares)


def _two_racks(here: Kitchen, random: Random) -> Kitchen:
    """Now and then the jars stand on two smaller racks."""
    if random.random() < 0.5:
        return here
    rack = next(piece for piece in here.pieces if piece.kind is EquipmentKind.RACK)
    smaller = replace(rack.resource, lanes=rack.resource.lanes // 2 + 5, in_service=True)
    second = replace(rack, resource=replace(smaller, equipment_id=UUID(int=499), busy=()))
    others = tuple(piece for piece in here.pieces if piece is not rack)
    return replace(here, pieces=(*others, replace(rack, resource=smaller), second))


def _closed(here: Kitchen, time: Span) -> Kitchen:
    """The same with a closure; whatever it meets isn't booked any more."""
    return replace(
        here,
        pieces=tuple(
            replace(
                piece,
                resource=replace(
                    piece.resource,
                    busy=(
                        *(busy for busy in piece.resource.busy if not busy.span.overlaps(time)),
                        Busy(time, shut_lanes(piece.kind, piece.resource.lanes), Kind.CLOSURE),
                    ),
                ),
            )
            for piece in here.pieces
        ),
    )


def _time(random: Random, *, while_open: bool = False) -> Span:
    start = random.randint(96, 230) if while_open else random.randint(90, 240)
    end = start + random.randint(1, 40)
    return Span(start * 5, (min(end, 240) if while_open else end) * 5)


def main() -> int:
    parser = argparse.ArgumentParser(description="Plan in random kitchens and look the plans over.")
    parser.add_argument("--kitchens", type=int, default=KITCHENS)
    parser.add_argument("--seed", type=int, default=1, help="of the first kitchen")
    asked = parser.parse_args()
    counted, failed = Counter[str](), 0
    for seed in range(asked.seed, asked.seed + asked.kitchens):
        for tried in (planned(seed), first_start(seed), soonest_end(seed)):
            counted.update(tried.counted)
            failed += bool(tried.faults)
            for fault in tried.faults:
                print(f"kitchen {seed}: {fault}", flush=True)
    for said, count in sorted(counted.items()):
        print(f"{count:6} {said}")
    print(f"{failed:6} with faults, of {asked.kitchens} kitchens")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
