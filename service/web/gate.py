"""How many requests work at once, so that none waits for a connection whose holder waits for a thread."""

import asyncio

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.web.metrics import WAITING
from service.web.problems import Problem

OUTSIDE = frozenset({"/healthz", "/readyz", "/metrics"})


class Gate:
    """Lets in as many requests as there are connections, keeps some waiting in order, and sends the rest away."""

    def __init__(self, app: ASGIApp, inside: int, waiting: int, wait_seconds: float = 10) -> None:
        """Wrap the service; `inside` stays below the number of worker threads."""
        self.app = app
        self.room = asyncio.Semaphore(inside)
        self.most_waiting = waiting
        self.waiting = 0
        self.wait_seconds = wait_seconds

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request, at once or in its turn."""
        if scope["type"] != "http" or scope["path"] in OUTSIDE:
            await self.app(scope, receive, send)
            return
        if self.room.locked():
            if self.waiting >= self.most_waiting:
                await self._send_away("Too many requests are waiting.", scope, receive, send)
                return
            self.waiting += 1
            WAITING.inc()
            try:
                async with asyncio.timeout(self.wait_seconds):
                    await self.room.acquire()
            except TimeoutError:
                await self._send_away("Those before it take too long.", scope, receive, send)
                return
            finally:
                self.waiting -= 1
                WAITING.dec()
        else:
            await self.room.acquire()
        place, held = [self.room], list[Message]()

        async def answer(message: Message) -> None:
            """Give the place back before the last of the answer leaves: a caller may take its time to read it."""
            held.append(message)
            if message["type"] == "http.response.start":
                return
            if not message.get("more_body", False):
                place.pop().release()
            while held:
                await send(held.pop(0))

        try:
            await self.app(scope, receive, answer)
        finally:
            if place:
                place.pop().release()

    async def _send_away(self, detail: str, scope: Scope, receive: Receive, send: Send) -> None:
        scope["state"]["problem"] = "busy"
        busy = Problem("busy", detail).response(scope["state"]["request_id"])
        await busy(scope, receive, send)
