"""What stands on paper, in words: the same answers as the API's, put in the order in which they are used."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

from service.batches.bodies import RunAmount, RunProcess, RunSheet
from service.core.measures.amounts import as_fraction
from service.pantry.bodies import PantryItem
from service.published.bodies import PublishedRange


@dataclass(frozen=True, slots=True)
class Line:
    """One line: what to do or know, smaller words below it, and whether it has a box to tick."""

    says: str
    details: tuple[str, ...] = ()
    tick: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a sheet under its heading."""

    heading: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """What has to be read across the room: `what` it is, the figure itself, and what goes with it."""

    what: str
    figure: str
    beside: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet to work from."""

    title: str
    about: tuple[str, ...]
    figures: tuple[Figure, ...] = ()
    parts: tuple[Part, ...] = ()
    foot: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rows:
    """A list in columns; each row has a box to tick."""

    title: str
    about: tuple[str, ...]
    heads: tuple[str, ...]
    widths: tuple[int, ...]
    "shares of the line"
    rows: tuple[tuple[str, ...], ...]
    foot: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stay:
    """Who has a piece of equipment from one minute of the day to another, counted from its first hour on paper."""

    starts_min: int
    ends_min: int
    says: str
    mine: bool


@dataclass(frozen=True, slots=True)
class Lane:
    """A piece of equipment, or one of its places, with its stays in order."""

    name: str
    stays: tuple[Stay, ...]


@dataclass(frozen=True, slots=True)
class Timetable:
    """A day against the clock: a lane for each piece of equipment; `hours` name the lines, an hour apart."""

    title: str
    about: tuple[str, ...]
    hours: tuple[str, ...]
    lanes: tuple[Lane, ...]
    foot: tuple[str, ...] = ()

    @property
    def minutes(self) -> int:
        """How long the day on paper is."""
        return 60 * max(1, len(self.hours) - 1)


NOT_BEGUN = "Booked, not begun: begin the batch on the day, and look then whether a canner has changed."


def run_sheet(
    title: str, cook: str, kitchen: str, starts_at: datetime, zone: ZoneInfo, sheet: RunSheet, note: str = ""
) -> Sheet:
    """The run sheet of a batch, from what to gather to the cautions; `note` says what else there is to know of it."""
    local = starts_at.astimezone(zone)
    parts = [
        Part("Gather", tuple(_gathered(sheet))),
        Part("Make", tuple(_steps(sheet))),
        Part("Fill", tuple(_fills(sheet))),
        Part("Process", tuple(_loads(sheet))),
        Part("Then", tuple(_afterwards(sheet))),
        Part("Seal check", tuple(Line(each, tick=True) for each in sheet.seal_check)),
        Part("Cautions", tuple(Line(each) for each in sheet.cautions)),
    ]
    sources = dict.fromkeys(f"{each.source.title} ({each.source.publisher})" for each in sheet.processes)
    return Sheet(
        title=title,
        about=(
            f"{cook}, {day(local.date())} {local:%H:%M}",
            f"{kitchen}, {sheet.altitude_ft:,} ft",
            *filter(None, (note,)),
        ),
        figures=tuple(_figure(each, sheet.altitude_ft) for each in sheet.processes),
        parts=tuple(part for part in parts if part.lines),
        foot=(
            *(f"Process: {each}." for each in sources),
            f"Recipe revision {sheet.revision}, rulebook {sheet.rulebook}, times for {sheet.altitude_ft:,} ft.",
        ),
    )


def _gathered(sheet: RunSheet) -> Iterable[Line]:
    if sheet.gather is None:
        return
    for each in sheet.gather.ingredients:
        yield Line(*_amount(each), tick=True)
    for size, count in sheet.gather.jars.items():
        yield Line(f"{count} {jars(size, count)}", tick=True)
    yield Line(f"{sheet.gather.lids} new lids, with bands", tick=True)
    yield Line(", ".join(sheet.gather.equipment), tick=True)


def _amount(each: RunAmount) -> tuple[str, tuple[str, ...]]:
    """An amount for the whole pot, with what it weighs; as the recipe has it where nothing was measured."""
    if each.kitchen is None:
        return each.as_written, ()
    grams = f", {_grams(each.grams)}" if each.grams else ""
    return f"{each.kitchen} {each.name}{grams}", (() if each.as_written == each.kitchen else (each.as_written,))


def _grams(grams: PublishedRange) -> str:
    if grams.high is None or grams.high == grams.low:
        return f"{grams.low:,.0f} g"
    return f"{grams.low:,.0f} to {grams.high:,.0f} g"


def _steps(sheet: RunSheet) -> Iterable[Line]:
    for step in sheet.steps:
        amounts = tuple(f"{each.kitchen} {each.name}" if each.kitchen else each.as_written for each in step.measured)
        yield Line(f"{step.number}. {step.says}", amounts or step.amounts, tick=True)


def _fills(sheet: RunSheet) -> Iterable[Line]:
    for each in sheet.fill:
        in_each = f"; in each jar {', '.join(each.in_each_jar)}" if each.in_each_jar else ""
        headspace = "" if each.headspace_in is None else f", headspace {inches(each.headspace_in)}"
        yield Line(f"{each.count} {jars(each.jar_size, each.count)}{headspace}{in_each}", (each.says,), tick=True)


CANNERS = {
    "boiling-water": "boiling-water canner",
    "atmospheric-steam": "steam canner",
    "pressure-dial": "pressure canner with a dial gauge",
    "pressure-weighted": "pressure canner with a weighted gauge",
}


def _figure(process: RunProcess, altitude_ft: int) -> Figure:
    pressure = "" if process.pressure_psi is None else f" at {process.pressure_psi} psi"
    beside = [f"at {altitude_ft:,} ft"]
    if process.headspace_in is not None:
        beside.append(f"headspace {inches(process.headspace_in)}")
    if process.vent_minutes:
        beside.append(f"vent {process.vent_minutes} min first")
    return Figure(
        f"{jars(process.jar_size, 2).capitalize()}, {CANNERS.get(process.canner_kind, words(process.canner_kind))}",
        f"{process.minutes} min{pressure}",
        ", ".join(beside),
    )


def _loads(sheet: RunSheet) -> Iterable[Line]:
    if sheet.venting:
        yield Line(sheet.venting, tick=True)
    for each in sheet.load_plan:
        yield Line(
            f"Load {each.load}: {each.count} {jars(each.jar_size, each.count)} in {each.canner}",
            ("in ____:____   full heat ____:____   out ____:____",),
            tick=True,
        )


def _afterwards(sheet: RunSheet) -> Iterable[Line]:
    for each in sheet.cool_down:
        yield Line(each, tick=True)
    if sheet.rest is not None:
        yield Line(sheet.rest.says, tick=True)
        yield Line("Sealed ______   unsealed ______   broken ______")
    if sheet.cold is not None:
        yield Line(sheet.cold.says, tick=True)


def pantry_list(holder: str, kitchen: str, today: date, items: Sequence[tuple[PantryItem, date | None]]) -> Rows:
    """What somebody has with the day until which to eat it, the first at the top; what mustn't be eaten says so."""
    ordered = sorted(items, key=lambda each: (each[1] or date.min, each[0].lot_code, each[0].jar_size, each[0].state))
    return Rows(
        title=f"Pantry of {holder}",
        about=(f"{sum(each.count for each, _ in items):,} jars", f"{kitchen}, {day(today)}"),
        heads=("Jars", "What", "Where", "Made on", "Eat by", "Lot"),
        widths=(19, 29, 18, 13, 13, 16),
        rows=tuple(
            (
                f"{each.count} {jars(each.jar_size, each.count)}",
                each.title,
                ", ".join(filter(None, (STATES.get(each.state.value, words(each.state.value)), each.location))),
                day(each.made_on),
                _eat_by(until, today),
                each.lot_code,
            )
            for each, until in ordered
        ),
        foot=("Never taste food that may be spoiled. When in doubt, throw it out.",),
    )


STATES = {"hold": "ON HOLD: don't eat", "recalled": "CALLED BACK: don't eat"}


def _eat_by(until: date | None, today: date) -> str:
    if until is None:
        return "not to be eaten"
    return f"{day(until)} (past)" if until < today else day(until)


@dataclass(frozen=True, slots=True)
class Claimed:
    """A stay at a piece of equipment as it is booked; `says` names purpose and member where the reader may know."""

    equipment_id: object
    starts_at: datetime
    ends_at: datetime
    says: str
    mine: bool = False


def timetable(
    kitchen: str,
    on: date,
    as_of: datetime,
    hours: Sequence[datetime],
    names: Iterable[tuple[object, str]],
    claims: Sequence[Claimed],
) -> Timetable:
    """A day's bookings: `hours` are the clock's full hours on paper, in the kitchen's zone; stays are cut to them."""
    first, last = hours[0], hours[-1]
    length_min = 60 * (len(hours) - 1)

    def minute(moment: datetime) -> int:
        return max(0, min(length_min, round((moment - first).total_seconds() / 60)))

    lanes: list[Lane] = []
    for piece, name in names:
        stays = [
            Stay(minute(each.starts_at), minute(each.ends_at), each.says, each.mine)
            for each in sorted(claims, key=lambda each: (each.starts_at, each.ends_at, each.says))
            if each.equipment_id == piece and each.starts_at < last and each.ends_at > first
        ]
        lanes += [Lane(name if not at else "", tuple(row)) for at, row in enumerate(_side_by_side(stays))]
    return Timetable(
        title=f"{weekday(on)}, {day(on)}",
        about=(kitchen, f"as of {as_of:%Y-%m-%d %H:%M}"),
        hours=tuple(f"{each:%H:%M}" for each in hours),
        lanes=tuple(lanes),
    )


def _side_by_side(stays: Sequence[Stay]) -> list[list[Stay]]:
    """Stays in as few rows as they need: a rack holds several lots at once."""
    rows: list[list[Stay]] = [[]]
    for stay in stays:
        row = next((each for each in rows if not each or each[-1].ends_min <= stay.starts_min), None)
        if row is None:
            rows.append(row := [])
        row.append(stay)
    return rows


@dataclass(frozen=True, slots=True)
class Label:
    """What stands on a jar. `warning` is there where it mustn't be eaten; `opens` is where its code leads."""

    title: str
    jar_size: str
    made_on: date
    best_by: date | None
    lot_code: str
    kitchen: str
    keep: str
    allergens: tuple[str, ...]
    opens: str
    warning: str = ""
    best_by_word: str = "Best by"

    @property
    def dates(self) -> tuple[str, ...]:
        """The days, a line each."""
        made = f"Made on {day(self.made_on)}"
        return (made,) if self.best_by is None else (made, f"{self.best_by_word} {day(self.best_by)}")


def day(on: date) -> str:
    """A day that no reader takes for another."""
    return f"{on:%Y-%m-%d}"


def weekday(on: date) -> str:
    return WEEKDAYS[on.weekday()]


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def inches(amount: float) -> str:
    """A headspace as a ruler shows it: 1/2 in."""
    return f"{as_fraction(Fraction(amount).limit_denominator(16))} in"


def words(word: str) -> str:
    """A word of the contract in plain letters."""
    return word.replace("-", " ")


def jars(size: str, count: int) -> str:
    """Jars of a size: half-pint jars."""
    return f"{size} jar{'s' if count != 1 else ''}"
