"""Whether an occupied unit may be changed for an identical one, and when a booking takes its member's own hands."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("occupancy", sa.Column("unit_fixed", sa.Boolean(), nullable=False, server_default=sa.true()))
    op.add_column("booking", sa.Column("hands", sa.JSON(), nullable=False, server_default="[]"))


def downgrade() -> None:
    op.drop_column("booking", "hands")
    op.drop_column("occupancy", "unit_fixed")
