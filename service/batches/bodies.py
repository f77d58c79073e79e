"""What is sent and answered about batches, their loads and readings."""

from typing import Annotated, Any, Literal

from pydantic import Field

from service.batches import store
from service.core.jars.heat import Answer as HeatAnswer
from service.core.jars.heat import Evaluation
from service.core.jars.movements import State
from service.published.bodies import PublishedSource
from service.web.bodies import Answer, Body, example
from service.web.types import Amount, Flag, Id, Text, Timestamp, Whole

A_BATCH = "2a8f4b53-5f7a-4e5e-8f2b-0a6a3c9d1e77"
A_BOOKING = "9d2c6c1f-44f0-4f6c-a1cc-5d4f0b9e3b10"
A_CANNER = "44e5e2f6-3b8d-4a0c-9f1e-7c2d1b6a5e33"
A_MEMBER = "0f9c2c1e-5f0b-4a2e-9b57-3d7f6f1f2a10"
A_LOAD: dict[str, Any] = {
    "load": 1,
    "jar_size": "half-pint",
    "count": 8,
    "canner_id": A_CANNER,
    "method": "boiling-water",
    "minutes": 10,
    "pressure_psi": None,
    "in_at": "2027-08-14T16:45:00Z",
    "out_at": "2027-08-14T17:00:00Z",
    "out_too_early": False,
    "heat": "held",
    "sealed": 7,
    "unsealed": 1,
    "broken": 0,
    "checked_at": "2027-08-15T06:00:00Z",
}
AN_ITEM: dict[str, Any] = {
    "id": A_BATCH,
    "booking_id": A_BOOKING,
    "member_id": A_MEMBER,
    "title": "Plum jam",
    "status": "done",
    "started_at": "2027-08-14T16:00:00Z",
    "on_hold": False,
    "lot_code": "270814-01-P",
    "loads": [A_LOAD],
}
A_SOURCE: dict[str, Any] = {
    "title": "Complete Guide to Home Canning, AIB 539 rev. 2015, Guide 7 p. 7-8",
    "publisher": "USDA National Institute of Food and Agriculture",
    "url": None,
    "evidence": "read",
}
A_RUN_SHEET: dict[str, Any] = {
    "recipe_id": "7a0c2d64-0b7e-4f0e-9c7a-6b1f0f3d2a55",
    "revision": 1,
    "rulebook": "2026.1",
    "altitude_ft": 4200,
    "jars": {"half-pint": 8},
    "steps": [{"number": 1, "step": "fruit", "says": "Put in the fruit.", "amounts": ["4 1/2 cups crushed plums"]}],
    "processes": [
        {
            "jar_size": "half-pint",
            "canner_kind": "boiling-water",
            "method": "boiling-water",
            "minutes": 10,
            "pressure_psi": None,
            "headspace_in": 0.25,
            "source": A_SOURCE,
        }
    ],
    "load_plan": [{"load": 1, "canner_id": A_CANNER, "canner": "Blue kettle", "jar_size": "half-pint", "count": 8}],
    "venting": None,
    "cool_down": ["Turn the heat off, take the lid off, wait 5 minutes, lift the jars straight up."],
    "rest": {"hours_min": 12, "hours_max": 24, "says": "Leave the jars upright and apart."},
    "seal_check": ["Press each lid: one that springs has not sealed."],
    "cautions": ["Never shorten a process."],
}

Jars = Annotated[Whole, Field(ge=0, le=1_000)]


class NewBatch(Body):
    """The booking whose equipment the batch runs in."""

    model_config = example(booking_id=A_BOOKING, at="2027-08-14T16:00:00Z")

    booking_id: Id
    at: Timestamp | None = None
    "when it began; now unless it says otherwise, at most 7 days back"


class NewLoad(Body):
    """Jars of one size that went into a canner together."""

    model_config = example(jar_size="half-pint", count=8, canner_id=A_CANNER, in_at="2027-08-14T16:45:00Z")

    jar_size: Annotated[Text, Field(min_length=1, max_length=40)]
    count: Annotated[Whole, Field(ge=1, le=1_000)]
    canner_id: Id
    in_at: Timestamp | None = None


class NewReading(Body):
    """What the thermometer or gauge showed."""

    model_config = example(at="2027-08-14T16:50:00Z", value=204.5)

    at: Timestamp
    value: Annotated[Amount, Field(ge=-500, le=2_000)]


class NewHeatLog(Body):
    """What was read while the load was in its canner."""

    model_config = example(unit="F", readings=[{"at": "2027-08-14T16:50:00Z", "value": 204.5}], barometer_hpa=868.5)

    unit: Literal["F", "C", "psi"]
    readings: Annotated[tuple[NewReading, ...], Field(min_length=1, max_length=20_000)]
    barometer_hpa: Annotated[Amount, Field(ge=500, le=1_100)] | None = None
    "as the barometer in the kitchen shows it, not reduced to sea level"


class OutNow(Body):
    """When the load came out."""

    model_config = example(at="2027-08-14T17:00:00Z")

    at: Timestamp | None = None


class NewSealCheck(Body):
    """Every jar of the load, counted."""

    model_config = example(sealed=7, unsealed=1, broken=0, at="2027-08-15T06:00:00Z")

    sealed: Jars
    unsealed: Jars = 0
    broken: Jars = 0
    at: Timestamp | None = None


class NewPhReading(Body):
    """The acidity of the finished food, as it was read."""

    model_config = example(ph=3.9, instrument="meter", calibrated_at_buffers=[4.01, 7.0], at="2027-08-15T06:30:00Z")

    ph: Annotated[Amount, Field(ge=0, le=14)]
    instrument: Literal["meter", "strip"] = "meter"
    calibrated_at_buffers: Annotated[tuple[Annotated[Amount, Field(ge=0, le=14)], ...], Field(max_length=5)] = ()
    at: Timestamp | None = None


class RunStep(Answer):
    number: int
    step: str
    says: str
    amounts: tuple[str, ...]


class RunProcess(Answer):
    """The published process for one jar size in one kind of canner at the kitchen's altitude."""

    jar_size: str
    canner_kind: str
    method: str
    minutes: int
    pressure_psi: int | None
    headspace_in: float | None
    source: PublishedSource


class PlannedLoad(Answer):
    load: int
    canner_id: Id
    canner: str
    jar_size: str
    count: int


class RunRest(Answer):
    hours_min: int
    hours_max: int
    says: str


class RunSheet(Answer):
    """What to do, in order, with which amounts."""

    model_config = example(**A_RUN_SHEET)

    recipe_id: Id
    revision: int
    rulebook: str
    altitude_ft: int
    jars: dict[str, int]
    steps: tuple[RunStep, ...]
    processes: tuple[RunProcess, ...]
    load_plan: tuple[PlannedLoad, ...]
    venting: str | None
    cool_down: tuple[str, ...]
    rest: RunRest
    seal_check: tuple[str, ...]
    cautions: tuple[str, ...]


class LoadAnswer(Answer):
    """One load, as far as it has got."""

    model_config = example(**A_LOAD)

    load: int
    jar_size: str
    count: int
    canner_id: Id
    method: str
    minutes: int
    pressure_psi: int | None
    in_at: Timestamp
    out_at: Timestamp | None
    out_too_early: Flag
    "whether it was out before the published minutes can have been over; its jars then wait on hold"
    heat: HeatAnswer | None
    "what its last heat log said"
    sealed: int | None
    unsealed: int | None
    broken: int | None
    checked_at: Timestamp | None

    @classmethod
    def of(cls, kept: store.KeptLoad) -> "LoadAnswer":
        """Put the rows together."""
        row = kept.row
        return cls(
            load=row.number,
            jar_size=row.jar_size,
            count=row.jars,
            canner_id=row.canner_id,
            method=row.method,
            minutes=row.minutes,
            pressure_psi=row.pressure_psi,
            in_at=row.in_at,
            out_at=row.out_at,
            out_too_early=kept.load.out_too_early,
            heat=row.heat,
            sealed=row.sealed,
            unsealed=row.unsealed,
            broken=row.broken,
            checked_at=row.checked_at,
        )


class BatchItem(Answer):
    """A batch with its loads."""

    model_config = example(**AN_ITEM)

    id: Id
    booking_id: Id
    member_id: Id
    title: str
    status: Literal["running", "done"]
    started_at: Timestamp
    on_hold: Flag
    lot_code: str | None
    loads: tuple[LoadAnswer, ...]

    @classmethod
    def of(cls, kept: store.Kept) -> "BatchItem":
        """Put the rows together."""
        row = kept.row
        return cls(
            id=row.id,
            booking_id=row.booking_id,
            member_id=row.member_id,
            title=row.title,
            status="done" if kept.done else "running",
            started_at=row.started_at,
            on_hold=row.on_hold,
            lot_code=kept.lot_code,
            loads=tuple(LoadAnswer.of(each) for each in kept.loads),
        )


class BatchAnswer(BatchItem):
    """A batch with its run sheet."""

    model_config = example(**AN_ITEM, run_sheet=A_RUN_SHEET)

    run_sheet: RunSheet

    @classmethod
    def of(cls, kept: store.Kept) -> "BatchAnswer":
        """Put the rows together."""
        return cls(**dict(BatchItem.of(kept)), run_sheet=RunSheet.model_validate(kept.row.run_sheet))


class BatchList(Answer):
    """A page of batches, the newest first."""

    model_config = example(items=[AN_ITEM], next_cursor=None)

    items: tuple[BatchItem, ...]
    next_cursor: str | None


class ReadingAnswer(Answer):
    at: Timestamp
    value: float


class HeatLogAnswer(Answer):
    """What the log shows, and the readings that decided."""

    model_config = example(
        answer="held",
        says="The heat held for the whole process.",
        unit="F",
        required=204.3,
        required_minutes=10,
        held_minutes=12.0,
        readings=[{"at": "2027-08-14T16:46:00Z", "value": 204.5}, {"at": "2027-08-14T16:58:00Z", "value": 204.4}],
    )

    answer: HeatAnswer
    says: str
    unit: str
    required: float
    required_minutes: int
    held_minutes: float
    readings: tuple[ReadingAnswer, ...]

    @classmethod
    def of(cls, evaluation: Evaluation, unit: str, required: float, minutes: int) -> "HeatLogAnswer":
        """Say what decided, in the unit of the log."""
        return cls(
            answer=evaluation.answer,
            says=evaluation.says,
            unit=unit,
            required=round(required, 2),
            required_minutes=minutes,
            held_minutes=round(evaluation.held_minutes, 2),
            readings=tuple(ReadingAnswer(at=each.at, value=each.value) for each in evaluation.deciding),
        )


class FilledLot(Answer):
    """Jars of the load that reached the pantry."""

    lot_code: str
    jar_size: str
    count: int
    state: State


class SealCheckAnswer(LoadAnswer):
    """The load with its seals checked, and where its jars are now."""

    model_config = example(
        **A_LOAD,
        lots=[
            {"lot_code": "270814-01-P", "jar_size": "half-pint", "count": 7, "state": "shelf"},
            {"lot_code": "270814-01-P", "jar_size": "half-pint", "count": 1, "state": "refrigerator"},
        ],
    )

    lots: tuple[FilledLot, ...]


class PhReadingAnswer(Answer):
    """A reading as it was kept, and what it means for the lot."""

    model_config = example(
        id="b8a5d5b0-19f5-4d3f-8a35-6c9e6d7f2f10",
        ph=3.9,
        instrument="meter",
        limit=4.6,
        on_hold=False,
        notes=[],
        read_at="2027-08-15T06:30:00Z",
    )

    id: Id
    ph: float
    instrument: str
    limit: float
    on_hold: Flag
    notes: tuple[str, ...]
    read_at: Timestamp
