"""Finding out whether a database can be written to."""

from sqlalchemy import text
from sqlalchemy.exc import SQLAlchemyError

from service.database.engine import Database

# Each makes the database write something of no meaning: a header page, a transaction's end.
_PROBES = {"sqlite": "PRAGMA user_version = 1", "postgresql": "SELECT pg_current_xact_id()"}


def takes_a_write(database: Database) -> bool:
    """Whether a write reaches the disk."""
    try:
        with database.writer.begin() as connection:
            connection.execute(text(_PROBES[database.dialect]))
    except SQLAlchemyError:
        return False
    return True
