"""Many kitchens on one PostgreSQL and the load two cores can simulate:
`python -m tests.outside.growing [--kitchens 1000] [--workers 2] [--clients 16] [--seconds 60]`.

Each client is a member of one kitchen after another: of ten requests four read a pantry, three read bookings, two book
and one checks a recipe. Client and service share the machine, so the figures say what that machine does, not what a
server would. At the end the metrics of all workers must know of every request. Exit status 1 if an answer is wrong.
"""

import argparse
import os
import random
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from statistics import quantiles

import httpx

from service.database.engine import Database, open_engine
from service.database.migrating import migrate
from tests import make
from tests.batches.make import PLUM_JAM
from tests.outside.hammer import database_of, served

SECRET = "the-secret-of-the-metrics"


@dataclass(frozen=True, slots=True)
class Place:
    """A member of one kitchen, and a kettle there."""

    token: str
    kettle: str


def settled(database: Database, kitchens: int) -> list[Place]:
    now = datetime.now(UTC).replace(microsecond=0)
    places = []
    with make.session(database) as session:
        for number in range(kitchens):
            here = make.kitchen(session, name=f"Hall {number}")
            _, token = make.member(session, here.id, at=now)
            make.open_always(session, here.id)
            kettle = make.kettle(session, here.id, at=now)
            places.append(Place(token, str(kettle.id)))
    return places


def visit(base_url: str, places: list[Place], number: int, until: float) -> list[tuple[str, int, float]]:
    """Be one client: what was asked, the status, and the seconds it took."""
    pick, noted = random.Random(number), []
    first_at = (datetime.now(UTC) + timedelta(days=1)).replace(hour=0, minute=0, second=0, microsecond=0)
    with httpx.Client(base_url=base_url, timeout=60) as client:
        while time.monotonic() < until:
            place = pick.choice(places)
            starts = first_at + timedelta(minutes=5 * pick.randrange(288 * 20))
            body = {
                "equipment_id": place.kettle,
                "starts_at": starts.isoformat(),
                "ends_at": (starts + timedelta(minutes=30)).isoformat(),
                "purpose": "Plum jam",
            }
            what, method, path, json = pick.choices(
                [
                    ("pantry", "GET", "/v1/members/me/pantry", None),
                    ("bookings", "GET", "/v1/bookings", None),
                    ("book", "POST", "/v1/bookings", body),
                    ("check", "POST", "/v1/recipe-checks", PLUM_JAM),
                ],
                (4, 3, 2, 1),
            )[0]
            asked = time.monotonic()
            answer = client.request(method, path, json=json, headers={"Authorization": f"Bearer {place.token}"})
            noted.append((what, answer.status_code, time.monotonic() - asked))
    return noted


def counted(base_url: str) -> float:
    """What the metrics of all workers say they answered below /v1."""
    text = httpx.get(f"{base_url}/metrics", headers={"Authorization": f"Bearer {SECRET}"}, timeout=60).text
    lines = [line for line in text.splitlines() if line.startswith("canning_answers_total{") and '"/v1' in line]
    return sum(float(line.rpartition(" ")[2]) for line in lines)


def main() -> int:
    parser = argparse.ArgumentParser(description="Many kitchens on one PostgreSQL.")
    parser.add_argument("--kitchens", type=int, default=1000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--clients", type=int, default=16)
    parser.add_argument("--seconds", type=float, default=60)
    asked = parser.parse_args()
    os.environ["CANNING_METRICS_TOKEN"] = SECRET
    with database_of("postgresql") as url:
        database = open_engine(url)
        migrate(database)
        places = settled(database, asked.kitchens)
        with served(url, asked.workers) as (base_url, _), ThreadPoolExecutor(asked.clients) as threads:
            until = time.monotonic() + asked.seconds
            work = [threads.submit(visit, base_url, places, number, until) for number in range(asked.clients)]
            noted = [each for done in work for each in done.result()]
            known = counted(base_url)
        database.close()
    statuses = Counter(status for _, status, _ in noted)
    print(
        f"{asked.kitchens} kitchens, {asked.workers} workers, {asked.clients} clients, load {os.getloadavg()[0]:.0f}:"
    )
    print(
        f"  {len(noted) / asked.seconds:.0f} requests a second, answered {dict(statuses)};"
        f" the metrics know of {known:.0f} of {len(noted)}"
    )
    for what in sorted({each[0] for each in noted}):
        seconds = [each[2] for each in noted if each[0] == what]
        cuts = quantiles(seconds, n=100)
        print(
            f"  {what}: {len(seconds)}, half within {cuts[49] * 1000:.0f} ms, 99 of 100 within {cuts[98] * 1000:.0f} ms"
        )
    return 0 if set(statuses) <= {200, 201, 409, 503} and known == len(noted) else 1


if __name__ == "__main__":
    sys.exit(main())
