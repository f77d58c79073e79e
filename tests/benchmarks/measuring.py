"""Rows of the table, and the ways to come by their figures: always beside a floor, in turns, in one run."""

import http.client
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from math import ceil, log
from pathlib import Path
from statistics import linear_regression, median

from tests import ports

START_SECONDS = 120
IDLE_SECONDS = 2  # the server closes what is idle for five
ROOT = Path(__file__).parents[2]


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that was measured: ours and the floor in `unit`, and what `ratio`, ours by the floor, should be."""

    what: str
    database: str  # `sqlite`, `postgresql`, or nothing where none takes part
    unit: str
    ours: float
    floor: float
    ratio: float
    goal: str  # `at most` or `at least` and a number; nothing where the row is there to compare with

    @property
    def met(self) -> bool | None:
        """Whether the goal is met; None where there is none."""
        if not self.goal:
            return None
        word, number = self.goal.rsplit(" ", 1)
        return self.ratio <= float(number) if word == "at most" else self.ratio >= float(number)


def row(what: str, database: str, unit: str, ours: float, floor: float, goal: str = "") -> Row:
    return Row(what, database, unit, ours, floor, ours / floor, goal)


def in_turns(works: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, list[float]]:
    """Seconds by the clock of each piece of work in each round, after one round that warms up."""
    taken: dict[str, list[float]] = {name: [] for name in works}
    for number in range(rounds + 1):
        for name, work in works.items():
            began = time.perf_counter()
            work()
            if number:
                taken[name].append(time.perf_counter() - began)
    return taken


def p99(seconds: Sequence[float]) -> float:
    return sorted(seconds)[ceil(len(seconds) * 0.99) - 1]


def exponent(sizes: Sequence[int], seconds: Sequence[float]) -> float:
    """The power of the size with which the time grows: the slope of a line through the logarithms of both."""
    return linear_regression([log(size) for size in sizes], [log(each) for each in seconds]).slope


class Client:
    """A connection that is kept open, as one client has it."""

    def __init__(self, port: int) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self.used_at = 0.0

    def ask(self, method: str, path: str, body: bytes | None = None, headers: Mapping[str, str] | None = None) -> bytes:
        """The body of an answer; anything but a success stops the run, since a quick refusal is no speed."""
        if time.monotonic() - self.used_at > IDLE_SECONDS:
            self.connection.close()
        kind = {"Content-Type": "application/json"} if body else {}
        self.connection.request(method, path, body, {**kind, **(headers or {})})
        answer = self.connection.getresponse()
        said = answer.read()
        self.used_at = time.monotonic()
        if answer.status not in (200, 201):
            raise RuntimeError(f"{method} {path}: {answer.status} {said[:500]!r}")
        return said


class Server:
    """A process that serves on loopback, and a client of it."""

    def __init__(self, command: Sequence[str], environment: Mapping[str, str], first_path: str) -> None:
        """Start it; `first_answer` is the seconds until `first_path` was answered with 200."""
        self.port = ports.free()
        began = time.perf_counter()
        self.process = subprocess.Popen(
            [*command, f"--port={self.port}"],
            env={**os.environ, **environment},
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        while not self._answers(first_path):
            if self.process.poll() is not None or time.perf_counter() - began > START_SECONDS:
                self.process.kill()
                raise RuntimeError(f"{command} didn't start.")
            time.sleep(0.005)
        self.first_answer = time.perf_counter() - began
        self.ask = Client(self.port).ask

    def _answers(self, path: str) -> bool:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request("GET", path)
            return connection.getresponse().status == 200
        except ConnectionError:
            return False
        finally:
            connection.close()

    @property
    def memory(self) -> float:
        """What the process has in memory now, in MiB."""
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="utf-8").splitlines()
        return next(int(line.split()[1]) for line in status if line.startswith("VmRSS:")) / 1024

    @property
    def processor(self) -> float:
        """The seconds of a processor that its threads have used."""
        tasks = Path(f"/proc/{self.process.pid}/task").iterdir()
        return sum(int((task / "schedstat").read_text(encoding="utf-8").split()[0]) for task in tasks) / 1e9

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(60)


@contextmanager
def service(url: str) -> Iterator[Server]:
    """Our service as a host starts it, with one worker and no allowances."""
    command = [str(Path(sys.executable).with_name("canning-kitchen")), "serve", "--no-migrate"]
    yield from _running(command, {"CANNING_DATABASE_URL": url, "CANNING_LIMITS": "false"}, "/readyz")


@contextmanager
def bare(app: str, **environment: str) -> Iterator[Server]:
    """A bare application of `floors`, under the same server."""
    command = [sys.executable, "-m", "uvicorn", f"tests.benchmarks.floors.{app}:app", "--no-access-log"]
    yield from _running(command, environment, "/ready")


def _running(command: Sequence[str], environment: Mapping[str, str], first_path: str) -> Iterator[Server]:
    server = Server(command, environment, first_path)
    try:
        yield server
    finally:
        server.stop()


def millis(seconds: Sequence[float]) -> float:
    return median(seconds) * 1000
