"""Lots, the ledger of movements, and balances that never go below zero."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "lot",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.String(length=20), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("family", sa.String(length=120), nullable=True),
        sa.Column("product", sa.String(length=120), nullable=True),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("best_by", sa.Date(), nullable=False),
        sa.Column("recalled_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("recall_reason", sa.String(length=1000), nullable=True),
        sa.CheckConstraint(
            "(recalled_at IS NULL) = (recall_reason IS NULL)", name=op.f("ck_lot_recalls_have_a_reason")
        ),
        sa.CheckConstraint("made_on < best_by", name=op.f("ck_lot_best_by_follows_making")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_lot_kitchen_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
        sa.UniqueConstraint("kitchen_id", "code", name=op.f("uq_lot_kitchen_id_code")),
    )
    op.create_table(
        "balance",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("lot_id", sa.Uuid(), nullable=False),
        sa.Column("jar_size", sa.String(length=40), nullable=False),
        sa.Column("holder_id", sa.Uuid(), nullable=False),
        sa.Column(
            "state",
            sa.Enum(
                "shelf",
                "refrigerator",
                "freezer",
                "opened",
                "hold",
                "recalled",
                "used",
                "discarded",
                name="state_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("jars", sa.Integer(), nullable=False),
        sa.Column("location", sa.String(length=200), nullable=True),
        sa.Column("best_by", sa.Date(), nullable=False),
        sa.CheckConstraint("jars >= 0", name=op.f("ck_balance_jars_never_below_zero")),
        sa.ForeignKeyConstraint(["holder_id"], ["member.id"], name=op.f("fk_balance_holder_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_balance_lot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_balance")),
        sa.UniqueConstraint(
            "lot_id", "jar_size", "holder_id", "state", name=op.f("uq_balance_lot_id_jar_size_holder_id_state")
        ),
    )
    op.create_index("ix_balance_holder_id_best_by_id", "balance", ["holder_id", "best_by", "id"], unique=False)
    op.create_table(
        "movement",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("lot_id", sa.Uuid(), nullable=False),
        sa.Column("jar_size", sa.String(length=40), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "give",
                "use",
                "open",
                "discard",
                "chill",
                "freeze",
                "relocate",
                "fill",
                "hold",
                "recall",
                name="movement_kind_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("jars", sa.Integer(), nullable=False),
        sa.Column("source_holder_id", sa.Uuid(), nullable=True),
        sa.Column(
            "source_state",
            sa.Enum(
                "shelf",
                "refrigerator",
                "freezer",
                "opened",
                "hold",
                "recalled",
                "used",
                "discarded",
                name="source_state_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=True,
        ),
        sa.Column("target_holder_id", sa.Uuid(), nullable=False),
        sa.Column(
            "target_state",
            sa.Enum(
                "shelf",
                "refrigerator",
                "freezer",
                "opened",
                "hold",
                "recalled",
                "used",
                "discarded",
                name="target_state_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("location", sa.String(length=200), nullable=True),
        sa.Column("moved_by", sa.Uuid(), nullable=False),
        sa.Column("moved_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(kind = 'fill') = (source_state IS NULL)", name=op.f("ck_movement_only_fills_come_from_nowhere")
        ),
        sa.CheckConstraint(
            "(source_holder_id IS NULL) = (source_state IS NULL)", name=op.f("ck_movement_a_source_is_whole")
        ),
        sa.CheckConstraint("jars > 0", name=op.f("ck_movement_jars_are_counted")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_movement_lot_id")),
        sa.ForeignKeyConstraint(["moved_by"], ["member.id"], name=op.f("fk_movement_moved_by")),
        sa.ForeignKeyConstraint(["source_holder_id"], ["member.id"], name=op.f("fk_movement_source_holder_id")),
        sa.ForeignKeyConstraint(["target_holder_id"], ["member.id"], name=op.f("fk_movement_target_holder_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
    )
    op.create_index(op.f("ix_movement_lot_id"), "movement", ["lot_id"], unique=False)


def downgrade() -> None:
    op.drop_index(op.f("ix_movement_lot_id"), table_name="movement")
    op.drop_table("movement")
    op.drop_index("ix_balance_holder_id_best_by_id", table_name="balance")
    op.drop_table("balance")
    op.drop_table("lot")
