"""The routes of batches: from a booking to jars in the pantry."""

from datetime import datetime
from typing import Annotated, TypeVar
from zoneinfo import ZoneInfo

from fastapi import Path, Response

from service.batches import bodies, run_sheets, store
from service.checks.bodies import CheckAnswer, RecipeCheckRequest
from service.core.jars import batches, heat
from service.core.jars.batches import PH_LIMIT
from service.core.jars.movements import SealCheck
from service.core.refusals import Refused
from service.web import MIB, Caller, Member, Now, Page, Problem, Reading, Routes, Writing, problems, takes_up_to
from service.web.types import Id, WholeQuery

router = Routes("/v1/batches", "batches")

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
    if booked.recipe is None:
        raise Problem("not-now", "The booking names no recipe, so there is nothing to make.")
    started_at = _or_problem(batches.moment(new.at, now))
    kept, altitude_ft = booked.recipe, caller.kitchen.altitude_ft
    if kept.check.altitude_ft != altitude_ft:
        raise Problem("not-ready", "The recipe was checked at another altitude; check it again here.")
    recipe = RecipeCheckRequest.model_validate(kept.revision.body)
    check = CheckAnswer.model_validate(kept.check.answer)
    jars = booked.jars or {jar.size: jar.count for jar in recipe.jars or ()}
    sizes = jars or {size for option in check.process.options for size in option.jar_sizes}
    found = run_sheets.processes(recipe, check, sizes)
    if not any(canner.kind == kind for canner in booked.canners for _, kind in found):
        raise Problem("does-not-fit", "No published process of this recipe runs in the canner that is booked.")
    sheet = run_sheets.write(
        kept.recipe.id,
        kept.revision.number,
        recipe,
        check,
        altitude_ft,
        booked.canners,
        booked.names,
        jars,
        found,
    )
    batch = store.start(
        session, caller.kitchen_id, booked, kept.revision.title, sheet.model_dump(mode="json"), started_at
    )
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
    """Put jars of one size into a booked canner."""
    kept = _batch(session, caller, batch_id)
    booked = store.booked(session, caller.kitchen_id, kept.row.booking_id, None)
    assert booked is not None
    sheet = bodies.RunSheet.model_validate(kept.row.run_sheet)
    batch = batches.Batch(
        kept.row.started_at,
        booked.canners,
        run_sheets.core_processes(sheet.processes),
        tuple(each.load for each in kept.loads),
    )
    load = _or_problem(batches.load_in(batch, new.jar_size, new.count, new.canner_id, new.in_at, now))
    response.headers["Location"] = f"/v1/batches/{batch_id}"
    return bodies.LoadAnswer.of(store.add_load(session, kept, load))


@router.post("/{batch_id}/loads/{number}/heat-log", status_code=201, responses=problems(404, 409))
@takes_up_to(MIB)
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
    required = _or_problem(heat.required(load.load.process, new.unit, caller.kitchen.altitude_ft, barometer_hpa))
    readings = [heat.Reading(each.at, float(each.value)) for each in new.readings]
    minutes = load.load.process.minutes
    evaluation = _or_problem(heat.judge(readings, load.load, required, now))
    store.add_heat_log(
        session,
        kept,
        load,
        evaluation.answer,
        unit=new.unit,
        required=required,
        barometer_hpa=barometer_hpa,
        readings=[[each.at.isoformat(), each.value] for each in readings],
        sent_by=caller.id,
        sent_at=now,
    )
    response.headers["Location"] = f"/v1/batches/{batch_id}"
    return bodies.HeatLogAnswer.of(evaluation, new.unit, required, minutes)


@router.post("/{batch_id}/loads/{number}/out", responses=problems(404, 409))
def take_load_out(
    batch_id: Id, number: Number, caller: Member, session: Writing, now: Now, new: bodies.OutNow = NO_BODY
) -> bodies.LoadAnswer:
    """Lift a load out of its canner."""
    load = _load(_batch(session, caller, batch_id), number)
    out = _or_problem(batches.take_out(load.load, new.at, now))
    return bodies.LoadAnswer.of(store.take_out(session, load, out))


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
    product = store.product(session, kept)
    made_at = kept.row.started_at.astimezone(ZoneInfo(caller.kitchen.time_zone))
    written = _or_problem(
        store.fill(
            session, kept, load, checked, product, made_at, caller.kitchen.best_by_months, caller.id, new.at or now
        )
    )
    lots = tuple(
        bodies.FilledLot(
            lot_code=each.lot.code,
            jar_size=each.movement.jar_size,
            count=each.movement.jars,
            state=each.movement.target_state,
        )
        for each in written
    )
    response.headers["Location"] = f"/v1/lots/{lots[0].lot_code}"
    return bodies.SealCheckAnswer(**dict(bodies.LoadAnswer.of(store.KeptLoad(load.row, checked))), lots=lots)


@router.post("/{batch_id}/readings", status_code=201, responses=problems(404))
def add_ph_reading(
    batch_id: Id, new: bodies.NewPhReading, caller: Member, session: Writing, now: Now, response: Response
) -> bodies.PhReadingAnswer:
    """Keep a pH reading; above 4.6 a food that rests on its acidity is set aside."""
    kept = _batch(session, caller, batch_id)
    read_at = _or_problem(batches.moment(new.at, now, kept.row.started_at))
    ph = float(new.ph)
    methods = {each.row.method for each in kept.loads} or {
        each.method for each in bodies.RunSheet.model_validate(kept.row.run_sheet).processes
    }
    row = store.add_ph_reading(
        session,
        kept,
        ph=ph,
        instrument=new.instrument,
        calibrated_at_buffers=[float(each) for each in new.calibrated_at_buffers],
        read_by=caller.id,
        read_at=read_at,
    )
    if batches.ph_holds_the_lot(ph, methods):
        store.set_aside(session, kept, caller.id, now)
    response.headers["Location"] = f"/v1/batches/{batch_id}"
    return bodies.PhReadingAnswer(
        id=row.id,
        ph=ph,
        instrument=new.instrument,
        limit=PH_LIMIT,
        on_hold=kept.row.on_hold,
        notes=batches.ph_notes(ph, new.instrument, tuple(float(each) for each in new.calibrated_at_buffers)),
        read_at=read_at,
    )


def _whose(caller: Caller) -> Id | None:
    """A member's own batches, or for a coordinator everybody's."""
    return None if caller.is_coordinator else caller.id


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
