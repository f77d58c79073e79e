"""One history of the schema, both ways, on both databases."""

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import inspect, text

from service.database.engine import open_engine
from service.database.migrating import WrongSchemaError, _history, _scripts, is_at_head, migrate, require_head
from service.schema import METADATA


@pytest.fixture
def database(empty_database_url):
    opened = open_engine(empty_database_url)
    yield opened
    opened.close()


def schema(database):
    """Everything the database itself says it is made of."""
    query = {
        "sqlite": "SELECT type, name, sql FROM sqlite_master ORDER BY type, name",
        "postgresql": """
            SELECT 'constraint', conname, pg_get_constraintdef(oid) FROM pg_constraint
            WHERE connamespace = 'public'::regnamespace
            UNION ALL SELECT 'index', indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'
            UNION ALL SELECT 'trigger', tgname, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal
            UNION ALL SELECT table_name, column_name, data_type || is_nullable FROM information_schema.columns
            WHERE table_schema = 'public'
            ORDER BY 1, 2, 3""",
    }[database.dialect]
    with database.reader.connect() as connection:
        rows = [tuple(row) for row in connection.execute(text(query))]
    # a rebuilt table of SQLite lists its constraints in any order
    return [(*row[:2], sorted(line.strip(" \t,") for line in (row[2] or "").splitlines())) for row in rows]


def test_up_down_and_up_again_ends_where_it_began(database):
    migrate(database)
    first = schema(database)
    migrate(database, "base")
    with database.reader.connect() as connection:
        assert set(inspect(connection).get_table_names()) <= {"alembic_version"}
    migrate(database)
    assert schema(database) == first


def test_the_migrated_schema_is_what_the_tables_say(database):
    migrate(database)
    with database.reader.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []
        assert is_at_head(connection)


def test_the_history_read_from_the_files_is_the_one_alembic_knows():
    scripts = _scripts()
    assert _history() == ({each.revision for each in scripts.walk_revisions()}, scripts.get_current_head())


def test_every_constraint_has_a_name(database):
    migrate(database)
    with database.reader.connect() as connection:
        looking = inspect(connection)
        for table in looking.get_table_names():
            if table == "alembic_version":
                continue
            constraints = [
                looking.get_pk_constraint(table),
                *looking.get_foreign_keys(table),
                *looking.get_unique_constraints(table),
                *looking.get_check_constraints(table),
            ]
            assert all(constraint["name"] for constraint in constraints), table


def test_migrating_twice_changes_nothing(database):
    migrate(database)
    with database.writer.begin() as connection:
        connection.execute(text("INSERT INTO signing_key (purpose, key_hex) VALUES ('cursors', '00')"))
    before = schema(database)
    migrate(database)
    require_head(database)
    assert schema(database) == before
    with database.reader.connect() as connection:
        assert connection.execute(text("SELECT key_hex FROM signing_key")).scalar_one() == "00"


def test_a_database_of_something_else_is_left_alone(database):
    with database.writer.begin() as connection:
        connection.execute(text("CREATE TABLE diary (page int)"))
    with pytest.raises(WrongSchemaError, match="aren't this service's"):
        migrate(database)
    with database.reader.connect() as connection:
        assert inspect(connection).get_table_names() == ["diary"]


def test_a_schema_of_another_version_is_left_alone(database):
    migrate(database)
    with database.writer.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'from-the-future'"))
    for touch in (migrate, require_head):
        with pytest.raises(WrongSchemaError, match="doesn't know"):
            touch(database)


def test_nothing_is_served_from_a_database_behind(database):
    migrate(database, "0001")
    with pytest.raises(WrongSchemaError, match="up to date"):
        require_head(database)


def test_foreign_keys_hold_again_after_migrating(database):
    migrate(database)
    if database.dialect == "sqlite":
        with database.writer.connect() as connection:
            assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar() == 1
