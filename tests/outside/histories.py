"""Many members at once, and afterwards the question whether each answer makes sense in some order of what happened:
`python -m tests.outside.histories [--database sqlite|postgresql] [--processes 6] [--rounds 20] [--fault]`.

Each process books overlapping times, cancels, uses and gives jars, checks seals and reads all of it, and notes when it
asked and when it was answered. A history is explained if its acts can be put in an order that keeps to these times
(what was answered before another was asked comes first) and in which a plain model, one act after the other, gives the
same answers: linearizability, searched for as Wing and Gong (1993) do, with the states met before remembered, as Lowe
(2017) does; cited from memory. Every piece of equipment, lot and batch is a history of its own, which loses nothing: a
history is linearizable if that of each object is (Herlihy and Wing, 1990). With `--fault` the service keeps an old view
of what is booked, and the guard of the database is taken away: then histories must be found that nothing explains.
"""

import argparse
import random
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from unittest.mock import patch

import httpx
from sqlalchemy import text

from service.core.jars import movements
from service.core.jars.movements import SealCheck, State
from service.core.refusals import Refused
from service.database.engine import Database, open_engine
from service.database.migrating import migrate
from service.equipment import store as equipment
from service.pantry import store as pantry
from tests import make
from tests.batches.make import Day, ok
from tests.conftest import Person
from tests.keeping.test_verifying import DROP_GUARD
from tests.outside.hammer import database_of, forking, served
from tests.outside.outages import serving

SLOT = timedelta(minutes=30)
SLOTS = 6
JARS = 5
PATIENCE_SECONDS = 300
WORKERS = {"postgresql": 3, "sqlite": 1}  # as a host would serve them
OLD_SECONDS = 30  # how long the planted fault keeps its view: longer than a round, so that it is found every time


@dataclass(frozen=True, slots=True)
class Call:
    """One act: which, on what, what it was answered, and when it was asked and answered by the machine's clock."""

    about: str
    act: tuple[Any, ...]
    answer: Any
    asked: float
    answered: float


Step = Callable[[Any, tuple[Any, ...], Any], Hashable]
IMPOSSIBLE = object()


def explained(calls: Sequence[Call], first: Hashable, step: Step) -> bool:
    """Whether some order of the calls that keeps to their times gives these answers, one after the other."""
    calls = sorted(calls, key=lambda call: call.asked)
    everything = (1 << len(calls)) - 1
    met: set[tuple[int, Hashable]] = set()
    waiting: list[tuple[int, Any]] = [(0, first)]
    while waiting:
        done, state = waiting.pop()
        if done == everything:
            return True
        if (done, state) in met:
            continue
        met.add((done, state))
        earliest_answer = min(call.answered for n, call in enumerate(calls) if not done >> n & 1)
        for n, call in enumerate(calls):
            if call.asked > earliest_answer:
                break  # somebody was answered before this was asked
            if not done >> n & 1:
                after = step(state, call.act, call.answer)
                if after is not IMPOSSIBLE:
                    waiting.append((done | 1 << n, after))
    return False


def of_times(state: frozenset[tuple[str, int, int]], act: tuple[Any, ...], answer: Any) -> Any:
    """A piece of equipment: the bookings that hold it, each as id, first slot and the slot after its last."""
    match act:
        case "book", starts, ends:
            free = not any(starts < held[2] and held[1] < ends for held in state)
            if answer is None:
                return IMPOSSIBLE if free else state
            return state | {(answer, starts, ends)} if free else IMPOSSIBLE
        case "cancel", booking_id:
            found = {held for held in state if held[0] == booking_id}
            return (state - found if found else state) if answer == bool(found) else IMPOSSIBLE
        case _:
            return state if answer == {held[0] for held in state} else IMPOSSIBLE


def of_jars(state: tuple[int, ...], act: tuple[Any, ...], answer: Any) -> Any:
    """A lot: how many jars each member has."""
    match act:
        case "use", who, count:
            there = state[who] >= count
            if answer != there:
                return IMPOSSIBLE
            return tuple(jars - count * (n == who) for n, jars in enumerate(state)) if there else state
        case "give", who, count, to:
            there = state[who] >= count
            if answer != there:
                return IMPOSSIBLE
            change = [0] * len(state)
            change[who] -= count
            change[to] += count
            return tuple(jars + more for jars, more in zip(state, change, strict=True)) if there else state
        case _, who:
            return state if answer == state[who] else IMPOSSIBLE


def of_seals(checked: bool, act: tuple[Any, ...], answer: Any) -> Any:
    """A load: whether its seals were checked, which is done once."""
    if act == ("check",):
        return True if answer != checked else IMPOSSIBLE
    return checked if answer == checked else IMPOSSIBLE


@dataclass(frozen=True)
class Stage:
    """What the players act on, and as whom."""

    base_url: str
    tokens: tuple[str, ...]
    members: tuple[str, ...]
    kettles: tuple[str, ...]
    lots: tuple[str, ...]
    batches: tuple[tuple[str, str], ...]  # with the times at which seals can be checked
    first_at: datetime


class Player:
    """One process: acts at random, and notes everything."""

    def __init__(self, stage: Stage, number: int, seed: int) -> None:
        self.stage, self.number, self.pick = stage, number, random.Random(f"{seed} {number}")
        self.calls: list[Call] = []
        self.mine: list[tuple[str, str]] = []

    def play(self, acts: int) -> list[Call]:
        headers = {"Authorization": f"Bearer {self.stage.tokens[self.number]}"}
        with httpx.Client(base_url=self.stage.base_url, headers=headers, timeout=60) as self.client:
            for _ in range(acts):
                self.pick.choice(
                    [self.book, self.book, self.cancel, self.times, self.use, self.give, self.jars, self.seals]
                )()
        return self.calls

    def call(self, about: str, act: tuple[Any, ...], method: str, path: str, body: Any = None) -> httpx.Response:
        """Ask until there is an answer other than `busy`; the key makes that one act."""
        key = {"Idempotency-Key": f"{self.number}-{len(self.calls)}-{time.monotonic_ns()}"}
        asked = time.monotonic()
        while time.monotonic() < asked + PATIENCE_SECONDS:
            answer = self.client.request(method, path, json=body, headers=key)
            if answer.status_code != 503:
                break
            time.sleep(0.05)
        answered = time.monotonic()
        if answer.status_code not in (200, 201, 409):
            raise AssertionError(f"{method} {path}: {answer.status_code} {answer.text}")
        self.calls.append(Call(about, act, answer.status_code < 300, asked, answered))
        return answer

    def say(self, answer: Any) -> None:
        last = self.calls[-1]
        self.calls[-1] = Call(last.about, last.act, answer, last.asked, last.answered)

    def book(self) -> None:
        kettle = self.pick.choice(self.stage.kettles)
        starts = self.pick.randrange(SLOTS)
        ends = self.pick.randint(starts + 1, min(starts + 3, SLOTS))
        at = [(self.stage.first_at + SLOT * slot).isoformat() for slot in (starts, ends)]
        body = {"equipment_id": kettle, "starts_at": at[0], "ends_at": at[1], "purpose": "Plum jam"}
        answer = self.call(kettle, ("book", starts, ends), "POST", "/v1/bookings", body)
        self.say(answer.json()["id"] if answer.status_code == 201 else None)
        if answer.status_code == 201:
            self.mine.append((kettle, answer.json()["id"]))

    def cancel(self) -> None:
        """Seldom twice, which has to be refused."""
        if self.mine:
            kettle, booking_id = self.pick.choice(self.mine)
            self.call(kettle, ("cancel", booking_id), "POST", f"/v1/bookings/{booking_id}/cancellation")
            if self.pick.random() < 0.8:
                self.mine.remove((kettle, booking_id))

    def times(self) -> None:
        kettle = self.pick.choice(self.stage.kettles)
        answer = self.call(kettle, ("times",), "GET", f"/v1/bookings?limit=200&equipment_id={kettle}")
        self.say({each["id"] for each in answer.json()["items"] if each["status"] == "confirmed"})
        assert answer.json()["next_cursor"] is None

    def use(self) -> None:
        lot, count = self.pick.choice(self.stage.lots), self.pick.randint(1, 2)
        body = {"kind": "use", "lot_code": lot, "jar_size": "pint", "count": count}
        self.call(lot, ("use", self.number, count), "POST", "/v1/movements", body)

    def give(self) -> None:
        lot, count = self.pick.choice(self.stage.lots), self.pick.randint(1, 3)
        to = self.pick.choice([n for n in range(len(self.stage.members)) if n != self.number])
        body = {
            "kind": "give",
            "lot_code": lot,
            "jar_size": "pint",
            "count": count,
            "to_member_id": self.stage.members[to],
        }
        self.call(lot, ("give", self.number, count, to), "POST", "/v1/movements", body)

    def jars(self) -> None:
        lot = self.pick.choice(self.stage.lots)
        answer = self.call(lot, ("jars", self.number), "GET", f"/v1/members/me/pantry?lot={lot}&state=shelf")
        self.say(sum(each["count"] for each in answer.json()["items"]))

    def seals(self) -> None:
        batch, at = self.pick.choice(self.stage.batches)
        if self.pick.random() < 0.5:
            answer = self.call(batch, ("read",), "GET", f"/v1/batches/{batch}")
            self.say(answer.json()["loads"][0]["checked_at"] is not None)
        else:
            body = {"sealed": 8, "unsealed": 0, "broken": 0, "at": at}
            self.call(batch, ("check",), "POST", f"/v1/batches/{batch}/loads/1/seal-check", body)


def play(stage: Stage, number: int, seed: int, acts: int) -> list[Call]:
    return Player(stage, number, seed).play(acts)


class Caller(httpx.Client):
    """What the makers of batches take: the service, its clock, and one person in every part."""

    class clock:
        at = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)

    def __init__(self, base_url: str, person: Person) -> None:
        super().__init__(base_url=base_url, timeout=60)
        self.coordinator = self.trainer = self.member = person


def staged(database: Database, base_url: str, players: int) -> Stage:
    """A kitchen of its own for one round."""
    now = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)
    with make.session(database) as session:
        here = make.kitchen(session)
        people = [make.member(session, here.id, f"Member {n}", "coordinator", now) for n in range(players)]
        make.open_always(session, here.id)
        kettles = [make.kettle(session, here.id, f"Kettle {n}", now) for n in range(2)]
        lots = []
        for _ in range(2):
            lot = pantry.add_lot(session, here.id, "Plum jam", "jam", None, now.date(), 12)
            assert not isinstance(lot, Refused)
            for member, _token in people:
                filled = movements.fill(lot.id, "pint", member.id, SealCheck(JARS, 0, 0), State.SHELF, "")
                pantry.write(session, lot, filled, member.id, now)
            lots.append(lot.code)
        first = Person(people[0][0].id, here.id, "Member 0", people[0][1])
        tokens, members = tuple(token for _, token in people), tuple(str(member.id) for member, _ in people)
        ids = tuple(str(row.id) for row in kettles)
    batches = []
    with Caller(base_url, first) as caller:
        for _ in range(2):
            day = Day(caller)  # type: ignore[arg-type]
            ok(day.load(8))
            ok(day.out())
            batches.append((str(day.batch["id"]), day.at(900)))
    return Stage(base_url, tokens, members, ids, tuple(lots), tuple(batches), now + timedelta(days=2))


def unexplained(stage: Stage, calls: Sequence[Call]) -> list[str]:
    """The objects whose histories no order explains."""
    by_object: dict[str, list[Call]] = defaultdict(list)
    for call in calls:
        by_object[call.about].append(call)
    models: dict[str, tuple[Hashable, Step]] = {
        **{kettle: (frozenset(), of_times) for kettle in stage.kettles},
        **{lot: ((JARS,) * len(stage.members), of_jars) for lot in stage.lots},
        **{batch: (False, of_seals) for batch, _ in stage.batches},
    }
    return [about for about, found in by_object.items() if not explained(found, *models[about])]


@contextmanager
def faulty(database: Database) -> Iterator[None]:
    """A cache that is half a minute old decides what is free, and the database doesn't know better."""
    with database.writer.begin() as connection:
        for statement in DROP_GUARD[database.dialect]:
            connection.execute(text(statement))
    kept: dict[Any, tuple[float, Any]] = {}
    real = equipment.busy

    def old(session: Any, rows: Any, *more: Any, **named: Any) -> Any:
        rows = list(rows)
        key = tuple(row.number for row in rows)
        if key not in kept or kept[key][0] < time.monotonic() - OLD_SECONDS:
            kept[key] = time.monotonic(), real(session, rows, *more, **named)
        return kept[key][1]

    with patch.object(equipment, "busy", old):
        yield


def rounds(database: Database, base_url: str, players: int, count: int, acts: int, pool: Any) -> tuple[int, int, int]:
    """So many rounds, each in a kitchen of its own: histories, calls, and histories that nothing explains."""
    histories = calls = wrong = 0
    for seed in range(count):
        stage = staged(database, base_url, players)
        noted = [call for each in pool(play, [(stage, n, seed, acts) for n in range(players)]) for call in each]
        found = unexplained(stage, noted)
        histories += len({call.about for call in noted})
        calls += len(noted)
        wrong += len(found)
    return histories, calls, wrong


def in_this_process(url: str, players: int, count: int, acts: int, fault: bool) -> tuple[int, int, int]:
    """The rounds against a service in this process, by threads."""
    opened = open_engine(url)
    migrate(opened)
    opened.close()
    with serving(url, answer_seconds=30) as (base_url, database), ThreadPoolExecutor(players) as threads:

        def pool(work: Any, given: list[tuple[Any, ...]]) -> list[Any]:
            return list(threads.map(lambda each: work(*each), given))

        if not fault:
            return rounds(database, base_url, players, count, acts, pool)
        with faulty(database):
            return rounds(database, base_url, players, count, acts, pool)


def by_processes(url: str, processes: int, workers: int, count: int, acts: int) -> tuple[int, int, int]:
    """The rounds by processes of their own, against a service of several."""
    database = open_engine(url)
    migrate(database)
    with served(url, workers) as (base_url, _), forking(__name__).Pool(processes) as pool:
        counted = rounds(database, base_url, processes, count, acts, pool.starmap)
    database.close()
    return counted


def main() -> int:
    parser = argparse.ArgumentParser(description="Look for answers that no order of the acts explains.")
    parser.add_argument("--database", choices=("sqlite", "postgresql"), help="both, if none is named")
    parser.add_argument("--processes", type=int, default=6)
    parser.add_argument("--rounds", type=int, default=20)
    parser.add_argument("--acts", type=int, default=40, help="of each process in each round")
    parser.add_argument("--workers", type=int, help="processes that serve: 3, and 1 on SQLite, if no number is named")
    parser.add_argument("--fault", action="store_true", help="plant one, which has to be found")
    asked = parser.parse_args()
    failed = False
    for name in [asked.database] if asked.database else ["sqlite", "postgresql"]:
        with database_of(name) as url:
            if asked.fault:
                counted = in_this_process(url, asked.processes, asked.rounds, asked.acts, fault=True)
                failed |= counted[2] == 0
                serving_it = "threads of this process"
            else:
                workers = asked.workers or WORKERS[name]
                counted = by_processes(url, asked.processes, workers, asked.rounds, asked.acts)
                failed |= counted[2] > 0
                serving_it = f"{workers} workers"
        histories, calls, wrong = counted
        print(
            f"{name}: {histories} histories of {calls} acts of {asked.processes} at once, served by {serving_it},"
            f" {wrong} that nothing explains",
            flush=True,
        )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
