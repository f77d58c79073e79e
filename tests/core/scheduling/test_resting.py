"""Jars that stay on a rack for longer than was planned."""

from uuid import UUID

from service.core.scheduling.resting import longer
from service.core.scheduling.slots import Busy, Kind, Lanes, Resource
from service.core.scheduling.spans import Span

OWN, OTHER = UUID(int=1), UUID(int=2)


def rack(*busy: tuple[int, int, int, int, UUID | None]) -> Resource:
    return Resource(
        UUID(int=9), 10, busy=tuple(Busy(Span(a, b), Lanes(c, d), Kind.BOOKING, who) for a, b, c, d, who in busy)
    )


def test_as_many_places_are_held_as_are_given_back_at_that_minute() -> None:
    here = rack((0, 100, 0, 4, OWN), (0, 60, 4, 6, OTHER))
    assert longer(here, OWN, 100, 160) == (Busy(Span(100, 160), Lanes(0, 4), Kind.BOOKING),)


def test_jars_that_only_change_their_places_then_are_not_counted() -> None:
    """A stay may lie in several rows, one place after another: what ends at 60 and goes on elsewhere doesn't leave."""
    here = rack((0, 60, 0, 3, OWN), (60, 100, 5, 8, OWN), (0, 60, 8, 10, OWN))
    assert longer(here, OWN, 60, 160) == (Busy(Span(60, 160), Lanes(0, 2), Kind.BOOKING),)


def test_places_that_somebody_else_has_by_then_are_not_to_be_had() -> None:
    taken = rack((0, 100, 0, 4, OWN), (120, 140, 3, 10, OTHER))
    assert longer(taken, OWN, 100, 160) is None
    assert longer(taken, OWN, 100, 120) is not None
