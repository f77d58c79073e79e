"""Who waits stands in an index of their own, in order, apart from everybody who ever waited."""

import sqlalchemy as sa
from alembic import op

revision = "0037a"
down_revision = "0037"
branch_labels = None
depends_on = None

OPEN = "state IN ('waiting', 'offered')"


def upgrade() -> None:
    op.create_index(
        "ix_waiting_open",
        "waiting",
        ["kitchen_id", "number"],
        postgresql_where=sa.text(OPEN),
        sqlite_where=sa.text(OPEN),
    )
    op.drop_index("ix_waiting_kitchen_id_state", "waiting")


def downgrade() -> None:
    op.create_index("ix_waiting_kitchen_id_state", "waiting", ["kitchen_id", "state"])
    op.drop_index("ix_waiting_open", "waiting")
