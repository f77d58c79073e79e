"""How many connections a worker keeps open, and for how long it waits for whoever is at their other end."""

import asyncio
import re
import resource
import socket
import struct
from typing import Any

import httptools
from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

AT_ONCE = 128  # that wait to be taken (`backlog`)
TAKEN_FIRST = 5 * AT_ONCE  # so many may be taken before the first of them is looked at, and then ended
UNREAD_SECONDS = 60  # for which nothing of an answer was read
SPARE_FILES = 100  # that a worker may have open beside its connections
LARGEST_HEAD_BYTES = 64 * 1024
MOST_BEHIND = 8  # requests that may wait behind the one that is worked on
FORGET_WHAT_IS_UNSENT = struct.pack("ii", 1, 0)
FRAMING = frozenset({b"content-length", b"transfer-encoding", b"connection"})
UNREADABLE = "Invalid HTTP request received."
_TARGET = re.compile(rb"/[!-\"$-~]*")  # of a request to this server: no other's name, and no fragment


class Unclear(Exception):
    """A head that the parser takes and we don't."""


class Connection(HttpToolsProtocol):
    """One connection, as the server speaks it, that isn't kept for ever.

    The server itself ends only those that wait for a next request. Here one ends too whose request doesn't begin, or
    whose head doesn't arrive, within `head_seconds`, and one that doesn't read its answer. Where more come than may be
    open, the one that has kept the service waiting longest makes room: who does nothing is in nobody's way, and
    liveness and readiness are told however many there are. What is asked whole is the gate's to answer.

    The parser is written in C and strict about the bytes of a head (llhttp's leniencies are off), but takes a head of
    any length, and some that somebody on the way may read otherwise. Both are refused here: what is taken is what h11
    takes as well, which a test compares.
    """

    def __init__(self, *given: Any, most: int, head_seconds: float, **named: Any) -> None:
        """Speak for the server; `most` may be open in this process."""
        super().__init__(*given, **named)
        self.most = most
        self.head_seconds = head_seconds
        self.waiting_since = self.loop.time()
        self.looking: asyncio.TimerHandle | None = None
        self.in_head = True
        self.reading_again = False
        self.led_on = False  # what was read last led on: a head or a part of a body was whole
        self.leading_nowhere_bytes = 0
        self.refused = False  # something that can't be read came behind what is being answered

    @property
    def unread(self) -> bool:
        """Whether the other end hasn't read what was answered."""
        return self.flow.write_paused

    @property
    def idle(self) -> bool:
        """Whether nothing whole was asked, or everything is answered."""
        return self.cycle is None or self.cycle.response_complete

    @property
    def waits(self) -> bool:
        """Whether the service waits for the other end, and not the other way round."""
        return self.idle or self.unread or (self.cycle.more_body and not self.pipeline)

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a connection, and let another go where there are too many."""
        if len(self.connections) >= self.most:
            others = [each for each in self.connections if isinstance(each, Connection)]
            waiting = [each for each in others if each.waits and not each.transport.is_closing()]
            if waiting:
                min(waiting, key=lambda each: (not each.idle, each.waiting_since)).end()
        super().connection_made(transport)
        self.looking = self.loop.call_later(self.head_seconds, self.look)

    def connection_lost(self, exc: Exception | None) -> None:
        """Look no more."""
        if self.looking:
            self.looking.cancel()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on; what neither ends a head nor belongs to a body is kept by the parser, so there is a bound to it."""
        self._unset_keepalive_if_required()
        self.led_on, left = False, data
        try:
            while left:
                left = self.feed(left)
        except httptools.HttpParserError:
            self.send_400_response(UNREADABLE)
            return
        self.leading_nowhere_bytes = 0 if self.led_on else self.leading_nowhere_bytes + len(data)
        if self.leading_nowhere_bytes > LARGEST_HEAD_BYTES:
            self.send_400_response(UNREADABLE)

    def feed(self, data: bytes) -> bytes:
        """Feed the parser; what it leaves is still to be read.

        Where another protocol is offered (`Upgrade`) the parser takes it as taken up, and what follows as no HTTP. We
        stay with HTTP (RFC 9110, section 7.8): another parser, which is told of the body only, goes on from there.
        """
        try:
            self.parser.feed_data(data)
        except httptools.HttpParserUpgrade as offered:
            framing = [(name, value) for name, value in self.headers if name in FRAMING]
            head = b"".join(b"%s: %s\r\n" % each for each in framing)
            self.parser, self.reading_again = httptools.HttpRequestParser(self), True
            self.parser.feed_data(b"POST / HTTP/1.1\r\n" + head + b"\r\n")
            self.reading_again = False
            left: int = offered.args[0]
            return data[left:]
        return b""

    def on_message_begin(self) -> None:
        """A head begins."""
        if not self.reading_again:
            self.in_head = True
            super().on_message_begin()

    def on_url(self, url: bytes) -> None:
        """Keep a part of the target."""
        if not self.reading_again:
            super().on_url(url)

    def on_header(self, name: bytes, value: bytes) -> None:
        """Keep what stands in a head; what stands behind a body is no header (RFC 9110, section 6.5.1)."""
        if self.in_head:
            super().on_header(name, value.rstrip(b" \t"))

    def on_headers_complete(self) -> None:
        """Take a request, if it means one thing only."""
        if self.reading_again:
            return
        self.in_head, self.led_on = False, True
        version, names = self.parser.get_http_version(), [name for name, _ in self.headers]
        hosts, coded = names.count(b"host"), [value for name, value in self.headers if name == b"transfer-encoding"]
        if (
            version not in ("1.1", "1.0")
            or not (hosts == 1 or (hosts == 0 and version == "1.0"))
            or coded not in ([], [b"chunked"])
            or (coded and version == "1.0")
            or not _TARGET.fullmatch(self.url)
            or len(self.pipeline) >= MOST_BEHIND
        ):
            raise Unclear
        super().on_headers_complete()

    def on_body(self, body: bytes) -> None:
        """Take a part of a body."""
        self.led_on = True
        super().on_body(body)

    def on_message_complete(self) -> None:
        """A request is whole."""
        if not self.parser.should_upgrade():
            super().on_message_complete()

    def send_400_response(self, msg: str) -> None:
        """Refuse what can't be read; what was asked whole before it is answered first, and then no more is read."""
        if self.refused:
            self.flow.pause_reading()
            return
        self.logger.warning(msg)
        if self.cycle is None or self.idle:
            super().send_400_response(msg)
        elif self.pipeline or not self.cycle.more_body:
            if self.cycle.more_body:
                self.pipeline.popleft()  # the newest: it is its body that can't be read
            self.refused = True
            self.flow.pause_reading()
        elif self.cycle.response_started:  # it was the body of what is being answered
            self.transport.close()
        else:
            super().send_400_response(msg)

    def on_response_complete(self) -> None:
        """Wait for the next request from now on."""
        self.waiting_since = self.loop.time()
        if self.refused and not self.pipeline:
            self.transport.close()
        super().on_response_complete()

    def pause_writing(self) -> None:
        """Wait for the reader from now on."""
        self.waiting_since = self.loop.time()
        super().pause_writing()

    def end(self) -> None:
        """Close at once, and let the system forget what nobody read."""
        opened: socket.socket = self.transport.get_extra_info("socket")
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, FORGET_WHAT_IS_UNSENT)
        self.transport.abort()

    def look(self) -> None:
        """End what has waited too long; else look again when it will have."""
        now, over = self.loop.time(), self.waiting_since + (UNREAD_SECONDS if self.unread else self.head_seconds)
        if (self.idle or self.unread) and now >= over:
            self.end()
        else:
            self.looking = self.loop.call_at(max(over, now + 1), self.look)


def room(most: int) -> int:
    """How many connections a process may have open: as many as asked for, or as the system lets it have files for."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    needed = most + TAKEN_FIRST + SPARE_FILES
    if soft < needed:
        soft = needed if hard == resource.RLIM_INFINITY else min(needed, hard)
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    return max(1, min(most, soft - TAKEN_FIRST - SPARE_FILES))
