"""A plan may hold a batch that has begun and runs over, batches booked without a due time, and go past the limits."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0025"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.add_column("day_plan", sa.Column("beyond_limits_because", sa.String(length=500), nullable=True))
    with op.batch_alter_table("planned_batch") as table:
        table.add_column(sa.Column("expected_out_at", MOMENT, nullable=True))
        table.alter_column("due_at", existing_type=MOMENT, nullable=True)


def downgrade() -> None:
    # Without a due time a batch can't be said any more; what it was booked for is kept with the booking.
    op.execute("DELETE FROM planned_batch WHERE due_at IS NULL")
    with op.batch_alter_table("planned_batch") as table:
        table.alter_column("due_at", existing_type=MOMENT, nullable=False)
        table.drop_column("expected_out_at")
    op.drop_column("day_plan", "beyond_limits_because")
