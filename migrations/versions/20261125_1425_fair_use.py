"""What each member may take of the kitchen, and why a coordinator let a booking go past it."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

LIMITS = ("days_ahead", "open_bookings", "canner_minutes_a_week")


def upgrade() -> None:
    op.create_table(
        "fair_use",
        sa.Column("id", sa.Uuid(), nullable=False),
        *(sa.Column(name, sa.Integer(), nullable=True) for name in LIMITS),
        sa.Column("offer_minutes", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["id"], ["kitchen.id"], name=op.f("fk_fair_use_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fair_use")),
    )
    op.create_table(
        "season",
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("first_on", sa.Date(), nullable=False),
        sa.Column("last_on", sa.Date(), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        *(sa.Column(name, sa.Integer(), nullable=True) for name in LIMITS),
        sa.CheckConstraint("first_on <= last_on", name=op.f("ck_season_starts_before_it_ends")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["fair_use.id"], name=op.f("fk_season_kitchen_id")),
        sa.PrimaryKeyConstraint("kitchen_id", "first_on", name=op.f("pk_season")),
    )
    op.add_column("booking", sa.Column("beyond_limits_because", sa.String(length=500), nullable=True))


def downgrade() -> None:
    op.drop_column("booking", "beyond_limits_because")
    op.drop_table("season")
    op.drop_table("fair_use")
