"""Finding a route by the first words of its path finds what trying one after another would."""

import re
from collections.abc import Iterator
from types import SimpleNamespace

import pytest
from starlette.exceptions import HTTPException
from starlette.routing import Match

from service.app import ROUTERS
from service.web.routing import Directory
from tests.web.everything import LINES

ODD = [
    "", "/", "//", "/v1", "/v1/", "/v1//", "//v1/members", "/V1/members", "/v1/members/", "/v1/members//pantry",
    "/v1/*", "/lots", "/lots/", "/lots/*", "/lots/a/b", "/lots/recalls", "/problems/*", "/problems//", "/board/",
    "/*/*", "v1/members",
]  # fmt: skip


class Router:
    """All routes, in their order; what the directory doesn't find comes here."""

    def __init__(self) -> None:
        self.routes = [route for router in ROUTERS for route in router.routes]
        self.left: list[str] = []

    async def app(self, scope, _receive, _send) -> None:
        self.left.append(scope["path"])

    def first(self, scope, match=Match.FULL) -> str | None:
        """The route that trying one after another comes to."""
        found = (route for route in self.routes if route.matches(dict(scope))[0] is match)
        return next((route.name for route in found), None)


@pytest.fixture
def led(monkeypatch):
    """Where the directory leads a request: the name of a route, the router's own way, or nowhere."""
    router, seen = Router(), []

    async def handle(self, scope, _receive, _send):
        seen.append((self.name, scope["route"].name, scope["endpoint"], scope["path_params"]))

    for kind in {type(route) for route in router.routes}:
        monkeypatch.setattr(kind, "handle", handle)
    directory = Directory(router)

    def leads(scope) -> SimpleNamespace:
        seen.clear()
        router.left.clear()
        run = directory(scope, None, None)
        with pytest.raises((StopIteration, HTTPException)) as end:
            run.send(None)
        nowhere = isinstance(end.value, HTTPException) and end.value.status_code == 404
        return SimpleNamespace(name=seen[0][0] if seen else None, left=list(router.left), nowhere=nowhere)

    return router, leads


def paths() -> Iterator[str]:
    for name in LINES:
        template = name.partition(" ")[2]
        yield re.sub(r"\{[^}]*\}", "an-id", template)
        yield re.sub(r"\{[^}]*\}", "recalls", template)
    yield from ODD


@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "PATCH", "DELETE", "TRACE"])
def test_a_path_leads_where_trying_one_route_after_another_leads(led, method):
    router, leads = led
    found = 0
    for path in sorted(set(paths())):
        scope = {"type": "http", "method": method, "path": path, "headers": [], "query_string": b""}
        name = router.first(scope)
        there = leads(scope)
        assert there.name == name, (method, path)
        otherwise = router.first(scope, Match.PARTIAL) if name is None else None
        assert there.left == ([path] if otherwise else []), "what takes other methods goes the router's own way, once"
        assert there.nowhere is (name is None and otherwise is None)
        found += name is not None
    assert method == "TRACE" or found
