"""The routes of batches: from a booking to jars in the pantry."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Annotated, TypeVar
from zoneinfo import ZoneInfo

from fastapi import Path, Response

from service.batches import bodies, run_sheets, store
from service.core.jars import batches, deviations, heat, ph
from service.core.jars.deviations import BrokenRule
from service.core.jars.movements import SealCheck, State
from service.core.jars.ph import PH_LIMIT
from service.core.refusals import Refused
from service.core.roles import Scope
from service.pantry.store import Written
from service.web import (
    MIB,
    Caller,
    Member,
    Now,
    Page,
    Problem,
    Reading,
    Routes,
    Trainer,
    Writing,
    also_for,
    problems,
    takes_up_to,
)
from service.web.types import Id, WholeQuery

router = Routes("/v1/batches", "batches")
holds = Routes("/v1", "batches")

T = TypeVar("T")
Number = Annotated[WholeQuery, Path(ge=1)]
NO_BODY = bodies.OutNow()


@router.post("", status_code=201, responses=problems(404, 409))
def start_batch(
    new: bodies.NewBatch, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.BatchAnswer:
    """Begin the batch of a booking and get its run sheet."""
    booked = store.booked(session, caller.kitchen_id, new.booking_id, _whose(caller))
    if booked is None:
        raise Problem.not_found()
    if store.has_batch(session, booked.id):
        raise Problem("already-done", "The booking has its batch already.")
    if not booked.confirmed:
        raise Problem("not-now", "Only a confirmed booking becomes a batch.")
    sheet = _or_problem(run_sheets.of_booking(booked, caller.kitchen.altitude_ft))
    started_at = _or_problem(batches.moment(new.at, now))
    assert booked.recipe is not None
    title = booked.recipe.revision.title
    batch = store.start(session, caller.kitchen_id, booked, title, sheet.model_dump(mode="json"), started_at)
    response.headers["Location"] = f"/v1/batches/{batch.row.id}"
    return bodies.BatchAnswer.of(batch)


@router.get("")
def list_batches(caller: Member, session: Reading, page: Page) -> bodies.BatchList:
    """List one's batches, the newest first; a coordinator sees everybody's."""
    found = store.page(session, caller.kitchen_id, _whose(caller), page.limit, page.after(datetime, Id))
    kept, next_cursor = page.page(found, place=lambda each: (each.row.started_at, each.row.id))
    return bodies.BatchList(items=tuple(bodies.BatchItem.of(each) for each in kept), next_cursor=next_cursor)


@router.get("/{batch_id}", responses=problems(404))
def get_batch(batch_id: Id, caller: Member, session: Reading) -> bodies.BatchAnswer:
    """Read a batch with its loads and run sheet."""
    return bodies.BatchAnswer.of(_batch(session, caller, batch_id))


@router.post("/{batch_id}/loads", status_code=201, responses=problems(404, 409))
def add_load(
    batch_id: Id, new: bodies.NewLoad, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.LoadAnswer:
    """Put jars of one size into a booked canner, or jars of an earlier load once more."""
    kept = _batch(session, caller, batch_id)
    batch, sheet = _as_decided(session, kept)
    loaded = _or_problem(
        batches.load_in(batch, new.jar_size, new.count, new.canner_id, new.in_at, now, as_it_was=new.as_it_was)
    )
    load = loaded.load
    if new.again is not None:
        before = _load(kept, new.again)
        if not sheet.may_go_in_again:
            raise Problem("not-possible", "Dense food, or food without a hot pack, is never processed twice.")
        on_hold, decided = store.jars_on_hold(session, kept, new.jar_size), store.wants_again(kept)
        opened = _or_problem(batches.again(batch, load, new.again, new.discarded, on_hold, decided=decided))
        load = replace(load, again=new.again)
        facts = _lot_facts(session, caller, kept)
        _or_problem(
            store.open_again(session, kept, before, opened, new.count, new.discarded, facts, caller.id, load.in_at)
        )
    elif new.discarded:
        raise Problem("not-possible", "Only jars of an earlier load are discarded here.")
    added = store.add_load(session, kept, load)
    kept = replace(kept, loads=(*kept.loads, added))
    kept = store.deviate(session, kept, load.number, loaded.broken_rules, load.in_at, caller.id, now)
    response.headers["Location"] = f"/v1/batches/{batch_id}"
    return bodies.LoadAnswer.of(added, kept)


@router.post("/{batch_id}/loads/{number}/heat-log", status_code=201, responses=problems(404, 409))
@takes_up_to(MIB)
@also_for(Scope.INSTRUMENTS)
def add_heat_log(
    batch_id: Id,
    number: Number,
    new: bodies.NewHeatLog,
    caller: Member,
    session: Writing,
    now: Now,
    response: Response,
) -> bodies.HeatLogAnswer:
    """Judge what was read while the load was in its canner; what the last log says counts."""
    kept = _batch(session, caller, batch_id)
    load = _load(kept, number)
    barometer_hpa = None if new.barometer_hpa is None else float(new.barometer_hpa)
    sent = new.instrument or bodies.HeatInstrument()
    instrument = heat.Instrument(float(sent.reads_high or 0), float(sent.step or 0), sent.tested_on)
    on_day = load.row.in_at.astimezone(ZoneInfo(caller.kitchen.time_zone)).date()
    needed = _or_problem(
        heat.requirement(load.load.process, new.unit, caller.kitchen.altitude_ft, barometer_hpa, instrument, on_day)
    )
    readings = [heat.Reading(each.at, float(each.value)) for each in new.readings]
    vented = (new.vented.from_at, new.vented.to_at) if new.vented else None
    evaluation = _or_problem(heat.judge(readings, load.load, needed, now, vented))
    answer = bodies.HeatLogAnswer.of(evaluation, needed)
    load = store.add_heat_log(
        session,
        kept,
        load,
        evaluation.answer,
        evaluation.vented_minutes_at_most,
        unit=new.unit,
        required=needed.heat,
        barometer_hpa=barometer_hpa,
        instrument=sent.model_dump(mode="json"),
        readings=[[each.at.isoformat(), each.value] for each in readings],
        evaluation=answer.model_dump(mode="json"),
        sent_by=caller.id,
        sent_at=now,
    )
    store.deviate(session, kept, number, load.load.broken_rules, load.row.in_at, caller.id, now)
    response.headers["Location"] = f"/v1/batches/{batch_id}/loads/{number}/heat-log"
    return answer


@router.get("/{batch_id}/loads/{number}/heat-log", responses=problems(404))
@also_for(Scope.INSTRUMENTS)
def get_heat_log(batch_id: Id, number: Number, caller: Member, session: Reading) -> bodies.HeatLogAnswer:
    """Read what the last heat log of a load showed."""
    kept = _batch(session, caller, batch_id)
    answer = store.heat_log(session, kept, _load(kept, number))
    if answer is None:
        raise Problem.not_found()
    return bodies.HeatLogAnswer.model_validate(answer)


@router.post("/{batch_id}/loads/{number}/out", responses=problems(404, 409))
def take_load_out(
    batch_id: Id, number: Number, caller: Member, session: Writing, now: Now, new: bodies.OutNow = NO_BODY
) -> bodies.LoadAnswer:
    """Lift a load out of its canner; what its record shows to be wrong sets the lot aside."""
    kept = _batch(session, caller, batch_id)
    load = _load(kept, number)
    out = _or_problem(batches.take_out(load.load, new.at, now))
    assert out.out_at is not None
    lifted = store.take_out(session, load, out)
    kept = store.deviate(session, kept, number, out.broken_rules, out.out_at, caller.id, now)
    return bodies.LoadAnswer.of(lifted, kept)


@router.post("/{batch_id}/loads/{number}/seal-check", status_code=201, responses=problems(404, 409))
def check_seals(
    batch_id: Id,
    number: Number,
    new: bodies.NewSealCheck,
    caller: Member,
    session: Writing,
    now: Now,
    response: Response,
) -> bodies.SealCheckAnswer:
    """Count the jars of a rested load; they reach the member's pantry."""
    kept = _batch(session, caller, batch_id)
    load = _load(kept, number)
    seals = SealCheck(new.sealed, new.unsealed, new.broken)
    checked = _or_problem(batches.check_seals(load.load, seals, new.at, now))
    assert checked.out_at is not None
    sheet = bodies.RunSheet.model_validate(kept.row.run_sheet)
    by = store.said(session, kept, deviations.unsealed_by(checked.out_at))
    note = batches.unsealed_note(by, twice=sheet.may_go_in_again)
    facts = _lot_facts(session, caller, kept)
    written = _or_problem(store.fill(session, kept, load, checked, facts, note, caller.id, new.at or now))
    lots = _filled(written)
    response.headers["Location"] = f"/v1/lots/{lots[0].lot_code}"
    return bodies.SealCheckAnswer(**dict(bodies.LoadAnswer.of(store.KeptLoad(load.row, checked), kept)), lots=lots)


@router.post("/{batch_id}/loads/{number}/cold", status_code=201, responses=problems(404, 409))
def put_load_cold(
    batch_id: Id,
    number: Number,
    new: bodies.NewPutCold,
    caller: Member,
    session: Writing,
    now: Now,
    response: Response,
) -> bodies.ColdJarsAnswer:
    """Chill, freeze or discard every jar of a load that wasn't heated enough, before its seals are checked."""
    kept = _batch(session, caller, batch_id)
    load = _load(kept, number)
    cold = new.to_refrigerator + new.to_freezer
    put_at = _or_problem(batches.put_cold(load.load, cold, new.discarded, new.at, now))
    states = {State.REFRIGERATOR: new.to_refrigerator, State.FREEZER: new.to_freezer, State.DISCARDED: new.discarded}
    facts = _lot_facts(session, caller, kept)
    lots = _filled(_or_problem(store.put_cold(session, kept, load, states, facts, caller.id, put_at)))
    response.headers["Location"] = f"/v1/lots/{lots[0].lot_code}"
    return bodies.ColdJarsAnswer(lots=lots)


@router.post("/{batch_id}/jars", status_code=201, responses=problems(404, 409))
def add_cold_jars(
    batch_id: Id, new: bodies.NewColdJars, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.ColdJarsAnswer:
    """Put jars of food that isn't canned straight into the refrigerator or freezer."""
    kept = _batch(session, caller, batch_id)
    sheet = bodies.RunSheet.model_validate(kept.row.run_sheet)
    if sheet.cold is None:
        raise Problem("not-possible", "This food is canned: its jars go through a canner.")
    if sheet.jars and new.jar_size not in sheet.jars:
        raise Problem("not-possible", "The recipe and its booking have no jars of this size.")
    put_at = _or_problem(batches.moment(new.at, now, kept.row.started_at))
    facts = _lot_facts(session, caller, kept)
    lots = _filled(
        _or_problem(
            store.add_cold_jars(session, kept, new.jar_size, new.count, State(new.state), facts, caller.id, put_at)
        )
    )
    response.headers["Location"] = f"/v1/lots/{lots[0].lot_code}"
    return bodies.ColdJarsAnswer(lots=lots)


@router.post("/{batch_id}/readings", status_code=201, responses=problems(404))
@also_for(Scope.INSTRUMENTS)
def add_ph_reading(
    batch_id: Id, new: bodies.NewPhReading, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.PhReadingAnswer:
    """Keep a pH reading; a food that rests on its acidity is set aside above 4.6, or where the reading isn't good."""
    kept = _batch(session, caller, batch_id)
    read_at = _or_problem(batches.moment(new.at, now, kept.row.started_at))
    sheet = bodies.RunSheet.model_validate(kept.row.run_sheet)
    methods = {each.row.method for each in kept.loads} or {each.method for each in sheet.processes}
    reading = ph.PhReading(
        float(new.ph),
        read_at,
        new.instrument,
        tuple(float(each) for each in new.calibrated_at_buffers),
        new.calibrated_at,
        new.sample,
    )
    faults = ph.faults(reading, batches.processed_at([each.load for each in kept.loads]))
    acid = ph.rests_on_acid(methods)
    row = store.add_ph_reading(
        session,
        kept,
        ph=reading.ph,
        instrument=reading.instrument,
        calibrated_at_buffers=list(reading.buffers),
        calibrated_at=reading.calibrated_at,
        sample=reading.sample,
        faults=[each.value for each in faults],
        read_by=caller.id,
        read_at=read_at,
    )
    if acid:
        kept = store.deviate(session, kept, None, faults, read_at, caller.id, now)
    response.headers["Location"] = f"/v1/batches/{batch_id}"
    caution = ph.caution(reading.ph) if acid else None
    return bodies.PhReadingAnswer(
        id=row.id,
        ph=reading.ph,
        instrument=reading.instrument,
        limit=PH_LIMIT,
        on_hold=kept.row.on_hold,
        faults=faults,
        notes=(*(deviations.ABOUT[each].says for each in faults), *([caution] if caution else [])),
        read_at=read_at,
    )


@router.post("/{batch_id}/deviations", status_code=201, responses=problems(404, 409))
def report_deviation(
    batch_id: Id, new: bodies.NewDeviation, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.BatchItem:
    """Record a rule that was broken on the day; the lot waits until a trainer or coordinator decides."""
    kept = _batch(session, caller, batch_id)
    load = _load(kept, new.load) if new.load is not None else None
    happened_at = _or_problem(batches.moment(new.at, now, load.row.in_at if load else kept.row.started_at))
    cause = _or_problem(batches.report(BrokenRule(new.cause), load.load if load else None))
    kept = store.deviate(session, kept, new.load, [cause], happened_at, caller.id, now, new.says)
    response.headers["Location"] = f"/v1/batches/{batch_id}"
    return bodies.BatchItem.of(kept)


@holds.get("/holds")
def list_holds(caller: Trainer, session: Reading, page: Page) -> bodies.HeldLots:
    """List the lots that wait for a trainer's or coordinator's decision, with what stands against each."""
    found = store.held(session, caller.kitchen_id, page.limit, page.after(datetime, Id))
    kept, next_cursor = page.page(found, place=lambda each: (each[0].row.started_at, each[0].row.id))
    return bodies.HeldLots(items=tuple(bodies.HeldLot.of(*each) for each in kept), next_cursor=next_cursor)


@holds.post("/lots/{lot_code}/hold-decisions", status_code=201, responses=problems(403, 404, 409))
def decide_hold(
    lot_code: str, new: bodies.NewHoldDecision, caller: Trainer, session: Writing, now: Now, response: Response
) -> bodies.HoldDecided:
    """Release, reprocess or destroy the jars of a lot that wait on hold; what is unsafe never reaches a shelf."""
    kept = store.batch_of_lot(session, caller.kitchen_id, lot_code)
    if kept is None:
        raise Problem.not_found()
    wish = deviations.Wish(new.decision, State(new.to_state), evaluated=new.evaluation is not None)
    moved = _or_problem(deviations.decide(store.held_lot(session, kept), wish, now))
    to_state = new.to_state if new.decision is deviations.HoldOutcome.RELEASE else None
    kept, written, jars = store.decide(
        session, kept, moved, new.decision, to_state, new.reason, new.evaluation, caller.id, now
    )
    response.headers["Location"] = f"/v1/lots/{kept.lot_code}"
    return bodies.HoldDecided(**dict(bodies.HeldLot.of(kept, jars)), lots=_filled(written))


def _whose(caller: Caller) -> Id | None:
    """A member's own batches, or for a coordinator everybody's."""
    return None if caller.is_coordinator else caller.id


def _as_decided(session: Reading, kept: store.Kept) -> tuple[batches.Batch, bodies.RunSheet]:
    """The batch as the core decides about its loads, and its run sheet."""
    booked = store.booked(session, kept.row.kitchen_id, kept.row.booking_id, None)
    assert booked is not None
    sheet = bodies.RunSheet.model_validate(kept.row.run_sheet)
    batch = batches.Batch(
        kept.row.started_at,
        booked.canners,
        booked.other_canners,
        run_sheets.core_processes(sheet.processes),
        tuple(each.load for each in kept.loads),
        kept.open,
    )
    return batch, sheet


def _lot_facts(session: Reading, caller: Caller, kept: store.Kept) -> store.LotFacts:
    made_at = kept.row.started_at.astimezone(ZoneInfo(caller.kitchen.time_zone))
    return store.LotFacts(*store.product(session, kept), made_at, caller.kitchen.best_by_months)


def _filled(written: Iterable[Written]) -> tuple[bodies.FilledLot, ...]:
    return tuple(
        bodies.FilledLot(
            lot_code=each.lot.code,
            jar_size=each.movement.jar_size,
            count=each.movement.jars,
            state=each.movement.target_state,
        )
        for each in written
    )


def _batch(session: Reading, caller: Caller, batch_id: Id) -> store.Kept:
    kept = store.batch(session, caller.kitchen_id, batch_id, _whose(caller))
    if kept is None:
        raise Problem.not_found()
    return kept


def _load(kept: store.Kept, number: int) -> store.KeptLoad:
    load = kept.load(number)
    if load is None:
        raise Problem.not_found()
    return load


def _or_problem(answer: T | Refused) -> T:
    if isinstance(answer, Refused):
        raise Problem.of(answer)
    return answer
