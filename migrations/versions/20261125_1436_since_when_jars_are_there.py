"""Balances with jars get the moment of the first movement that brought any: the oldest may be the one that is left."""

from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute(
        "UPDATE balance SET since_at = (SELECT min(moved_at) FROM movement WHERE movement.lot_id = balance.lot_id"
        " AND movement.jar_size = balance.jar_size AND movement.target_holder_id = balance.holder_id"
        " AND movement.target_state = balance.state) WHERE jars > 0"
    )


def downgrade() -> None:
    op.execute("UPDATE balance SET since_at = NULL")
