"""The routes of batch records, for inspection: as JSON, and as a table."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import Query, Response

from service.batches import store as batches
from service.records import bodies, store
from service.web import Caller, Member, Page, Problem, Reading, Routes, problems
from service.web.types import Day, Id

router = Routes("/v1/batch-records", "records")

MOST_DAYS = 1100  # a little more than the three years that are kept


class Table(Response):
    """Comma-separated values (RFC 4180)."""

    media_type = "text/csv; charset=utf-8; header=present"


AS_TABLE: dict[int | str, dict[str, Any]] = {
    200: {"content": {Table.media_type: {"example": "batch_id,lot_code,title\r\n"}}}
}


@router.get("")
def list_batch_records(
    caller: Member,
    session: Reading,
    page: Page,
    from_on: Annotated[Day, Query(alias="from")],
    to_on: Annotated[Day, Query(alias="to")],
) -> bodies.RecordList:
    """List the records of batches begun from one day to another, both included; a coordinator sees everybody's."""
    zone = ZoneInfo(caller.kitchen.time_zone)
    from_at, to_at = _between(from_on, to_on, zone)
    after = page.after(datetime, Id)
    found = batches.page(session, caller.kitchen_id, _whose(caller), page.limit, after, from_at, to_at)
    kept, next_cursor = page.page(found, place=lambda each: (each.row.started_at, each.row.id))
    records = store.records(session, caller.kitchen_id, kept)
    return bodies.RecordList(
        items=tuple(bodies.BatchRecord.of(each, zone) for each in records), next_cursor=next_cursor
    )


@router.get("/table", response_class=Table, responses=AS_TABLE)
def get_batch_record_table(
    caller: Member,
    session: Reading,
    from_on: Annotated[Day, Query(alias="from")],
    to_on: Annotated[Day, Query(alias="to")],
) -> Response:
    """Write the same records as comma-separated values, one line for each load."""
    zone = ZoneInfo(caller.kitchen.time_zone)
    from_at, to_at = _between(from_on, to_on, zone)
    found = batches.page(session, caller.kitchen_id, _whose(caller), None, None, from_at, to_at)
    named = {"Content-Disposition": f'attachment; filename="batch-records-{from_on}-{to_on}.csv"'}
    return Table(bodies.table(store.records(session, caller.kitchen_id, found), zone), headers=named)


@router.get("/{batch_id}", responses=problems(404))
def get_batch_record(batch_id: Id, caller: Member, session: Reading) -> bodies.BatchRecord:
    """Read the record of one batch."""
    kept = batches.batch(session, caller.kitchen_id, batch_id, _whose(caller))
    if kept is None:
        raise Problem.not_found()
    (record,) = store.records(session, caller.kitchen_id, [kept])
    return bodies.BatchRecord.of(record, ZoneInfo(caller.kitchen.time_zone))


def _whose(caller: Caller) -> Id | None:
    """A member's own batches, or for a coordinator everybody's."""
    return None if caller.is_coordinator else caller.id


def _between(from_on: date, to_on: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The moments at which the first day begins and the last one has ended."""
    if to_on < from_on:
        raise Problem("ends-before-start", "The last day lies before the first.")
    if (to_on - from_on).days > MOST_DAYS:
        raise Problem("not-possible", f"Ask for {MOST_DAYS} days at most.")
    begins, ended = (
        datetime.combine(day, time(), zone).astimezone(UTC) for day in (from_on, to_on + timedelta(days=1))
    )
    return begins, ended
