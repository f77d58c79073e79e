"""Keys that every process signs with, such as the place where the next page of a list starts."""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0027"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "signing_key",
        sa.Column("purpose", sa.String(length=40), nullable=False),
        sa.Column("key_hex", sa.String(length=64), nullable=False),
        sa.PrimaryKeyConstraint("purpose", name=op.f("pk_signing_key")),
    )


def downgrade() -> None:
    op.drop_table("signing_key")
