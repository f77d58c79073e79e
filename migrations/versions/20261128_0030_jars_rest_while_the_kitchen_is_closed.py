"""A closure takes no place of a rack: jars rest there while nobody is in."""

from alembic import op

revision = "0038"
down_revision = "0037a"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute(
        "UPDATE occupancy SET lane_lo = 2000, lane_hi = 2001 WHERE kind = 'closure'"
        " AND resource_id IN (SELECT number FROM equipment WHERE kind = 'rack')"
    )


def downgrade() -> None:
    """Jars may rest by now where the closures were laid before; where they lie now, they still close the kitchen."""
