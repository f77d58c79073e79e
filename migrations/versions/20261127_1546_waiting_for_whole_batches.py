"""Somebody waits for a piece of equipment or for all that a batch takes, and is offered claims."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

FOR_ONE = "(equipment_kind IS NULL) = (minutes IS NULL) AND (equipment_kind IS NULL) <> (recipe_id IS NULL)"
WITH_REVISION = "(recipe_id IS NULL) = (revision IS NULL)"


def upgrade() -> None:
    with op.batch_alter_table("waiting") as waiting:
        waiting.alter_column("equipment_kind", existing_type=sa.String(length=40), nullable=True)
        waiting.alter_column("minutes", existing_type=sa.Integer(), nullable=True)
        waiting.add_column(sa.Column("recipe_id", sa.Uuid(), nullable=True))
        waiting.add_column(sa.Column("revision", sa.Integer(), nullable=True))
        waiting.add_column(sa.Column("jars", sa.JSON(), server_default="{}", nullable=False))
        waiting.add_column(sa.Column("acknowledged", sa.Boolean(), server_default=sa.false(), nullable=False))
        waiting.add_column(sa.Column("claims", sa.JSON(), server_default="[]", nullable=False))
        waiting.create_foreign_key(
            op.f("fk_waiting_recipe_id"), "revision", ["recipe_id", "revision"], ["recipe_id", "number"]
        )
        waiting.create_check_constraint(op.f("ck_waiting_waits_for_one_thing"), FOR_ONE)
        waiting.create_check_constraint(op.f("ck_waiting_recipes_come_with_a_revision"), WITH_REVISION)


def downgrade() -> None:
    op.execute("DELETE FROM notice WHERE waiting_id IN (SELECT id FROM waiting WHERE recipe_id IS NOT NULL)")
    op.execute(
        "UPDATE occupancy SET active = false WHERE id IN (SELECT occupancy_id FROM hold JOIN waiting"
        " ON waiting.id = hold.waiting_id WHERE waiting.recipe_id IS NOT NULL)"
    )
    op.execute("DELETE FROM hold WHERE waiting_id IN (SELECT id FROM waiting WHERE recipe_id IS NOT NULL)")
    op.execute("DELETE FROM waiting WHERE recipe_id IS NOT NULL")
    with op.batch_alter_table("waiting") as waiting:
        waiting.drop_constraint(op.f("ck_waiting_recipes_come_with_a_revision"), type_="check")
        waiting.drop_constraint(op.f("ck_waiting_waits_for_one_thing"), type_="check")
        waiting.drop_constraint(op.f("fk_waiting_recipe_id"), type_="foreignkey")
        for name in ("claims", "acknowledged", "jars", "revision", "recipe_id"):
            waiting.drop_column(name)
        waiting.alter_column("minutes", existing_type=sa.Integer(), nullable=False)
        waiting.alter_column("equipment_kind", existing_type=sa.String(length=40), nullable=False)
