"""Equipment, opening hours, closures and outages; bookings, their claims, and what occupies each piece when."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "closure",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_closure_starts_before_it_ends")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_closure_kitchen_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_closure")),
    )
    op.create_index("ix_closure_kitchen_id", "closure", ["kitchen_id"])

    op.create_table(
        "equipment",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "burner",
                "canner",
                "table",
                "rack",
                name="equipmentkind_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column(
            "canner_kind",
            sa.Enum(
                "boiling-water",
                "atmospheric-steam",
                "pressure-dial",
                "pressure-weighted",
                name="cannerkind_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=True,
        ),
        sa.Column("capacity", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("places", sa.Integer(), nullable=False),
        sa.Column("needs_burner", sa.Boolean(), nullable=False),
        sa.Column("in_service", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(kind = 'canner') = (canner_kind IS NOT NULL)", name=op.f("ck_equipment_only_canners_have_a_canner_kind")
        ),
        sa.CheckConstraint(
            "kind = 'canner' OR NOT needs_burner", name=op.f("ck_equipment_only_canners_take_a_burner_along")
        ),
        sa.CheckConstraint(
            "places >= 1 AND (kind = 'rack' OR places = 1)", name=op.f("ck_equipment_only_racks_have_places")
        ),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_equipment_kitchen_id")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_equipment")),
        sa.UniqueConstraint("id", name=op.f("uq_equipment_id")),
    )
    op.create_index("ix_equipment_kitchen_id", "equipment", ["kitchen_id"])

    op.create_table(
        "opening_hours",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["id"], ["kitchen.id"], name=op.f("fk_opening_hours_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_opening_hours")),
    )
    op.create_table(
        "booking",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=False),
        sa.Column(
            "status",
            sa.Enum(
                "confirmed",
                "displaced",
                "cancelled",
                "done",
                name="status_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("purpose", sa.String(length=500), nullable=False),
        sa.Column("recipe_id", sa.Uuid(), nullable=True),
        sa.Column("revision", sa.Integer(), nullable=True),
        sa.Column("jars", sa.JSON(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("booked_by", sa.Uuid(), nullable=False),
        sa.Column("booked_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(recipe_id IS NULL) = (revision IS NULL)", name=op.f("ck_booking_recipes_come_with_a_revision")
        ),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_booking_starts_before_it_ends")),
        sa.ForeignKeyConstraint(["booked_by"], ["member.id"], name=op.f("fk_booking_booked_by")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_booking_kitchen_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_booking_member_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_booking")),
    )
    op.create_index("ix_booking_kitchen_id_starts_at_id", "booking", ["kitchen_id", "starts_at", "id"])
    op.create_index("ix_booking_member_id", "booking", ["member_id"])

    op.create_table(
        "opening",
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("weekday", sa.Integer(), nullable=False),
        sa.Column("opens_minute", sa.Integer(), nullable=False),
        sa.Column("closes_minute", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "0 <= opens_minute AND opens_minute < closes_minute AND closes_minute <= 1440",
            name=op.f("ck_opening_opens_before_it_closes"),
        ),
        sa.CheckConstraint("weekday BETWEEN 0 AND 6", name=op.f("ck_opening_weekday_is_one_of_seven")),
        sa.ForeignKeyConstraint(["kitchen_id"], ["opening_hours.id"], name=op.f("fk_opening_kitchen_id")),
        sa.PrimaryKeyConstraint("kitchen_id", "weekday", "opens_minute", name=op.f("pk_opening")),
    )
    op.create_table(
        "outage",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("equipment_id", sa.Uuid(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reason", sa.String(length=500), nullable=False),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_outage_starts_before_it_ends")),
        sa.ForeignKeyConstraint(["equipment_id"], ["equipment.id"], name=op.f("fk_outage_equipment_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outage")),
    )
    op.create_index("ix_outage_equipment_id", "outage", ["equipment_id"])

    op.create_table(
        "claim",
        sa.Column("booking_id", sa.Uuid(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column(
            "step",
            sa.Enum(
                "prep",
                "cook",
                "fill",
                "process",
                "rest",
                name="step_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.Column("equipment_id", sa.Uuid(), nullable=False),
        sa.Column("unit_fixed", sa.Boolean(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ends_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("attended", sa.Boolean(), nullable=False),
        sa.CheckConstraint("starts_at < ends_at", name=op.f("ck_claim_starts_before_it_ends")),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_claim_booking_id")),
        sa.ForeignKeyConstraint(["equipment_id"], ["equipment.id"], name=op.f("fk_claim_equipment_id")),
        sa.PrimaryKeyConstraint("booking_id", "place", name=op.f("pk_claim")),
    )
    op.create_index("ix_claim_equipment_id", "claim", ["equipment_id"])

    op.create_table(
        "notice",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=False),
        sa.Column("booking_id", sa.Uuid(), nullable=False),
        sa.Column("message", sa.String(length=1000), nullable=False),
        sa.Column("told_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_notice_booking_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_notice_member_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice")),
    )
    op.create_index("ix_notice_member_id_told_at_id", "notice", ["member_id", "told_at", "id"])

    op.create_table(
        "occupancy",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("booking_id", sa.Uuid(), nullable=True),
        sa.Column("resource_id", sa.Integer(), nullable=False),
        sa.Column("lane_lo", sa.Integer(), nullable=False),
        sa.Column("lane_hi", sa.Integer(), nullable=False),
        sa.Column("starts_min", sa.Integer(), nullable=False),
        sa.Column("ends_min", sa.Integer(), nullable=False),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "booking",
                "hold",
                "closure",
                "outage",
                name="kind_is_known",
                native_enum=False,
                create_constraint=True,
                length=40,
            ),
            nullable=False,
        ),
        sa.CheckConstraint("kind <> 'booking' OR booking_id IS NOT NULL", name=op.f("ck_occupancy_bookings_are_named")),
        sa.CheckConstraint("0 <= lane_lo AND lane_lo < lane_hi", name=op.f("ck_occupancy_lanes_are_a_range")),
        sa.CheckConstraint("ends_min - starts_min <= 1560", name=op.f("ck_occupancy_long_spans_are_several_rows")),
        sa.CheckConstraint("starts_min < ends_min", name=op.f("ck_occupancy_starts_before_it_ends")),
        sa.ForeignKeyConstraint(["booking_id"], ["booking.id"], name=op.f("fk_occupancy_booking_id")),
        sa.ForeignKeyConstraint(["resource_id"], ["equipment.number"], name=op.f("fk_occupancy_resource_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_occupancy")),
    )
    op.create_index(
        "ix_occupancy_active",
        "occupancy",
        ["resource_id", "starts_min"],
        postgresql_where=sa.text("active"),
        sqlite_where=sa.text("active"),
    )
    op.create_index("ix_occupancy_booking_id", "occupancy", ["booking_id"])


def downgrade() -> None:
    op.drop_index("ix_occupancy_booking_id", "occupancy")
    op.drop_index("ix_occupancy_active", "occupancy")

    op.drop_table("occupancy")
    op.drop_index("ix_notice_member_id_told_at_id", "notice")

    op.drop_table("notice")
    op.drop_index("ix_claim_equipment_id", "claim")

    op.drop_table("claim")
    op.drop_index("ix_outage_equipment_id", "outage")

    op.drop_table("outage")
    op.drop_table("opening")
    op.drop_index("ix_booking_member_id", "booking")
    op.drop_index("ix_booking_kitchen_id_starts_at_id", "booking")

    op.drop_table("booking")
    op.drop_table("opening_hours")
    op.drop_index("ix_equipment_kitchen_id", "equipment")

    op.drop_table("equipment")
    op.drop_index("ix_closure_kitchen_id", "closure")

    op.drop_table("closure")
