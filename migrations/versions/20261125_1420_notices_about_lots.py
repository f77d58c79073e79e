"""A member may be told about a lot as well as about a booking."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("notice") as notice:
        notice.alter_column("booking_id", existing_type=sa.Uuid(), nullable=True)
        notice.alter_column(
            "message", existing_type=sa.String(length=1000), type_=sa.String(length=1500), existing_nullable=False
        )
        notice.add_column(sa.Column("lot_code", sa.String(length=20), nullable=True))
        notice.create_check_constraint(
            op.f("ck_notice_notices_are_about_one_thing"), "(booking_id IS NULL) <> (lot_code IS NULL)"
        )


def downgrade() -> None:
    op.execute("DELETE FROM notice WHERE booking_id IS NULL")
    op.execute("UPDATE notice SET message = substr(message, 1, 1000)")
    with op.batch_alter_table("notice") as notice:
        notice.drop_constraint(op.f("ck_notice_notices_are_about_one_thing"), type_="check")
        notice.drop_column("lot_code")
        notice.alter_column(
            "message", existing_type=sa.String(length=1500), type_=sa.String(length=1000), existing_nullable=False
        )
        notice.alter_column("booking_id", existing_type=sa.Uuid(), nullable=False)
