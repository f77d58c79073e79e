"""Who waits for what, in which order, what is held for them; and notices about it."""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0018"
branch_labels = None
depends_on = None

KINDS = ("burner", "canner", "table", "rack")
CANNER_KINDS = ("boiling-water", "atmospheric-steam", "pressure-dial", "pressure-weighted")
STATES = ("waiting", "offered", "booked", "left", "lapsed")
OLD = "(booking_id IS NULL) <> (lot_code IS NULL)"
NEW = (
    "(CASE WHEN booking_id IS NULL THEN 0 ELSE 1 END) + (CASE WHEN lot_code IS NULL THEN 0 ELSE 1 END)"
    " + (CASE WHEN waiting_id IS NULL THEN 0 ELSE 1 END) = 1"
)


def words(values: tuple[str, ...], name: str) -> sa.Enum:
    return sa.Enum(*values, name=f"{name}_is_known", native_enum=False, create_constraint=True, length=40)


def upgrade() -> None:
    op.create_table(
        "waiting",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=False),
        sa.Column("equipment_kind", words(KINDS, "equipmentkind"), nullable=False),
        sa.Column("canner_kind", words(CANNER_KINDS, "cannerkind"), nullable=True),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("not_before", sa.DateTime(timezone=True), nullable=False),
        sa.Column("not_after", sa.DateTime(timezone=True), nullable=False),
        sa.Column("purpose", sa.String(length=500), nullable=False),
        sa.Column("state", words(STATES, "state"), nullable=False),
        sa.Column("declined", sa.JSON(), nullable=False),
        sa.Column("equipment_id", sa.Uuid(), nullable=True),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("offered_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("booking_id", sa.Uuid(), nullable=True),
        sa.Column("joined_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("not_before < not_after", name=op.f("ck_waiting_starts_before_it_ends")),
        sa.CheckConstraint("state <> 'offered' OR offered_until IS NOT NULL", name=op.f("ck_waiting_offers_end")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_waiting_kitchen_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_waiting_member_id")),
        sa.ForeignKeyConstraint(["equipment_id"], ["equipment.id"], name=op.f("fk_waiting_equipment_id")),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_waiting_booking_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waiting")),
        sa.UniqueConstraint("kitchen_id", "number", name=op.f("uq_waiting_kitchen_id_number")),
    )
    op.create_index("ix_waiting_member_id", "waiting", ["member_id"])
    op.create_index("ix_waiting_kitchen_id_state", "waiting", ["kitchen_id", "state"])
    op.create_table(
        "hold",
        sa.Column("occupancy_id", sa.Uuid(), nullable=False),
        sa.Column("waiting_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["occupancy_id"], ["occupancy.id"], name=op.f("fk_hold_occupancy_id")),
        sa.ForeignKeyConstraint(["waiting_id"], ["waiting.id"], name=op.f("fk_hold_waiting_id")),
        sa.PrimaryKeyConstraint("occupancy_id", name=op.f("pk_hold")),
    )
    op.create_index("ix_hold_waiting_id", "hold", ["waiting_id"])
    with op.batch_alter_table("notice") as notice:
        notice.add_column(sa.Column("waiting_id", sa.Uuid(), nullable=True))
        notice.create_foreign_key(op.f("fk_notice_waiting_id"), "waiting", ["waiting_id"], ["id"])
        notice.drop_constraint(op.f("ck_notice_notices_are_about_one_thing"), type_="check")
        notice.create_check_constraint(op.f("ck_notice_notices_have_one_subject"), NEW)


def downgrade() -> None:
    op.execute("DELETE FROM notice WHERE waiting_id IS NOT NULL")
    with op.batch_alter_table("notice") as notice:
        notice.drop_constraint(op.f("ck_notice_notices_have_one_subject"), type_="check")
        notice.drop_constraint(op.f("fk_notice_waiting_id"), type_="foreignkey")
        notice.drop_column("waiting_id")
        notice.create_check_constraint(op.f("ck_notice_notices_are_about_one_thing"), OLD)
    op.execute("UPDATE occupancy SET active = false WHERE id IN (SELECT occupancy_id FROM hold)")
    op.drop_table("hold")
    op.drop_table("waiting")
