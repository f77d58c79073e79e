"""Who sends or reads slowly keeps nobody else waiting."""

import asyncio
import json
import shutil
import socket
import time
from contextlib import ExitStack
from http.client import HTTPConnection

import pytest

from service.app import create_app
from service.settings import Settings
from tests.web.serving import serving

SLOW_CLIENTS = 20
BODY_SECONDS = 1.0
HEAD = b"POST /v1/recipe-checks HTTP/1.1\r\nHost: kitchen\r\nContent-Type: application/json\r\n"
BEGUN = HEAD + b'Content-Length: 1000\r\n\r\n{"title": "'


@pytest.fixture
def port(sqlite_template, tmp_path):
    """A service in which one request works at a time and three may wait."""
    shutil.copy(sqlite_template, tmp_path / "kitchen.db")
    settings = Settings(
        database_url=f"sqlite:///{tmp_path}/kitchen.db",
        connections=1,
        waiting=3,
        limits=False,
        body_seconds=BODY_SECONDS,
    )
    with serving(create_app(settings)) as found:
        yield found


@pytest.fixture
def slow(port):
    """Many who begin a body and don't end it."""
    with ExitStack() as stack:
        callers = [stack.enter_context(socket.create_connection(("127.0.0.1", port))) for _ in range(SLOW_CLIENTS)]
        for caller in callers:
            caller.sendall(BEGUN)
        yield callers


def ask(port, path="/problems/busy"):
    connection = HTTPConnection("127.0.0.1", port, timeout=10)
    connection.request("GET", path)
    status = connection.getresponse().status
    connection.close()
    return status


def test_a_body_that_may_end_in_two_places_ends_the_connection(port):
    """Or what one on the way takes for the rest of a body, another takes for a request (RFC 9112, section 11.2)."""
    hidden = b"GET /healthz HTTP/1.1\r\nHost: kitchen\r\n\r\n"
    lengths = b"Content-Length: 6\r\nTransfer-Encoding: chunked\r\n\r\n"
    with socket.create_connection(("127.0.0.1", port), timeout=10) as caller:
        caller.sendall(HEAD + lengths + b"2\r\n{}\r\n0\r\n\r\n" + hidden)
        answered = b"".join(iter(lambda: caller.recv(1 << 16), b""))
    assert answered.startswith(b"HTTP/1.1 400 ")
    assert answered.count(b"HTTP/1.1 ") == 1


def test_slow_bodies_take_no_place_and_are_sent_away_in_time(port, slow):
    started = time.monotonic()
    assert ask(port) == 200
    for caller in slow:
        caller.settimeout(10)
        head, _, body = caller.makefile("rb").read().partition(b"\r\n\r\n")  # to the end: the connection is closed
        assert head.startswith(b"HTTP/1.1 408 ")
        assert b"connection: close" in head.lower()
        assert json.loads(body)["code"] == "too-slow"
    assert time.monotonic() - started >= BODY_SECONDS / 2


def test_who_does_not_read_the_answer_takes_no_place(port):
    """Each asks for more than any buffer holds, several times on one connection, and reads next to nothing."""
    with ExitStack() as stack:
        for _ in range(2):
            caller = stack.enter_context(socket.socket())
            caller.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            caller.connect(("127.0.0.1", port))
            caller.sendall(b"GET /openapi.json HTTP/1.1\r\nHost: kitchen\r\n\r\n" * 50)
            caller.settimeout(10)
            assert caller.recv(12) == b"HTTP/1.1 200"
        time.sleep(0.5)  # until every buffer between is full
        assert ask(port) == 200


def test_who_leaves_in_the_middle_of_a_body_is_forgotten(port, slow):
    for caller in slow:
        caller.close()
    assert ask(port) == 200


def test_headers_without_end_are_cut_off(port):
    with socket.create_connection(("127.0.0.1", port), timeout=10) as caller:
        caller.sendall(b"GET /healthz HTTP/1.1\r\nHost: kitchen\r\nX-Long: " + b"a" * 200_000)
        assert caller.recv(12) == b"HTTP/1.1 400"
    assert ask(port, "/healthz") == 200


def test_who_leaves_before_the_work_begins_is_no_error_of_the_service(client, caplog):
    """A cancellation has no body: that its caller is gone shows where the body would be read for the key."""
    scope = {
        "type": "http",
        "method": "POST",
        "path": f"/v1/bookings/{client.member.id}/cancellation",
        "query_string": b"",
        "headers": [(b"authorization", f"Bearer {client.member.token}".encode()), (b"idempotency-key", b"once")],
        "client": ("127.0.0.1", 1),
    }
    sent = []

    async def receive():
        return {"type": "http.disconnect"}

    async def send(message):
        sent.append(message)

    with caplog.at_level("INFO", "canning"):
        asyncio.run(client.app(scope, receive, send))
    assert sent == []
    assert [record.levelname for record in caplog.records if record.name.startswith("canning")] == ["INFO"]
