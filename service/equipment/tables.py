"""The tables of what a kitchen has, when it is open, and what occupies each piece when."""

from datetime import datetime
from uuid import UUID, uuid4

from sqlalchemy import JSON, CheckConstraint, Index, text
from sqlmodel import Field

from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.slots import Kind
from service.database.rows import Row, words

MOST_MINUTES = 1560  # 26 hours: the longest day there is and an hour; what lasts longer is several rows


class Equipment(Row, table=True):
    """A burner, canner, table or rack.

    Its number is what occupancy goes by: the range constraint of PostgreSQL takes integers without an extension.
    """

    __tablename__ = "equipment"
    __table_args__ = (
        CheckConstraint("(kind = 'canner') = (canner_kind IS NOT NULL)", name="only_canners_have_a_canner_kind"),
        CheckConstraint("places >= 1 AND (kind = 'rack' OR places = 1)", name="only_racks_have_places"),
        CheckConstraint("kind = 'canner' OR NOT needs_burner", name="only_canners_take_a_burner_along"),
    )

    number: int | None = Field(default=None, primary_key=True)
    id: UUID = Field(default_factory=uuid4, unique=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id", index=True)
    kind: EquipmentKind = Field(sa_type=words(EquipmentKind))
    name: str = Field(max_length=100)
    canner_kind: CannerKind | None = Field(default=None, sa_type=words(CannerKind))
    capacity: dict[str, int] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    places: int = 1
    needs_burner: bool = False
    in_service: bool = True
    version: int = 1


class OpeningHours(Row, table=True):
    """The version of a kitchen's week; a kitchen that never set its hours is closed."""

    __tablename__ = "opening_hours"

    id: UUID = Field(primary_key=True, foreign_key="kitchen.id")
    version: int = 1


class Opening(Row, table=True):
    """One opening of one weekday (0 is Monday), in minutes of the kitchen's local day."""

    __tablename__ = "opening"
    __table_args__ = (
        CheckConstraint("weekday BETWEEN 0 AND 6", name="weekday_is_one_of_seven"),
        CheckConstraint(
            "0 <= opens_minute AND opens_minute < closes_minute AND closes_minute <= 1440",
            name="opens_before_it_closes",
        ),
    )

    kitchen_id: UUID = Field(foreign_key="opening_hours.id", primary_key=True)
    weekday: int = Field(primary_key=True)
    opens_minute: int = Field(primary_key=True)
    closes_minute: int


class Closure(Row, table=True):
    """A time at which the whole kitchen is closed against its usual hours."""

    __tablename__ = "closure"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="starts_before_it_ends"),
        Index("ix_closure_kitchen_id_starts_at_id", "kitchen_id", "starts_at", "id"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    kitchen_id: UUID = Field(foreign_key="kitchen.id")
    starts_at: datetime
    ends_at: datetime
    reason: str = Field(max_length=500)
    version: int = 1


class Outage(Row, table=True):
    """A time at which one piece of equipment can't be used."""

    __tablename__ = "outage"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="starts_before_it_ends"),
        Index("ix_outage_equipment_id_starts_at_id", "equipment_id", "starts_at", "id"),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    equipment_id: UUID = Field(foreign_key="equipment.id")
    starts_at: datetime
    ends_at: datetime
    reason: str = Field(max_length=500)


class Occupancy(Row, table=True):
    """What holds which lanes of a piece of equipment when, in whole minutes since 1970 UTC.

    No two active rows overlap in resource, lanes and time. The database itself refuses it: by a range constraint on
    PostgreSQL, by triggers on SQLite, both made by the migration and looked for before the service serves.
    """

    __tablename__ = "occupancy"
    __table_args__ = (
        CheckConstraint("0 <= lane_lo AND lane_lo < lane_hi", name="lanes_are_a_range"),
        CheckConstraint("starts_min < ends_min", name="starts_before_it_ends"),
        CheckConstraint(f"ends_min - starts_min <= {MOST_MINUTES}", name="long_spans_are_several_rows"),
        CheckConstraint("kind <> 'booking' OR booking_id IS NOT NULL", name="bookings_are_named"),
        Index(
            "ix_occupancy_active",
            "resource_id",
            "starts_min",
            postgresql_where=text("active"),
            sqlite_where=text("active"),
        ),
    )

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    booking_id: UUID | None = Field(default=None, foreign_key="booking.id", index=True)
    resource_id: int = Field(foreign_key="equipment.number")
    lane_lo: int
    lane_hi: int
    starts_min: int
    ends_min: int
    active: bool = True
    unit_fixed: bool = True  # False: an identical piece may take it over until the day begins
    kind: Kind = Field(sa_type=words(Kind))
    held_until: datetime | None = None  # of a hold: from then on it is in nobody's way, whether or not that was written


class KitchenFigures(Row, table=True):
    """How long steps take in a kitchen, where it set them itself; one that never did goes by the published ones."""

    __tablename__ = "kitchen_figures"

    id: UUID = Field(primary_key=True, foreign_key="kitchen.id")
    own: dict[str, int] = Field(sa_type=JSON)  # name of the figure: minutes
    version: int = 1
