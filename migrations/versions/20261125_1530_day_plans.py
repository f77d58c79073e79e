"""Plans of whole days, and the batches each is to place."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0014"
branch_labels = None
depends_on = None

STATUSES = ("queued", "running", "proposed", "infeasible", "cancelled", "stale", "accepted")


def upgrade() -> None:
    op.create_table(
        "day_plan",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column(
            "status",
            sa.Enum(*STATUSES, name="planstatus_is_known", native_enum=False, create_constraint=True, length=40),
            nullable=False,
        ),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("time_limit_seconds", sa.Integer(), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=True),
        sa.Column("ordered_by", sa.Uuid(), nullable=False),
        sa.Column("ordered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("beat_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("reason", sa.String(length=1000), nullable=True),
        sa.Column("progress", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("found", sa.JSON(none_as_null=True), nullable=True),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_day_plan_starts_before_it_ends")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_day_plan_kitchen_id")),
        sa.ForeignKeyConstraint(["ordered_by"], ["member.id"], name=op.f("fk_day_plan_ordered_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_day_plan")),
    )
    op.create_index(op.f("ix_day_plan_status"), "day_plan", ["status"])
    op.create_index("ix_day_plan_kitchen_id_ordered_at_id", "day_plan", ["kitchen_id", "ordered_at", "id"])
    op.create_table(
        "planned_batch",
        sa.Column("plan_id", sa.Uuid(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=False),
        sa.Column("recipe_id", sa.Uuid(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("jars", sa.JSON(), nullable=False),
        sa.Column("due_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("weight", sa.Integer(), nullable=False),
        sa.Column("acknowledged", sa.Boolean(), nullable=False),
        sa.Column("timed", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("booking_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["plan_id"], ["day_plan.id"], name=op.f("fk_planned_batch_plan_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_planned_batch_member_id")),
        sa.ForeignKeyConstraint(
            ["recipe_id", "revision"],
            ["revision.recipe_id", "revision.number"],
            name=op.f("fk_planned_batch_recipe_id"),
        ),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_planned_batch_booking_id")),
        sa.PrimaryKeyConstraint("plan_id", "place", name=op.f("pk_planned_batch")),
    )
    op.create_index(op.f("ix_planned_batch_member_id"), "planned_batch", ["member_id"])


def downgrade() -> None:
    op.drop_table("planned_batch")
    op.drop_table("day_plan")
