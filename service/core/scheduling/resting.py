"""Jars that were to leave their rack while the kitchen is closed after all: they stay until it opens."""

from uuid import UUID

from service.core.scheduling.slots import Busy, Resource, laid
from service.core.scheduling.spans import Span


def longer(rack: Resource, booking_id: UUID, ready_min: int, opens_min: int) -> tuple[Busy, ...] | None:
    """What jars of a booking that were to leave a rack at a minute hold of it until another; None if it hasn't room."""
    own = [(busy.span, busy.lanes.high - busy.lanes.low) for busy in rack.busy if busy.booking_id == booking_id]
    jars = sum(places for span, places in own if span.ends_min == ready_min)
    jars -= sum(places for span, places in own if span.starts_min == ready_min)  # they only change their places then
    more = Span(ready_min, opens_min)
    return laid(rack, jars, more) if rack.spare(more) >= jars else None
