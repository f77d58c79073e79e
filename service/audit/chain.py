"""Each entry carries a hash over itself and the hash of the one before: no entry can be changed, dropped or slipped in
without every later hash being wrong. Whoever keeps the last hash elsewhere also sees an end that was cut off."""

import hashlib
import json
from collections.abc import Iterable, Iterator
from datetime import datetime
from uuid import UUID

from service.audit.tables import AuditEntry
from service.web.types import write_timestamp

BEGINNING = "0" * 64


def link(
    previous_sha256: str,
    *,
    kitchen_id: UUID,
    number: int,
    at: datetime,
    member_id: UUID | None,
    act: str,
    about: str,
    request_id: str | None,
) -> str:
    """The hash of an entry: SHA-256 over this list as JSON, in ASCII and without blanks."""
    fields = [
        previous_sha256,
        str(kitchen_id),
        number,
        write_timestamp(at),
        str(member_id) if member_id else None,
        act,
        about,
        request_id,
    ]
    return hashlib.sha256(json.dumps(fields, separators=(",", ":")).encode("ascii")).hexdigest()


def broken(entries: Iterable[AuditEntry]) -> Iterator[int]:
    """The numbers at which a kitchen's trail, given from its first entry on, doesn't follow from what stands before."""
    number, previous = 0, BEGINNING
    for entry in entries:
        if entry.number != number + 1 or entry.sha256 != link(previous, **entry.model_dump(exclude={"sha256"})):
            yield entry.number
        number, previous = entry.number, entry.sha256
