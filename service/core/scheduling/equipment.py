"""What a kitchen can have, and what takes it out of use for a while."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from enum import StrEnum

from service.core.measures.jars import JAR_ML
from service.core.refusals import Refused
from service.core.scheduling.spans import Span, around, minute_of

LONGEST_INTERRUPTION = timedelta(days=366)


class EquipmentKind(StrEnum):
    BURNER = "burner"
    CANNER = "canner"
    TABLE = "table"
    RACK = "rack"


class CannerKind(StrEnum):
    BOILING_WATER = "boiling-water"
    ATMOSPHERIC_STEAM = "atmospheric-steam"
    PRESSURE_DIAL = "pressure-dial"
    PRESSURE_WEIGHTED = "pressure-weighted"


PRESSURE_KINDS = frozenset({CannerKind.PRESSURE_DIAL, CannerKind.PRESSURE_WEIGHTED})


def senseless(
    kind: EquipmentKind,
    canner_kind: CannerKind | None,
    capacity: Mapping[str, int] | None,
    places: int,
    *,
    needs_burner: bool,
) -> Refused | None:
    """What makes no sense in a description of equipment, if anything does."""
    if kind is EquipmentKind.CANNER:
        if canner_kind is None or not capacity:
            return Refused("not-possible", "A canner has a kind, and a capacity for at least one jar size.")
        if not capacity.keys() <= JAR_ML.keys():
            return Refused("not-possible", f"The jar sizes known here: {', '.join(JAR_ML)}.")
    elif canner_kind is not None or capacity is not None or needs_burner:
        return Refused("not-possible", "Only a canner has a kind and a capacity, and takes a burner along.")
    if kind is not EquipmentKind.RACK and places != 1:
        return Refused("not-possible", "Only a rack has places for jars.")
    return None


def interruption(starts_at: datetime, ends_at: datetime, now: datetime) -> Span | Refused:
    """The time an outage or a closure takes away, from now on: what has been has been."""
    if ends_at <= starts_at:
        return Refused("ends-before-start", "It has to end after it starts.")
    if ends_at <= now:
        return Refused("in-the-past", "It is over already.")
    if ends_at - starts_at > LONGEST_INTERRUPTION:
        return Refused("not-possible", f"It lasts at most {LONGEST_INTERRUPTION.days} days.")
    span = around(starts_at, ends_at)
    return Span(max(span.starts_min, minute_of(now)), span.ends_min)


def ended(starts_at: datetime, ends_at: datetime, now: datetime) -> datetime | Refused:
    """When an outage ends that is ended now: before it has begun, as it begins."""
    if ends_at <= now:
        return Refused("already-done", "This outage is over.")
    return max(starts_at, now)
