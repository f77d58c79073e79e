"""Workers that die are replaced at once, whatever their supervisor is doing."""

import os
import signal
from threading import Timer
from time import monotonic

from uvicorn import Config

from service.web.workers import Worker


def test_a_worker_that_dies_while_it_is_asked_is_known_to_be_dead() -> None:
    worker = Worker(Config("tests.web.test_workers:nothing"), [])
    worker.start()
    try:
        assert worker.ping(60)
        assert worker.pid is not None
        os.kill(worker.pid, signal.SIGSTOP)  # it doesn't answer, and then it dies
        os.waitpid(worker.pid, os.WUNTRACED)
        Timer(0.2, os.kill, (worker.pid, signal.SIGKILL)).start()
        began = monotonic()
        assert not worker.is_alive(60)
        assert monotonic() - began < 30
    finally:
        worker.kill()
        worker.join()
    assert worker.exitcode == -signal.SIGKILL


async def nothing(scope: object, receive: object, send: object) -> None:
    """An application that never answers."""
