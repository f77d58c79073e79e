"""Addresses at which a calendar program reads bookings: the hash of each secret, whose it is, and what it shows."""

import sqlalchemy as sa
from alembic import op

revision = "0032"
down_revision = "0024"
branch_labels = None
depends_on = None

WORDS = ("member", "equipment", "kitchen")


def upgrade() -> None:
    op.create_table(
        "calendar_feed",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=False),
        sa.Column(
            "shows",
            sa.Enum(*WORDS, name="shows_is_known", native_enum=False, create_constraint=True, length=40),
            nullable=False,
        ),
        sa.Column("equipment_id", sa.Uuid(), nullable=True),
        sa.Column("secret_sha256", sa.String(length=64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "(shows = 'equipment') = (equipment_id IS NOT NULL)", name=op.f("ck_calendar_feed_equipment_is_named")
        ),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_calendar_feed_kitchen_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_calendar_feed_member_id")),
        sa.ForeignKeyConstraint(["equipment_id"], ["equipment.id"], name=op.f("fk_calendar_feed_equipment_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_feed")),
        sa.UniqueConstraint("secret_sha256", name=op.f("uq_calendar_feed_secret_sha256")),
    )
    op.create_index(op.f("ix_calendar_feed_member_id"), "calendar_feed", ["member_id"])


def downgrade() -> None:
    op.drop_index(op.f("ix_calendar_feed_member_id"), table_name="calendar_feed")
    op.drop_table("calendar_feed")
