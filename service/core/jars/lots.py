"""Lot codes and best-by dates: what stands on the label of every jar."""

import calendar
from datetime import date

from service.core.refusals import Refused

SYMBOLS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
DEFAULT_MONTHS = 12  # UC Master Food Preservers, "Canning: storing"
MOST_MONTHS = 18  # from memory


def check_character(text: str) -> str:
    """The character that makes every misread character show, and nearly every swap: ISO/IEC 7064, MOD 37,36."""
    product = 36
    for character in text:
        product = (product + SYMBOLS.index(character)) % 36 or 36
        product = product * 2 % 37
    return SYMBOLS[(1 - product) % 36]


def lot_code(made_on: date, number: int) -> str:
    """The day, the number of the kitchen's lot on that day, and a check character: `270814-01-P`."""
    day, counted = f"{made_on:%y%m%d}", f"{number:02d}"
    return f"{day}-{counted}-{check_character(day + counted)}"


def read_code(written: str) -> str | None:
    """The lot code a person meant, in whatever case and with or without hyphens; None where it can't be one."""
    plain = written.upper().replace("-", "").replace(" ", "")
    if len(plain) < 9 or not plain.isascii() or not plain[:-1].isdigit() or plain[-1] not in SYMBOLS:
        return None
    if check_character(plain[:-1]) != plain[-1]:
        return None
    return f"{plain[:6]}-{plain[6:-1]}-{plain[-1]}"


def best_by(made_on: date, months: int = DEFAULT_MONTHS) -> date | Refused:
    """The same day so many calendar months on; the month's last day where it has no such day."""
    if not 1 <= months <= MOST_MONTHS:
        return Refused("not-possible", f"Jars are best within {MOST_MONTHS} months at most.")
    year, month = divmod(made_on.year * 12 + made_on.month - 1 + months, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, min(made_on.day, last))
