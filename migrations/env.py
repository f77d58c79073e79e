"""How Alembic meets the kitchen's database: on the connection it is given, or on the one the settings name."""

from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy import Connection
from sqlmodel.sql.sqltypes import AutoString, UTCDateTime

from service.database.engine import open_engine
from service.schema import METADATA
from service.settings import Settings


def render_item(kind: str, item: Any, _context: AutogenContext) -> str | Literal[False]:
    """Write SQLModel's own types as plain ones, so that a revision needs nothing but Alembic and SQLAlchemy."""
    if kind == "type" and isinstance(item, AutoString):
        return f"sa.String(length={item.impl.length})" if item.impl.length else "sa.String()"
    if kind == "type" and isinstance(item, UTCDateTime):
        return "sa.DateTime(timezone=True)"
    return False


def run(connection: Connection) -> None:
    """Run the revisions inside the transaction this connection already has."""
    context.configure(
        connection=connection,
        target_metadata=METADATA,
        render_item=render_item,
        transactional_ddl=True,
        render_as_batch=connection.dialect.name == "sqlite",
        compare_server_default=True,
        autogenerate_plugins=["alembic.autogenerate.*", "alembic.ext.checkconstraint_byname"],
    )
    with context.begin_transaction():
        context.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:
    database = open_engine(Settings().database_url)
    with database.writer.connect() as own:
        run(own)
        own.commit()
    database.close()
