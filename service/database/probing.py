"""Finding out whether a database can be worked with, without ever waiting long for it."""

from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as TooLateError
from enum import Enum, auto
from threading import Lock

from sqlalchemy import text
from sqlalchemy.exc import SQLAlchemyError

from service.database.engine import Database
from service.database.guard import guard_present
from service.database.migrating import is_at_head

# Each makes the database write something of no meaning, and wait for the disk: a header page, a record in the log.
# A server that only reads would take the record all the same.
_WRITES = {
    "sqlite": "PRAGMA user_version = 1",
    "postgresql": "SELECT pg_logical_emit_message(true, 'ready', '')"
    " WHERE NOT current_setting('transaction_read_only')::boolean",
}


class Failing(Enum):
    """What keeps a database from being worked with."""

    SILENT = auto()
    BEHIND = auto()
    UNGUARDED = auto()
    NOT_WRITTEN = auto()


class Probe:
    """Looks at a database in a thread of its own; whoever asks meanwhile shares the look."""

    def __init__(self, database: Database) -> None:
        """Know the database; nothing is looked at yet."""
        self._database = database
        self._thread = ThreadPoolExecutor(1, "probe")
        self._lock = Lock()
        self._looking: Future[Failing | None] | None = None

    def failing(self, within_seconds: float) -> Failing | None:
        """What fails, `None` if nothing does; what takes longer than this has failed."""
        with self._lock:
            if self._looking is None or self._looking.done():
                self._looking = self._thread.submit(self._look)
            looking = self._looking
        try:
            return looking.result(within_seconds)
        except TooLateError:
            return Failing.SILENT

    def close(self) -> None:
        """Look no more."""
        self._thread.shutdown(wait=False, cancel_futures=True)

    def _look(self) -> Failing | None:
        try:
            with self._database.reader.connect() as connection:
                if not is_at_head(connection):
                    return Failing.BEHIND
                if not guard_present(connection):
                    return Failing.UNGUARDED
        except SQLAlchemyError:
            return Failing.SILENT
        try:
            with self._database.writer.begin() as connection:
                written = connection.execute(text(_WRITES[self._database.dialect]))
                if written.returns_rows and written.first() is None:
                    return Failing.NOT_WRITTEN
        except SQLAlchemyError:
            return Failing.NOT_WRITTEN
        return None
