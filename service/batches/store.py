"""Reading and writing batches, their loads and what was read; filled jars go on into the pantry."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session, col, or_, select

from service.batches.tables import Batch, HeatLog, Load, PhReading
from service.bookings import store as bookings
from service.core.jars import batches, movements
from service.core.jars.batches import Canner, Process
from service.core.jars.heat import Answer
from service.core.jars.movements import SealCheck, State
from service.core.refusals import Refused
from service.core.scheduling.bookings import Status
from service.core.scheduling.equipment import EquipmentKind
from service.equipment import store as equipment
from service.pantry import store as pantry
from service.pantry.tables import Lot
from service.recipes import store as recipes


@dataclass(frozen=True, slots=True)
class KeptLoad:
    """A load as a row, and as the core decides about it."""

    row: Load
    load: batches.Load


@dataclass(frozen=True, slots=True)
class Kept:
    """A batch with its loads and the code of its lot, if jars were filled."""

    row: Batch
    loads: tuple[KeptLoad, ...]
    lot_code: str | None

    @property
    def done(self) -> bool:
        return bool(self.loads) and all(each.load.seals for each in self.loads)

    def load(self, number: int) -> KeptLoad | None:
        return next((each for each in self.loads if each.row.number == number), None)


@dataclass(frozen=True, slots=True)
class Booked:
    """A booking as far as a batch needs it: whose, in which state, with which recipe, jars and canners."""

    id: UUID
    member_id: UUID
    confirmed: bool
    recipe: recipes.Kept | None
    jars: dict[str, int]
    canners: tuple[Canner, ...]
    names: dict[UUID, str]


def booked(session: Session, kitchen_id: UUID, booking_id: UUID, member_id: UUID | None) -> Booked | None:
    """One booking of a member, or of anybody in the kitchen if no member is named."""
    kept = bookings.booking(session, kitchen_id, booking_id, member_id)
    if kept is None:
        return None
    row = kept.booking
    claimed = {claim.equipment_id for claim in kept.claims}
    pieces = [
        each
        for each in equipment.equipment(session, kitchen_id)
        if each.id in claimed and each.kind is EquipmentKind.CANNER and each.canner_kind
    ]
    recipe = recipes.recipe(session, kitchen_id, row.recipe_id, None) if row.recipe_id else None
    return Booked(
        id=row.id,
        member_id=row.member_id,
        confirmed=row.status is Status.CONFIRMED,
        recipe=recipes.revision(session, recipe, row.revision) if recipe and row.revision else None,
        jars=dict(row.jars or {}),
        canners=tuple(Canner(each.id, str(each.canner_kind), each.capacity or {}) for each in pieces),
        names={each.id: each.name for each in pieces},
    )


def has_batch(session: Session, booking_id: UUID) -> bool:
    return session.exec(select(Batch.id).where(Batch.booking_id == booking_id)).first() is not None


def start(
    session: Session, kitchen_id: UUID, booking: Booked, title: str, run_sheet: dict[str, Any], at: datetime
) -> Kept:
    """Begin the batch of a booking."""
    row = Batch(
        kitchen_id=kitchen_id,
        member_id=booking.member_id,
        booking_id=booking.id,
        title=title,
        started_at=at,
        run_sheet=run_sheet,
    )
    session.add(row)
    session.flush()
    return Kept(row, (), None)


def batch(session: Session, kitchen_id: UUID, batch_id: UUID, member_id: UUID | None) -> Kept | None:
    """One batch of a member, or of anybody in the kitchen if no member is named."""
    query = select(Batch).where(Batch.kitchen_id == kitchen_id, Batch.id == batch_id)
    if member_id is not None:
        query = query.where(Batch.member_id == member_id)
    return next(iter(_kept(session, session.exec(query).all())), None)


def page(
    session: Session, kitchen_id: UUID, member_id: UUID | None, limit: int, after: tuple[datetime, UUID] | None
) -> list[Kept]:
    """Batches, the newest first, one more than asked for."""
    query = select(Batch).where(Batch.kitchen_id == kitchen_id)
    if member_id is not None:
        query = query.where(Batch.member_id == member_id)
    if after is not None:
        at, last = after
        query = query.where(or_(col(Batch.started_at) < at, (col(Batch.started_at) == at) & (col(Batch.id) < last)))
    query = query.order_by(col(Batch.started_at).desc(), col(Batch.id).desc()).limit(limit + 1)
    return _kept(session, session.exec(query).all())


def _kept(session: Session, rows: Sequence[Batch]) -> list[Kept]:
    query = select(Load).where(col(Load.batch_id).in_([row.id for row in rows])).order_by(col(Load.number))
    loads = session.exec(query).all()
    codes = dict(session.exec(select(Lot.id, Lot.code).where(col(Lot.id).in_([row.lot_id for row in rows]))).all())
    return [
        Kept(
            row,
            tuple(KeptLoad(load, _load(load)) for load in loads if load.batch_id == row.id),
            codes.get(row.lot_id) if row.lot_id else None,
        )
        for row in rows
    ]


def _load(row: Load) -> batches.Load:
    seals = None
    if row.sealed is not None:
        seals = SealCheck(row.sealed, row.unsealed or 0, row.broken or 0)
    return batches.Load(
        number=row.number,
        jar_size=row.jar_size,
        count=row.jars,
        canner_id=row.canner_id,
        process=Process(row.method, row.minutes, row.pressure_psi, row.headspace_in),
        in_at=row.in_at,
        out_at=row.out_at,
        heat=row.heat,
        seals=seals,
    )


def add_load(session: Session, kept: Kept, load: batches.Load) -> KeptLoad:
    """Keep a load that went in, with the process that held for it."""
    row = Load(
        batch_id=kept.row.id,
        number=load.number,
        jar_size=load.jar_size,
        jars=load.count,
        canner_id=load.canner_id,
        method=load.process.method,
        minutes=load.process.minutes,
        pressure_psi=load.process.pressure_psi,
        headspace_in=load.process.headspace_in,
        in_at=load.in_at,
    )
    session.add(row)
    session.flush()
    return KeptLoad(row, load)


def take_out(session: Session, kept: KeptLoad, load: batches.Load) -> KeptLoad:
    """Keep when a load came out."""
    kept.row.out_at = load.out_at
    session.add(kept.row)
    session.flush()
    return KeptLoad(kept.row, load)


def add_heat_log(session: Session, kept: Kept, load: KeptLoad, answer: Answer, **values: Any) -> None:
    """Keep a heat log beside its load; what it says counts until the next one, and holds jars that are out already."""
    session.add(HeatLog(batch_id=kept.row.id, load=load.row.number, answer=answer, **values))
    load.row.heat = answer
    session.add(load.row)
    session.flush()
    if load.load.seals and answer is not Answer.HELD:
        set_aside(session, kept, values["sent_by"], values["sent_at"])


def add_ph_reading(session: Session, kept: Kept, **values: Any) -> PhReading:
    """Keep what was read."""
    row = PhReading(batch_id=kept.row.id, **values)
    session.add(row)
    session.flush()
    return row


def set_aside(session: Session, kept: Kept, by: UUID, at: datetime) -> None:
    """Put what has been filled of a batch on hold, and what is still to come."""
    kept.row.on_hold = True
    session.add(kept.row)
    lot = session.get(Lot, kept.row.lot_id) if kept.row.lot_id else None
    if lot is not None:
        pantry.write(session, lot, movements.hold(pantry.balances(session, lot.id)), by, at)
    session.flush()


def product(session: Session, kept: Kept) -> tuple[str | None, str | None]:
    """Family and product of what a batch makes, as its revision's check has them."""
    booking = booked(session, kept.row.kitchen_id, kept.row.booking_id, None)
    answer = booking.recipe.check.answer if booking and booking.recipe else {}
    return answer.get("family"), answer.get("product")


def fill(
    session: Session,
    kept: Kept,
    load: KeptLoad,
    checked: batches.Load,
    product: tuple[str | None, str | None],
    made_at: datetime,
    best_by_months: int,
    by: UUID,
    at: datetime,
) -> tuple[pantry.Written, ...] | Refused:
    """Keep a seal check and bring every jar of the load to its member, all in one.

    `product` is family and product; `made_at` is on the kitchen's clock; `at` is when the seals were checked. The
    last load's check makes the booking done.
    """
    row, batch_row, seals = load.row, kept.row, checked.seals
    assert seals is not None
    lot = session.get(Lot, batch_row.lot_id) if batch_row.lot_id else None
    if lot is None:
        made = pantry.add_lot(session, batch_row.kitchen_id, batch_row.title, *product, made_at.date(), best_by_months)
        if isinstance(made, Refused):
            return made
        lot, batch_row.lot_id = made, made.id
    row.sealed, row.unsealed, row.broken, row.checked_at = seals.sealed, seals.unsealed, seals.broken, at
    session.add_all([row, batch_row])
    session.flush()
    sealed_to = State.HOLD if batch_row.on_hold or checked.doubtful else State.SHELF
    if lot.recalled_at is not None:
        sealed_to = State.RECALLED
    filled = movements.fill(lot.id, row.jar_size, batch_row.member_id, seals, sealed_to)
    written = pantry.write(session, lot, filled, by, at)
    if _all_checked(other for other in kept.loads if other.row.number != row.number):
        booking = bookings.booking(session, batch_row.kitchen_id, batch_row.booking_id, None)
        assert booking is not None
        booking.booking.status = Status.DONE
        session.add(booking.booking)
        session.flush()
    return tuple(written)


def _all_checked(loads: Iterable[KeptLoad]) -> bool:
    return all(each.load.seals for each in loads)
