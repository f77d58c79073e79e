"""Reading what inspection asks for: batches with all that was read, decided and handed on. Nothing is written here."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session, col, or_, select

from service.batches import store as batches
from service.batches.tables import HeatLog, PhReading
from service.core.jars.movements import ENDS, State
from service.database.rows import by
from service.equipment import store as equipment
from service.members import store as members
from service.pantry.tables import Balance, Lot, Movement


@dataclass(frozen=True, slots=True)
class HandedOn:
    """Jars that left one holder for another, or for somebody outside the kitchen."""

    jar_size: str
    jars: int
    from_name: str
    to_name: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Record:
    """A batch as inspection reads it; names go by the ids of members and equipment."""

    kept: batches.Kept
    heat_logs: tuple[HeatLog, ...]
    ph_readings: tuple[PhReading, ...]
    lot: Lot | None
    filled: int
    left: int
    handed_on: tuple[HandedOn, ...]
    names: dict[UUID, str]


def records(session: Session, kitchen_id: UUID, found: Sequence[batches.Kept]) -> list[Record]:
    """Everything that is kept of these batches, in their order."""
    ids, lot_ids = [kept.row.id for kept in found], [kept.row.lot_id for kept in found if kept.row.lot_id]
    logs = session.exec(
        select(HeatLog).where(col(HeatLog.batch_id).in_(ids)).order_by(col(HeatLog.sent_at), col(HeatLog.id))
    ).all()
    readings = session.exec(
        select(PhReading).where(col(PhReading.batch_id).in_(ids)).order_by(col(PhReading.read_at), col(PhReading.id))
    ).all()
    lots = {row.id: row for row in session.exec(select(Lot).where(col(Lot.id).in_(lot_ids)))}
    balances = session.exec(select(Balance).where(col(Balance.lot_id).in_(lot_ids))).all()
    movements = session.exec(
        select(Movement)
        .where(
            col(Movement.lot_id).in_(lot_ids),
            or_(
                col(Movement.source_holder_id) != col(Movement.target_holder_id),
                col(Movement.target_state) == State.GIVEN,
            ),
        )
        .order_by(col(Movement.moved_at), col(Movement.id))
    ).all()
    people = {kept.row.member_id for kept in found}
    people |= {each.sent_by for each in logs} | {each.read_by for each in readings}
    people |= {id for each in movements for id in (each.source_holder_id, each.target_holder_id) if id}
    names = members.names(session, people)
    names |= {each.id: each.name for each in equipment.equipment(session, kitchen_id)}
    logs_of, readings_of = by("batch_id", logs), by("batch_id", readings)
    balances_of, movements_of = by("lot_id", balances), by("lot_id", movements)
    return [
        Record(
            kept,
            heat_logs=tuple(logs_of[kept.row.id]),
            ph_readings=tuple(readings_of[kept.row.id]),
            lot=lots.get(kept.row.lot_id) if kept.row.lot_id else None,
            filled=sum(each.jars for each in balances_of[kept.row.lot_id]),
            left=sum(each.jars for each in balances_of[kept.row.lot_id] if each.state not in ENDS),
            handed_on=tuple(
                HandedOn(
                    each.jar_size,
                    each.jars,
                    names[each.source_holder_id],
                    each.recipient or names[each.target_holder_id],
                    each.moved_at,
                )
                for each in movements_of[kept.row.lot_id]
                if each.source_holder_id is not None
            ),
            names=names,
        )
        for kept in found
    ]
