"""The planner of a running service: takes one queued plan after another, and writes what came of it."""

from collections.abc import Callable
from datetime import UTC, datetime
from threading import Lock, Thread
from time import monotonic
from uuid import UUID

from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session

from service.core.refusals import Refused
from service.core.scheduling.planning import NoPlan, Plan
from service.core.scheduling.solving import Effort
from service.core.scheduling.timetables import Order
from service.core.scheduling.verifying import faults
from service.database.engine import Database
from service.plans import store
from service.plans.ordering import order
from service.plans.solving import Last, Solver
from service.plans.store import KeptPlan
from service.plans.tables import PlanStatus
from service.web import metrics
from service.web.envelope import ERRORS, without_words

LISTEN_SECONDS = 0.2
BEAT_SECONDS = 1.0
GRACE_SECONDS = 60  # beyond its own limit, for a first plan and the units of the last one
MOST_TRIES = 3
STOPPED = "The planner was stopped more than once while it worked on this; order it again."
FAULTY = "The plan didn't pass the last look at its constraints; it isn't offered."
BROKE_OFF = "The planner broke off for a fault of its own; the log has it."
TOO_MUCH = "No timetable holds all of these batches in this time."
WITHIN_LIMITS = " Every member keeps to the limits of fair use."
NONE_FOUND = "No timetable for all of these batches was found in the time it was given."


class Planner:
    """A thread while there is something to plan, and the solver's process, kept warm from the first plan on."""

    def __init__(self, database: Database, clock: Callable[[], datetime]) -> None:
        """Know the database and the kitchen's time; start nothing yet."""
        self._database = database
        self._clock = clock
        self._lock = Lock()
        self._thread: Thread | None = None
        self._woken = self._stopping = False
        self._solver: Solver | None = None

    def start(self) -> None:
        """Go on with what a service before this one left."""
        with Session(self._database.reader) as session:
            left = store.unfinished(session)
        if left:
            self.wake()

    def wake(self) -> None:
        """Look for plans that wait."""
        with self._lock:
            self._woken = True
            if self._thread is None and not self._stopping:
                self._thread = Thread(target=self._work, name="planner", daemon=True)
                self._thread.start()

    def stop(self) -> None:
        """Stop at once; a plan that is being worked on goes back to the queue."""
        with self._lock:
            self._stopping = True
            thread = self._thread
        if thread:
            thread.join()
        self._end_solver()

    def _work(self) -> None:
        while self._goes_on():
            try:
                while not self._stopping and (kept := self._next()):
                    self._try(kept)
            except Exception as error:  # whatever it was: the next plan to be ordered finds a planner
                ERRORS.error("planner lost its database, or its way: %s", without_words(error))

    def _goes_on(self) -> bool:
        with self._lock:
            if self._stopping or not self._woken:
                self._thread = None
                return False
            self._woken = False
            return True

    def _next(self) -> KeptPlan | None:
        with Session(self._database.writer, expire_on_commit=False) as session:
            kept = store.take_next(session, _now())
            session.commit()
            return kept

    def _try(self, kept: KeptPlan) -> None:
        """Plan, or say that it can't be done; a plan at which the planner fails keeps no other from its turn."""
        try:
            self._plan(kept)
        except SQLAlchemyError:
            raise
        except Exception as error:
            ERRORS.error("plan %s failed: %s", kept.plan.id, without_words(error))
            self._end_solver()
            self._finish(kept.plan.id, PlanStatus.CANCELLED, BROKE_OFF)

    def _plan(self, kept: KeptPlan) -> None:
        plan_id = kept.plan.id
        if kept.plan.tries > MOST_TRIES:
            self._finish(plan_id, PlanStatus.CANCELLED, STOPPED)
            return
        with Session(self._database.reader) as session:
            asked = order(session, kept, self._clock())
        if isinstance(asked, Refused):
            self._finish(plan_id, PlanStatus.INFEASIBLE, asked.detail)
            return
        started = monotonic()
        try:
            made = self._solved(kept, asked)
        except (EOFError, OSError):  # its process died: killed, or out of memory
            self._end_solver()
            made = None
        metrics.PLAN_SECONDS.observe(monotonic() - started)
        if made is None:
            self._put_back(plan_id)
        elif isinstance(made, NoPlan):
            within = WITHIN_LIMITS if asked.shares else ""
            self._finish(plan_id, PlanStatus.INFEASIBLE, (TOO_MUCH if made.proven else NONE_FOUND) + within, made)
        else:
            self._propose(kept, asked, made)

    def _solved(self, kept: KeptPlan, asked: Order) -> Plan | NoPlan | None:
        """The plan that the solver is done with, or the best when its time is up; `None` if nobody wants it now."""
        seconds, seed = kept.plan.time_limit_seconds, kept.plan.seed
        solver = self._solver = self._solver or Solver()
        solver.order(asked, Effort(seconds, seed is not None, seed or 0))
        best: Plan | NoPlan | None = None
        progress = None
        until, next_beat = monotonic() + seconds + GRACE_SECONDS, monotonic() + BEAT_SECONDS
        while not self._stopping:
            said = solver.said(LISTEN_SECONDS)
            if isinstance(said, Last):
                return said.plan
            if isinstance(said, Plan | NoPlan):
                best = said
            elif said:
                progress = store.told(*said)
            if monotonic() > next_beat:
                next_beat = monotonic() + BEAT_SECONDS
                if not self._beat(kept.plan.id, progress):
                    break
            if monotonic() > until:
                break
        self._end_solver()
        return None if self._stopping else best

    def _propose(self, kept: KeptPlan, asked: Order, made: Plan) -> None:
        wrong = list(faults(asked, made.timed, made.moves))
        if wrong:
            ERRORS.error("plan %s: %s", kept.plan.id, " ".join(wrong))
            self._finish(kept.plan.id, PlanStatus.CANCELLED, FAULTY)
            return
        with Session(self._database.writer) as session:
            store.propose(session, kept, made, asked.begun)
            session.commit()
        metrics.PLANS.labels("proposed").inc()
        for goal, reached in made.goals.items():
            metrics.PLAN_GAP.labels(goal).observe((reached.minutes - reached.bound) / max(reached.minutes, 1))

    def _beat(self, plan_id: UUID, progress: dict[str, object] | None) -> bool:
        with Session(self._database.writer) as session:
            wanted = store.beat(session, plan_id, _now(), progress)
            session.commit()
            return wanted

    def _finish(self, plan_id: UUID, status: PlanStatus, reason: str, made: NoPlan | None = None) -> None:
        found = {"without_place": [each.int - 1 for each in made.without_place]} if made else None
        with Session(self._database.writer) as session:
            store.finish(session, plan_id, status, reason, found)
            session.commit()
        metrics.PLANS.labels(status).inc()

    def _put_back(self, plan_id: UUID) -> None:
        with Session(self._database.writer) as session:
            store.put_back(session, plan_id)
            session.commit()

    def _end_solver(self) -> None:
        if self._solver:
            self._solver.stop()
            self._solver = None


def _now() -> datetime:
    """The time by this machine: a sign of life has nothing to do with the kitchen's clock."""
    return datetime.now(UTC)
