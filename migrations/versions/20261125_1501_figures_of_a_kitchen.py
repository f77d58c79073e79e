"""How long the steps of a batch take in a kitchen, where it set them itself."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "kitchen_figures",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("own", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["id"], ["kitchen.id"], name=op.f("fk_kitchen_figures_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kitchen_figures")),
    )


def downgrade() -> None:
    op.drop_table("kitchen_figures")
