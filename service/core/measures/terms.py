"""The words of the trade that code chooses among."""

from enum import StrEnum


class Term(StrEnum):
    """One of a few words: a role, a dimension, a severity."""

    # They are looked up at every turn, and Enum's own is written in Python: three times as long.
    __hash__ = str.__hash__
