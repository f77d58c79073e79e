"""A kitchen's audit trail as text for others to keep: JSON lines, or comma-separated values (RFC 4180)."""

import csv
from collections.abc import Iterator
from enum import StrEnum
from io import StringIO
from uuid import UUID

from sqlmodel import Session

from service.audit import store
from service.audit.bodies import AuditAnswer
from service.core.jars.records import cell


class Format(StrEnum):
    """How the trail is written."""

    JSON_LINES = "jsonl"
    CSV = "csv"


def lines(session: Session, kitchen_id: UUID, form: Format) -> Iterator[str]:
    """The trail from its first entry on, a line each, with its line end."""
    if form is Format.CSV:
        yield _row(AuditAnswer.model_fields)
    for row in store.trail(session, kitchen_id):
        entry = AuditAnswer.model_validate(row)
        if form is Format.CSV:
            yield _row(cell(value) for value in entry.model_dump(mode="json").values())
        else:
            yield entry.model_dump_json() + "\n"


def _row(cells: object) -> str:
    written = StringIO()
    csv.writer(written).writerow(cells)  # type: ignore[arg-type]
    return written.getvalue()
