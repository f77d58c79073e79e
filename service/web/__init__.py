"""What a route may ask for: who is there, sessions, pages, versions; and how the service says no."""

from service.web.callers import (
    Caller,
    Coordinator,
    CostMore,
    Member,
    Now,
    OpenToAll,
    OptionalMember,
    Trainer,
    also_for,
)
from service.web.etags import UNCHANGED, IfMatch, stale, tag
from service.web.looking import Looking
from service.web.pages import Asked, Page
from service.web.problems import Problem, problems
from service.web.routing import KIB, MIB, Routes, takes_up_to
from service.web.sessions import Reading, Writing

__all__ = [
    "KIB",
    "MIB",
    "UNCHANGED",
    "Asked",
    "Caller",
    "Coordinator",
    "CostMore",
    "IfMatch",
    "Looking",
    "Member",
    "Now",
    "OpenToAll",
    "OptionalMember",
    "Page",
    "Problem",
    "Reading",
    "Routes",
    "Trainer",
    "Writing",
    "also_for",
    "problems",
    "stale",
    "tag",
    "takes_up_to",
]
