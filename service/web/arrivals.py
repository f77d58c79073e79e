"""Bodies arrive before their requests take a place inside: who sends slowly keeps nobody else waiting."""

import asyncio
import re
from collections.abc import Iterable
from typing import Any

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.web.problems import Problem
from service.web.routing import BODY_LIMIT_BYTES, body_limit_bytes

LENGTHS = frozenset({b"content-length", b"transfer-encoding"})
NOTHING = {b"content-length": b"0"}


class Arrivals:
    """Reads a whole body, as far as its route takes it, within a time; stands outside the gate, pure ASGI."""

    def __init__(self, app: ASGIApp, routes: Iterable[Any], seconds: float) -> None:
        """Wrap the gate; the routes say which of them take more than most."""
        self.app = app
        self.seconds = seconds
        self.larger: list[tuple[re.Pattern[str], int]] = [
            (route.path_regex, limit) for route in routes if (limit := body_limit_bytes(route)) > BODY_LIMIT_BYTES
        ]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on once its body is here."""
        stated = {name: value for name, value in scope["headers"] if name in LENGTHS} if scope["type"] == "http" else {}
        if not stated or stated == NOTHING:
            await self.app(scope, receive, send)
            return
        if len(stated) > 1:  # somebody on the way may take the body to end elsewhere (RFC 9112, sections 6.3 and 11.2)
            doubtful = Problem("unreadable-json", "A body has one length.", headers={"Connection": "close"})
            await doubtful.response(scope["state"]["request_id"])(scope, receive, send)
            return
        limit_bytes = max((limit for path, limit in self.larger if path.match(scope["path"])), default=BODY_LIMIT_BYTES)
        try:
            async with asyncio.timeout(self.seconds):
                arrived = await _arrived(receive, limit_bytes)
        except TimeoutError:
            slow = Problem("too-slow", "The body didn't arrive in time.", headers={"Connection": "close"})
            await slow.response(scope["state"]["request_id"])(scope, receive, send)
            return
        if arrived is None:
            return

        async def again() -> Message:
            nonlocal arrived
            message, arrived = arrived, None
            return message or await receive()

        await self.app(scope, again, send)


async def _arrived(receive: Receive, limit_bytes: int) -> Message | None:
    """The body in one message, or its beginning where it is too large; `None` when the caller has gone."""
    parts: list[bytes] = []
    more, length = True, 0
    while more and length <= limit_bytes:
        message = await receive()
        if message["type"] == "http.disconnect":
            return None
        parts.append(message.get("body", b""))
        more, length = message.get("more_body", False), length + len(parts[-1])
    return {"type": "http.request", "body": b"".join(parts), "more_body": more}
