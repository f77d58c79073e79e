"""Everything that is to be fast beside the floor this machine allows, in one table:
`python -m tests.benchmarks [checks reading writing planning starting] [--database sqlite] [--json FILE]`.

Each row has ours and a floor measured in the same run, in turns with it, and their ratio, which is what counts: there
most of what else the machine does cancels out. DEVELOPERS.md says how to read it. Exit status 1 if a goal is missed.
"""

import argparse
import json
import os
import sys
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from time import monotonic

from tests.benchmarks import checking, plan_memory, reading, slot_search, starting, writing
from tests.benchmarks.measuring import Row, row

PARTS = ("checks", "reading", "writing", "planning", "starting")
DATABASES = ("sqlite", "postgresql")
MOVEMENTS = 1_000_000
MOST_MEMORY = 300  # MiB, of the planner's process and the service's each
BATCHES, PLAN_SECONDS = 40, 20


def rows(parts: list[str], databases: list[str], movements: int) -> Iterator[Row]:
    if "checks" in parts:
        yield from checking.measured()
    if "planning" in parts:
        yield from planning()
    for database in databases:
        if "reading" in parts:
            yield from reading.measured(database, movements)
        if "writing" in parts:
            yield from writing.measured(database)
        if "starting" in parts:
            yield from starting.measured(database)


def planning() -> Iterator[Row]:
    small, large = slot_search.measured()
    few, many = slot_search.BOOKINGS
    yield row(f"search for a batch, {many:,} bookings: {few:,}", "sqlite", "ms", large, small, "at most 2")
    used = plan_memory.measured(BATCHES, PLAN_SECONDS)
    for whose, mebibytes in (("planner", used.planner), ("service", used.service)):
        what = f"memory of the {whose} planning {BATCHES}: {MOST_MEMORY}"
        yield row(what, "", "MiB", mebibytes, MOST_MEMORY, "at most 1")


def main() -> int:
    parser = argparse.ArgumentParser(description="Compare the service with the floor the machine allows.")
    parser.add_argument("parts", nargs="*", metavar="PART", help=f"of {', '.join(PARTS)}; all, if none is named")
    parser.add_argument("--database", choices=DATABASES, help="both, if none is named")
    parser.add_argument("--movements", type=int, default=MOVEMENTS, help="in the largest ledger")
    parser.add_argument("--json", type=Path, help="where to write the table as JSON")
    given = parser.parse_args()
    if unknown := set(given.parts) - set(PARTS):
        parser.error(f"There is no {', '.join(sorted(unknown))}.")
    began, measured = monotonic(), []
    print(
        f"{'what: beside what':58} {'database':11} {'ours':>10} {'floor':>10} {'unit':11} {'ratio':>7}  goal",
        flush=True,
    )
    for each in rows(
        given.parts or list(PARTS), [given.database] if given.database else list(DATABASES), given.movements
    ):
        measured.append(each)
        said = {None: "", True: ", met", False: ", MISSED"}[each.met]
        print(
            f"{each.what:58} {each.database:11} {each.ours:10.4g} {each.floor:10.4g} {each.unit:11} {each.ratio:7.2f}"
            f"  {each.goal}{said}",
            flush=True,
        )
    load = os.getloadavg()[0]
    print(f"{monotonic() - began:.0f} s, load {load:.1f} at the end")
    if given.json:
        table = [{**asdict(each), "met": each.met} for each in measured]
        given.json.write_text(json.dumps({"load": load, "rows": table}, indent=2) + "\n", encoding="utf-8")
    return 1 if any(each.met is False for each in measured) else 0


if __name__ == "__main__":
    sys.exit(main())
