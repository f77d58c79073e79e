"""What is counted of a service at work, for Prometheus: by route template, code and verdict, never by member or id."""

import os
from pathlib import Path

from prometheus_client import (
    CONTENT_TYPE_PLAIN_0_0_4,
    REGISTRY,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    generate_latest,
)
from prometheus_client.multiprocess import MultiProcessCollector, mark_process_dead

MEDIA_TYPE = CONTENT_TYPE_PLAIN_0_0_4
FOLDER = "PROMETHEUS_MULTIPROC_DIR"  # where several workers keep what they count, so that any of them can tell

REQUEST_SECONDS = Histogram(
    "canning_request_seconds",
    "How long a request took, waiting at the gate included.",
    ["method", "route"],
    buckets=(0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 20),
)
ANSWERS = Counter("canning_answers", "Answers by status.", ["method", "route", "status"])
PROBLEMS = Counter("canning_problems", "What was refused or failed, by its code.", ["route", "code"])
VERDICTS = Counter("canning_recipe_checks", "Recipes checked, by verdict.", ["verdict"])
WAITING = Gauge("canning_gate_waiting", "Requests that wait at the gate.", multiprocess_mode="livesum")
PLANS = Counter("canning_plans", "Day plans done with, by what became of them.", ["status"])
PLAN_SECONDS = Histogram(
    "canning_plan_seconds",
    "How long a day plan was worked on.",
    buckets=(0.1, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300),
)
PLAN_GAP = Histogram(
    "canning_plan_gap",
    "How far a proposed plan may be from the best, as a part of its value; 0 is proven best.",
    ["goal"],
    buckets=(0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1),
)


def written() -> bytes:
    """Everything that was counted, by all workers of this service."""
    folder = os.environ.get(FOLDER)
    if folder is None:
        return generate_latest(REGISTRY)
    _forget_the_dead(Path(folder))
    registry = CollectorRegistry()
    MultiProcessCollector(registry, folder)  # type: ignore[no-untyped-call]
    return generate_latest(registry)


def _forget_the_dead(folder: Path) -> None:
    """A worker that was killed waits no more, but its counts stay."""
    for file in folder.glob("gauge_live*_*.db"):
        pid = int(file.stem.rpartition("_")[2])
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            mark_process_dead(pid, str(folder))  # type: ignore[no-untyped-call]
