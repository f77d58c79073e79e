"""What is sent and answered about batches, their loads and readings."""

from typing import Annotated, Any, Literal

from pydantic import Field

from service.batches import store
from service.core.jars import deviations
from service.core.jars.deviations import ABOUT, BrokenRule, DeviationSeverity, HoldOutcome
from service.core.jars.heat import Evaluation, HeatAnswer, Requirement
from service.core.jars.movements import State
from service.published.bodies import PublishedRange, PublishedSource
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Amount, Day, Flag, Id, Text, Timestamp, Whole

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
    "again": None,
    "heat": "held",
    "sealed": 7,
    "unsealed": 1,
    "broken": 0,
    "checked_at": "2027-08-15T06:00:00Z",
    "clock": {
        "because": "unsealed",
        "jars": 1,
        "again_by": "2027-08-15T17:00:00Z",
        "decided_by": None,
        "ways_out": ["reprocess with new lids", "refrigerate", "freeze", "discard"],
    },
}
A_DEVIATION: dict[str, Any] = {
    "id": "5b0f3a0e-9a4c-4c43-8f52-1f7f0c6f4d21",
    "load": 1,
    "cause": "out-too-early",
    "severity": "unsafe",
    "rule": "process-time-floor",
    "says": "The load was out before venting and the published minutes can have been over.",
    "happened_at": "2027-08-14T16:52:00Z",
    "again_by": "2027-08-14T18:52:00Z",
    "decided_by": "2027-08-15T16:52:00Z",
    "settled_at": None,
}
A_DECISION: dict[str, Any] = {
    "id": "0d7c2f1a-6f2e-4d0a-9a55-4b8f5a2f7c31",
    "decision": "destroy",
    "to_state": None,
    "reason": "Nobody knows how long they stood.",
    "evaluation": None,
    "decided_by": A_MEMBER,
    "decided_at": "2027-08-15T09:00:00Z",
}
AN_AMOUNT: dict[str, Any] = {
    "name": "plum",
    "as_written": "4 1/2 cups crushed plums",
    "kitchen": "4 1/2 cups",
    "grams": {"low": 1060.0, "high": 1190.0},
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
    "deviations": [],
    "decisions": [],
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
    "gather": {
        "ingredients": [AN_AMOUNT],
        "jars": {"half-pint": 8},
        "lids": 8,
        "equipment": ["Blue kettle (boiling-water)", "jar lifter", "timer"],
    },
    "steps": [
        {
            "number": 1,
            "step": "fruit",
            "says": "Put in the fruit.",
            "amounts": ["4 1/2 cups crushed plums"],
            "measured": [AN_AMOUNT],
            "minutes": None,
        }
    ],
    "fill": [{"jar_size": "half-pint", "count": 8, "headspace_in": 0.25, "says": "Fill hot jars.", "in_each_jar": []}],
    "processes": [
        {
            "jar_size": "half-pint",
            "canner_kind": "boiling-water",
            "method": "boiling-water",
            "minutes": 10,
            "pressure_psi": None,
            "headspace_in": 0.25,
            "vent_minutes": 0,
            "source": A_SOURCE,
        }
    ],
    "load_plan": [{"load": 1, "canner_id": A_CANNER, "canner": "Blue kettle", "jar_size": "half-pint", "count": 8}],
    "venting": None,
    "cool_down": ["Turn the heat off, take the lid off, wait 5 minutes, lift the jars straight up."],
    "rest": {"hours_min": 12, "hours_max": 24, "says": "Leave the jars upright and apart."},
    "seal_check": ["Press each lid: one that springs has not sealed."],
    "cold": None,
    "may_go_in_again": True,
    "cautions": ["Never shorten a process."],
}

Jars = Annotated[Whole, Field(ge=0, le=1_000)]
Words = Annotated[Text, Field(min_length=1, max_length=1_000)]


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
    as_it_was: Flag = False
    "record it although another canner was used, or more jars than it holds; the lot then waits for a person"
    again: Annotated[Whole, Field(ge=1, le=1_000)] | None = None
    "the load whose jars go in once more: reheated, in clean jars, with new lids, for the full process"
    discarded: Jars = 0
    "jars of that load that come to nothing now"


class NewReading(Body):
    """What the thermometer or gauge showed."""

    model_config = example(at="2027-08-14T16:50:00Z", value=204.5)

    at: Timestamp
    value: Annotated[Amount, Field(ge=-500, le=2_000)]


class HeatInstrument(Body):
    """What the thermometer or gauge was found to be at its last test."""

    model_config = example(reads_high=0.5, step=1, tested_on="2027-05-02")

    reads_high: Annotated[Amount, Field(ge=0, le=50)] | None = None
    "how much too high it reads, in the unit of the log; added to what is required"
    step: Annotated[Amount, Field(ge=0, le=50)] | None = None
    "its smallest division, in the unit of the log; half of it counts against a reading"
    tested_on: Day | None = None
    "a dial gauge that was tested more than a year before shows nothing"


class HeatVenting(Body):
    """From when to when steam was seen to flow before a pressure canner was closed."""

    model_config = example(from_at="2027-08-14T16:45:00Z", to_at="2027-08-14T16:55:00Z")

    from_at: Timestamp
    to_at: Timestamp


class NewHeatLog(Body):
    """What was read while the load was in its canner, in any order: the times with their offsets decide."""

    model_config = example(
        unit="F",
        readings=[{"at": "2027-08-14T16:50:00Z", "value": 204.5}],
        barometer_hpa=868.5,
        instrument={"reads_high": 0.5, "step": 0.1},
    )

    unit: Literal["F", "C", "psi"]
    readings: Annotated[tuple[NewReading, ...], Field(min_length=1, max_length=20_000)]
    barometer_hpa: Annotated[Amount, Field(ge=500, le=1_100)] | None = None
    "as the barometer in the kitchen shows it, not reduced to sea level"
    instrument: HeatInstrument | None = None
    "without one, it is taken to read true"
    vented: HeatVenting | None = None


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


class NewPutCold(Body):
    """Where every jar of a load that wasn't heated enough goes instead of the shelf."""

    model_config = example(to_refrigerator=2, to_freezer=5, discarded=1, at="2027-08-14T18:00:00Z")

    to_refrigerator: Jars = 0
    to_freezer: Jars = 0
    discarded: Jars = 0
    at: Timestamp | None = None


class NewColdJars(Body):
    """Jars of food that isn't canned, as they go into the cold."""

    model_config = example(jar_size="half-pint", count=6, state="freezer", at="2027-08-14T18:00:00Z")

    jar_size: Annotated[Text, Field(min_length=1, max_length=40)]
    count: Annotated[Whole, Field(ge=1, le=1_000)]
    state: Literal["refrigerator", "freezer"]
    at: Timestamp | None = None


class NewDeviation(Body):
    """A rule that was broken on the day; the lot waits until a trainer or coordinator decides."""

    model_config = example(
        cause="cooled-by-force", load=1, says="Cold water ran over the lid.", at="2027-08-14T17:30:00Z"
    )

    cause: Literal[
        "interrupted", "pressure-dropped", "out-too-early", "vent-too-short", "cooled-by-force", "canner-swapped",
        "canner-overfilled", "something-else",
    ]  # fmt: skip
    load: Annotated[Whole, Field(ge=1, le=1_000)] | None = None
    "the whole pot where none is named"
    says: Words
    at: Timestamp | None = None


class NewHoldDecision(Body):
    """What becomes of the jars of a lot that wait on hold."""

    model_config = example(decision="destroy", reason="Nobody knows how long they stood.")

    decision: HoldOutcome
    reason: Words
    to_state: Literal["shelf", "refrigerator", "freezer"] = "shelf"
    "where a release lets them go; to the shelf go only those that came from there"
    evaluation: Words | None = None
    "where the written evaluation of a process authority is kept"


class NewPhReading(Body):
    """The acidity of the finished food, as it was read."""

    model_config = example(
        ph=3.9,
        instrument="meter",
        calibrated_at_buffers=[4.01, 7.0],
        calibrated_at="2027-08-15T17:00:00Z",
        sample="blended",
        at="2027-08-15T17:30:00Z",
    )

    ph: Annotated[Amount, Field(ge=0, le=14)]
    instrument: Literal["meter", "strip"] = "meter"
    calibrated_at_buffers: Annotated[tuple[Annotated[Amount, Field(ge=0, le=14)], ...], Field(max_length=5)] = ()
    calibrated_at: Timestamp | None = None
    "within the day before the reading"
    sample: Literal["blended", "liquid"] = "blended"
    "the drained solids, blended; the liquid alone says nothing of them"
    at: Timestamp | None = None


class RunAmount(Answer):
    """How much of one ingredient this pot takes."""

    name: str
    as_written: str
    kitchen: str | None
    "in kitchen units"
    grams: PublishedRange | None


class RunGather(Answer):
    """What to have at hand before the heat goes on."""

    ingredients: tuple[RunAmount, ...]
    jars: dict[str, int]
    lids: int
    "new ones"
    equipment: tuple[str, ...]


class RunStep(Answer):
    number: int
    step: str
    says: str
    amounts: tuple[str, ...]
    "as the recipe has them"
    measured: tuple[RunAmount, ...] = ()
    minutes: PublishedRange | None = None


class RunFill(Answer):
    """How the jars of one size are filled."""

    jar_size: str
    count: int
    headspace_in: float | None
    says: str
    in_each_jar: tuple[str, ...]
    "what goes into every jar by itself: acid, salt"


class RunProcess(Answer):
    """The published process for one jar size in one kind of canner at the kitchen's altitude."""

    jar_size: str
    canner_kind: str
    method: str
    minutes: int
    pressure_psi: int | None
    headspace_in: float | None
    vent_minutes: int | None = None
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


class RunCold(Answer):
    """Where food that isn't canned goes."""

    state: State
    says: str


class RunSheet(Answer):
    """What to do, in order, with which amounts."""

    model_config = example(**A_RUN_SHEET)

    recipe_id: Id
    revision: int
    rulebook: str
    altitude_ft: int
    jars: dict[str, int]
    gather: RunGather | None = None
    steps: tuple[RunStep, ...]
    fill: tuple[RunFill, ...] = ()
    processes: tuple[RunProcess, ...]
    load_plan: tuple[PlannedLoad, ...]
    venting: str | None
    cool_down: tuple[str, ...]
    rest: RunRest | None
    seal_check: tuple[str, ...]
    cold: RunCold | None = None
    may_go_in_again: Flag = False
    "whether jars that didn't seal may be processed a second time: not dense food, nor food without a hot pack"
    cautions: tuple[str, ...]


class BatchClock(Answer):
    """Until when jars that can't go on the shelf have another way."""

    because: Literal["unsealed", "under-processed"]
    jars: int
    again_by: Timestamp
    "until then they may go in again"
    decided_by: Timestamp | None
    "until then a trainer or coordinator may still let them go in again or be kept cold"
    ways_out: tuple[str, ...]


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
    again: int | None
    "the load whose jars these are, processed once more"
    heat: HeatAnswer | None
    "what its last heat log said"
    sealed: int | None
    unsealed: int | None
    broken: int | None
    checked_at: Timestamp | None
    clock: BatchClock | None

    @classmethod
    def of(cls, kept: store.KeptLoad, batch: store.Kept) -> "LoadAnswer":
        """Put the rows together."""
        row = kept.row
        return cls(
            clock=_clock(batch, kept),
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
            again=row.again,
            heat=row.heat,
            sealed=row.sealed,
            unsealed=row.unsealed,
            broken=row.broken,
            checked_at=row.checked_at,
        )


def _clock(batch: store.Kept, kept: store.KeptLoad) -> BatchClock | None:
    out_at, seals = kept.load.out_at, kept.load.seals
    if out_at is None:
        return None
    gone_in = sum(each.row.jars for each in batch.loads if each.row.again == kept.row.number)
    if any(each.about.under_processed and each.load == kept.row.number for each in batch.open):
        return BatchClock(
            because="under-processed",
            jars=kept.row.jars - gone_in,
            again_by=deviations.under_processed_by(out_at),
            decided_by=deviations.decided_by(out_at),
            ways_out=("reprocess in full with new lids", "refrigerate", "freeze", "discard"),
        )
    if seals is None or seals.unsealed <= gone_in:
        return None
    return BatchClock(
        because="unsealed",
        jars=seals.unsealed - gone_in,
        again_by=deviations.unsealed_by(out_at),
        decided_by=None,
        ways_out=("reprocess with new lids", "refrigerate", "freeze", "discard"),
    )


class DeviationAnswer(Answer):
    """A broken rule as it was recorded, and what it means for the lot."""

    model_config = example(**A_DEVIATION)

    id: Id
    load: int | None
    cause: BrokenRule
    severity: DeviationSeverity
    rule: str
    "of the rules under `/v1/reference/rules`"
    says: str
    happened_at: Timestamp
    again_by: Timestamp | None
    decided_by: Timestamp | None
    settled_at: Timestamp | None

    @classmethod
    def all_of(cls, kept: store.Kept) -> tuple["DeviationAnswer", ...]:
        """Put the rows and what their causes mean together."""
        found = []
        for row in kept.deviations:
            about, out_at = ABOUT[row.cause], kept.out_at(row.load)
            clocked = out_at if about.under_processed else None
            found.append(
                cls(
                    id=row.id,
                    load=row.load,
                    cause=row.cause,
                    severity=about.severity,
                    rule=about.rule,
                    says=row.says,
                    happened_at=row.happened_at,
                    again_by=deviations.under_processed_by(clocked) if clocked else None,
                    decided_by=deviations.decided_by(clocked) if clocked else None,
                    settled_at=row.settled_at,
                )
            )
        return tuple(found)


class HoldDecisionAnswer(Answer):
    """What a trainer or coordinator decided."""

    model_config = example(**A_DECISION)

    id: Id
    decision: HoldOutcome
    to_state: str | None
    reason: str
    evaluation: str | None
    decided_by: Id
    decided_at: Timestamp


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
    deviations: tuple[DeviationAnswer, ...]
    decisions: tuple[HoldDecisionAnswer, ...]

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
            loads=tuple(LoadAnswer.of(each, kept) for each in kept.loads),
            deviations=DeviationAnswer.all_of(kept),
            decisions=tuple(HoldDecisionAnswer.model_validate(each) for each in kept.decisions),
        )


class BatchAnswer(BatchItem):
    """A batch with its run sheet."""

    model_config = example(**AN_ITEM, run_sheet=A_RUN_SHEET)

    run_sheet: RunSheet

    @classmethod
    def of(cls, kept: store.Kept) -> "BatchAnswer":
        """Put the rows together."""
        return cls(**dict(BatchItem.of(kept)), run_sheet=RunSheet.model_validate(kept.row.run_sheet))


class BatchList(Listed[BatchItem]):
    """A page of batches, the newest first."""

    model_config = example(items=[AN_ITEM], next_cursor=None)


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
        required_reading=204.8,
        required_minutes=10,
        held_minutes=12.0,
        still_needed_minutes=0.0,
        come_up_minutes=14.0,
        vented_minutes_at_most=None,
        longest_gap_minutes=5.0,
        readings=[{"at": "2027-08-14T16:46:00Z", "value": 204.9}, {"at": "2027-08-14T16:58:00Z", "value": 204.8}],
    )

    answer: HeatAnswer
    says: str
    unit: str
    required: float
    "the heat or pressure itself: published, or of boiling water here"
    required_reading: float
    "what this instrument has to show for it, with its error and rounding"
    required_minutes: int
    held_minutes: float
    "the longest unbroken time"
    still_needed_minutes: float
    "what has to follow the last reading without a break: all of it after a dip, from zero"
    come_up_minutes: float | None
    "from the load's going in to the first reading that was hot enough"
    vented_minutes_at_most: float | None
    "how long steam can have flowed: until the gauge rose, or as long as somebody saw it"
    longest_gap_minutes: float
    "readings further apart than this show nothing of the time between; common practice, no source"
    readings: tuple[ReadingAnswer, ...]

    @classmethod
    def of(cls, evaluation: Evaluation, needed: Requirement) -> "HeatLogAnswer":
        """Say what decided, in the unit of the log."""
        return cls(
            answer=evaluation.answer,
            says=evaluation.says,
            unit=needed.unit,
            required=round(needed.heat, 2),
            required_reading=round(needed.reading, 2),
            required_minutes=needed.minutes,
            held_minutes=round(evaluation.held_minutes, 2),
            still_needed_minutes=round(evaluation.still_needed_minutes, 2),
            come_up_minutes=evaluation.come_up_minutes,
            vented_minutes_at_most=evaluation.vented_minutes_at_most,
            longest_gap_minutes=needed.longest_gap.total_seconds() / 60,
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
        faults=[],
        notes=[],
        read_at="2027-08-15T17:30:00Z",
    )

    id: Id
    ph: float
    instrument: str
    limit: float
    on_hold: Flag
    faults: tuple[BrokenRule, ...]
    "what keeps the reading, or the food it shows, from being good"
    notes: tuple[str, ...]
    read_at: Timestamp


class ColdJarsAnswer(Answer):
    """Jars that went into the cold, and the lot they are of."""

    model_config = example(lots=[{"lot_code": "270814-01-P", "jar_size": "half-pint", "count": 6, "state": "freezer"}])

    lots: tuple[FilledLot, ...]


class HeldLot(Answer):
    """A lot that waits for a person, and what stands against it."""

    model_config = example(
        lot_code="270814-01-P",
        batch_id=A_BATCH,
        member_id=A_MEMBER,
        title="Plum jam",
        jars=8,
        deviations=[A_DEVIATION],
        decisions=[],
    )

    lot_code: str | None
    "none before jars were counted"
    batch_id: Id
    member_id: Id
    title: str
    jars: int
    "on hold, whoever has them"
    deviations: tuple[DeviationAnswer, ...]
    decisions: tuple[HoldDecisionAnswer, ...]

    @classmethod
    def of(cls, kept: store.Kept, jars: int) -> "HeldLot":
        """Put the rows together."""
        return cls(
            lot_code=kept.lot_code,
            batch_id=kept.row.id,
            member_id=kept.row.member_id,
            title=kept.row.title,
            jars=jars,
            deviations=DeviationAnswer.all_of(kept),
            decisions=tuple(HoldDecisionAnswer.model_validate(each) for each in kept.decisions),
        )


class HeldLots(Listed[HeldLot]):
    """Every lot that waits for a person, the newest batch first."""

    model_config = example(
        items=[
            {
                "lot_code": "270814-01-P",
                "batch_id": A_BATCH,
                "member_id": A_MEMBER,
                "title": "Plum jam",
                "jars": 8,
                "deviations": [A_DEVIATION],
                "decisions": [],
            }
        ],
        next_cursor=None,
    )


class HoldDecided(HeldLot):
    """The lot after a decision, and where its jars went."""

    model_config = example(
        lot_code="270814-01-P",
        batch_id=A_BATCH,
        member_id=A_MEMBER,
        title="Plum jam",
        jars=0,
        deviations=[A_DEVIATION | {"settled_at": "2027-08-15T09:00:00Z"}],
        decisions=[A_DECISION],
        lots=[{"lot_code": "270814-01-P", "jar_size": "half-pint", "count": 8, "state": "discarded"}],
    )

    lots: tuple[FilledLot, ...]
