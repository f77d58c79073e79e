"""Checking a recipe file at the command line."""

from pathlib import Path
from typing import Any

import yaml
from pydantic import ValidationError

from service.checks import bodies, terminal
from service.checks.checking import check_recipe
from service.checks.reading import NotPlainError, read_json, read_yaml
from service.web.problems import errors_in_body

EXIT_STATUS = {"ready": 0, "revise": 1, "untested": 2, "unsafe": 2}
UNREADABLE = 3
LARGEST_FILE_BYTES = 64 * 1024


class UnreadableError(Exception):
    """The file isn't a recipe; says why, for the person who wrote it."""


def check_file(path: Path, altitude_ft: int | None, *, as_json: bool) -> tuple[str, int]:
    """What to print about this file, and the exit status; raises UnreadableError."""
    body = _recipe_in(path)
    if altitude_ft is None:
        altitude_ft = body.altitude_ft
    if altitude_ft is None:
        raise UnreadableError("Say at what altitude: --altitude-ft, or altitude_ft in the file.")
    answer = check_recipe(body, altitude_ft)
    text = (
        answer.model_dump_json(by_alias=True, indent=2) + "\n"
        if as_json
        else terminal.told(answer, body.title, altitude_ft)
    )
    return text, EXIT_STATUS[answer.verdict]


def _recipe_in(path: Path) -> bodies.RecipeCheckRequest:
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise UnreadableError(f"The file is larger than {LARGEST_FILE_BYTES} bytes.")
        sent: Any = _read(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError):
        raise UnreadableError("The file can't be read as text in UTF-8.") from None
    except NotPlainError as wrong:
        raise UnreadableError(str(wrong)) from None
    except (ValueError, RecursionError, yaml.YAMLError):
        raise UnreadableError("The file is neither YAML nor JSON.") from None
    try:
        return bodies.RecipeCheckRequest.model_validate(sent)
    except ValidationError as wrong:
        said = [f"{error['pointer']}: {error['detail']}" for error in errors_in_body(wrong, sent)]
        raise UnreadableError("\n".join(said)) from None


def _read(text: str) -> Any:
    """JSON where it looks like JSON; YAML otherwise."""
    if text.lstrip().startswith("{"):
        return read_json(text)
    return read_yaml(text)
