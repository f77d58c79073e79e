"""Jars go through a canner once more, are shared, given to outsiders and brought back; a balance knows since when.

Going down, jars given or brought back are discarded ones; the words for a second canner stay known.
"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

STATES = ("batch", "shelf", "refrigerator", "freezer", "opened", "hold", "recalled", "used", "discarded")
KINDS = (
    *("give", "use", "open", "discard", "chill", "freeze", "relocate", "fill", "hold", "recall"),
    *("reprocess", "seal-check", "release"),
)
NEW_STATES = (*STATES, "given", "returned")
NEW_KINDS = (*KINDS, "share", "return")
CHECKS = {
    "balance": {"state_is_known": ("state", STATES, NEW_STATES)},
    "movement": {
        "movement_kind_is_known": ("kind", KINDS, NEW_KINDS),
        "source_state_is_known": ("source_state", STATES, NEW_STATES),
        "target_state_is_known": ("target_state", STATES, NEW_STATES),
    },
}
RECIPIENTS = "ck_movement_what_is_given_has_a_recipient"
HOLDERS = ("source_holder_id", "target_holder_id")


def upgrade() -> None:
    op.add_column("balance", sa.Column("since_at", sa.DateTime(timezone=True), nullable=True))
    op.add_column("movement", sa.Column("recipient", sa.String(length=200), nullable=True))
    for table in CHECKS:
        _forget_words(table)
        _know_words(table, new=True)
    with op.batch_alter_table("movement") as movement:
        movement.create_check_constraint(op.f(RECIPIENTS), "(target_state = 'given') = (recipient IS NOT NULL)")
    for holder in HOLDERS:
        op.create_index(f"ix_movement_{holder}_moved_at", "movement", [holder, "moved_at"])
    _write_movements_once()


def downgrade() -> None:
    for holder in HOLDERS:
        op.drop_index(f"ix_movement_{holder}_moved_at", table_name="movement")
    with op.batch_alter_table("movement") as movement:
        movement.drop_constraint(op.f(RECIPIENTS), type_="check")
    for table in CHECKS:
        _forget_words(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("ALTER TABLE movement DISABLE TRIGGER USER")
    op.execute("UPDATE movement SET kind = 'give' WHERE kind = 'share'")
    op.execute("UPDATE movement SET kind = 'discard' WHERE kind = 'return'")
    op.execute("UPDATE movement SET source_state = 'discarded' WHERE source_state IN ('given', 'returned')")
    op.execute("UPDATE movement SET target_state = 'discarded' WHERE target_state IN ('given', 'returned')")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("ALTER TABLE movement ENABLE TRIGGER USER")
    _discard_what_left()
    for table in CHECKS:
        _know_words(table, new=False)
    with op.batch_alter_table("movement") as movement:
        movement.drop_column("recipient")
    with op.batch_alter_table("balance") as balance:
        balance.drop_column("since_at")
    _write_movements_once()


def _forget_words(table: str) -> None:
    with op.batch_alter_table(table) as changed:
        for check in CHECKS[table]:
            changed.drop_constraint(op.f(f"ck_{table}_{check}"), type_="check")


def _know_words(table: str, *, new: bool) -> None:
    with op.batch_alter_table(table) as changed:
        for check, (column, old_words, new_words) in CHECKS[table].items():
            listed = ", ".join(f"'{word}'" for word in (new_words if new else old_words))
            changed.create_check_constraint(op.f(f"ck_{table}_{check}"), f"{column} IN ({listed})")


def _discard_what_left() -> None:
    """One balance for all jars of a place that are gone for good but for the eaten ones."""
    found = op.get_bind().execute(
        sa.text(
            "SELECT id, lot_id, jar_size, holder_id, jars FROM balance"
            " WHERE state IN ('discarded', 'given', 'returned') ORDER BY id"
        )
    )
    places: dict[tuple[object, ...], list[tuple[object, int]]] = {}
    for id_, lot_id, jar_size, holder_id, jars in found.all():
        places.setdefault((lot_id, jar_size, holder_id), []).append((id_, jars))
    for rows in places.values():
        (kept, _), *others = rows
        for other, _ in others:
            op.get_bind().execute(sa.text("DELETE FROM balance WHERE id = :id"), {"id": other})
        op.get_bind().execute(
            sa.text("UPDATE balance SET state = 'discarded', jars = :jars WHERE id = :id"),
            {"id": kept, "jars": sum(jars for _, jars in rows)},
        )


def _write_movements_once() -> None:
    """A table that was rebuilt on SQLite has lost its triggers."""
    if op.get_bind().dialect.name == "sqlite":
        for act in ("update", "delete"):
            op.execute(
                f"CREATE TRIGGER movement_is_written_once_on_{act} BEFORE {act} ON movement"
                " BEGIN SELECT RAISE(ABORT, 'written_once'); END"
            )
