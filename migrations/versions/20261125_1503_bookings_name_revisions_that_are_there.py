"""A booking's revision is one that is there; one that went with its recipes on the way down isn't named any more."""

from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

NAME = "fk_booking_recipe_id"


LOST = """
UPDATE booking SET recipe_id = NULL, revision = NULL WHERE recipe_id IS NOT NULL AND NOT EXISTS (
    SELECT 1 FROM revision AS kept WHERE kept.recipe_id = booking.recipe_id AND kept.number = booking.revision
)
"""


def upgrade() -> None:
    op.execute(LOST)
    with op.batch_alter_table("booking") as booking:
        booking.create_foreign_key(op.f(NAME), "revision", ["recipe_id", "revision"], ["recipe_id", "number"])


def downgrade() -> None:
    with op.batch_alter_table("booking") as booking:
        booking.drop_constraint(op.f(NAME), type_="foreignkey")
