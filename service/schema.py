"""Every table of the service, in one place for the migrations to compare with."""

from service.audit import tables as audit
from service.batches import tables as batches
from service.bookings import tables as bookings
from service.bookings.fair_use import tables as fair_use
from service.bookings.waiting import tables as waiting
from service.calendars import tables as calendars
from service.database.rows import Row
from service.equipment import tables as equipment
from service.members import tables as members
from service.pantry import tables as pantry
from service.plans import tables as plans
from service.recipes import tables as recipes
from service.web import tables as web

TABLES = (members, web, audit, equipment, bookings, fair_use, waiting, recipes, pantry, batches, plans, calendars)
METADATA = Row.metadata
