"""Recipes, their revisions, and the checks each got."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "recipe",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kitchen_id", sa.Uuid(), nullable=False),
        sa.Column("member_id", sa.Uuid(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["kitchen_id"], ["kitchen.id"], name=op.f("fk_recipe_kitchen_id")),
        sa.ForeignKeyConstraint(["member_id"], ["member.id"], name=op.f("fk_recipe_member_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe")),
    )
    op.create_index("ix_recipe_kitchen_id_made_at_id", "recipe", ["kitchen_id", "made_at", "id"], unique=False)
    op.create_index(op.f("ix_recipe_member_id"), "recipe", ["member_id"], unique=False)
    op.create_table(
        "revision",
        sa.Column("recipe_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("title", sa.String(length=200), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("made_by", sa.Uuid(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("number >= 1", name=op.f("ck_revision_revisions_count_from_one")),
        sa.ForeignKeyConstraint(["made_by"], ["member.id"], name=op.f("fk_revision_made_by")),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_revision_recipe_id")),
        sa.PrimaryKeyConstraint("recipe_id", "number", name=op.f("pk_revision")),
    )
    op.create_table(
        "revision_check",
        sa.Column("recipe_id", sa.Uuid(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("rulebook", sa.String(length=40), nullable=False),
        sa.Column("altitude_ft", sa.Integer(), nullable=False),
        sa.Column("verdict", sa.String(length=40), nullable=False),
        sa.Column("severities", sa.JSON(), nullable=False),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.Column("judged_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["recipe_id", "revision"],
            ["revision.recipe_id", "revision.number"],
            name=op.f("fk_revision_check_recipe_id"),
        ),
        sa.PrimaryKeyConstraint("recipe_id", "revision", "rulebook", "altitude_ft", name=op.f("pk_revision_check")),
    )


def downgrade() -> None:
    op.drop_table("revision_check")
    op.drop_table("revision")
    op.drop_index(op.f("ix_recipe_member_id"), table_name="recipe")
    op.drop_index("ix_recipe_kitchen_id_made_at_id", table_name="recipe")
    op.drop_table("recipe")
