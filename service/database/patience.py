"""A driver of PostgreSQL that doesn't wait for ever; a kitchen on SQLite needn't load it."""

from typing import Any, TypeVar

import psycopg
from psycopg.abc import PQGen

_Answer = TypeVar("_Answer")


class Patient(psycopg.Connection[Any]):
    """A connection that gives up on a server that hangs, whose own time-outs hang with it."""

    most_seconds: float | None = None

    def wait(self, gen: PQGen[_Answer], interval: float = 0.1, timeout: float | None = None) -> _Answer:
        """Wait for one answer. Raises `psycopg.OperationalError`, with the connection closed, after `most_seconds`."""
        try:
            return super().wait(gen, interval, self.most_seconds if timeout is None else timeout)
        except psycopg.OperationalError as error:
            if (
                error.sqlstate is None
            ):  # nothing is known of the connection: a late answer must not meet another request
                self.pgconn.finish()
            raise
