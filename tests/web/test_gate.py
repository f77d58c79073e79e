"""Many clients at once: some wait, the rest are told to come back, and nobody is left hanging."""

import asyncio
import json
import threading
from collections import Counter
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from http.client import HTTPConnection

from service.app import create_app
from service.members import routes
from service.settings import Settings
from service.web.gate import Gate
from tests import make
from tests.web.serving import serving


@contextmanager
def served(database_url, **settings):
    """The service on a port of its own, and a way to ask it as a member: `ok`, or the code of a problem."""
    app = create_app(Settings(database_url=database_url, limits=False, **settings))
    with make.session(app.state.database) as session:
        _, token = make.member(session, make.kitchen(session).id)
    with serving(app) as port:

        def ask(_=None):
            connection = HTTPConnection("127.0.0.1", port, timeout=60)
            connection.request("GET", "/v1/members/me", headers={"Authorization": f"Bearer {token}"})
            with connection.getresponse() as answer:
                said = json.loads(answer.read())
            connection.close()
            return "ok" if answer.status == 200 else said["code"]

        yield ask


def test_sixty_four_clients_are_all_answered(database_url):
    """No thread waits for a connection whose holder waits for a thread."""
    with served(database_url) as ask, ThreadPoolExecutor(64) as clients:
        found = Counter(clients.map(ask, range(256)))
    assert found.keys() <= {"ok", "busy"}
    assert found["ok"] >= 64


def test_as_many_work_as_there_are_connections_and_the_rest_wait_or_come_back(database_url, monkeypatch):
    release, whole = threading.Event(), routes._whole

    def held(*given):
        assert release.wait(60)
        return whole(*given)

    monkeypatch.setattr(routes, "_whole", held)
    with served(database_url, connections=2, waiting=3) as ask, ThreadPoolExecutor(9) as clients:
        answers = as_completed([clients.submit(ask) for _ in range(9)])
        assert [next(answers).result() for _ in range(4)] == ["busy"] * 4
        release.set()
        assert [each.result() for each in answers] == ["ok"] * 5


def test_who_waits_too_long_is_told_so():
    """One works and never ends; the next is sent away after its time, and the place it waited in is free again."""
    answered = []

    async def work(_scope, _receive, _send):
        await asyncio.Event().wait()

    async def ask():
        async def send(message):
            if message["type"] == "http.response.start":
                answered.append((message["status"], dict(message["headers"])[b"retry-after"]))

        scope = {"type": "http", "path": "/v1/members/me", "state": {"request_id": "a-request-id"}}
        await gate(scope, None, send)

    async def everyone():
        working = asyncio.create_task(ask())
        await asyncio.sleep(0)
        await ask()
        working.cancel()

    gate = Gate(work, inside=1, waiting=1, wait_seconds=0.05)
    asyncio.run(everyone())
    assert answered == [(503, b"1")]
    assert gate.waiting == 0


def test_who_finds_no_room_to_wait_is_told_at_once():
    """Two work, three wait in order, the sixth is sent away; health stays outside."""
    answered, working = [], []

    async def work(scope, _receive, send):
        working.append(scope["name"])
        if scope["path"] != "/healthz":
            await release.wait()
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    async def ask(name, path="/v1/members/me"):
        async def send(message):
            if message["type"] == "http.response.start":
                answered.append((name, message["status"]))

        scope = {"type": "http", "path": path, "name": name, "state": {"request_id": "a-request-id"}}
        await gate(scope, None, send)

    async def everyone():
        asking = [asyncio.create_task(ask(name)) for name in range(6)]
        await asyncio.sleep(0.01)
        assert (working, answered) == ([0, 1], [(5, 503)])
        await ask("health", "/healthz")
        assert answered[-1] == ("health", 200)
        asking[2].cancel()
        release.set()
        await asyncio.gather(*asking, return_exceptions=True)

    release = asyncio.Event()
    gate = Gate(work, inside=2, waiting=3)
    asyncio.run(everyone())
    assert [name for name in working if name != "health"] == [0, 1, 3, 4]
    assert gate.waiting == 0
    assert not gate.room.locked()


def test_who_reads_slowly_has_given_the_place_back():
    """The last of an answer leaves after the place is free; until then it is taken."""
    seen = []

    async def work(_scope, _receive, send):
        for message in (
            {"type": "http.response.start", "status": 200, "headers": []},
            {"type": "http.response.body", "body": b"first", "more_body": True},
            {"type": "http.response.body", "body": b"last"},
        ):
            await send(message)

    async def send(_message):
        seen.append(gate.room.locked())

    gate = Gate(work, inside=1, waiting=0)
    asyncio.run(gate({"type": "http", "path": "/", "state": {}}, None, send))
    assert seen == [True, True, False]
    assert not gate.room.locked()
