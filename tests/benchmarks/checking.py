"""What a recipe check costs a worker over HTTP, beside a bare application that validates and echoes the same body.

Requests a second are those of the worker's processor: the time its threads ran, so that neither the client nor other
work on the machine counts.
"""

import json
from collections.abc import Callable, Iterator
from statistics import median
from time import process_time

from service.core.rules.check import check
from service.database.engine import open_engine
from service.database.migrating import migrate
from service.published.loading import facts
from tests.benchmarks.checks import BATCH, INGREDIENTS, read, recipe
from tests.benchmarks.measuring import Row, Server, bare, row, service
from tests.benchmarks.reading import places
from tests.checks.tested_recipes import body_of, cells

ROUNDS = 8
A_ROUND = 60
CHECKS_A_SECOND = 5000


def measured() -> Iterator[Row]:
    """Rows for one check, for the pure core alone, and for a batch."""
    sent = [{"altitude_ft": 0, **_without_nothing(body_of(cell))} for cell in cells()]
    twelves = [json.dumps(body).encode() for body in sent if len(body["ingredients"]) == INGREDIENTS]
    batch = sent[:: len(sent) // BATCH][:BATCH]
    figures, whole = facts(), json.dumps({"recipes": batch}).encode()
    known = [recipe(read(json.dumps(body)), 0) for body in batch]
    twelve = [recipe(read(text.decode()), 0) for text in twelves]
    taken: dict[str, list[float]] = {}
    with places("sqlite", [0]) as (url,):
        opened = open_engine(url)
        migrate(opened)
        opened.close()
        with service(url) as ours, bare("echo") as floor:
            works: dict[str, tuple[Callable[[], float], Callable[[], object], int]] = {
                "check": (*_asked(ours, "/v1/recipe-checks", twelves), A_ROUND),
                "echo": (*_asked(floor, "/echo", twelves), A_ROUND),
                "batch": (*_asked(ours, "/v1/recipe-checks/batch", [whole], 1), BATCH),
                "core": (process_time, lambda: [check(each, figures) for each in known], BATCH),
                "core of 12": (process_time, lambda: [check(each, figures) for each in twelve], len(twelve)),
            }
            for number in range(ROUNDS + 1):
                for name, (clock, work, recipes) in works.items():
                    began = clock()
                    work()
                    if number:
                        taken.setdefault(name, []).append((clock() - began) / recipes)
    rate = {name: 1 / median(seconds) for name, seconds in taken.items()}
    unit = "per second"
    yield row(f"check of {INGREDIENTS} ingredients: bare echo", "", unit, rate["check"], rate["echo"], "at least 0.5")
    yield row(
        f"core check of {INGREDIENTS}: {CHECKS_A_SECOND}", "", unit, rate["core of 12"], CHECKS_A_SECOND, "at least 1"
    )
    yield row(f"batch of {BATCH}: core check of the same", "", unit, rate["batch"], rate["core"], "at least 0.8")


def _without_nothing(body: dict) -> dict:
    return {name: value for name, value in body.items() if name != "altitude_ft" or value is not None}


def _asked(
    server: Server, path: str, bodies: list[bytes], times: int = A_ROUND
) -> tuple[Callable[[], float], Callable[[], object]]:
    def work() -> None:
        for number in range(times):
            server.ask("POST", path, bodies[number % len(bodies)])

    return lambda: server.processor, work
