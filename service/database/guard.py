"""Whether the database itself still refuses double bookings, and changes of what is written once."""

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


WRITTEN_ONCE = ("movement", "revision", "revision_check", "audit_entry")
_TRIGGERS = {
    "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled = 'O'",
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
}


def changeable(connection: Connection) -> list[str]:
    """The tables of what is written once whose rows the database would let anybody change by now."""
    there = set(connection.execute(text(_TRIGGERS[connection.dialect.name])).scalars())
    ends = [""] if connection.dialect.name == "postgresql" else ["_on_update", "_on_delete"]
    return [table for table in WRITTEN_ONCE if not {f"{table}_is_written_once{end}" for end in ends} <= there]
