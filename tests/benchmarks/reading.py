"""What members wait for, beside large ledgers: the service, and for what is read most the bare SQL as well.

The bare SQL is fetched by the driver as tuples and encoded, in this process. Behind a bare application it costs HTTP as
well, which nobody who asks for a page can do without: that row shows which part of the distance is ours.
"""

import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import Any
from uuid import uuid4

import psycopg
from sqlalchemy import make_url

from tests import postgresql, scratch
from tests.benchmarks.ledgers import Ledger, filled
from tests.benchmarks.measuring import Row, Server, bare, exponent, in_turns, millis, p99, row, service

ROUNDS, FEWER = 300, 25  # a 99th percentile of a hundred would be one moment that the machine was elsewhere
SMALL = 10_000  # what the largest is compared with
AT_MOST_OF_SQL, AT_MOST_OF_SMALL = "at most 2", "at most 1.3"


def measured(database: str, most: int) -> Iterator[Row]:
    """Rows for a ledger of `most` movements and for those of a tenth, a hundredth and a thousandth."""
    sizes = sorted(size for size in (most // 1000, most // 100, most // 10, most) if size >= 1000)
    with places(database, sizes) as urls, ExitStack() as stack:
        now = datetime.now(UTC)
        ledgers = [filled(url, size, now) for url, size in zip(urls, sizes, strict=True)]
        servers = [stack.enter_context(service(ledger.url)) for ledger in ledgers]
        largest = ledgers[-1]
        queries = {str(place): query for place, query in enumerate(largest.queries.values())}
        floor = stack.enter_context(bare("rows", BENCH_DATABASE_URL=largest.url, BENCH_QUERIES=json.dumps(queries)))
        cursor = stack.enter_context(_cursor(largest.url))
        for place, what in enumerate(largest.queries):
            works: dict[str, Callable[[], object]] = {
                str(ledger.movements): partial(_ask, server, ledger, what)
                for ledger, server in zip(ledgers, servers, strict=True)
            }
            works["sql"] = partial(_fetch, cursor, largest.queries[what])
            works["served sql"] = partial(floor.ask, "GET", f"/rows/{place}")
            _same_lines(what, works[str(most)], works["sql"])
            taken = in_turns(works, ROUNDS)
            large, small = taken[str(most)], taken[str(min(SMALL, most))]
            named = f"{what}, {most:,} movements"
            yield row(f"{named}: bare SQL", database, "ms", millis(large), millis(taken["sql"]), AT_MOST_OF_SQL)
            served = millis(taken["served sql"])
            yield row(f"{named}: bare SQL, served", database, "ms", millis(large), served, AT_MOST_OF_SQL)
            against = f"p99 {what}: {most:,} beside {min(SMALL, most):,}"
            yield row(against, database, "ms", p99(large) * 1000, p99(small) * 1000, AT_MOST_OF_SMALL)
            yield _growth(what, database, sizes, taken)
        for what, work in {**{what: partial(_ask, what=what) for what in largest.asks}, "booking": _book}.items():
            if what not in largest.queries:
                works = {
                    str(ledger.movements): partial(work, server, ledger)
                    for ledger, server in zip(ledgers, servers, strict=True)
                }
                taken = in_turns(works, FEWER)
                yield _growth(what, database, [size for size in sizes if size >= largest.whole_from(what)], taken)


def _growth(what: str, database: str, sizes: list[int], taken: dict[str, list[float]]) -> Row:
    power = exponent(sizes, [median(taken[str(size)]) for size in sizes])
    return Row(f"growth of {what} from {sizes[0]:,} on", database, "exponent", power, 0, power, "at most 0.1")


@contextmanager
def places(database: str, names: list[int]) -> Iterator[list[str]]:
    """Empty databases of a kind, for this once."""
    with ExitStack() as stack:
        if database == "sqlite":
            folder = Path(stack.enter_context(TemporaryDirectory(dir=scratch.FOLDER)))
            yield [f"sqlite:///{folder}/{name}.db" for name in names]
            return
        programs = postgresql.programs()
        if programs is None:
            raise SystemExit("PostgreSQL's initdb and pg_ctl aren't on this machine.")
        server = stack.enter_context(postgresql.running(programs))
        for name in names:
            postgresql.on_server(server, f"CREATE DATABASE kitchen_{name}")
        yield [server.format(f"kitchen_{name}") for name in names]


def _ask(server: Server, ledger: Ledger, what: str) -> bytes:
    ask = ledger.asks[what]
    body = json.dumps(ask.body).encode() if ask.body else None
    return server.ask(ask.method, ask.path, body, {"Authorization": f"Bearer {ask.token}"} if ask.token else {})


def _book(server: Server, ledger: Ledger) -> bytes:
    headers = {"Authorization": f"Bearer {ledger.asks['own bookings'].token}", "Idempotency-Key": str(uuid4())}
    return server.ask("POST", "/v1/bookings", json.dumps(next(ledger.bookings)).encode(), headers)


@contextmanager
def _cursor(url: str) -> Iterator[Any]:
    parts = make_url(url)
    if parts.get_backend_name() == "sqlite":
        connection: Any = sqlite3.connect(str(parts.database))
    else:
        connection = psycopg.connect(url.replace("+psycopg", ""), autocommit=True)
    yield connection.cursor()
    connection.close()


def _fetch(cursor: Any, query: str) -> bytes:
    cursor.execute(query)
    return json.dumps(cursor.fetchall(), default=str).encode()


def _same_lines(what: str, ours: Callable[[], object], bare_sql: Callable[[], object]) -> None:
    """A floor that finds something else is none; the SQL looks one line further, as a page does."""
    said, found = json.loads(ours()), json.loads(bare_sql())  # type: ignore[arg-type]
    lines = said["items"] if "items" in said else said["holders"]
    if not found or len(lines) != min(len(found), 50):
        raise RuntimeError(f"{what}: {len(lines)} lines, and by the bare SQL {len(found)}.")
