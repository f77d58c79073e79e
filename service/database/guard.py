"""Whether the database itself still refuses two bookings of one piece of equipment at one time."""

from sqlalchemy import Connection, text

GUARDS = {
    "postgresql": (
        "SELECT count(*) FROM pg_constraint WHERE conrelid = to_regclass('occupancy')"
        " AND conname = 'no_two_overlap' AND contype = 'x' AND convalidated",
        1,
    ),
    "sqlite": (
        "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'occupancy'"
        " AND name IN ('no_two_overlap_on_insert', 'no_two_overlap_on_update')",
        2,
    ),
}


def guard_present(connection: Connection) -> bool:
    """The range constraint of PostgreSQL, or both triggers of SQLite, which a rebuilt table silently loses."""
    query, expected = GUARDS[connection.dialect.name]
    return bool(connection.execute(text(query)).scalar_one() == expected)
