"""How soon a worker answers and what memory it has then, beside a bare application of FastAPI and SQLModel."""

from collections.abc import Iterator
from statistics import median

from service.database.engine import open_engine
from service.database.migrating import migrate
from tests.benchmarks.measuring import Row, bare, row, service
from tests.benchmarks.reading import places

ROUNDS = 4


def measured(database: str) -> Iterator[Row]:
    ours, floor = [], []
    with places(database, [0]) as (url,):
        opened = open_engine(url)
        migrate(opened)
        opened.close()
        for number in range(ROUNDS + 1):
            with service(url) as one:
                ours.append((one.first_answer, one.memory))
            with bare("rows", BENCH_DATABASE_URL=url) as one:
                floor.append((one.first_answer, one.memory))
            if number == 0:  # it filled the machine's cache of files
                ours.clear()
                floor.clear()
    for place, (what, unit) in enumerate((("start to first answer", "s"), ("memory of an idle worker", "MiB"))):
        middle = [median(each[place] for each in side) for side in (ours, floor)]
        yield row(f"{what}: bare app", database, unit, middle[0], middle[1], "at most 1.5")
