"""Reading and writing batches, their loads and what was read; filled jars go on into the pantry."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import func
from sqlmodel import Session, col, or_, select

from service.batches.tables import Batch, Deviation, HeatLog, HoldDecision, Load, PhReading
from service.bookings import store as bookings
from service.core.jars import batches, movements
from service.core.jars import deviations as standing
from service.core.jars.batches import Canner, Opened, Process, vented
from service.core.jars.deviations import ABOUT, BrokenRule, HoldOutcome
from service.core.jars.heat import HeatAnswer
from service.core.jars.movements import EATABLE, Kind, Movement, Place, SealCheck, State
from service.core.refusals import Refused
from service.core.scheduling.bookings import Status
from service.core.scheduling.equipment import EquipmentKind
from service.database.rows import by
from service.equipment import store as equipment
from service.members import store as members
from service.members.tables import Kitchen
from service.pantry import store as pantry
from service.pantry import tables
from service.pantry.store import Written
from service.pantry.tables import Lot
from service.recipes import store as recipes

DECIDED = {
    HoldOutcome.RELEASE: "they may be used again, where the pantry says they are",
    HoldOutcome.REPROCESS: "they may be processed again",
    HoldOutcome.DESTROY: "destroy them, untasted",
}
HOLD_NOTE = "on hold until a trainer or coordinator decides"
LATE_NOTE = f"stood unsealed for more than {standing.UNSEALED_HOURS} hours: discard, untasted"


@dataclass(frozen=True, slots=True)
class KeptLoad:
    """A load as a row, and as the core decides about it."""

    row: Load
    load: batches.Load


@dataclass(frozen=True, slots=True)
class Kept:
    """A batch with its loads, what went wrong and was decided, and the code of its lot, if jars were filled."""

    row: Batch
    loads: tuple[KeptLoad, ...]
    lot_code: str | None
    deviations: tuple[Deviation, ...] = ()
    decisions: tuple[HoldDecision, ...] = ()
    put_cold: bool = False  # food that isn't canned, in the cold already

    @property
    def done(self) -> bool:
        return self.put_cold or (bool(self.loads) and all(each.load.seals for each in self.loads))

    def load(self, number: int) -> KeptLoad | None:
        return next((each for each in self.loads if each.row.number == number), None)

    def out_at(self, number: int | None) -> datetime | None:
        """When a load came out of its canner."""
        load = self.load(number) if number is not None else None
        return load.row.out_at if load else None

    @property
    def open(self) -> tuple[standing.Deviation, ...]:
        """What still stands against the lot."""
        return tuple(
            standing.Deviation(row.cause, row.load, self.out_at(row.load))
            for row in self.deviations
            if row.settled_at is None
        )


@dataclass(frozen=True, slots=True)
class Booked:
    """A booking as far as a batch needs it: whose, in which state, with which recipe, jars and canners."""

    id: UUID
    member_id: UUID
    confirmed: bool
    starts_at: datetime
    recipe: recipes.Kept | None
    jars: dict[str, int]
    canners: tuple[Canner, ...]
    other_canners: tuple[Canner, ...]  # of the kitchen
    names: dict[UUID, str]


@dataclass(frozen=True, slots=True)
class LotFacts:
    """What a lot's label says: family, product, the day on the kitchen's clock, and how long it is best."""

    family: str | None
    product: str | None
    made_at: datetime
    best_by_months: int


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
        if each.kind is EquipmentKind.CANNER and each.canner_kind
    ]
    canners = [Canner(each.id, str(each.canner_kind), each.capacity or {}) for each in pieces]
    recipe = recipes.recipe(session, kitchen_id, row.recipe_id, None) if row.recipe_id else None
    return Booked(
        id=row.id,
        member_id=row.member_id,
        confirmed=row.status is Status.CONFIRMED,
        starts_at=row.starts_at,
        recipe=recipes.revision(session, recipe, row.revision) if recipe and row.revision else None,
        jars=dict(row.jars or {}),
        canners=tuple(each for each in canners if each.id in claimed),
        other_canners=tuple(each for each in canners if each.id not in claimed),
        names={each.id: each.name for each in pieces},
    )


def has_batch(session: Session, booking_id: UUID) -> bool:
    return session.exec(select(Batch.id).where(Batch.booking_id == booking_id)).first() is not None


def batch_of_booking(session: Session, kitchen_id: UUID, booking_id: UUID) -> Kept | None:
    """The batch that a booking became."""
    query = select(Batch).where(Batch.kitchen_id == kitchen_id, Batch.booking_id == booking_id)
    return next(iter(_kept(session, session.exec(query).all())), None)


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
    session: Session,
    kitchen_id: UUID,
    member_id: UUID | None,
    limit: int | None,
    after: tuple[datetime, UUID] | None,
    from_at: datetime | None = None,
    to_at: datetime | None = None,
) -> list[Kept]:
    """Batches, the newest first, one more than asked for or all there are; those started in a time, if one is named."""
    query = select(Batch).where(Batch.kitchen_id == kitchen_id)
    if member_id is not None:
        query = query.where(Batch.member_id == member_id)
    if from_at is not None:
        query = query.where(Batch.started_at >= from_at)
    if to_at is not None:
        query = query.where(Batch.started_at < to_at)
    if after is not None:
        at, last = after
        query = query.where(or_(col(Batch.started_at) < at, (col(Batch.started_at) == at) & (col(Batch.id) < last)))
    query = query.order_by(col(Batch.started_at).desc(), col(Batch.id).desc())
    return _kept(session, session.exec(query if limit is None else query.limit(limit + 1)).all())


def held(session: Session, kitchen_id: UUID, limit: int, after: tuple[datetime, UUID] | None) -> list[tuple[Kept, int]]:
    """Batches that wait for a person with their jars on hold, the newest first, one more than asked for."""
    query = select(Batch).where(Batch.kitchen_id == kitchen_id, col(Batch.on_hold))
    if after is not None:
        at, last = after
        query = query.where(or_(col(Batch.started_at) < at, (col(Batch.started_at) == at) & (col(Batch.id) < last)))
    query = query.order_by(col(Batch.started_at).desc(), col(Batch.id).desc()).limit(limit + 1)
    found = _kept(session, session.exec(query).all())
    jars = _on_hold(session, found)
    return [(kept, jars.get(kept.row.lot_id, 0)) for kept in found]


def batch_of_lot(session: Session, kitchen_id: UUID, lot_code: str) -> Kept | None:
    """The batch whose jars have this code."""
    lot = pantry.lot(session, kitchen_id, lot_code)
    if lot is None:
        return None
    query = select(Batch).where(Batch.lot_id == lot.id)
    return next(iter(_kept(session, session.exec(query).all())), None)


def _kept(session: Session, rows: Sequence[Batch]) -> list[Kept]:
    ids = [row.id for row in rows]
    codes = dict(session.exec(select(Lot.id, Lot.code).where(col(Lot.id).in_([row.lot_id for row in rows]))).all())
    wrong = (
        select(Deviation)
        .where(col(Deviation.batch_id).in_(ids))
        .order_by(col(Deviation.happened_at), col(Deviation.id))
    )
    decided = select(HoldDecision).where(col(HoldDecision.batch_id).in_(ids)).order_by(col(HoldDecision.decided_at))
    wrongs, decisions = by("batch_id", session.exec(wrong)), by("batch_id", session.exec(decided))
    loads = by("batch_id", session.exec(select(Load).where(col(Load.batch_id).in_(ids)).order_by(col(Load.number))))
    return [
        Kept(
            row,
            tuple(KeptLoad(load, _load(load)) for load in loads[row.id]),
            codes.get(row.lot_id) if row.lot_id else None,
            deviations=tuple(wrongs[row.id]),
            decisions=tuple(decisions[row.id]),
            put_cold=bool(row.lot_id) and not loads[row.id],
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
        process=Process(
            row.method, row.minutes, row.pressure_psi, row.headspace_in, vented(row.pressure_psi, row.vent_minutes)
        ),
        in_at=row.in_at,
        out_at=row.out_at,
        heat=row.heat,
        vented_minutes_at_most=row.vented_minutes_at_most,
        seals=seals,
        again=row.again,
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
        vent_minutes=load.process.vent_minutes,
        again=load.again,
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


def add_heat_log(
    session: Session,
    kept: Kept,
    load: KeptLoad,
    answer: HeatAnswer,
    vented_minutes_at_most: float | None,
    **values: Any,
) -> KeptLoad:
    """Keep a heat log beside its load; what it says counts until the next one."""
    session.add(HeatLog(batch_id=kept.row.id, load=load.row.number, answer=answer, **values))
    load.row.heat, load.row.vented_minutes_at_most = answer, vented_minutes_at_most
    session.add(load.row)
    session.flush()
    return KeptLoad(load.row, replace(load.load, heat=answer, vented_minutes_at_most=vented_minutes_at_most))


def heat_log(session: Session, kept: Kept, load: KeptLoad) -> dict[str, Any] | None:
    """What the last heat log of a load was answered."""
    query = (
        select(HeatLog)
        .where(HeatLog.batch_id == kept.row.id, HeatLog.load == load.row.number, HeatLog.answer == load.row.heat)
        .order_by(col(HeatLog.sent_at).desc(), col(HeatLog.id).desc())  # of one second any with the answer that counts
        .limit(1)
    )
    row = session.exec(query).one_or_none()
    return row.evaluation if row else None


def add_ph_reading(session: Session, kept: Kept, **values: Any) -> PhReading:
    """Keep what was read."""
    row = PhReading(batch_id=kept.row.id, **values)
    session.add(row)
    session.flush()
    return row


def deviate(
    session: Session,
    kept: Kept,
    load: int | None,
    causes: Iterable[BrokenRule],
    happened_at: datetime,
    by: UUID,
    at: datetime,
    says: str | None = None,
) -> Kept:
    """Keep broken rules and set the lot aside; the same cause of the same load stands once."""
    already = {(row.cause, row.load) for row in kept.deviations if row.settled_at is None}
    rows = tuple(
        Deviation(
            batch_id=kept.row.id,
            load=load,
            cause=cause,
            says=says or ABOUT[cause].says,
            happened_at=happened_at,
            recorded_by=by,
            recorded_at=at,
        )
        for cause in causes
        if (cause, load) not in already
    )
    if not rows:
        return kept
    session.add_all(rows)
    kept.row.on_hold = True
    session.add(kept.row)
    session.flush()
    kept = replace(kept, deviations=(*kept.deviations, *rows))
    _set_aside(session, kept, by, at)
    return kept


def _set_aside(session: Session, kept: Kept, by: UUID, at: datetime) -> tuple[Written, ...]:
    """Put what could still be eaten of a lot on hold, whoever has it, and tell those others."""
    lot = session.get(Lot, kept.row.lot_id) if kept.row.lot_id else None
    if lot is None or lot.recalled_at is not None:
        return ()
    ends = [standing.decided_by(each.out_at) for each in kept.open if each.about.under_processed and each.out_at]
    saved = f"; processed again or frozen by {said(session, kept, min(ends))} or not at all" if ends else ""
    held_ones = [replace(each, location=HOLD_NOTE + saved) for each in movements.hold(pantry.balances(session, lot.id))]
    written = pantry.write(session, lot, held_ones, by, at)
    _tell(session, lot, held_ones, f"Don't eat jars of lot {lot.code}: they are {HOLD_NOTE}.", by, at)
    return tuple(written)


def _tell(session: Session, lot: Lot, moved: Iterable[Movement], message: str, by: UUID, at: datetime) -> None:
    """Tell everybody whose jars were moved by somebody else."""
    for holder_id in sorted({each.target.holder_id for each in moved} - {by}):
        members.tell(session, holder_id, message, at, lot_code=lot.code)


def said(session: Session, kept: Kept, moment: datetime) -> str:
    """A moment on the kitchen's clock, for a note on a jar."""
    kitchen = session.get(Kitchen, kept.row.kitchen_id)
    assert kitchen is not None
    return f"{moment.astimezone(ZoneInfo(kitchen.time_zone)):%Y-%m-%d %H:%M}"


def _settle(session: Session, kept: Kept, rows: Iterable[Deviation], at: datetime) -> None:
    """What stood against the lot stands no more; with nothing left against it, what is still to come isn't held."""
    for row in rows:
        row.settled_at = row.settled_at or at
        session.add(row)
    kept.row.on_hold = any(row.settled_at is None for row in kept.deviations)
    session.add(kept.row)
    session.flush()


def _on_hold(session: Session, found: Iterable[Kept]) -> dict[UUID | None, int]:
    """Jars on hold of each lot that has any."""
    balance = tables.Balance
    query = select(balance.lot_id, func.sum(balance.jars)).where(
        col(balance.lot_id).in_([kept.row.lot_id for kept in found]), balance.state == State.HOLD
    )
    return dict(session.exec(query.group_by(col(balance.lot_id))).all())


def held_lot(session: Session, kept: Kept) -> standing.Held:
    """A lot as a decision about its jars on hold needs it."""
    lot = session.get(Lot, kept.row.lot_id)
    assert lot is not None
    return standing.Held(
        open=kept.open,
        jars=standing.origins(_through_hold(session, lot.id)),
        cleared=_cleared(session, kept),
        recalled=lot.recalled_at is not None,
    )


def _through_hold(session: Session, lot_id: UUID) -> list[Movement]:
    """Every movement that brought jars of a lot on hold, or let them go."""
    query = select(tables.Movement).where(
        tables.Movement.lot_id == lot_id,
        or_(tables.Movement.source_state == State.HOLD, tables.Movement.target_state == State.HOLD),
    )
    found = []
    for row in session.exec(query):
        source = None
        if row.source_holder_id is not None and row.source_state is not None:
            source = Place(lot_id, row.jar_size, row.source_holder_id, row.source_state)
        target = Place(lot_id, row.jar_size, row.target_holder_id, row.target_state)
        found.append(Movement(row.kind, row.jars, source, target))
    return found


def _cleared(session: Session, kept: Kept) -> bool:
    """Whether the last pH reading was a good one, and every other of that moment."""
    readings = session.exec(select(PhReading).where(PhReading.batch_id == kept.row.id)).all()
    last_at = max((row.read_at for row in readings), default=None)
    return bool(readings) and all(row.faults == [] for row in readings if row.read_at == last_at)


def decide(
    session: Session,
    kept: Kept,
    moved: Iterable[Movement],
    decision: HoldOutcome,
    to_state: str | None,
    reason: str,
    evaluation: str | None,
    by: UUID,
    at: datetime,
) -> tuple[Kept, tuple[Written, ...], int]:
    """Keep a decision and move the jars; with it, what stood against counted jars is settled.

    Answers the batch, what was written, and how many jars still wait on hold.
    """
    lot = session.get(Lot, kept.row.lot_id)
    assert lot is not None
    moved = tuple(moved)
    written = tuple(pantry.write(session, lot, moved, by, at))
    _tell(session, lot, moved, f"Jars of lot {lot.code} on hold: {DECIDED[decision]}.", by, at)
    row = HoldDecision(
        batch_id=kept.row.id,
        decision=decision,
        to_state=to_state,
        reason=reason,
        evaluation=evaluation,
        decided_by=by,
        decided_at=at,
    )
    session.add(row)
    if decision is not HoldOutcome.REPROCESS:
        waiting = {each.row.number for each in kept.loads if each.load.seals is None}
        counted = [each for each in kept.deviations if not (waiting if each.load is None else waiting & {each.load})]
        _settle(session, kept, counted, at)
    session.flush()
    return replace(kept, decisions=(*kept.decisions, row)), written, _on_hold(session, [kept]).get(kept.row.lot_id, 0)


def wants_again(kept: Kept) -> bool:
    """Whether the last word of a person, and every other of that moment, is to process the jars on hold again."""
    last_at = max((row.decided_at for row in kept.decisions), default=None)
    last = [row.decision for row in kept.decisions if row.decided_at == last_at]
    return bool(last) and set(last) == {HoldOutcome.REPROCESS}


def jars_on_hold(session: Session, kept: Kept, jar_size: str) -> int:
    """Jars of one size on hold that the batch's own member has."""
    if kept.row.lot_id is None:
        return 0
    place = Place(kept.row.lot_id, jar_size, kept.row.member_id, State.HOLD)
    return pantry.balances(session, kept.row.lot_id).get(place, 0)


def open_again(
    session: Session,
    kept: Kept,
    before: KeptLoad,
    opened: Opened,
    count: int,
    discarded: int,
    lot_facts: LotFacts,
    by: UUID,
    at: datetime,
) -> Refused | None:
    """Take the jars of an earlier load into a new one that isn't kept yet, and discard those that come to nothing."""
    if opened is Opened.RESTING:
        seals = SealCheck(0, count, discarded)
        counted = _count(session, kept, before, seals, {State.BATCH: count}, lot_facts, by, at)
        if isinstance(counted, Refused):
            return counted
    else:
        lot = session.get(Lot, kept.row.lot_id)
        assert lot is not None
        if lot.recalled_at is not None:
            return Refused("recalled", "The lot was recalled: its jars may only be discarded.")
        state = State.HOLD if opened is Opened.HELD else State.REFRIGERATOR
        source = Place(lot.id, before.row.jar_size, kept.row.member_id, state)
        there = pantry.balances(session, lot.id).get(source, 0)
        if there < count + discarded:
            return Refused("too-few-jars", "Fewer jars than that are there.", extra={"jars": there})
        wanted = ((Kind.REPROCESS, count, State.BATCH), (Kind.DISCARD, discarded, State.DISCARDED))
        moved = [
            Movement(kind, jars, source, Place(lot.id, source.jar_size, source.holder_id, to))
            for kind, jars, to in wanted
            if jars
        ]
        pantry.write(session, lot, moved, by, at)
    if opened is Opened.RESTING or (opened is Opened.HELD and not _on_hold(session, [kept]).get(kept.row.lot_id, 0)):
        _settle(session, kept, [row for row in kept.deviations if row.load == before.row.number], at)
    return None


def put_cold(
    session: Session,
    kept: Kept,
    load: KeptLoad,
    states: dict[State, int],
    lot_facts: LotFacts,
    by: UUID,
    at: datetime,
) -> tuple[Written, ...] | Refused:
    """Keep where every jar of a load went that wasn't heated enough and never was on a shelf."""
    discarded = states.get(State.DISCARDED, 0)
    seals = SealCheck(0, load.row.jars - discarded, discarded)
    written = _count(session, kept, load, seals, states, lot_facts, by, at)
    if isinstance(written, Refused):
        return written
    _settle(session, kept, [row for row in kept.deviations if row.load == load.row.number], at)
    _finish(session, kept)
    return written


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
    lot_facts: LotFacts,
    note: str,
    by: UUID,
    at: datetime,
) -> tuple[Written, ...] | Refused:
    """Keep a seal check and bring every jar of the load to its member, all in one; `at` is when it was done.

    The last load's check makes the booking done. Jars that went in once more leave the hold of the others behind.
    """
    seals = checked.seals
    assert seals is not None
    lot = _lot(session, kept, lot_facts)
    if isinstance(lot, Refused):
        return lot
    _check(session, load, seals, at)
    waits = any(each.load in (None, checked.number) for each in kept.open)
    waits = waits or (checked.again is None and kept.row.on_hold)
    sealed_to = State.HOLD if waits else State.SHELF
    if lot.recalled_at is not None:
        sealed_to = State.RECALLED
    late = checked.out_at is not None and at > standing.unsealed_by(checked.out_at)
    filled = movements.fill(
        lot.id, load.row.jar_size, kept.row.member_id, seals, sealed_to, note, once_more=checked.again is not None
    )
    if late:  # unsealed for too long: they count as what they are
        filled = [_discarded(each) if each.target.state is State.REFRIGERATOR else each for each in filled]
    written = tuple(pantry.write(session, lot, filled, by, at))
    if waits:
        aside = _set_aside(session, kept, by, at)
        written = (*(each for each in written if each.movement.target_state not in EATABLE), *aside)
    _finish(session, kept)
    return written


def _discarded(filled: Movement) -> Movement:
    place = filled.target
    target = Place(place.lot_id, place.jar_size, place.holder_id, State.DISCARDED)
    return Movement(filled.kind, filled.jars, filled.source, target, LATE_NOTE)


def add_cold_jars(
    session: Session, kept: Kept, jar_size: str, count: int, state: State, lot_facts: LotFacts, by: UUID, at: datetime
) -> tuple[Written, ...] | Refused:
    """Bring jars of food that isn't canned straight into the cold."""
    lot = _lot(session, kept, lot_facts)
    if isinstance(lot, Refused):
        return lot
    if lot.recalled_at is not None:
        state = State.RECALLED
    filled = Movement(Kind.FILL, count, None, Place(lot.id, jar_size, kept.row.member_id, state))
    written = tuple(pantry.write(session, lot, [filled], by, at))
    if kept.row.on_hold:
        written = _set_aside(session, kept, by, at) or written
    _finish(session, kept)
    return written


def _lot(session: Session, kept: Kept, facts: LotFacts) -> Lot | Refused:
    """The lot of a batch: made with its first jars."""
    row = kept.row
    lot = session.get(Lot, row.lot_id) if row.lot_id else None
    if lot is not None:
        return lot
    made = pantry.add_lot(
        session, row.kitchen_id, row.title, facts.family, facts.product, facts.made_at.date(), facts.best_by_months
    )
    if isinstance(made, Refused):
        return made
    row.lot_id = made.id
    session.add(row)
    session.flush()
    return made


def _check(session: Session, load: KeptLoad, seals: SealCheck, at: datetime) -> None:
    row = load.row
    row.sealed, row.unsealed, row.broken, row.checked_at = seals.sealed, seals.unsealed, seals.broken, at
    session.add(row)
    session.flush()


def _count(
    session: Session,
    kept: Kept,
    load: KeptLoad,
    seals: SealCheck,
    states: dict[State, int],
    lot_facts: LotFacts,
    by: UUID,
    at: datetime,
) -> tuple[Written, ...] | Refused:
    """Count the jars of a load whose seals nobody waits for into the states they went to."""
    lot = _lot(session, kept, lot_facts)
    if isinstance(lot, Refused):
        return lot
    if lot.recalled_at is not None:
        return Refused("recalled", "The lot was recalled: its jars may only be discarded.")
    _check(session, load, seals, at)
    size, holder_id = load.row.jar_size, kept.row.member_id
    source = Place(lot.id, size, holder_id, State.BATCH) if load.row.again else None
    states = states | ({State.DISCARDED: seals.broken} if seals.broken else {})
    moved = [
        Movement(Kind.SEAL_CHECK if source else Kind.FILL, jars, source, Place(lot.id, size, holder_id, state))
        for state, jars in states.items()
        if jars and not (source and state is State.BATCH)
    ]
    return tuple(pantry.write(session, lot, moved, by, at))


def _finish(session: Session, kept: Kept) -> None:
    """With every load checked, the booking is done."""
    if all(each.row.checked_at for each in kept.loads):
        booking = bookings.booking(session, kept.row.kitchen_id, kept.row.booking_id, None)
        assert booking is not None
        booking.booking.status = Status.DONE
        session.add(booking.booking)
        session.flush()
