"""Batches, their loads, heat logs and readings."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "batch",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=False),
        sa.Column("booking_id", sa.Uuid(), nullable=False),
        sa.Column("lot_id", sa.Uuid(), nullable=True),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("started_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("on_hold", sa.Boolean(), nullable=False),
        sa.Column("run_sheet", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_batch_booking_id")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_batch_kitchen_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_batch_lot_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_batch_member_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch")),
        sa.UniqueConstraint("booking_id", name=op.f("uq_batch_booking_id")),
        sa.UniqueConstraint("lot_id", name=op.f("uq_batch_lot_id")),
    )
    op.create_index("ix_batch_kitchen_id_started_at_id", "batch", ["kitchen_id", "started_at", "id"], unique=False)
    op.create_index(op.f("ix_batch_member_id"), "batch", ["member_id"], unique=False)
    op.create_table(
        "load",
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("jar_size", sa.String(length=40), nullable=False),
        sa.Column("jars", sa.Integer(), nullable=False),
        sa.Column("canner_id", sa.Uuid(), nullable=False),
        sa.Column("method", sa.String(length=40), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("pressure_psi", sa.Integer(), nullable=True),
        sa.Column("headspace_in", sa.Float(), nullable=True),
        sa.Column("in_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("out_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column(
            "heat",
            sa.Enum(
                "held",
                "restart",
                "cannot-tell",
                name="heat_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=True,
        ),
        sa.Column("checked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("sealed", sa.Integer(), nullable=True),
        sa.Column("unsealed", sa.Integer(), nullable=True),
        sa.Column("broken", sa.Integer(), nullable=True),
        sa.CheckConstraint("(checked_at IS NULL) = (sealed IS NULL)", name=op.f("ck_load_a_seal_check_is_whole")),
        sa.CheckConstraint(
            "checked_at IS NULL OR out_at IS NOT NULL", name=op.f("ck_load_only_what_is_out_is_checked")
        ),
        sa.CheckConstraint("in_at <= out_at", name=op.f("ck_load_in_before_out")),
        sa.CheckConstraint("jars > 0", name=op.f("ck_load_jars_are_counted")),
        sa.CheckConstraint("out_at <= checked_at", name=op.f("ck_load_out_before_the_seal_check")),
        sa.CheckConstraint("sealed + unsealed + broken = jars", name=op.f("ck_load_every_jar_is_accounted_for")),
        sa.CheckConstraint("sealed >= 0 AND unsealed >= 0 AND broken >= 0", name=op.f("ck_load_no_jars_below_zero")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_load_batch_id")),
        sa.ForeignKeyConstraint(["canner_id"], ["equipment.id"], name=op.f("fk_load_canner_id")),
        sa.PrimaryKeyConstraint("batch_id", "number", name=op.f("pk_load")),
    )
    op.create_table(
        "ph_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("ph", sa.Float(), nullable=False),
        sa.Column("instrument", sa.String(length=40), nullable=False),
        sa.Column("calibrated_at_buffers", sa.JSON(), nullable=False),
        sa.Column("read_by", sa.Uuid(), nullable=False),
        sa.Column("read_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("ph BETWEEN 0 AND 14", name=op.f("ck_ph_reading_ph_is_on_the_scale")),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_ph_reading_batch_id")),
        sa.ForeignKeyConstraint(["read_by"], ["member.id"], name=op.f("fk_ph_reading_read_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ph_reading")),
    )
    op.create_index(op.f("ix_ph_reading_batch_id"), "ph_reading", ["batch_id"], unique=False)
    op.create_table(
        "heat_log",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("load", sa.Integer(), nullable=False),
        sa.Column("unit", sa.String(length=10), nullable=False),
        sa.Column("required", sa.Float(), nullable=False),
        sa.Column("barometer_hpa", sa.Float(), nullable=True),
        sa.Column("readings", sa.JSON(), nullable=False),
        sa.Column(
            "answer",
            sa.Enum(
                "held",
                "restart",
                "cannot-tell",
                name="answer_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("sent_by", sa.Uuid(), nullable=False),
        sa.Column("sent_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["batch_id", "load"], ["load.batch_id", "load.number"], name=op.f("fk_heat_log_batch_id")
        ),
        sa.ForeignKeyConstraint(["sent_by"], ["member.id"], name=op.f("fk_heat_log_sent_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_heat_log")),
    )
    op.create_index(op.f("ix_heat_log_batch_id"), "heat_log", ["batch_id"], unique=False)


def downgrade() -> None:
    op.drop_index(op.f("ix_heat_log_batch_id"), table_name="heat_log")
    op.drop_table("heat_log")
    op.drop_index(op.f("ix_ph_reading_batch_id"), table_name="ph_reading")
    op.drop_table("ph_reading")
    op.drop_table("load")
    op.drop_index(op.f("ix_batch_member_id"), table_name="batch")
    op.drop_index("ix_batch_kitchen_id_started_at_id", table_name="batch")
    op.drop_table("batch")
