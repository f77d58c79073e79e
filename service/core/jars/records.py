"""How long a batch's record is kept, and how its words stand in a table that others open."""

from datetime import date

KEPT_YEARS = 3  # 21 CFR 114.100 (e): three years from the date of manufacture
_FORMULAS = ("=", "+", "-", "@", "\t", "\r", "\n")


def kept_until(made_on: date) -> date:
    """The first day on which a record of that day is no longer asked for; nothing is deleted earlier, nor by itself."""
    year = made_on.year + KEPT_YEARS
    leaps = made_on.month == 2 and made_on.day == 29
    return date(year, 3, 1) if leaps else made_on.replace(year=year)


def cell(value: object) -> str:
    """A value as a cell of a table; a text that a spreadsheet would take for a formula gets an apostrophe before it."""
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if value.lstrip(" ").startswith(_FORMULAS) else value
    return str(value)
