"""Who keeps a connection and does nothing with it keeps nobody else from being answered."""

import asyncio
import resource
import socket
import time
from contextlib import ExitStack, contextmanager, suppress

import httpx
import pytest

from service.web import connections
from service.web.connections import Connection, room
from tests.web.serving import serving

MOST = 4
HALF_A_HEAD = b"GET /healthz HTTP/1.1\r\nHost: kitchen\r\nX-Slow: "
HALF_A_BODY = (
    b"POST /v1/recipe-checks HTTP/1.1\r\nHost: kitchen\r\nContent-Type: application/json\r\nContent-Length: 9\r\n\r\n{"
)
UNREAD = b"GET /much HTTP/1.1\r\nHost: kitchen\r\n\r\n"


async def app(scope, receive, send):
    """Reads what is sent, and answers more than fits between here and there where that is asked for."""
    if scope["type"] == "http":
        while (await receive()).get("more_body"):
            pass
        await send({"type": "http.response.start", "status": 200, "headers": []})
        for _ in range(300 if scope["path"] == "/much" else 0):
            await send({"type": "http.response.body", "body": bytes(1 << 16), "more_body": True})
            await asyncio.sleep(0)
        await send({"type": "http.response.body", "body": b"{}"})


@contextmanager
def served(head_seconds=60.0):
    """The port, and the service's end of each connection, as they come."""
    ends = []

    def one(*given, **named):
        ends.append(Connection(*given, most=MOST, head_seconds=head_seconds, **named))
        return ends[-1]

    with serving(app, http=one, lifespan="off") as port:
        yield port, ends


def opened(stack, port, says=b""):
    found = stack.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
    found.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    found.sendall(says)
    return found


def ended(connection):
    """Whether the service has closed it; what came before that is passed over."""
    connection.setblocking(False)
    try:
        while part := connection.recv(1 << 20):
            pass
        return not part
    except BlockingIOError:
        return False
    except ConnectionResetError:
        return True


def wait_for(what):
    until = time.monotonic() + 10
    while not what():
        assert time.monotonic() < until
        time.sleep(0.01)


@pytest.mark.parametrize(
    ("says", "waits"),
    [
        pytest.param(b"", lambda end: end.idle, id="silent"),
        pytest.param(HALF_A_HEAD, lambda end: end.idle, id="head"),
        pytest.param(HALF_A_BODY, lambda end: end.waits and not end.idle, id="body"),
        pytest.param(UNREAD, lambda end: end.flow and end.unread, id="unread"),
    ],
)
def test_too_many_that_wait_make_room_the_longest_first(says, waits):
    with served() as (port, ends), ExitStack() as stack:
        idle = []
        for number in range(1, 3 * MOST + 1):
            idle.append(opened(stack, port, says))
            wait_for(lambda number=number: len(ends) == number and waits(ends[-1]))  # what still works makes no room
            time.sleep(0.01)  # the loop counts milliseconds
        assert httpx.get(f"http://127.0.0.1:{port}/healthz", timeout=10).status_code == 200
        wait_for(lambda: sum(map(ended, idle)) >= 2 * MOST)
        assert not ended(idle[-1])


def test_a_head_that_does_not_arrive_ends_its_connection_and_a_good_one_stays():
    with served(head_seconds=1.0) as (port, _), ExitStack() as stack:
        slow = [opened(stack, port), opened(stack, port, HALF_A_HEAD)]
        with httpx.Client(base_url=f"http://127.0.0.1:{port}") as client:
            until = time.monotonic() + 10
            while not all(map(ended, slow)):
                assert client.get("/healthz").status_code == 200
                with suppress(OSError):
                    slow[1].sendall(b"x")  # a byte now and then doesn't help
                time.sleep(0.05)
                assert time.monotonic() < until


def test_who_does_not_read_the_answer_is_left_in_the_end(monkeypatch):
    monkeypatch.setattr(connections, "UNREAD_SECONDS", 0.3)
    with served(head_seconds=0.3) as (port, _), ExitStack() as stack:
        unread = opened(stack, port, UNREAD)
        time.sleep(2)
        wait_for(lambda: ended(unread))


@pytest.mark.parametrize(
    ("limits", "kept", "raised"),
    [
        pytest.param((1024, 1 << 20), 1000, 1740, id="as usual"),
        pytest.param((1 << 20, 1 << 20), 1000, None, id="plenty"),
        pytest.param((1024, resource.RLIM_INFINITY), 1000, 1740, id="no end"),
        pytest.param((1024, 1024), 284, 1024, id="few"),
        pytest.param((256, 512), 1, 512, id="too few"),
    ],
)
def test_no_more_connections_than_there_are_files_for(monkeypatch, limits, kept, raised):
    set_to = []
    monkeypatch.setattr(resource, "getrlimit", lambda _: limits)
    monkeypatch.setattr(resource, "setrlimit", lambda _, new: set_to.append(new[0]))
    assert room(1000) == kept
    assert set_to == ([raised] if raised else [])
