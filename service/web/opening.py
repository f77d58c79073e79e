"""The first moments of a process that serves alone: it tells how it is while all the rest is loaded."""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager, suppress
from math import inf

from fastapi import FastAPI
from pydantic import SecretStr
from starlette.exceptions import HTTPException
from starlette.types import Receive, Scope, Send
from uvicorn.config import STARTUP_FAILURE

from service.database.engine import Database
from service.database.migrating import require_head
from service.database.probing import Probe
from service.web import health
from service.web.envelope import Envelope
from service.web.gate import OUTSIDE
from service.web.problems import answer_problem

PAUSE_SECONDS = 0.1
ERRORS = logging.getLogger("canning.errors")


class Opening:
    """An application that answers for its health at once, and for everything once all of it is loaded.

    To load it all takes as long again as to get here. Whoever asks for more meanwhile waits for it, where they would
    have found nobody listening. Nothing is served by halves: the published figures are read and every route is there
    before any but those of health is used. What can't be loaded ends the process, as a start that failed.
    """

    def __init__(self, database: Database, metrics_token: SecretStr | None, load: Callable[[], FastAPI]) -> None:
        """Know the way to the whole application, which works on the same database; nothing is loaded yet."""
        self.database = database
        self.probe = Probe(database)
        self.load = load
        self.whole: FastAPI | None = None
        self._asked, self._whole_is_here = asyncio.Event(), asyncio.Event()
        first = FastAPI(
            lifespan=self._lifespan, redirect_slashes=False, docs_url=None, redoc_url=None, openapi_url=None
        )
        first.state.probe = self.probe
        first.state.storage_full_at = -inf
        first.state.metrics_token = metrics_token
        first.router.routes.extend(health.router.routes)
        first.add_exception_handler(HTTPException, answer_problem)
        self.first = Envelope(first)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, once there is whom to pass it to."""
        if self.whole:
            await self.whole(scope, receive, send)
        elif scope["type"] == "lifespan" or scope["path"] in OUTSIDE:
            await self.first(scope, receive, send)
        else:
            self._asked.set()
            await self._whole_is_here.wait()
            await self(scope, receive, send)

    @asynccontextmanager
    async def _lifespan(self, _first: FastAPI) -> AsyncIterator[None]:
        async with AsyncExitStack() as closing:
            closing.callback(self.database.close)
            closing.callback(self.probe.close)
            require_head(self.database)
            opening = asyncio.create_task(self._open(closing))
            yield
            opening.cancel()
            await asyncio.wait([opening])

    async def _open(self, closing: AsyncExitStack) -> None:
        """Load the whole application and let it begin: with the first request for it, or after a moment without one."""
        with suppress(TimeoutError):
            await asyncio.wait_for(self._asked.wait(), PAUSE_SECONDS)
        try:
            whole = await asyncio.to_thread(self.load)
            await closing.enter_async_context(whole.router.lifespan_context(whole))
        except Exception:
            ERRORS.critical("What is to be served can't be loaded.", exc_info=True)
            raise SystemExit(STARTUP_FAILURE) from None
        self.whole = whole
        self._whole_is_here.set()
