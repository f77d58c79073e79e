"""Any value about jars, with one sensible default."""

from datetime import UTC, datetime, timedelta
from uuid import UUID

from service.core.jars.batches import Batch, Canner, Load, Process, vented
from service.core.jars.deviations import Deviation
from service.core.jars.heat import Reading
from service.core.jars.movements import Place, State

NOON = datetime(2027, 8, 14, 12, 0, tzinfo=UTC)
ADA, BEN, LOT, KETTLE, PRESSURE, SPARE = (UUID(int=number) for number in range(1, 7))


def minutes(count: float) -> timedelta:
    return timedelta(minutes=count)


def place(state: State = State.SHELF, holder_id: UUID = ADA, jar_size: str = "pint") -> Place:
    return Place(LOT, jar_size, holder_id, state)


def process(method: str = "boiling-water", minutes: int = 10, pressure_psi: int | None = None) -> Process:
    return Process(method, minutes, pressure_psi, 0.25, vented(pressure_psi, None))


def canner(id: UUID = KETTLE, kind: str = "boiling-water") -> Canner:
    return Canner(id, kind, {"half-pint": 12, "pint": 9, "quart": 7})


def load(**values: object) -> Load:
    kept: dict[str, object] = {
        "number": 1, "jar_size": "pint", "count": 8, "canner_id": KETTLE, "process": process(), "in_at": NOON,
    }  # fmt: skip
    return Load(**(kept | values))  # type: ignore[arg-type]


def batch(*loads: Load, jar_sizes: tuple[str, ...] = ("pint",), deviations: tuple[Deviation, ...] = ()) -> Batch:
    """A batch with a kettle and a pressure canner booked, and a spare kettle in the kitchen."""
    processes = {(size, "boiling-water"): process() for size in jar_sizes}
    booked = (canner(), canner(PRESSURE, "pressure-dial"))
    return Batch(NOON, booked, (canner(SPARE),), processes, loads, deviations)


def log(trace: str, step_minutes: float = 1) -> list[Reading]:
    """A heat log drawn by hand, one character a step: `#` at the heat of 204, `_` below it, a blank no reading."""
    value = {"#": 204.0, "_": 203.0}
    return [
        Reading(NOON + minutes(step_minutes * number), value[mark]) for number, mark in enumerate(trace) if mark != " "
    ]
