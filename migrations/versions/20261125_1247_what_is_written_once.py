"""The database itself refuses to change or delete movements, revisions and the checks they got.

A migration that rebuilds one of these tables on SQLite loses its triggers and has to make them again.
"""

from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

TABLES = ("movement", "revision", "revision_check")

FUNCTION = """
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'written_once' USING ERRCODE = 'integrity_constraint_violation';
END
$$
"""


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.execute(FUNCTION)
        for table in TABLES:
            op.execute(
                f"CREATE TRIGGER {table}_is_written_once BEFORE UPDATE OR DELETE ON {table}"
                " FOR EACH ROW EXECUTE FUNCTION refuse_change()"
            )
    else:
        for table in TABLES:
            for act in ("update", "delete"):
                op.execute(
                    f"CREATE TRIGGER {table}_is_written_once_on_{act} BEFORE {act} ON {table}"
                    " BEGIN SELECT RAISE(ABORT, 'written_once'); END"
                )


def downgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        for table in TABLES:
            op.execute(f"DROP TRIGGER {table}_is_written_once ON {table}")
        op.execute("DROP FUNCTION refuse_change()")
    else:
        for table in TABLES:
            for act in ("update", "delete"):
                op.execute(f"DROP TRIGGER {table}_is_written_once_on_{act}")
