"""How soon a worker answers and what memory it has, beside a bare application of FastAPI and SQLModel.

It tells how it is before all of it is loaded; how soon it answers anything else, and its memory then, are told as well.
"""

import compileall
import time
from collections.abc import Iterator
from statistics import median

from service.database.engine import open_engine
from service.database.migrating import migrate
from tests.benchmarks.measuring import ROOT, Row, bare, row, service
from tests.benchmarks.reading import places

ROUNDS = 4
NEEDS_ALL = "/problems/busy"


def measured(database: str) -> Iterator[Row]:
    ours, floor = [], []
    for folder in ("service", "tests/benchmarks/floors"):
        compileall.compile_dir(ROOT / folder, quiet=1)  # as pip does where it installs
    with places(database, [0]) as (url,):
        opened = open_engine(url)
        migrate(opened)
        opened.close()
        for number in range(ROUNDS + 1):
            began = time.perf_counter()
            with service(url) as one:
                one.ask("GET", NEEDS_ALL)
                ours.append((one.first_answer, time.perf_counter() - began, one.memory))
            with bare("rows", BENCH_DATABASE_URL=url) as one:
                floor.append((one.first_answer, one.first_answer, one.memory))
            if number == 0:  # it filled the machine's cache of files
                ours.clear()
                floor.clear()
    told = (
        ("start to first answer", "s", "at most 1.5"),
        ("start to an answer that needs all", "s", ""),
        ("memory of an idle worker", "MiB", "at most 1.5"),
    )
    for place, (what, unit, goal) in enumerate(told):
        middle = [median(each[place] for each in side) for side in (ours, floor)]
        yield row(f"{what}: bare app", database, unit, middle[0], middle[1], goal)
