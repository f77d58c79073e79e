"""The database itself refuses two active rows of one resource that overlap in lanes and time.

PostgreSQL gets a range constraint: the one-point range of the resource stands for equality, so that no extension is
needed. SQLite has no such constraint and gets triggers; they look back only as far as a row can be long. A migration
that rebuilds `occupancy` on SQLite loses the triggers and has to make them again.
"""

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

CONSTRAINT = """
ALTER TABLE occupancy ADD CONSTRAINT no_two_overlap EXCLUDE USING gist (
    int4range(resource_id, resource_id, '[]') WITH &&,
    int4range(lane_lo, lane_hi) WITH &&,
    int4range(starts_min, ends_min) WITH &&
) WHERE (active)
"""

TRIGGER = """
CREATE TRIGGER no_two_overlap_on_{act} BEFORE {act} ON occupancy WHEN NEW.active
BEGIN
    SELECT RAISE(ABORT, 'no_two_overlap') WHERE EXISTS (
        SELECT 1 FROM occupancy AS other
        WHERE other.active AND other.resource_id = NEW.resource_id AND other.id <> {itself}
          AND other.starts_min > NEW.starts_min - 1560 AND other.starts_min < NEW.ends_min
          AND other.ends_min > NEW.starts_min
          AND other.lane_lo < NEW.lane_hi AND other.lane_hi > NEW.lane_lo
    );
END
"""


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.execute(CONSTRAINT)
    else:
        op.execute(TRIGGER.format(act="insert", itself="NEW.id"))
        op.execute(TRIGGER.format(act="update", itself="OLD.id"))


def downgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.execute("ALTER TABLE occupancy DROP CONSTRAINT no_two_overlap")
    else:
        op.execute("DROP TRIGGER no_two_overlap_on_insert")
        op.execute("DROP TRIGGER no_two_overlap_on_update")
