"""A token is good for everything its member may do, or for a part of it."""

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0032"
branch_labels = None
depends_on = None

SCOPES = ("everything", "read", "board", "instruments")


def upgrade() -> None:
    kind = sa.Enum(*SCOPES, name="scope_is_known", native_enum=False, create_constraint=True, length=40)
    with op.batch_alter_table("token") as token:
        token.add_column(sa.Column("scope", kind, nullable=False, server_default="everything"))


def downgrade() -> None:
    with op.batch_alter_table("token") as token:
        token.drop_constraint("scope_is_known", type_="check")
        token.drop_column("scope")
