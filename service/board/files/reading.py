"""The style, the script and the marks of the pages, as they stand in this folder."""

import hashlib
from functools import lru_cache
from importlib.resources import files


@lru_cache
def text(name: str) -> str:
    """One of the files beside this module."""
    return (files(__package__) / name).read_text(encoding="utf-8")


@lru_cache
def mark(name: str) -> str:
    """What changes when the file does."""
    return hashlib.sha256(text(name).encode()).hexdigest()[:16]
