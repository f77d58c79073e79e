"""What members read in an order stands in an index in that order, so that a page costs the same beside any history.

Who looks for what ends after a moment goes by the start, and reads the end from the same index. Jars that are gone for
good and batches that wait for nobody stay out of the indexes that would else be read past them.
"""

import sqlalchemy as sa
from alembic import op

revision = "0037"
down_revision = "0020"
branch_labels = None
depends_on = None

# one takes the place of the other
REPLACED = [
    ("booking", ["kitchen_id", "starts_at", "id"], ["kitchen_id", "starts_at", "id", "ends_at"]),
    ("booking", ["member_id"], ["member_id", "starts_at", "id", "ends_at"]),
    ("batch", ["member_id"], ["member_id", "started_at", "id"]),
    ("recipe", ["member_id"], ["member_id", "made_at", "id"]),
    ("member", ["kitchen_id"], ["kitchen_id", "name", "id"]),
    ("closure", ["kitchen_id"], ["kitchen_id", "starts_at", "id"]),
    ("outage", ["equipment_id"], ["equipment_id", "starts_at", "id"]),
    ("waiting", ["member_id"], ["member_id", "number"]),
]
OF_SOME = [
    (
        "ix_lot_recalled",
        "lot",
        ["kitchen_id", "recalled_at", "id"],
        "recalled_at IS NOT NULL",
        "recalled_at IS NOT NULL",
    ),
    ("ix_batch_on_hold", "batch", ["kitchen_id", "started_at", "id"], "on_hold", "on_hold = 1"),
]
HELD = "jars > 0 AND state IN ('shelf', 'refrigerator', 'freezer', 'opened', 'hold', 'recalled')"
OF_SOME += [("ix_balance_held", "balance", ["holder_id", "best_by", "id"], HELD, HELD)]


def upgrade() -> None:
    for table, before, after in REPLACED:
        op.create_index(_name(table, after), table, after)
        op.drop_index(_name(table, before), table)
    op.create_index("ix_lot_kitchen_id_made_on", "lot", ["kitchen_id", "made_on"])
    for name, table, columns, postgresql, sqlite in OF_SOME:
        op.create_index(name, table, columns, postgresql_where=sa.text(postgresql), sqlite_where=sa.text(sqlite))
    op.drop_index("ix_balance_holder_id_best_by_id", "balance")


def downgrade() -> None:
    op.create_index("ix_balance_holder_id_best_by_id", "balance", ["holder_id", "best_by", "id"])
    for name, table, *_ in reversed(OF_SOME):
        op.drop_index(name, table)
    op.drop_index("ix_lot_kitchen_id_made_on", "lot")
    for table, before, after in reversed(REPLACED):
        op.create_index(_name(table, before), table, before)
        op.drop_index(_name(table, after), table)


def _name(table: str, columns: list[str]) -> str:
    return f"ix_{table}_{'_'.join(columns)}"
