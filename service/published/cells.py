"""A row of a data file, read cell by cell; what can't be a figure is refused with the file and the row."""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from service.core.measures.bounds import Bounds
from service.core.rules.facts import Band

_BAND = re.compile(r"(\d+)(?:-(\d+)|\+)")


@lru_cache(maxsize=4096)
def _exactly(text: str) -> Fraction:
    whole, _, part = text.partition(" ")
    return Fraction(whole) + Fraction(part) if part else Fraction(whole)


class BadFigure(ValueError):
    """A data file holds something that can't be a published figure; the service doesn't start with it."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a data file. `number` is the row as an editor shows it, the heading of a table being row 1."""

    file: str
    number: int
    cells: Mapping[str, Any]

    def bad(self, what: str) -> BadFigure:
        return BadFigure(f"{self.file}, row {self.number}: {what}")

    def within(self, cells: Mapping[str, Any]) -> "Row":
        """Something that stands inside this row: a bad figure there is this row's."""
        return Row(self.file, self.number, cells)

    def text(self, name: str) -> str:
        """What stands in the cell; an empty string where nothing does."""
        value = self.cells.get(name)
        if value is None:
            return ""
        if not isinstance(value, str):
            raise self.bad(f"{name} is not text")
        return value

    def required(self, name: str) -> str:
        value = self.text(name)
        if not value:
            raise self.bad(f"{name} is missing")
        return value

    def word(self, name: str, known: Collection[str]) -> str:
        value = self.required(name)
        if value not in known:
            raise self.bad(f"{name} is not a known word: {value}")
        return value

    def words(self, name: str, known: Collection[str]) -> tuple[str, ...]:
        """Words in one cell, parted by spaces; at least one, none twice."""
        values = tuple(self.required(name).split())
        for value in values:
            if value not in known:
                raise self.bad(f"{name} has an unknown word: {value}")
        if len(set(values)) < len(values):
            raise self.bad(f"{name} names one twice")
        return values

    def list(self, name: str) -> tuple[Any, ...]:
        value = self.cells.get(name) or []
        if not isinstance(value, list):
            raise self.bad(f"{name} is not a list")
        return tuple(value)

    def texts(self, name: str) -> tuple[str, ...]:
        values = self.list(name)
        if not all(isinstance(value, str) and value for value in values):
            raise self.bad(f"{name} holds something that is not text")
        return values

    def flag(self, name: str) -> bool:
        value = self.cells.get(name, False)
        if not isinstance(value, bool):
            raise self.bad(f"{name} is neither true nor false")
        return value

    def whole(self, name: str) -> int:
        return self._whole(name, str(self.cells.get(name, "")))

    def _whole(self, name: str, value: str) -> int:
        if not re.fullmatch(r"\d{1,6}", value, re.ASCII):
            raise self.bad(f"{name} is not a whole number")
        return int(value)

    def fraction(self, name: str) -> Fraction | None:
        """An amount written as 5, 0.25 or 5 1/2, exactly; None where the cell is empty."""
        value = self.cells.get(name)
        if value is None or value == "":
            return None
        return self._fraction(name, str(value))

    def _fraction(self, name: str, value: str) -> Fraction:
        if "-" in value:
            raise self.bad(f"{name} is negative")
        try:
            return _exactly(value)
        except (ValueError, ZeroDivisionError):
            raise self.bad(f"{name} is not a number") from None

    def bounds(self, low: str, high: str) -> Bounds | None:
        """The figures of two cells; without the upper one nothing is known to end it, without both nothing is known."""
        least, most = self.fraction(low), self.fraction(high)
        if least is None and most is None:
            return None
        least = least or Fraction(0)
        if most is not None and most < least:
            raise self.bad(f"{high} is below {low}")
        return Bounds(least, most)

    def share(self, low: str, high: str) -> Bounds | None:
        """The percents of two cells as a share from 0 to 1, which also ends what has no upper cell."""
        percents = self.bounds(low, high)
        if percents is None:
            return None
        most = Fraction(100) if percents.high is None else percents.high
        if most > 100:
            raise self.bad(f"{high} is more than everything")
        return Bounds(percents.low / 100, most / 100)

    def band(self, name: str, value: str) -> Band:
        """An altitude band as printed: 0-1000, or 6001+ where nothing ends it."""
        match = _BAND.fullmatch(value)
        if match is None:
            raise self.bad(f"{name} has no altitude band in {value}")
        low = int(match[1])
        high = int(match[2]) if match[2] else None
        if high is not None and high < low:
            raise self.bad(f"{name} has a band that ends before it starts: {value}")
        return Band(low, high)

    def by_band(self, name: str) -> tuple[tuple[Band, int], ...]:
        """Figures by altitude, as in 0-1000:20 1001-3000:25, from sea level up without gap or overlap."""
        figures: list[tuple[Band, int]] = []
        next_ft: int | None = 0
        for printed in self.required(name).split():
            text, _, figure = printed.partition(":")
            band = self.band(name, text)
            if next_ft is None or band.low_ft < next_ft:
                raise self.bad(f"{name} has overlapping bands at {text}")
            if band.low_ft > next_ft:
                raise self.bad(f"{name} has a gap before {text}")
            figures.append((band, self._whole(name, figure)))
            next_ft = None if band.high_ft is None else band.high_ft + 1
        return tuple(figures)

    def by_jar(self, name: str, printed: Collection[str], known: Collection[str]) -> dict[str, Fraction]:
        """Amounts by jar size, as in pint:1/4 quart:1/2."""
        amounts: dict[str, Fraction] = {}
        for pair in printed:
            size, _, amount = pair.partition(":")
            if size not in known:
                raise self.bad(f"{name} has an unknown jar size: {size}")
            amounts[size] = self._fraction(name, amount)
        return amounts
