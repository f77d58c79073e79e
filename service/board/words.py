"""How the board says times, amounts and the words of the contract."""

from calendar import month_name
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from service.core.scheduling.spans import at_minute, minute_of
from service.equipment.bodies import EquipmentAnswer

CANNERS = {  # where there is little room
    "boiling-water": "boiling water",
    "atmospheric-steam": "steam",
    "pressure-dial": "dial",
    "pressure-weighted": "weighted",
}
OBSTACLES = {
    "kitchen-closed": "the kitchen is closed",
    "out-of-service": "it is out of service",
    "slot-taken": "somebody has booked it",
    "no-burner-free": "no burner is free for it",
    "sign-off-missing": "it needs a trainer's sign-off",
    "member-busy": "your own hands are wanted elsewhere",
    "none-here": "the kitchen has none",
    "time-too-short": "it takes longer than the time that was searched",
}
VERDICTS = {
    "ready": "Ready. Nothing published speaks against it, as written.",
    "revise": "Revise it. As written it may fail or spoil; each finding says what to do instead.",
    "untested": "Untested. Nothing published covers it: don't can it. Freeze or refrigerate it, or ask a process "
    "authority.",
    "unsafe": "Unsafe. A published rule against illness is broken. Don't can it like this.",
}
SEVERITIES = {
    "unsafe": "Unsafe",
    "untested": "Untested",
    "spoilage": "May spoil",
    "set-failure": "May not set",
    "quality": "Quality",
    "paperwork": "Paperwork",
}


@dataclass(frozen=True, slots=True)
class Words:
    """Times as the clock on the kitchen's wall shows them."""

    zone: tzinfo
    now: datetime

    @property
    def today(self) -> date:
        return self.now.astimezone(self.zone).date()

    @property
    def now_min(self) -> int:
        return minute_of(self.now)

    def clock(self, at: datetime | int) -> str:
        """The time of day; with the day where it isn't today."""
        local = self._local(at)
        return f"{local:%H:%M}" if local.date() == self.today else f"{self.day(local.date())}, {local:%H:%M}"

    def time(self, at: datetime | int) -> str:
        """The time of day alone; midnight at the end of a day is 24:00 nowhere here, but 00:00."""
        return f"{self._local(at):%H:%M}"

    def moment(self, at: datetime | int) -> str:
        """The day and the time of day."""
        local = self._local(at)
        return f"{self.day(local.date())}, {local:%H:%M}"

    def day(self, on: date) -> str:
        """A day by its name; with the year where it isn't this one."""
        year = f" {on.year}" if on.year != self.today.year else ""
        return f"{on:%A} {on.day} {on:%B}{year}"

    def local_day(self, at: datetime | int) -> date:
        """The day a moment falls on in the kitchen."""
        return self._local(at).date()

    def minutes_left(self, at: datetime) -> int:
        """Whole minutes until a moment, rounded up: never said too soon."""
        return max(0, -((self.now - at).total_seconds() // 60).__int__())

    def _local(self, at: datetime | int) -> datetime:
        return (at_minute(at) if isinstance(at, int) else at).astimezone(self.zone)


def spoken(word: str) -> str:
    """A word of the contract as it is said: `boiling-water` is boiling water."""
    return word.replace("-", " ").replace("_", " ")


def piece(row: EquipmentAnswer, fixed: bool) -> str:
    """A piece of equipment by its name, or as any of its kind while that is open."""
    if fixed:
        return row.name
    kind = f"{spoken(row.canner_kind)} canner" if row.canner_kind else str(row.kind)
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def many(count: int, one: str, more: str | None = None) -> str:
    """A count with its word."""
    return f"{count} {one if count == 1 else more or one + 's'}"


def lasting(minutes: int) -> str:
    """Minutes as hours and minutes."""
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest:02} min" if hours and rest else f"{hours} h" if hours else f"{rest} min"


def month(number: int) -> str:
    """A month by its name."""
    return month_name[number]


def number(value: float | None) -> str:
    """A number without a needless end."""
    return "" if value is None else f"{round(value, 3):g}"


def line(where: str | None) -> int | None:
    """Which of the pasted lines a finding is about."""
    _, _, place = (where or "").partition("#/ingredients/")
    at = place.partition("/")[0]
    return int(at) + 1 if at.isdecimal() else None
