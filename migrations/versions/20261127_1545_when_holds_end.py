"""Until when time is held for whoever it is offered to: reads go by it before anybody has written that it is over."""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0022"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("occupancy", sa.Column("held_until", sa.DateTime(timezone=True), nullable=True))
    op.execute(
        "UPDATE occupancy SET held_until = (SELECT waiting.offered_until FROM hold JOIN waiting"
        " ON waiting.id = hold.waiting_id WHERE hold.occupancy_id = occupancy.id) WHERE kind = 'hold' AND active"
    )


def downgrade() -> None:
    op.drop_column("occupancy", "held_until")
