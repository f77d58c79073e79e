"""What is answered about batch records."""

import csv
from collections.abc import Iterable
from datetime import date
from io import StringIO
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from service.batches.bodies import A_MEMBER, A_RUN_SHEET, AN_ITEM, BatchItem, RunProcess, RunSheet
from service.core.jars import records
from service.pantry.bodies import A_CAUTION, Caution
from service.records import store
from service.web.bodies import Answer, Listed, example
from service.web.types import Id, Timestamp, write_timestamp

NOTES = ("record-three-years", "record-lacf-retention", "sale-local-law")

A_PERSON = {"id": A_MEMBER, "name": "Ada"}
A_LOG = {
    "load": 1,
    "unit": "F",
    "required": 204.3,
    "answer": "held",
    "readings": [["2027-08-14T16:46:00+00:00", 204.5]],
    "sent_by": A_PERSON,
    "sent_at": "2027-08-14T17:05:00Z",
}
A_READING = {
    "ph": 3.4,
    "instrument": "meter",
    "calibrated_at_buffers": [4.01, 7.0],
    "sample": "whole",
    "faults": [],
    "read_by": A_PERSON,
    "read_at": "2027-08-15T17:00:00Z",
}
A_HAND = {"jar_size": "half-pint", "count": 2, "from_name": "Ada", "to_name": "Bo", "at": "2027-08-20T09:00:00Z"}
A_RECORD: dict[str, Any] = {
    "batch": AN_ITEM,
    "member": A_PERSON,
    "recipe_id": A_RUN_SHEET["recipe_id"],
    "revision": 1,
    "rulebook": "2026.1",
    "altitude_ft": 4200,
    "processes": A_RUN_SHEET["processes"],
    "heat_logs": [A_LOG],
    "ph_readings": [A_READING],
    "made_on": "2027-08-14",
    "best_by": "2028-08-14",
    "filled": 8,
    "left": 7,
    "recalled_at": None,
    "handed_on": [A_HAND],
    "kept_until": "2030-08-14",
    "notes": [A_CAUTION],
}


class RecordPerson(Answer):
    """Somebody a record names."""

    model_config = example(**A_PERSON)

    id: Id
    name: str


class RecordedHeat(Answer):
    """What was read of a load's heat, and what that showed."""

    model_config = example(**A_LOG)

    load: int
    unit: str
    required: float
    answer: str
    readings: tuple[tuple[str, float], ...]
    sent_by: RecordPerson
    sent_at: Timestamp


class RecordedPh(Answer):
    """The acidity as it was read."""

    model_config = example(**A_READING)

    ph: float
    instrument: str
    calibrated_at_buffers: tuple[float, ...]
    sample: str | None
    faults: tuple[str, ...]
    read_by: RecordPerson
    read_at: Timestamp


class HandedOnJars(Answer):
    """Jars that went from one holder to another, or out of the kitchen."""

    model_config = example(**A_HAND)

    jar_size: str
    count: int
    from_name: str
    to_name: str
    at: Timestamp


class BatchRecord(Answer):
    """A batch as inspection reads it. Nothing of it is ever deleted by itself; `kept_until` is the earliest day."""

    model_config = example(**A_RECORD)

    batch: BatchItem
    member: RecordPerson
    recipe_id: Id
    revision: int
    rulebook: str
    "the edition of the rules by which the revision was checked and ready"
    altitude_ft: int
    processes: tuple[RunProcess, ...]
    heat_logs: tuple[RecordedHeat, ...]
    ph_readings: tuple[RecordedPh, ...]
    made_on: date
    best_by: date | None
    filled: int
    left: int
    recalled_at: Timestamp | None
    handed_on: tuple[HandedOnJars, ...]
    kept_until: date
    notes: tuple[Caution, ...]

    @classmethod
    def of(cls, record: store.Record, zone: ZoneInfo) -> "BatchRecord":
        """Put the rows together."""
        kept, lot = record.kept, record.lot
        sheet = RunSheet.model_validate(kept.row.run_sheet)
        made_on = lot.made_on if lot else kept.row.started_at.astimezone(zone).date()

        def person(member_id: UUID) -> RecordPerson:
            return RecordPerson(id=member_id, name=record.names[member_id])

        return cls(
            batch=BatchItem.of(kept),
            member=person(kept.row.member_id),
            recipe_id=sheet.recipe_id,
            revision=sheet.revision,
            rulebook=sheet.rulebook,
            altitude_ft=sheet.altitude_ft,
            processes=sheet.processes,
            heat_logs=tuple(
                RecordedHeat(
                    load=each.load,
                    unit=each.unit,
                    required=each.required,
                    answer=each.answer,
                    readings=tuple((at, value) for at, value in each.readings),
                    sent_by=person(each.sent_by),
                    sent_at=each.sent_at,
                )
                for each in record.heat_logs
            ),
            ph_readings=tuple(
                RecordedPh(
                    ph=each.ph,
                    instrument=each.instrument,
                    calibrated_at_buffers=tuple(each.calibrated_at_buffers),
                    sample=each.sample,
                    faults=tuple(each.faults or ()),
                    read_by=person(each.read_by),
                    read_at=each.read_at,
                )
                for each in record.ph_readings
            ),
            made_on=made_on,
            best_by=lot.best_by if lot else None,
            filled=record.filled,
            left=record.left,
            recalled_at=lot.recalled_at if lot else None,
            handed_on=tuple(
                HandedOnJars(
                    jar_size=each.jar_size,
                    count=each.jars,
                    from_name=each.from_name,
                    to_name=each.to_name,
                    at=each.at,
                )
                for each in record.handed_on
            ),
            kept_until=records.kept_until(made_on),
            notes=tuple(Caution.of(rule) for rule in NOTES),
        )


class RecordList(Listed[BatchRecord]):
    """A page of batch records, the newest first."""

    model_config = example(items=[A_RECORD], next_cursor=None)


COLUMNS = (
    *("batch_id", "lot_code", "title", "made_on", "kept_until", "member", "recipe_id", "revision", "rulebook"),
    *("altitude_ft", "load", "jar_size", "jars", "canner", "method", "minutes", "pressure_psi", "in_at", "out_at"),
    *("out_too_early", "heat", "checked_at", "sealed", "unsealed", "broken", "ph_readings", "deviations", "decisions"),
    *("on_hold", "recalled_at", "filled", "left", "handed_on"),
)


def table(found: Iterable[store.Record], zone: ZoneInfo) -> str:
    """Batch records as a table: one line for each load, what is the batch's own repeated."""
    written = StringIO()
    rows = csv.writer(written)
    rows.writerow(COLUMNS)
    for record in found:
        for line in _lines(record, BatchRecord.of(record, zone)):
            rows.writerow(records.cell(line.get(column)) for column in COLUMNS)
    return written.getvalue()


def _lines(record: store.Record, shown: BatchRecord) -> Iterable[dict[str, object]]:
    batch = shown.batch
    whole: dict[str, object] = {
        "batch_id": batch.id,
        "lot_code": batch.lot_code,
        "title": batch.title,
        "made_on": shown.made_on,
        "kept_until": shown.kept_until,
        "member": shown.member.name,
        "recipe_id": shown.recipe_id,
        "revision": shown.revision,
        "rulebook": shown.rulebook,
        "altitude_ft": shown.altitude_ft,
        "ph_readings": "; ".join(f"pH {each.ph} by {each.read_by.name}" for each in shown.ph_readings),
        "deviations": "; ".join(each.says for each in batch.deviations),
        "decisions": "; ".join(f"{each.decision}: {each.reason}" for each in batch.decisions),
        "on_hold": batch.on_hold,
        "recalled_at": shown.recalled_at and write_timestamp(shown.recalled_at),
        "filled": shown.filled,
        "left": shown.left,
        "handed_on": "; ".join(f"{each.count} {each.jar_size} to {each.to_name}" for each in shown.handed_on),
    }
    loads = [
        {
            **{name: getattr(load, name) for name in ("load", "jar_size", "method", "minutes", "pressure_psi", "heat")},
            **{name: getattr(load, name) for name in ("out_too_early", "sealed", "unsealed", "broken")},
            **{name: (at := getattr(load, name)) and write_timestamp(at) for name in ("in_at", "out_at", "checked_at")},
            "jars": load.count,
            "canner": record.names[load.canner_id],
        }
        for load in batch.loads
    ]
    return [whole | load for load in loads or [{}]]
