"""How much memory planning takes: the planner's own process, and the process of the service that waits for it."""

from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from os import getpid
from pathlib import Path
from tempfile import TemporaryDirectory

from service.app import create_app
from service.core.scheduling.solving import Effort
from service.plans.solving import Last, Solver
from service.settings import Settings
from tests.core.scheduling.days import order

PATIENCE_SECONDS = 300


@dataclass(frozen=True)
class Memory:
    """The most that each process had in memory at a time, in MiB."""

    planner: float
    service: float


def measured(batches: int, seconds: float) -> Memory:
    """Plan so many batches in a fresh process that has the whole service loaded, and look how large both became."""
    with ProcessPoolExecutor(1, get_context("spawn")) as fresh:
        return fresh.submit(_planned, batches, seconds).result()


def _planned(batches: int, seconds: float) -> Memory:
    with TemporaryDirectory() as folder:
        app = create_app(Settings(database_url=f"sqlite:///{folder}/empty.db"))
        solver = Solver()
        solver.order(order(batches, 1), Effort(seconds))
        while not isinstance(said := solver.said(PATIENCE_SECONDS), Last):
            assert said is not None, "the planner said nothing for minutes"
        assert solver._process.pid is not None
        found = Memory(_most(solver._process.pid), _most(getpid()))
        solver.stop()
        del app
    return found


def _most(pid: int) -> float:
    status = Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines()
    kibibytes = next(int(line.split()[1]) for line in status if line.startswith("VmHWM:"))
    return kibibytes / 1024
