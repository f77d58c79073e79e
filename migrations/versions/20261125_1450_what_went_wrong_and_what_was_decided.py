"""Broken rules of a batch day, what was decided about the lot, and what instruments were found to be."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0011"
branch_labels = None
depends_on = None

CAUSES = (
    *("interrupted", "pressure-dropped", "heat-not-shown", "out-too-early", "vent-too-short", "cooled-by-force"),
    *("canner-swapped", "canner-overfilled", "ph-above-limit", "ph-uncalibrated", "ph-too-early", "ph-by-strip"),
    *("ph-of-the-liquid", "something-else"),
)
COLUMNS = {
    "load": {"vent_minutes": sa.Integer(), "again": sa.Integer(), "vented_minutes_at_most": sa.Float()},
    "heat_log": {"instrument": sa.JSON(), "evaluation": sa.JSON()},
    "ph_reading": {
        "calibrated_at": sa.DateTime(timezone=True),
        "sample": sa.String(length=40),
        "faults": sa.JSON(),
    },
}


def upgrade() -> None:
    for table, columns in COLUMNS.items():
        for name, kind in columns.items():
            op.add_column(table, sa.Column(name, kind, nullable=True))
    op.create_table(
        "deviation",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("load", sa.Integer(), nullable=True),
        sa.Column("cause", _words("cause_is_known", CAUSES), nullable=False),
        sa.Column("says", sa.String(length=1000), nullable=False),
        sa.Column("happened_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by", sa.Uuid(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("settled_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_deviation_batch_id")),
        sa.ForeignKeyConstraint(
            ["batch_id", "load"], ["load.batch_id", "load.number"], name=op.f("fk_deviation_batch_id_load")
        ),
        sa.ForeignKeyConstraint(["recorded_by"], ["member.id"], name=op.f("fk_deviation_recorded_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_deviation")),
    )
    op.create_index(op.f("ix_deviation_batch_id"), "deviation", ["batch_id"], unique=False)
    op.create_table(
        "hold_decision",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("decision", _words("decision_is_known", ("release", "reprocess", "destroy")), nullable=False),
        sa.Column("to_state", sa.String(length=40), nullable=True),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.Column("evaluation", sa.String(length=1000), nullable=True),
        sa.Column("decided_by", sa.Uuid(), nullable=False),
        sa.Column("decided_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(decision = 'release') = (to_state IS NOT NULL)",
            name=op.f("ck_hold_decision_only_a_release_leads_somewhere"),
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batch.id"], name=op.f("fk_hold_decision_batch_id")),
        sa.ForeignKeyConstraint(["decided_by"], ["member.id"], name=op.f("fk_hold_decision_decided_by")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hold_decision")),
    )
    op.create_index(op.f("ix_hold_decision_batch_id"), "hold_decision", ["batch_id"], unique=False)


def downgrade() -> None:
    op.drop_index(op.f("ix_hold_decision_batch_id"), table_name="hold_decision")
    op.drop_table("hold_decision")
    op.drop_index(op.f("ix_deviation_batch_id"), table_name="deviation")
    op.drop_table("deviation")
    for table, columns in COLUMNS.items():
        for name in columns:
            op.drop_column(table, name)


def _words(name: str, words: tuple[str, ...]) -> sa.Enum:
    return sa.Enum(*words, name=name, native_enum=False, create_constraint=True, length=40)
