"""The season as pictures: boxes and words in the units of a view box, from numbers that are served as numbers too."""

from calendar import month_abbr, month_name
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from service.board.season.bodies import CannerUse
from service.equipment.bodies import WEEKDAYS
from service.pantry.bodies import PantryMonths

WIDTH = 360  # so that words are read on a phone
PALEST, LAST_PALE, DARKEST = 0, 2, 5  # steps of shade; words on what is darker are pale


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle; `look` names its fill, `says` what it stands for."""

    x: float
    y: float
    width: float
    height: float
    look: str
    says: str = ""


class Label(NamedTuple):
    """A word or a number, `look` says where its point stands: start, middle or end."""

    x: float
    y: float
    look: str
    text: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing with its own words for whoever can't see it."""

    name: str
    title: str
    says: str
    height: int
    boxes: tuple[Box, ...]
    labels: tuple[Label, ...]
    width: int = WIDTH


def year(numbers: PantryMonths) -> Picture:
    """Jars put up and eaten, month under month."""
    left, top, high, bar = 40.0, 30.0, 30.0, 12.0
    room = WIDTH - left - 34  # the number beside the longest
    most = max((max(each.put_up, each.eaten) for each in numbers.months), default=0) or 1
    boxes: list[Box] = [Box(left - 1, top - 4, 1, 12 * high, "rule")]
    labels: list[Label] = []
    for each in numbers.months:
        y = top + (each.month - 1) * high
        labels.append(Label(0, y + 16, "start", month_abbr[each.month]))
        for place, (look, word, jars) in enumerate((("put-up", "put up", each.put_up), ("eaten", "eaten", each.eaten))):
            if jars:
                wide = round(room * jars / most, 2)
                says = f"{jars} jars {word} in {month_name[each.month]}"
                boxes.append(Box(left, y + place * bar, wide, bar - 1, look, says))
                labels.append(Label(round(left + wide + 4, 2), y + place * bar + 10, "start small", str(jars)))
    labels += _key(boxes, (("put-up", "put up"), ("eaten", "eaten")))
    put_up, eaten = (sum(getattr(each, name) for each in numbers.months) for name in ("put_up", "eaten"))
    return Picture(
        "months",
        f"Jars put up and eaten in {numbers.year}",
        f"{put_up} jars put up and {eaten} eaten, by month.",
        int(top + 12 * high),
        tuple(boxes),
        tuple(labels),
    )


def week(numbers: CannerUse) -> Picture:
    """How much of the canners' open time was booked, by weekday and hour; each field has its percentage in it."""
    shown = [each.hour for each in numbers.hours] or [12]
    hours = range(min(shown), max(shown) + 1)
    left, top, high = 48.0, 24.0, 24.0
    wide = round((WIDTH - left) / len(WEEKDAYS), 2)
    labels = [
        Label(round(left + (place + 0.5) * wide - 1, 2), 16, "middle", day[:3].capitalize())
        for place, day in enumerate(WEEKDAYS)
    ]
    labels += [
        Label(0, round(top + place * high + 16, 2), "start", f"{hour}–{hour + 1}") for place, hour in enumerate(hours)
    ]
    boxes: list[Box] = []
    for each in numbers.hours:
        share = each.booked_minutes / each.open_minutes if each.open_minutes else 1.0
        percent = round(min(share, 1) * 100)
        shade = DARKEST if percent >= 100 else PALEST if not percent else 1 + percent * (DARKEST - 1) // 100
        x = round(left + WEEKDAYS.index(each.weekday) * wide, 2)
        y = top + (each.hour - hours[0]) * high
        when = f"{each.weekday.capitalize()}, {each.hour} to {each.hour + 1}"
        says = f"{when}: {percent} percent of the canners' time booked"
        boxes.append(Box(x, y, wide - 2, high - 2, f"shade-{shade}", says))
        if percent:
            look = "middle on-dark" if shade > LAST_PALE else "middle"
            labels.append(Label(round(x + wide / 2 - 1, 2), y + 16, look, str(percent)))
    return Picture(
        "week",
        f"How much canners were booked, {numbers.from_on} to {numbers.to_on}",
        "Percent of the time of all canners that was booked, by hour and weekday.",
        int(top + len(hours) * high + 2),
        tuple(boxes),
        tuple(labels),
    )


class Harvested(NamedTuple):
    """Something harvested in pounds, and what of it can't be canned in time; None where its weight isn't known."""

    name: str
    pounds: float | None
    left_pounds: float
    why: str


def harvest(found: Sequence[Harvested]) -> Picture:
    """What of a harvest is canned in time and what isn't, food under food."""
    top, high = 30.0, 64.0
    most = max((each.pounds or 0 for each in found), default=0) or 1
    boxes: list[Box] = []
    labels: list[Label] = []
    for row, each in enumerate(found):
        y = top + row * high
        labels.append(Label(0, y + 14, "start", each.name[:40]))
        if each.pounds is None:
            labels.append(Label(0, y + 34, "start", "Weigh it: nothing published says what it weighs"))
            continue
        fits = max(0.0, each.pounds - each.left_pounds)
        split = round(WIDTH * fits / most, 2)
        if fits:
            boxes.append(Box(0, y + 20, split, 16, "put-up", f"{fits:.3g} lb of {each.name} in time"))
        if each.left_pounds:
            wide = round(WIDTH * min(each.left_pounds, each.pounds) / most, 2)
            boxes.append(
                Box(split, y + 20, wide, 16, "spoils", f"{each.left_pounds:.3g} lb of {each.name}: {each.why}")
            )
        rest = f", {each.left_pounds:.3g} lb not" if each.left_pounds else ""
        labels.append(Label(0, y + 50, "start", f"{fits:.3g} lb in time{rest}"))
    labels += _key(boxes, (("put-up", "canned in time"), ("spoils", "not in time")))
    late = [f"{each.left_pounds:.3g} lb of {each.name}" for each in found if each.left_pounds]
    return Picture(
        "harvest",
        "What is canned before it spoils",
        f"Not in time: {', '.join(late)}." if late else "Everything of known weight fits in before it spoils.",
        int(top + len(found) * high),
        tuple(boxes),
        tuple(labels),
    )


def _key(boxes: list[Box], looks: Sequence[tuple[str, str]]) -> list[Label]:
    """What each fill means, above the picture."""
    labels = []
    for place, (look, word) in enumerate(looks):
        x = place * 160.0 + 1
        boxes.append(Box(x, 2, 22, 12, look))
        labels.append(Label(x + 28, 13, "start", word))
    return labels
