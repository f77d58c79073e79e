"""Versions on the wire: the ETag of an answer, and the version a change is meant for."""

import re
from typing import Annotated, Any

from fastapi import Depends, Header, Request, Response

from service.web.problems import Problem

UNCHANGED: dict[int | str, dict[str, Any]] = {304: {"description": "The reader has it already: `If-None-Match`."}}
"""What a GET may answer that shows an ETag, for its contract."""

_ETAG = re.compile(r'"([1-9][0-9]{0,8})"')


def tag(response: Response, version: int) -> None:
    """Put a version into the answer's ETag."""
    response.headers["ETag"] = f'"{version}"'


def stale() -> Problem:
    """Say that somebody else was first."""
    return Problem("stale", "It was changed since it was read.")


async def if_match(request: Request, header: Annotated[str | None, Header(alias="If-Match")] = None) -> int:
    """Read the version a change is meant for: needed, and one we could have given out.

    Whoever sends `*` or a list hasn't said what they have seen: for them it is stale, and so is a weak tag (RFC 9110).
    """
    if header is None:
        raise Problem("version-needed", "A change needs If-Match with the ETag that was read.")
    found = _ETAG.fullmatch(", ".join(request.headers.getlist("if-match")).strip())
    if found is None:
        raise stale()
    return int(found[1])


IfMatch = Annotated[int, Depends(if_match)]


def unchanged(if_none_match: str | None, etag: str | None) -> bool:
    """Whether a reader already has what it would get."""
    if not if_none_match or not etag:
        return False
    known = {each.strip().removeprefix("W/") for each in if_none_match.split(",")}
    return etag in known or known == {"*"}
