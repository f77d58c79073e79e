"""A "no" of the kitchen, as a value."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Refused:
    """Why something may not be done, in words a member can act on.

    `code` is one of the catalogue of problems, `extra` what a client needs beside it (`next_free_at` ...).
    """

    code: str
    detail: str
    extra: Mapping[str, object] = field(default_factory=dict)
