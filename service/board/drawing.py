"""Where things stand in a picture: rectangles, lines and words, in the units of its view box."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import tzinfo

from service.board.days import Day, Line, Shown, Stay
from service.core.scheduling.spans import Span, at_minute

A_LETTER = 7.4  # how wide a letter is at most times, at the size in which bars are written
FEWEST_LETTERS = 4
LEAST_APART = 44  # hours that are written

X = Callable[[int], float]  # where a minute stands


@dataclass(frozen=True, slots=True)
class Layout:
    """How a timetable is laid out: names beside their lines, or above them where there is little room."""

    name: str
    width: int
    left: int
    right: int
    row: int
    bar_top: int
    bar: int


WIDE = Layout("wide", width=1160, left=176, right=12, row=32, bar_top=4, bar=24)
DENSE = replace(WIDE, row=24, bar_top=2, bar=20)  # so that a full hall and its next days stand on one wall
NARROW = Layout("narrow", width=344, left=4, right=8, row=46, bar_top=18, bar=22)
TOP = 30
MOST_ROWS = 13  # that aren't dense


def layouts(rows: int) -> tuple[Layout, Layout]:
    """How so many lines are laid out where there is room, and where there is little."""
    return (WIDE if rows <= MOST_ROWS else DENSE), NARROW


@dataclass(frozen=True, slots=True)
class Bar:
    """A stay as a rectangle; `says` is the whole of it in words, `text` what there is room for."""

    x: float
    y: float
    width: float
    height: float
    shown: Shown
    says: str
    text: str


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the timetable: its name, its rectangle and what lies on it."""

    name: str
    says: str
    x: float
    y: float
    width: float
    height: float
    name_y: float
    bars: tuple[Bar, ...]


@dataclass(frozen=True, slots=True)
class Tick:
    """An hour of the wall clock; those between have no words."""

    x: float
    text: str


@dataclass(frozen=True, slots=True)
class Timetable:
    """A day as a picture."""

    layout: Layout
    height: int
    rows: tuple[Row, ...]
    ticks: tuple[Tick, ...]
    now_x: float | None


def timetable(day: Day, zone: tzinfo, now_min: int, layout: Layout) -> Timetable | None:
    """Draw a day from its first opening to its last closing; None where it has none."""
    window = day.window
    if window is None:
        return None
    room = layout.width - layout.left - layout.right

    def x(minute: int) -> float:
        inside = min(max(minute, window.starts_min), window.ends_min)
        return round(layout.left + (inside - window.starts_min) * room / window.minutes, 2)

    rows = []
    for number, line in enumerate(day.lines):
        y = TOP + number * layout.row
        bars = tuple(_bars(line, window, zone, x, y + layout.bar_top, layout.bar))
        says = f"{line.name}: " + ("; ".join(bar.says for bar in bars) or "free all day")
        name_y = y + layout.bar_top + layout.bar * 0.68 if layout.left > LEAST_APART else y + layout.bar_top - 5
        rows.append(Row(line.name, says, layout.left, y + layout.bar_top, room, layout.bar, name_y, bars))
    now_x = x(now_min) if window.starts_min <= now_min < window.ends_min else None
    height = TOP + len(day.lines) * layout.row + 6
    return Timetable(layout, height, tuple(rows), tuple(_ticks(window, zone, x, room)), now_x)


def _bars(line: Line, window: Span, zone: tzinfo, x: X, top: float, height: float) -> Iterator[Bar]:
    for stay in line.stays:
        if not stay.span.overlaps(window):
            continue
        left, right = x(stay.span.starts_min), x(stay.span.ends_min)
        low, high = (height * lane / line.places for lane in (stay.lanes.low, min(stay.lanes.high, line.places)))
        says = in_words(stay, line, zone)
        words = stay.title or stay.shown.value
        text = fitted(words, right - left) if high - low >= height * 0.7 else ""
        yield Bar(left, round(top + low, 2), round(right - left, 2), round(high - low, 2), stay.shown, says, text)


def in_words(stay: Stay, line: Line, zone: tzinfo) -> str:
    """A stay as it is said: what, from when, until when, and of a rack how much of it."""
    starts, ends = (f"{at_minute(edge).astimezone(zone):%H:%M}" for edge in (stay.span.starts_min, stay.span.ends_min))
    what = f"yours ({stay.title})" if stay.title else stay.shown.value
    places = stay.lanes.high - stay.lanes.low
    part = f", {places} of {line.places} places" if places < line.places else ""
    return f"{what} {starts} to {ends}{part}"


def fitted(words: str, width: float) -> str:
    """As much of some words as a width has room for."""
    most = int((width - 8) / A_LETTER)
    if len(words) <= most:
        return words
    return f"{words[: most - 1].rstrip()}…" if most >= FEWEST_LETTERS else ""


def _ticks(window: Span, zone: tzinfo, x: X, room: float) -> Iterator[Tick]:
    every = next(step for step in (1, 2, 3, 4, 6, 12, 24) if step * 60 * room / window.minutes >= LEAST_APART)
    for minute in range(-(-window.starts_min // 5) * 5, window.ends_min + 1, 5):
        local = at_minute(minute).astimezone(zone)
        if local.minute == 0:
            yield Tick(x(minute), f"{local.hour}" if local.hour % every == 0 else "")
