"""What the server takes as a request is what h11 reads in the same bytes, which keeps to RFC 9112 to the letter.

Where two on the way read the same bytes differently, one caller may put a request into another's mouth. Our server
uses another parser; nothing it takes may be read otherwise by h11, be refused by it, or be followed by more.
"""

import asyncio
import random
import re
from collections import deque

import h11
import pytest
import uvicorn
from uvicorn.server import ServerState

from service.web.connections import LARGEST_HEAD_BYTES, MOST_BEHIND, Connection

Said = tuple[bytes, bytes, tuple[tuple[bytes, bytes], ...], bytes]

GET = b"GET /a?b=c HTTP/1.1\r\nHost: kitchen\r\n\r\n"
POST = b"POST /a HTTP/1.1\r\nHost: kitchen\r\nContent-Length: 5\r\n\r\n12345"
CHUNKS = b"POST /a HTTP/1.1\r\nHost: kitchen\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n12\r\n3;x=y\r\n345\r\n0\r\n\r\n"
TRAILER = CHUNKS[:-2] + b"Authorization: Bearer mine\r\nHost: other\r\n\r\n"
GOOD = [
    GET, POST, CHUNKS, TRAILER, GET * 3, POST + GET, CHUNKS + POST, TRAILER + GET, b"\r\n" + GET,
    b"GET / HTTP/1.0\r\n\r\n",
    b"HEAD / HTTP/1.1\r\nHOST:kitchen\r\nX-Odd:  \t a\xe9 \t\r\nX-None:\r\n\r\n",
    b"GET //a//b/../c;d=%2F?e?f=/:@!$&'()*+,;=~[]\\^`{|}\" HTTP/1.1\r\nHost: kitchen\r\n\r\n",
    b"DELETE /a HTTP/1.1\r\nHost: kitchen\r\nConnection: close\r\n\r\n",
    b"POST /a HTTP/1.1\r\nHost: kitchen\r\nContent-Length: 00000005\r\n\r\n12345",
]  # fmt: skip
REFUSED = [
    GET.replace(b"\r\n", b"\n"),
    GET.replace(b"\r\n", b"\r"),
    GET.replace(b"Host:", b"Host :"),
    GET.replace(b"Host:", b" Host:"),
    GET.replace(b"\r\n\r\n", b"\r\nX: 1\r\n folded\r\n\r\n"),
    GET.replace(b"Host: kitchen\r\n", b""),
    GET.replace(b"Host: kitchen\r\n", b"Host: kitchen\r\nHost: other\r\n"),
    GET.replace(b"HTTP/1.1", b"HTTP/2.0"),
    GET.replace(b"HTTP/1.1", b"HTTP/0.9"),
    GET.replace(b" HTTP/1.1", b""),
    GET.replace(b"/a", b"http://other/a"),
    GET.replace(b"/a", b"/a#b"),
    GET.replace(b"/a", b"/a\x00"),
    GET.replace(b"/a", b"/\xc3\xa9"),
    GET.replace(b"/a?b=c", b"*"),
    GET.replace(b"GET", b"get"),
    b"CONNECT kitchen:80 HTTP/1.1\r\nHost: kitchen\r\n\r\n",
    b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
    *(GET.replace(b"kitchen", b"kit" + bytes([each]) + b"chen") for each in (0, 1, 10, 11, 13, 27, 127)),
    *(GET.replace(b"\r\n\r\n", b"\r\nX" + bytes([each]) + b"Y: 1\r\n\r\n") for each in b"\x00\x7f\xff (),/;<=>@[]{}\\"),
    *(POST.replace(b" 5", each) for each in (b" +5", b" -5", b" 0x5", b" 5 5", b" 5,5", b" 5, 5", b" 5;", b"", b" V")),
    POST.replace(b" 5", b" 5\r\nContent-Length: 5"),
    POST.replace(b" 5", b" 5\r\nContent-Length: 6"),
    POST.replace(b" 5", b" 18446744073709551616"),
    POST.replace(b" 5", b" 5\r\nTransfer-Encoding: chunked"),
    CHUNKS.replace(b"chunked", b"chunked\r\nContent-Length: 5"),
    CHUNKS.replace(b"chunked", b"chunked\r\nTransfer-Encoding: chunked"),
    *(
        CHUNKS.replace(b" chunked", each)
        for each in (b" gzip, chunked", b" chunked, gzip", b" identity", b" xchunked", b"\x0bchunked", b' "chunked"')
    ),
    CHUNKS.replace(b"HTTP/1.1", b"HTTP/1.0"),
    *(
        CHUNKS.replace(b"2\r\n12", each)
        for each in (b"+2\r\n12", b"0x2\r\n12", b"2 \r\n12", b"2\n12", b"-2\r\n12", b"g\r\n12", b"\r\n12", b"f" * 17)
    ),
    CHUNKS.replace(b"12\r\n", b"12x\r\n"),
    CHUNKS[:-2] + b"Content-Length: 9\r\n\r\n",
]  # fmt: skip


class Told:
    """An application that notes what it was asked."""

    def __init__(self) -> None:
        self.said: list[Said] = []

    async def __call__(self, scope, receive, send) -> None:
        body, more = b"", True
        while more:
            message = await receive()
            if message["type"] == "http.disconnect":
                return
            body, more = body + message["body"], message["more_body"]
        target = scope["raw_path"] + b"?" + scope["query_string"]
        self.said.append((scope["method"].encode(), target, tuple(scope["headers"]), body))
        await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
        await send({"type": "http.response.body", "body": b"{}"})


class Wire(asyncio.Transport):
    """The way between a caller and the server, without a network."""

    def __init__(self) -> None:
        super().__init__({"peername": ("127.0.0.1", 1), "sockname": ("127.0.0.1", 2)})
        self.written, self.reads, self.closed = b"", True, False

    def write(self, data) -> None:
        self.written += b"" if self.closed else data

    def close(self) -> None:
        self.closed = True

    def is_closing(self) -> bool:
        return self.closed

    def pause_reading(self) -> None:
        self.reads = False

    def resume_reading(self) -> None:
        self.reads = True


def read_by_us(*sent: bytes) -> tuple[list[Said], bytes, bool]:
    """What our server takes of this, all that it answers, and whether it closes then."""

    async def read() -> tuple[list[Said], bytes, bool]:
        app, wire, parts = Told(), Wire(), deque(sent)
        config = uvicorn.Config(app, ws="none", log_config=None, access_log=False)
        one = Connection(config=config, server_state=ServerState(), app_state={}, most=9, head_seconds=60)
        one.connection_made(wire)
        while parts and wire.reads and not wire.closed:
            one.data_received(parts.popleft())
            for _ in range(8 * (1 + MOST_BEHIND)):  # turns of the loop in which all that was asked is answered
                await asyncio.sleep(0)
        one.connection_lost(ConnectionResetError())
        return app.said, wire.written, wire.closed

    return asyncio.run(read())


def read_by_h11(sent: bytes) -> list[Said]:
    """What h11 takes of this: whole requests, in order, up to the first thing that isn't one.

    It refuses empty lines before a request, which a server should pass over (RFC 9112, section 2.2), and a second space
    in its first line, which one may (section 3).
    """
    found: list[Said] = []
    try:
        while sent := sent.lstrip(b"\r\n"):
            reading, body = h11.Connection(h11.SERVER), b""
            reading.receive_data(re.sub(rb"\A([A-Z]+) +([!-~]+) +HTTP", rb"\1 \2 HTTP", sent))
            asked = reading.next_event()
            while isinstance(asked, h11.Request) and isinstance(part := reading.next_event(), h11.Data):
                body += part.data
            if not isinstance(asked, h11.Request) or not isinstance(part, h11.EndOfMessage):
                break
            target = asked.target if b"?" in asked.target else asked.target + b"?"
            found.append((asked.method, target, tuple(asked.headers), body))
            closes = reading.their_state is h11.MUST_CLOSE or (b"connection", b"upgrade, close") in asked.headers
            sent = b"" if closes else reading.trailing_data[0]
    except h11.RemoteProtocolError:
        pass
    return found


@pytest.mark.parametrize("sent", GOOD)
def test_a_good_request_is_taken_as_it_is(sent):
    ours, answered, _ = read_by_us(sent)
    assert ours == read_by_h11(sent) != []
    assert answered.count(b"HTTP/1.1 200") == len(ours)
    assert read_by_us(*(bytes([each]) for each in sent))[:2] == (ours, answered), "byte by byte"


@pytest.mark.parametrize("sent", REFUSED)
def test_what_may_be_read_in_two_ways_is_not_taken(sent):
    ours, answered, closed = read_by_us(sent + GET)
    assert (ours, closed) == ([], True)
    assert answered.startswith(b"HTTP/1.1 400 ")
    ours, answered, closed = read_by_us(POST + sent + GET)
    assert ([each[0] for each in ours], closed) == ([b"POST"], True), "what was whole before it is answered"
    assert (answered.count(b"HTTP/1.1"), answered.startswith(b"HTTP/1.1 200 ")) == (1, True)


def test_nothing_is_taken_that_h11_reads_otherwise():
    chance, alphabet = random.Random(20), b"\x00\t\n\r :,;/?#%0159abcX\x7f\x80\xff"
    taken = 0
    for _ in range(1000):
        sent = bytearray(chance.choice(GOOD[:9]) + chance.choice(GOOD[:4]))
        for _ in range(chance.randint(1, 2)):
            at = chance.randrange(len(sent))
            how = chance.randrange(3)
            if how == 0:
                sent[at] = chance.choice(alphabet)
            elif how == 1:
                sent.insert(at, chance.choice(alphabet))
            else:
                del sent[at]
        ours = read_by_us(bytes(sent))[0]
        assert ours == read_by_h11(bytes(sent))[: len(ours)], bytes(sent)
        taken += len(ours)
    assert taken > 300


ENDLESS = [GET[:-2] + b"X: ", GET[:-2], CHUNKS[:-2], CHUNKS[:-2] + b"X: ", CHUNKS[:-5] + b"1;", b"GET /", b""]


@pytest.mark.parametrize(
    "piece", [b"a" * 8192, b"X: y\r\n" * 1000, b"\r\n" * 4096], ids=["letters", "headers", "lines"]
)
@pytest.mark.parametrize("begins", ENDLESS)
def test_neither_a_head_nor_what_follows_a_body_grows_without_end(begins, piece):
    pieces = 2 + LARGEST_HEAD_BYTES // len(piece)
    assert read_by_us(begins, *[piece] * pieces)[2]


def test_only_so_many_wait_behind_one():
    ours, answered, closed = read_by_us(GET * 100)
    assert (len(ours), closed) == (1 + MOST_BEHIND, True)
    assert answered.count(b"HTTP/1.1 200") == answered.count(b"HTTP/1.1 ") == len(ours)


@pytest.mark.parametrize("sent", [GET, POST, CHUNKS, POST + GET, CHUNKS * 2])
@pytest.mark.parametrize("connection", [b"upgrade", b"Upgrade, HTTP2-Settings", b"upgrade, close"])
def test_another_protocol_is_not_spoken_and_nothing_is_lost_by_offering_it(sent, connection):
    sent = sent.replace(b"kitchen\r\n", b"kitchen\r\nConnection: " + connection + b"\r\nUpgrade: h2c\r\n")
    ours, answered, closed = read_by_us(sent)
    assert ours == read_by_h11(sent) != []
    assert read_by_us(*(bytes([each]) for each in sent)) == (ours, answered, closed), "byte by byte"
    assert closed == (connection == b"upgrade, close")
