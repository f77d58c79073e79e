"""How good day plans are, beside simpler ways to share a kitchen: `python -m tests.benchmarks.day_plans [--seconds N]`.

The same invented day four ways, for each number of batches and each seed: a paper sign-up sheet, on which each batch
takes a table, burners and a canner for its whole span in half hours, first come, first served; the earliest fit to
five minutes in the order of asking; the earliest fit in the order of due times; and the planner, whose timetable is
looked over by the verifier. Lateness and makespan are in minutes and don't depend on the machine; seconds do. Last
comes the memory of the planner's process and of the service's while 40 batches are planned.
"""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from statistics import mean
from time import monotonic
from uuid import UUID

from service.core.scheduling.chains import Canner, Chain, Cycle
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.planning import Plan, first_plan, improved, measured
from service.core.scheduling.seating import greedy, sort_of
from service.core.scheduling.solving import Effort
from service.core.scheduling.spans import Span
from service.core.scheduling.timetables import Batch, Goal, Order
from service.core.scheduling.verifying import faults
from tests.benchmarks import plan_memory
from tests.core.scheduling.days import order

SIZES = (8, 20, 40)
SEEDS = (1, 2, 3)
SECONDS = {8: 5, 20: 5, 40: 20}
HALF_HOUR = 30


@dataclass
class Sheet:
    """Half hours of each unit that somebody has signed up for."""

    taken: dict[UUID, list[Span]] = field(default_factory=dict)

    def free(self, units: Sequence[UUID], span: Span) -> list[UUID]:
        return [unit for unit in units if not any(span.overlaps(each) for each in self.taken.get(unit, ()))]

    def sign(self, units: Sequence[UUID], span: Span) -> None:
        for unit in units:
            self.taken.setdefault(unit, []).append(span)


def on_paper(asked: Order) -> tuple[int, int]:
    """Lateness and makespan by the sign-up sheet."""
    sheet, hands = Sheet(), dict[UUID, list[Span]]()
    late, last, opens = 0, 0, asked.kitchen.usable_spans[0].starts_min
    for batch in asked.batches:
        ends, out = _signed(asked, sheet, hands.setdefault(batch.member_id, []), batch)
        late += batch.weight * max(0, out - batch.due_min)
        last = max(last, ends)
    return late, last - opens


def _signed(asked: Order, sheet: Sheet, hands: list[Span], batch: Batch) -> tuple[int, int]:
    """The first time in half hours at which everything is free for the whole batch: its end, and when jars are out."""
    chain = batch.chains[0]
    free_minutes = _minutes(chain, lambda cycle: cycle.free_after_minutes)
    out_minutes = _minutes(chain, lambda cycle: cycle.out_after_minutes)
    whole = -(-free_minutes // HALF_HOUR) * HALF_HOUR
    units = {kind: _units(asked, kind) for kind in EquipmentKind}
    canners = [unit for unit, sort in _sorts(asked).items() if all(load.fits(sort) for load in chain.loads)]
    for day in asked.kitchen.usable_spans:
        for start in range(day.starts_min, day.ends_min - whole + 1, HALF_HOUR):
            span = Span(start, start + whole)
            found = [
                sheet.free(units[EquipmentKind.TABLE], span)[:1],
                sheet.free(units[EquipmentKind.BURNER], span)[: 1 + len(chain.loads)],
                sheet.free(canners, span)[: len(chain.loads)],
            ]
            enough = [len(each) for each in found] == [1, 1 + len(chain.loads), len(chain.loads)]
            if start >= batch.release_min and enough and not any(span.overlaps(each) for each in hands):
                for each in found:
                    sheet.sign(each, span)
                hands.append(span)
                return span.ends_min, start + out_minutes + chain.hands_minutes
    raise RuntimeError("The sheet has too few days.")


def _minutes(chain: Chain, figure: Callable[[Cycle], int]) -> int:
    """From the start to such a moment of the last load, with no wait in between."""
    before = chain.prep_minutes + chain.cook_minutes
    return before + max(
        (place + 1) * chain.fill_minutes + max(figure(cycle) for cycle in load.cycles.values())
        for place, load in enumerate(chain.loads)
    )


def _units(asked: Order, kind: EquipmentKind) -> list[UUID]:
    return [piece.resource.equipment_id for piece in asked.kitchen.pieces if piece.kind is kind]


def _sorts(asked: Order) -> dict[UUID, Canner]:
    return {piece.resource.equipment_id: sort for piece in asked.kitchen.pieces if (sort := sort_of(piece))}


@dataclass(frozen=True)
class Measured:
    """One day: lateness and makespan each way, how good the plan is, and the seconds to the first and to the last."""

    lateness: tuple[int, int, int, int]  # sheet, first come, by due, planner
    makespan: tuple[int, int, int, int]
    bound: int
    gap: float
    makespan_gap: float
    idle: int
    first_seconds: float
    seconds: float


def measure(batches: int, seed: int, seconds: float) -> Measured:
    asked = order(batches, seed)
    ways = [on_paper(asked)]
    for queue in (asked.batches, sorted(asked.batches, key=lambda batch: batch.due_min)):
        goals = measured(asked, greedy(asked, queue).timed)
        ways.append((goals[Goal.LATENESS], goals[Goal.MAKESPAN]))
    started = monotonic()
    first = first_plan(asked)
    first_seconds = monotonic() - started
    plan = improved(asked, first, Effort(max(seconds - first_seconds, 1), clock=monotonic))
    took = monotonic() - started
    if not isinstance(plan, Plan) or list(faults(asked, plan.timed, plan.moves)):
        raise RuntimeError(f"{batches} batches, seed {seed}: no plan, or one that breaks a constraint.")
    lateness, makespan = plan.goals[Goal.LATENESS], plan.goals[Goal.MAKESPAN]
    ways.append((lateness.minutes, makespan.minutes))
    lates, spans = zip(*ways, strict=True)
    return Measured(
        lates,
        spans,
        lateness.bound,
        _gap(lateness.minutes, lateness.bound),
        _gap(makespan.minutes, makespan.bound),
        plan.goals[Goal.IDLE].minutes,
        first_seconds,
        took,
    )


def _gap(minutes: int, bound: int) -> float:
    return (minutes - bound) / max(1, minutes)


def main() -> int:
    parser = argparse.ArgumentParser(description="Compare day plans with simpler ways.")
    parser.add_argument("--seconds", type=float, help="for each plan, instead of 5 and for 40 batches 20")
    asked = parser.parse_args()
    head = ("batches", "seed", "sheet", "fcfs", "edd", "plan", "bound", "gap", "span gap", "idle", "first s", "all s")
    print("".join(f"{each:>9}" for each in head), " makespan of sheet, fcfs, edd / plan")
    for size in SIZES:
        found = []
        for seed in SEEDS:
            one = measure(size, seed, asked.seconds or SECONDS[size])
            found.append(one)
            numbers = (size, seed, *one.lateness, one.bound)
            ratios = ", ".join(f"{span / one.makespan[3]:.2f}" for span in one.makespan[:3])
            print(
                "".join(f"{each:>9}" for each in numbers)
                + f"{one.gap:9.1%}{one.makespan_gap:9.1%}{one.idle:>9}"
                + f"{one.first_seconds:9.2f}{one.seconds:9.2f}  {ratios}",
                flush=True,
            )
        means = (mean(one.lateness[way] for one in found) for way in range(4))
        print(f"{size:>9}{'mean':>9}" + "".join(f"{each:>9.0f}" for each in means), flush=True)
    used = plan_memory.measured(SIZES[-1], asked.seconds or SECONDS[SIZES[-1]])
    print(
        f"memory while {SIZES[-1]} batches are planned: planner {used.planner:.0f} MiB, service {used.service:.0f} MiB"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
