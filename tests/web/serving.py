"""The service on a port of its own, for what only a socket shows."""

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from typing import Any

import uvicorn
from fastapi import FastAPI

from service.web.connections import Connection


@contextmanager
def serving(app: FastAPI, **options: Any) -> Iterator[int]:
    """Serve an application until the block ends; what is given is the port."""
    options = {"http": partial(Connection, most=1000, head_seconds=20), "ws": "none", **options}
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_config=None, access_log=False, **options))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        while not server.started:
            assert thread.is_alive()
            time.sleep(0.01)
        yield server.servers[0].sockets[0].getsockname()[1]
    finally:  # a test that fails leaves no server behind, for which the run would wait
        server.should_exit = True
        thread.join()
