"""Who did what: entries the database itself refuses to change or delete.

A migration that rebuilds the table on SQLite loses its triggers and has to make them again.
"""

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "audit_entry",
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=True),
        sa.Column("act", sa.String(length=100), nullable=False),
        sa.Column("about", sa.String(length=500), nullable=False),
        sa.Column("request_id", sa.String(length=64), nullable=True),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_audit_entry_entries_are_counted")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_audit_entry_kitchen_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_audit_entry_member_id")),
        sa.PrimaryKeyConstraint("kitchen_id", "number", name=op.f("pk_audit_entry")),
    )
    op.create_index(
        "ix_audit_entry_kitchen_id_member_id_number", "audit_entry", ["kitchen_id", "member_id", "number"], unique=False
    )
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE TRIGGER audit_entry_is_written_once BEFORE UPDATE OR DELETE ON audit_entry"
            " FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )
        op.execute(
            "CREATE TRIGGER audit_entry_is_never_emptied BEFORE TRUNCATE ON audit_entry"
            " FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
    else:
        for act in ("update", "delete"):
            op.execute(
                f"CREATE TRIGGER audit_entry_is_written_once_on_{act} BEFORE {act} ON audit_entry"
                " BEGIN SELECT RAISE(ABORT, 'written_once'); END"
            )


def downgrade() -> None:
    op.drop_index("ix_audit_entry_kitchen_id_member_id_number", table_name="audit_entry")
    op.drop_table("audit_entry")  # and its triggers
