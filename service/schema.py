"""Every table of the service, in one place for the migrations to compare with."""

from service.bookings import tables as bookings
from service.database.rows import Row
from service.equipment import tables as equipment
from service.members import tables as members
from service.web import tables as web

TABLES = (members, web, equipment, bookings)
METADATA = Row.metadata
