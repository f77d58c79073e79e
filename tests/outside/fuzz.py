"""Send the service what nobody would, at length, and hold every answer against the contract.

`python -m tests.outside.fuzz [--examples 50] [--start N] [--database sqlite|postgresql]` makes so many good and so many
bad requests for each operation from the contract and sends each as a coordinator and as a member.
`python -m tests.outside.fuzz lines [--seconds 300]` reads made-up ingredient lines: none may raise, none may take long.
"""

import argparse
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from secrets import randbelow

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.database import InMemoryExampleDatabase

from service.app import create_app
from service.database.engine import open_engine
from service.database.migrating import migrate
from service.settings import Settings
from tests import postgresql
from tests.conftest import Client, Clock, _people
from tests.core.written_lines import CAP_SECONDS, lines, read_in
from tests.web import fuzzing


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", nargs="?", choices=("contract", "lines"), default="contract")
    parser.add_argument("--examples", type=int, default=50, help="good and bad requests for each operation")
    parser.add_argument("--start", type=int, help="where the dice start; a new place each time, if none is named")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), help="both, if none is named")
    parser.add_argument("--seconds", type=float, default=300, help="how long lines are made up")
    given_ = parser.parse_args()
    if given_.what == "lines":
        return _lines(given_.seconds)
    start = randbelow(2**32) if given_.start is None else given_.start
    failed = 0
    for name in [given_.database] if given_.database else ["sqlite", "postgresql"]:
        with _client(name) as client:
            made = list(fuzzing.cases(client.app.openapi(), given_.examples, start))
            seen, wrong = fuzzing.hold(client, made, start)
        print(f"{name}: {len(made)} requests made up, sent {seen.total()} times, answered {dict(sorted(seen.items()))}")
        print(f"{name}: {len(wrong)} answers the contract doesn't have (start {start})")
        print("\n\n".join(wrong[:20]))
        failed += len(wrong)
    return min(failed, 1)


def _lines(seconds: float) -> int:
    """Read made-up lines for a time."""
    until, tried, slowest = time.monotonic() + seconds, 0, (0.0, "")

    @settings(
        max_examples=2_000,
        deadline=None,
        database=InMemoryExampleDatabase(),
        phases=[Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )
    @given(lines())
    def read(line: str) -> None:
        nonlocal tried, slowest
        tried += 1
        took = read_in(line)
        slowest = max(slowest, (took, line))
        assert took < CAP_SECONDS, line

    while time.monotonic() < until:
        read()
    print(f"{tried} lines read, the slowest in {slowest[0] * 1000:.1f} ms: {slowest[1]!r}")
    return 0


@contextmanager
def _client(name: str) -> Iterator[Client]:
    with _url(name) as url:
        database = open_engine(url)
        migrate(database)
        database.close()
        clock = Clock(datetime(2027, 6, 14, 10, tzinfo=UTC))
        app = create_app(Settings(database_url=url, limits=False), clock)
        with Client(app, clock, **_people(app, clock.at)) as client:
            yield client


@contextmanager
def _url(name: str) -> Iterator[str]:
    if name == "sqlite":
        with tempfile.TemporaryDirectory() as folder:
            yield f"sqlite:///{Path(folder) / 'kitchen.db'}"
        return
    programs = postgresql.programs()
    if programs is None:
        sys.exit("PostgreSQL's initdb and pg_ctl aren't on this machine.")
    with postgresql.running(programs) as server:
        postgresql.on_server(server, "CREATE DATABASE fuzzed")
        yield server.format("fuzzed")


if __name__ == "__main__":
    sys.exit(main())
