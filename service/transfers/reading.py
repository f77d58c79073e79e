"""Rows out of a file somebody wrote by hand or saved from a spreadsheet: CSV (RFC 4180) or YAML."""

import csv
import io
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from pydantic import BaseModel, ValidationError

from service.checks.reading import NotPlainError, read_yaml
from service.web.problems import errors_in_body

LARGEST_FILE_BYTES = 10 * 1024 * 1024
MOST_ROWS = 10_000
FLAGS = {"yes": True, "true": True, "no": False, "false": False}

Cell = Callable[[str], Any]
"""What turns a cell's text into a value; it raises ValueError with what the cell should look like."""


class UnreadableError(Exception):
    """The file can't be read as rows; says why, for the person who wrote it."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One row: where it stands (a line of CSV, or the how-manyth of YAML) and what it says."""

    row: int
    values: Any


def rows(path: Path, cells: Mapping[str, Cell]) -> list[Sent]:
    """All rows of a file; `cells` are the columns a CSV file may have. Raises UnreadableError."""
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise UnreadableError(f"The file is larger than {LARGEST_FILE_BYTES} bytes.")
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        raise UnreadableError("The file can't be read as text in UTF-8.") from None
    found = _yaml(text) if path.suffix.lower() in {".yaml", ".yml", ".json"} else _csv(text, cells)
    if len(found) > MOST_ROWS:
        raise UnreadableError(f"The file has more than {MOST_ROWS} rows.")
    return found


def _yaml(text: str) -> list[Sent]:
    """A list."""
    try:
        sent = read_yaml(text)
    except NotPlainError as said:
        raise UnreadableError(str(said)) from None
    except (ValueError, RecursionError, yaml.YAMLError):
        raise UnreadableError("The file is neither YAML nor JSON.") from None
    if not isinstance(sent, list):
        raise UnreadableError("The file isn't a list.")
    return [Sent(number, values) for number, values in enumerate(sent, 1)]


def _csv(text: str, cells: Mapping[str, Cell]) -> list[Sent]:
    """A header and a line for each row; an empty cell says nothing."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        heads = [head.strip().lower() for head in next(reader, [])]
        unknown = sorted(set(heads) - set(cells))
        if not heads or unknown or len(set(heads)) < len(heads):
            raise UnreadableError(
                f"The first line names columns out of {', '.join(cells)}, each once"
                + (f"; unknown here: {', '.join(unknown)}." if unknown else ".")
            )
        found = []
        for line in reader:
            if any(cell.strip() for cell in line):
                found.append(Sent(reader.line_num, _values(line, heads, cells)))
    except csv.Error as wrong:
        raise UnreadableError(f"Line {reader.line_num} isn't CSV: {wrong}.") from None
    return found


def _values(line: list[str], heads: list[str], cells: Mapping[str, Cell]) -> dict[str, Any] | str:
    """A row's values, or what is wrong with it."""
    if len(line) > len(heads):
        return "has more cells than the first line"
    values = {}
    for head, cell in zip(heads, line, strict=False):
        if cell.strip():
            try:
                values[head] = cells[head](cell.strip())
            except ValueError as wrong:
                return f"{head}: {wrong}"
    return values


def read(sent: Sent, body: type[BaseModel]) -> tuple[Any, list[str]]:
    """A row as the body the API takes, or everything that is wrong with it."""
    if isinstance(sent.values, str):
        return None, [f"row {sent.row}: {sent.values}"]
    try:
        return body.model_validate(sent.values), []
    except ValidationError as wrong:
        said = errors_in_body(wrong, sent.values)
        return None, [
            f"row {sent.row}: {error['pointer'].removeprefix('#/') or 'row'}: {error['detail']}" for error in said
        ]


def whole(cell: str) -> int:
    """A whole number."""
    if not cell.isascii() or not cell.isdecimal():
        raise ValueError("a whole number is written in digits")
    return int(cell[:12])


def number(cell: str) -> float:
    """A number with a point."""
    try:
        return float(cell)
    except ValueError:
        raise ValueError("a number is written in digits, with a point") from None


def flag(cell: str) -> bool:
    """Yes or no."""
    if cell.lower() not in FLAGS:
        raise ValueError("write yes or no")
    return FLAGS[cell.lower()]


def several(cell: str) -> list[str]:
    """Texts with a semicolon or a line end between them."""
    return [part.strip() for part in cell.replace("\n", ";").split(";") if part.strip()]


def counts(cell: str) -> dict[str, int]:
    """How many of each: `half-pint 12; pint 9`."""
    found = {}
    for part in several(cell):
        name, _, count = part.rpartition(" ")
        if not name:
            raise ValueError("write a size and a number, like half-pint 12; pint 9")
        found[name.strip()] = whole(count)
    return found
