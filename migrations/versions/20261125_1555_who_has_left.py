"""A member who leaves stays in the books: what they made and moved keeps their name."""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("member", sa.Column("left_at", sa.DateTime(timezone=True), nullable=True))


def downgrade() -> None:
    op.drop_column("member", "left_at")
