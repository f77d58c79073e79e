"""A driver of PostgreSQL that doesn't wait for ever; a kitchen on SQLite needn't load it."""

import select
from time import monotonic
from typing import Any, TypeVar

import psycopg
from psycopg.abc import PQGen
from sqlalchemy.exc import InvalidatePoolError

_Answer = TypeVar("_Answer")
TRUSTED_SECONDS = 1.0  # for so long after its last answer a connection isn't asked whether it still is one


class Patient(psycopg.Connection[Any]):
    """A connection that gives up on a server that hangs, whose own time-outs hang with it."""

    most_seconds: float | None = None
    answered_at = float("-inf")

    def wait(self, gen: PQGen[_Answer], interval: float = 0.1, timeout: float | None = None) -> _Answer:
        """Wait for one answer. Raises `psycopg.OperationalError`, with the connection closed, after `most_seconds`."""
        try:
            answer = super().wait(gen, interval, self.most_seconds if timeout is None else timeout)
        except psycopg.OperationalError as error:
            if error.sqlstate is None:  # the server said nothing: its late answer must not meet another request
                self.pgconn.finish()
            raise
        self.answered_at = monotonic()
        return answer

    @property
    def in_doubt(self) -> bool:
        """Whether it may be gone: it lay idle, or the server said something unasked, as one that closes it does."""
        if self.closed or monotonic() - self.answered_at > TRUSTED_SECONDS:
            return True
        heard = select.poll()
        heard.register(self.pgconn.socket, select.POLLIN)
        return bool(heard.poll(0))


def require_alive(connection: Patient, _record: Any, _fairy: Any) -> None:
    """Ask a connection that is in doubt, before anybody works with it; if it is gone, so are those beside it.

    To ask each time takes as long as to find out whose token came along.
    """
    if connection.in_doubt:
        try:
            connection.execute("SELECT 1")
        except psycopg.Error as error:
            raise InvalidatePoolError from error
