"""The tables of batch days: batches, their loads, heat logs and pH readings."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import JSON, CheckConstraint, ForeignKeyConstraint, Index, text
from sqlmodel import Field

from service.core.jars.deviations import BrokenRule, HoldOutcome
from service.core.jars.heat import HeatAnswer
from service.database.rows import Row, words


class Batch(Row, table=True):
    """One pot of one recipe revision, run in the equipment of one booking."""

    __tablename__ = "batch"
    __table_args__ = (
        Index("ix_batch_kitchen_id_started_at_id", "kitchen_id", "started_at", "id"),
        Index("ix_batch_member_id_started_at_id", "member_id", "started_at", "id"),
        Index(
            "ix_batch_on_hold",
            "kitchen_id",
            "started_at",
            "id",
            postgresql_where=text("on_hold"),
            sqlite_where=text("on_hold = 1"),
        ),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    member_id: UUID = Field(foreign_key="member.id")
    booking_id: UUID = Field(foreign_key="booking.id", unique=True)
    lot_id: UUID | None = Field(default=None, foreign_key="lot.id", unique=True)
    title: str = Field(max_length=200)
    started_at: datetime
    on_hold: bool = False  # its jars wait for a person, those still to come too
    run_sheet: dict[str, Any] = Field(sa_type=JSON)  # as it was on the day


class Load(Row, table=True):
    """What went into a canner at once: jars of one size, under the process that held for them."""

    __tablename__ = "load"
    __table_args__ = (
        CheckConstraint("jars > 0", name="jars_are_counted"),
        CheckConstraint("in_at <= out_at", name="in_before_out"),
        CheckConstraint("out_at <= checked_at", name="out_before_the_seal_check"),
        CheckConstraint("checked_at IS NULL OR out_at IS NOT NULL", name="only_what_is_out_is_checked"),
        CheckConstraint("sealed >= 0 AND unsealed >= 0 AND broken >= 0", name="no_jars_below_zero"),
        CheckConstraint("sealed + unsealed + broken = jars", name="every_jar_is_accounted_for"),
        CheckConstraint("(checked_at IS NULL) = (sealed IS NULL)", name="a_seal_check_is_whole"),
    )

    batch_id: UUID = Field(foreign_key="batch.id", primary_key=True)
    number: int = Field(primary_key=True)
    jar_size: str = Field(max_length=40)
    jars: int
    canner_id: UUID = Field(foreign_key="equipment.id")
    method: str = Field(max_length=40)
    minutes: int
    pressure_psi: int | None = None
    headspace_in: float | None = None
    vent_minutes: int | None = None
    again: int | None = None  # the load of this batch whose jars went in once more
    in_at: datetime
    out_at: datetime | None = None
    heat: HeatAnswer | None = Field(default=None, sa_type=words(HeatAnswer, "heat"))
    vented_minutes_at_most: float | None = None
    checked_at: datetime | None = None
    sealed: int | None = None
    unsealed: int | None = None
    broken: int | None = None


class HeatLog(Row, table=True):
    """What was read while a load was in its canner, and what that showed."""

    __tablename__ = "heat_log"
    __table_args__ = (ForeignKeyConstraint(["batch_id", "load"], ["load.batch_id", "load.number"]),)

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    batch_id: UUID = Field(index=True)
    load: int
    unit: str = Field(max_length=10)
    required: float
    barometer_hpa: float | None = None
    instrument: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    readings: list[Any] = Field(sa_type=JSON)
    answer: HeatAnswer = Field(sa_type=words(HeatAnswer, "answer"))
    evaluation: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))  # as it was answered
    sent_by: UUID = Field(foreign_key="member.id")
    sent_at: datetime


class PhReading(Row, table=True):
    """The acidity of a batch as somebody read it."""

    __tablename__ = "ph_reading"
    __table_args__ = (CheckConstraint("ph BETWEEN 0 AND 14", name="ph_is_on_the_scale"),)

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    batch_id: UUID = Field(foreign_key="batch.id", index=True)
    ph: float
    instrument: str = Field(max_length=40)
    calibrated_at_buffers: list[float] = Field(sa_type=JSON)
    calibrated_at: datetime | None = None
    sample: str | None = Field(default=None, max_length=40)
    faults: list[str] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    read_by: UUID = Field(foreign_key="member.id")
    read_at: datetime


class Deviation(Row, table=True):
    """A broken rule of the day: it holds the lot until it is settled."""

    __tablename__ = "deviation"
    __table_args__ = (
        ForeignKeyConstraint(["batch_id", "load"], ["load.batch_id", "load.number"], name="fk_deviation_batch_id_load"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    batch_id: UUID = Field(foreign_key="batch.id", index=True)
    load: int | None = None  # None: the whole pot
    cause: BrokenRule = Field(sa_type=words(BrokenRule, "cause"))
    says: str = Field(max_length=1000)
    happened_at: datetime
    recorded_by: UUID = Field(foreign_key="member.id")
    recorded_at: datetime
    settled_at: datetime | None = None  # decided about, processed again, or kept cold in time


class HoldDecision(Row, table=True):
    """What a trainer or coordinator decided about the jars of a batch on hold. Written once, never changed."""

    __tablename__ = "hold_decision"
    __table_args__ = (
        CheckConstraint("(decision = 'release') = (to_state IS NOT NULL)", name="only_a_release_leads_somewhere"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    batch_id: UUID = Field(foreign_key="batch.id", index=True)
    decision: HoldOutcome = Field(sa_type=words(HoldOutcome, "decision"))
    to_state: str | None = Field(default=None, max_length=40)
    reason: str = Field(max_length=1000)
    evaluation: str | None = Field(default=None, max_length=1000)  # where a process authority's written word is kept
    decided_by: UUID = Field(foreign_key="member.id")
    decided_at: datetime
