"""Statements written once and run by the driver itself, for what nearly every request asks or writes.

From a statement to its rows SQLAlchemy takes 60 µs on SQLite and 100 µs on PostgreSQL, three times what SQLite itself
takes for most (measured within a booking, which has a dozen). Here its compiler writes the SQL, and its types turn the
values over, as ever; which of them have something to do is found out once.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, Dialect, Enum, Insert, Select, Uuid
from sqlalchemy.orm import SessionTransaction
from sqlalchemy.types import TypeEngine
from sqlmodel import Session
from sqlmodel.sql.sqltypes import UTCDateTime

MOST_IN_ONE = 12  # INSERTs; each number of them is a statement of its own, which the driver prepares
_PARAMETER = re.compile(r"%\((\w+)\)s")
MOST_CURSORS = 64  # kept by a connection
FEW_ROWS = 100
_AT_WORK = "transaction and connection"
_CURSORS = "cursors by their statements"
Turn = Any  # what a type makes of a value on its way in or out: a function, or None if it stays as it is


@dataclass(frozen=True, slots=True)
class _Written:
    """A statement in the words of one database."""

    sql: str
    named: bool  # whether the driver takes its parameters by name, else in their order
    given: tuple[tuple[str, Turn], ...]  # in their order; where they are told by it, one may come twice
    constants: Mapping[str, Any]
    found: tuple[tuple[int, Turn], ...]  # for the columns that don't stay as they are

    def parameters(self, values: Mapping[str, Any]) -> Any:
        """The values as the driver takes them. Raises `KeyError` for one that is missing."""
        constants = self.constants
        turned = [
            (name, constants[name] if name in constants else turn(values[name]) if turn else values[name])
            for name, turn in self.given
        ]
        return dict(turned) if self.named else tuple([value for _, value in turned])

    def rows(self, found: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
        """What was found, as SQLAlchemy would give it; by columns, since a long list has hundreds of values."""
        if not found or not self.found:
            return found
        columns: list[Any] = list(zip(*found, strict=True))
        for place, turn in self.found:
            columns[place] = map(turn, columns[place])
        return list(zip(*columns, strict=True))


class Prepared:
    """A SELECT with `bindparam`s, or an INSERT of all columns but those left out."""

    def __init__(self, statement: Select[*tuple[Any, ...]] | Insert, leaving_out: Sequence[str] = ()) -> None:
        """Know the statement; it is written when a database first needs it."""
        self._statement = statement
        self._leaving_out = leaving_out
        self._written: dict[str, _Written] = {}

    def rows(self, where: Session | Connection, **values: Any) -> list[tuple[Any, ...]]:
        """What it finds, within the transaction there is, if any, and after what a session has yet to write."""
        connection = at_work(where) if isinstance(where, Session) else where
        written = self.written_for(connection.dialect)
        return written.rows(run(connection, written.sql, written.parameters(values)).fetchall())

    def of(self, *rows: Mapping[str, Any]) -> "Rows":
        """Rows that it is to write."""
        return Rows(self, rows)

    def written_for(self, dialect: Dialect) -> _Written:
        """The statement in the words of this database."""
        return self._written.get(dialect.name) or self._written.setdefault(dialect.name, self._write_down(dialect))

    def _write_down(self, dialect: Dialect) -> _Written:
        statement, columns, turns = self._statement, None, []
        if isinstance(statement, Insert):
            columns = [each.name for each in statement.table.columns if each.name not in self._leaving_out]
        else:
            turns = [_out_of(column.type, dialect) for column in statement.selected_columns]
        compiled = statement.compile(dialect=dialect, column_keys=columns)
        given, constants = [], {}
        for name in compiled.positiontup or compiled.params:
            bind = compiled.binds[name]
            turn = bind.type.dialect_impl(dialect).bind_processor(dialect)
            given.append((name, turn))
            if not bind.required:
                constants[name] = turn(bind.effective_value) if turn else bind.effective_value
        return _Written(
            compiled.string,
            not dialect.positional,
            tuple(given),
            constants,
            tuple((place, turn) for place, turn in enumerate(turns) if turn),
        )


def _out_of(kind: TypeEngine[Any], dialect: Dialect) -> Turn:
    """What a type makes of a value that was found; SQLAlchemy is far slower with those that lists abound in."""
    if isinstance(kind, UTCDateTime):
        return _moment if dialect.name == "sqlite" else _in_utc
    if isinstance(kind, Uuid) and dialect.name == "sqlite":
        return _id
    if isinstance(kind, Enum) and kind.enum_class is not None:
        words: dict[str | None, Any] = {None: None, **dict(zip(kind.enums, kind.enum_class, strict=True))}
        return words.__getitem__
    return kind.dialect_impl(dialect).result_processor(dialect, None)


def _moment(kept: str | None) -> datetime | None:
    return None if kept is None else datetime.fromisoformat(kept + "+00:00")


def _in_utc(kept: datetime | None) -> datetime | None:
    return kept if kept is None or kept.tzinfo is UTC else kept.astimezone(UTC)


@lru_cache(maxsize=4096)  # a list names the same few members and pieces again and again
def _id(kept: str | None) -> UUID | None:
    return None if kept is None else UUID(kept)


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows that an INSERT is to write."""

    prepared: Prepared
    rows: Sequence[Mapping[str, Any]]


def write(connection: Connection, *writes: Rows) -> None:
    """Write rows of several tables, those first that others point at, within a transaction that has begun.

    Each statement costs a round trip to PostgreSQL, which therefore gets many INSERTs in one. In which order it does
    those is its affair: it looks at foreign keys when all are done, and nothing else there looks at other tables.
    """
    each = [
        (written.sql, written.parameters(row))
        for write in writes
        for written in (write.prepared.written_for(connection.dialect),)
        for row in write.rows
    ]
    if connection.dialect.name == "sqlite":
        for sql, parameters in each:
            run(connection, sql, parameters)
        return
    for start in range(0, len(each), MOST_IN_ONE):
        some = each[start : start + MOST_IN_ONE]
        values = {f"{name}_{place}": value for place, (_, row) in enumerate(some) for name, value in row.items()}
        run(connection, _in_one(tuple(sql for sql, _ in some)), values)


@lru_cache(maxsize=128)
def _in_one(inserts: tuple[str, ...]) -> str:
    """Several INSERTs as one statement; the parameters of each have its place in their names."""
    *first, last = (_PARAMETER.sub(rf"%(\1_{place})s", sql) for place, sql in enumerate(inserts))
    others = ", ".join(f"written_{place} AS ({sql})" for place, sql in enumerate(first))
    return f"WITH {others} {last}" if others else last


def at_work(session: Session) -> Connection:
    """The connection of a session's transaction, with everything written that the session has yet to write.

    Kept as long as the transaction: to be told it by the session each time takes as long as to have SQLite find a row.
    A transaction within another is one of its own, which the session begins as it tells its connection.
    """
    session.flush()
    known = session.info.get(_AT_WORK)
    if known is None or known[0] is not _transaction(session):
        connection = session.connection()
        known = session.info[_AT_WORK] = _transaction(session), connection
    found: Connection = known[1]
    return found


def _transaction(session: Session) -> SessionTransaction | None:
    return session.get_nested_transaction() or session.get_transaction()


def run(connection: Connection, sql: str, parameters: Any = ()) -> Any:
    """Have the driver run this within a transaction that has begun. Raises what SQLAlchemy would raise.

    What comes back is its cursor, to be read before the same is run again.
    """
    kept = _cursors(connection)
    cursor = (kept.pop(sql, None) if kept else None) or connection.connection.cursor()
    for told in connection.engine.dispatch.before_cursor_execute:
        told(connection, cursor, sql, parameters, None, False)
    try:
        cursor.execute(sql, parameters)
    except BaseException as error:
        # Not public, and the one place that knows which errors end a connection and all that were opened with it.
        connection._handle_dbapi_exception(error, sql, parameters, cursor, None)
    if kept is not None and cursor.rowcount <= FEW_ROWS:
        kept[sql] = cursor
        if len(kept) > MOST_CURSORS:
            del kept[next(iter(kept))]  # whose statement wasn't run for the longest time
    return cursor


def _cursors(connection: Connection) -> dict[str, Any] | None:
    """The cursors of statements that a connection to PostgreSQL ran lately; of SQLite none is kept.

    A cursor of psycopg that runs the same statement again knows how each of its values goes in and comes out: that
    takes 15 µs of the processor in place of 26. It also keeps what was found last, so few rows only. One of SQLite
    learns nothing, and may hold on to a statement that isn't over.
    """
    if connection.dialect.name == "sqlite":
        return None
    kept: dict[str, Any] = connection.info.setdefault(_CURSORS, {})
    return kept
