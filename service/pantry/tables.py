"""The tables of jars: lots, the ledger of movements, and the balances beside it."""

from datetime import date, datetime
from uuid import UUID, uuid4

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlmodel import Field

from service.core.jars.movements import HELD, Kind, State
from service.database.rows import Row, words

# A partial index is used by whoever says its condition in the same words: written once, and without parameters.
IS_HELD = f"jars > 0 AND state IN ({', '.join(repr(state.value) for state in HELD)})"


class Lot(Row, table=True):
    """The jars of one batch; the code on each label leads here."""

    __tablename__ = "lot"
    __table_args__ = (
        UniqueConstraint("kitchen_id", "code"),
        CheckConstraint("made_on < best_by", name="best_by_follows_making"),
        CheckConstraint("(recalled_at IS NULL) = (recall_reason IS NULL)", name="recalls_have_a_reason"),
        Index("ix_lot_kitchen_id_made_on", "kitchen_id", "made_on"),
        Index(
            "ix_lot_recalled",
            "kitchen_id",
            "recalled_at",
            "id",
            postgresql_where=text("recalled_at IS NOT NULL"),
            sqlite_where=text("recalled_at IS NOT NULL"),
        ),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    code: str = Field(max_length=20)
    title: str = Field(max_length=200)
    family: str | None = Field(default=None, max_length=120)
    product: str | None = Field(default=None, max_length=120)
    made_on: date
    best_by: date
    recalled_at: datetime | None = None
    recall_reason: str | None = Field(default=None, max_length=1000)


class Movement(Row, table=True):
    """Jars out of one holder's state and into another's. Written once, never changed: the database refuses it."""

    __tablename__ = "movement"
    __table_args__ = (
        CheckConstraint("jars > 0", name="jars_are_counted"),
        CheckConstraint("(source_holder_id IS NULL) = (source_state IS NULL)", name="a_source_is_whole"),
        CheckConstraint("(kind = 'fill') = (source_state IS NULL)", name="only_fills_come_from_nowhere"),
        CheckConstraint("(target_state = 'given') = (recipient IS NOT NULL)", name="what_is_given_has_a_recipient"),
        Index("ix_movement_source_holder_id_moved_at", "source_holder_id", "moved_at"),
        Index("ix_movement_target_holder_id_moved_at", "target_holder_id", "moved_at"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    lot_id: UUID = Field(foreign_key="lot.id", index=True)
    jar_size: str = Field(max_length=40)
    kind: Kind = Field(sa_type=words(Kind, "movement_kind"))
    jars: int
    source_holder_id: UUID | None = Field(default=None, foreign_key="member.id")
    source_state: State | None = Field(default=None, sa_type=words(State, "source_state"))
    target_holder_id: UUID = Field(foreign_key="member.id")
    target_state: State = Field(sa_type=words(State, "target_state"))
    location: str | None = Field(default=None, max_length=200)
    recipient: str | None = Field(default=None, max_length=200)  # who outside the kitchen got them
    moved_by: UUID = Field(foreign_key="member.id")
    moved_at: datetime


class Balance(Row, table=True):
    """How many jars of one size of a lot one holder has in one state: always the sum of its movements."""

    __tablename__ = "balance"
    __table_args__ = (
        UniqueConstraint("lot_id", "jar_size", "holder_id", "state"),
        CheckConstraint("jars >= 0", name="jars_never_below_zero"),
        Index(
            "ix_balance_held",
            "holder_id",
            "best_by",
            "id",
            postgresql_where=text(IS_HELD),
            sqlite_where=text(IS_HELD),
        ),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    lot_id: UUID = Field(foreign_key="lot.id")
    jar_size: str = Field(max_length=40)
    holder_id: UUID = Field(foreign_key="member.id")
    state: State = Field(sa_type=words(State))
    jars: int
    since_at: datetime | None = None  # when the place was last empty: the oldest jar may be the one that is left
    location: str | None = Field(default=None, max_length=200)
    best_by: date  # the lot's: a shelf is read in this order
