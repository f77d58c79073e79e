"""The base of every table, and the column types tables share."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from enum import StrEnum
from operator import attrgetter
from typing import Any, ClassVar, TypeVar

from sqlalchemy import Enum, MetaData
from sqlalchemy.engine import CursorResult
from sqlmodel import Session, SQLModel, col, update

Found = TypeVar("Found")


class Row(SQLModel):
    """A row of a table: columns and constraints, nothing validated, nothing that loads by itself."""

    model_config = {"defer_build": True}  # a validator that nothing asks for is never built

    metadata: ClassVar[MetaData] = MetaData(
        naming_convention={
            "pk": "pk_%(table_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
        }
    )


def words(kind: type[StrEnum], name: str | None = None) -> Any:
    """A column that holds the words of an enumeration themselves, and only those.

    The check is called `<name>_is_known`; `name` is needed where one table has two such columns.
    """
    return Enum(
        kind,
        values_callable=lambda members: [member.value for member in members],
        native_enum=False,
        create_constraint=True,
        name=f"{name or kind.__name__.lower()}_is_known",
        length=40,
    )


def change(session: Session, row: Any, version: int, **values: Any) -> bool:
    """Write new values over a row that still has this version; `False` says that someone else was first."""
    table = type(row)
    session.flush()
    result = session.execute(
        update(table)
        .where(col(table.id) == row.id, col(table.version) == version)
        .values(**values, version=version + 1)
        .execution_options(synchronize_session=False)
    )
    assert isinstance(result, CursorResult)
    session.refresh(row)
    return result.rowcount == 1


def by(key: str, rows: Iterable[Found]) -> Mapping[Any, list[Found]]:
    """Rows by what they belong to; nothing belongs to what isn't there.

    To look through all rows for each one they may belong to was half the time of a page of fifty batches.
    """
    found: dict[Any, list[Found]] = defaultdict(list)
    owner = attrgetter(key)
    for row in rows:
        found[owner(row)].append(row)
    return found
