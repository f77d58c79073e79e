"""How many connections a worker keeps open, and for how long it waits for whoever is at their other end."""

import asyncio
import resource
import socket
import struct
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

AT_ONCE = 128  # that wait to be taken (`backlog`)
TAKEN_FIRST = 5 * AT_ONCE  # so many may be taken before the first of them is looked at, and then ended
UNREAD_SECONDS = 60  # for which nothing of an answer was read
SPARE_FILES = 100  # that a worker may have open beside its connections
FORGET_WHAT_IS_UNSENT = struct.pack("ii", 1, 0)


class Connection(H11Protocol):
    """One connection, as the server speaks it, that isn't kept for ever.

    The server itself ends only those that wait for a next request. Here one ends too whose request doesn't begin, or
    whose head doesn't arrive, within `head_seconds`, and one that doesn't read its answer. Where more come than may be
    open, the one that has kept the service waiting longest makes room: who does nothing is in nobody's way, and
    liveness and readiness are told however many there are. What is asked whole is the gate's to answer.
    """

    def __init__(self, *given: Any, most: int, head_seconds: float, **named: Any) -> None:
        """Speak for the server; `most` may be open in this process."""
        super().__init__(*given, **named)
        self.most = most
        self.head_seconds = head_seconds
        self.waiting_since = self.loop.time()
        self.looking: asyncio.TimerHandle | None = None

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
        return self.idle or self.unread or self.cycle.more_body

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

    def on_response_complete(self) -> None:
        """Wait for the next request from now on."""
        self.waiting_since = self.loop.time()
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
