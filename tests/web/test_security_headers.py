"""What every answer says to a browser (OWASP, REST Security Cheat Sheet and Secure Headers Project, from memory)."""

import pytest
from fastapi.testclient import TestClient

from tests.web.everything import LINES, World

ALWAYS = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "cross-origin-resource-policy": "same-origin",
}


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)  # no header comes from a database
def test_every_answer_says_what_a_browser_may_do_with_it(client):
    world = World(client)
    for name, line in LINES.items():
        for token in (None, world.caller(line).token) if name.startswith("GET ") else (None,):
            got = line.call(world).ask(client, name.split()[0], token)
            assert {header: got.headers.get(header) for header in ALWAYS} == ALWAYS, name
            policy = got.headers["content-security-policy"]
            assert policy.startswith("default-src 'none'"), name
            assert "unsafe-eval" not in policy, name
            assert got.headers["referrer-policy"] in {"no-referrer", "same-origin"}, name
            assert "cache-control" in got.headers, name
            assert "access-control-allow-origin" not in got.headers, name
            assert "server" not in got.headers, name
            private = line.access != "anyone" and "public" in got.headers["cache-control"]
            assert not private, name


def test_only_what_came_by_tls_asks_for_tls_from_now_on(client):
    by_tls = TestClient(client.app, base_url="https://testserver").get("/healthz")
    assert by_tls.headers["strict-transport-security"] == "max-age=31536000"
    assert "strict-transport-security" not in client.get("/healthz").headers
