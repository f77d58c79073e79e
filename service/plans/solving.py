"""The process that solves plans: kept warm, and apart, so that a request never waits for it nor falls with it."""

import multiprocessing
import signal
from dataclasses import dataclass, replace
from multiprocessing.connection import Connection
from time import monotonic

from service.core.scheduling.planning import NoPlan, Plan, Reached, first_plan, improved
from service.core.scheduling.solving import Effort
from service.core.scheduling.timetables import Goal, Order

LEAST_SECONDS = 0.5


@dataclass(frozen=True, slots=True)
class Last:
    """The plan it is done with."""

    plan: Plan | NoPlan


Said = Plan | NoPlan | tuple[Goal, Reached] | Last


class Solver:
    """A process of its own that is given one order at a time and says what it finds until it is done."""

    def __init__(self) -> None:
        """Start the process, which knows the solver half a second after its first order."""
        context = multiprocessing.get_context("spawn")
        self._ours, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs,), daemon=True, name="planner")
        self._process.start()
        theirs.close()

    def order(self, order: Order, effort: Effort) -> None:
        """Hand over what is to be planned."""
        self._ours.send((order, effort))

    def said(self, within_seconds: float) -> Said | None:
        """Listen for what it says next: a first plan, how far it got, the last plan. EOFError if it died."""
        return self._ours.recv() if self._ours.poll(within_seconds) else None

    def stop(self) -> None:
        """End it at once, whatever it is doing."""
        self._process.kill()
        self._process.join()
        self._ours.close()


def _serve(pipe: Connection) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the service that started it decides when it ends
    while True:
        try:
            order, effort = pipe.recv()
        except EOFError:
            return
        started = monotonic()
        first = first_plan(order)
        pipe.send(first)
        if not effort.repeatable:
            left = max(effort.seconds - (monotonic() - started), LEAST_SECONDS)
            effort = replace(effort, seconds=left, clock=monotonic)
        last = improved(order, first, effort, lambda goal, reached: pipe.send((goal, reached)))
        pipe.send(Last(last))
