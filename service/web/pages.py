"""Lists in pages: how many are asked for, where the next page starts, and the link to it."""

import hmac
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode
from binascii import Error as NotBase64Error
from collections.abc import Callable, Sequence
from functools import cache
from typing import Annotated, Any, TypeVar
from urllib.parse import urlencode

from fastapi import Depends, Request, Response
from pydantic import Field, TypeAdapter, ValidationError

from service.web.problems import Problem
from service.web.types import WholeQuery

T = TypeVar("T")
MARK_BYTES = 16
_WRITTEN = TypeAdapter(Any)

Limit = Annotated[WholeQuery, Field(ge=1, le=200)]
CursorText = Annotated[str, Field(max_length=2000)]


class Asked:
    """One page of a list, as a caller asked for it. Stores fetch `limit + 1` rows that come after `after(…)`."""

    def __init__(self, request: Request, response: Response, limit: int, cursor: str | None) -> None:
        """Remember the request, whose path and filters a cursor belongs to."""
        self.limit = limit
        self.cursor = cursor
        self.response = response
        self.path: str = request.scope["path"]
        self.key: Callable[[], bytes] = request.app.state.cursor_key
        self.filters = [(name, value) for name, value in request.query_params.multi_items() if name != "cursor"]

    def after(self, *kinds: Any) -> tuple[Any, ...] | None:
        """The place where this page starts, as values of these types; `None` for the first page."""
        if self.cursor is None:
            return None
        try:
            mark_and_place = urlsafe_b64decode(self.cursor.encode("ascii"))
            mark, place = mark_and_place[:MARK_BYTES], mark_and_place[MARK_BYTES:]
            if not hmac.compare_digest(mark, self._mark(place)) or self._written(place) != self.cursor:
                raise ValueError("not ours")
            found: tuple[Any, ...] = _read(kinds).validate_json(place)
        except (NotBase64Error, ValidationError, ValueError):
            raise Problem("bad-cursor", "The cursor isn't one this list gave out.") from None
        return found

    def page(self, rows: Sequence[T], place: Callable[[T], tuple[Any, ...]]) -> tuple[list[T], str | None]:
        """Cut the rows to one page; the cursor holds the place (sort key, then id) of its last row."""
        kept = list(rows[: self.limit])
        if len(rows) <= self.limit:
            return kept, None
        cursor = self._written(_WRITTEN.dump_json(place(kept[-1])))
        query = urlencode([*self.filters, ("cursor", cursor)])
        self.response.headers["Link"] = f'<{self.path}?{query}>; rel="next"'
        return kept, cursor

    def _written(self, place: bytes) -> str:
        return urlsafe_b64encode(self._mark(place) + place).decode()

    def _mark(self, place: bytes) -> bytes:
        """A signature over the place, the list and its filters: a cursor is good for its own list alone."""
        filters = sorted(pair for pair in self.filters if pair[0] != "limit")
        signed = json.dumps([self.path, filters, place.decode()]).encode()
        return hmac.digest(self.key(), signed, "sha256")[:MARK_BYTES]


@cache  # an adapter takes as long to make as a page to read
def _read(kinds: tuple[Any, ...]) -> TypeAdapter[tuple[Any, ...]]:
    return TypeAdapter(tuple[kinds])  # type: ignore[valid-type]


async def asked(request: Request, response: Response, limit: Limit = 50, cursor: CursorText | None = None) -> Asked:
    """Read which page is asked for."""
    return Asked(request, response, limit, cursor)


Page = Annotated[Asked, Depends(asked)]
