"""The tables of what each member may take of the kitchen."""

from datetime import date
from uuid import UUID

from sqlalchemy import CheckConstraint
from sqlmodel import Field

from service.core.scheduling.fair_use import USUAL_OFFER_MINUTES
from service.database.rows import Row


class FairUse(Row, table=True):
    """A kitchen's limits; one that never set any has none."""

    __tablename__ = "fair_use"

    id: UUID = Field(primary_key=True, foreign_key="kitchen.id")
    days_ahead: int | None = None
    open_bookings: int | None = None
    canner_minutes_a_week: int | None = None
    offer_minutes: int = USUAL_OFFER_MINUTES
    version: int = 1


class Season(Row, table=True):
    """Days of a year with limits of their own, the last one included."""

    __tablename__ = "season"
    __table_args__ = (CheckConstraint("first_on <= last_on", name="starts_before_it_ends"),)

    kitchen_id: UUID = Field(foreign_key="fair_use.id", primary_key=True)
    first_on: date = Field(primary_key=True)
    last_on: date
    name: str = Field(max_length=100)
    days_ahead: int | None = None
    open_bookings: int | None = None
    canner_minutes_a_week: int | None = None
