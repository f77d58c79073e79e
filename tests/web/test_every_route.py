"""What holds for every route there is: a new one can't be forgotten."""

import re

from fastapi.routing import APIRoute

from service.app import ROUTERS
from service.web.callers import access_of

NOBODY = "b43f6dbf-b95f-4e9a-b885-7b5b399e584a"
ROUTES = [
    (route, method)
    for router in ROUTERS
    for route in router.routes
    if isinstance(route, APIRoute)
    for method in sorted(route.methods)
]
WITH_A_BODY = [(route, method) for route, method in ROUTES if route.body_field is not None]
RANK = {"anyone": 0, "member": 1, "trainer": 2, "coordinator": 3}
HEADERS_OF_THE_MOMENT = {"x-request-id", "ratelimit"}


def path_of(route):
    return re.sub(r"\{[^}]*\}", NOBODY, route.path)


def call(client, route, method, headers=None, **more):
    return client.request(method, path_of(route), headers=headers, **more)


def writing_headers(client):
    return {**client.coordinator.headers, "Content-Type": "application/json", "If-Match": '"1"'}


def test_only_those_a_route_is_for_get_in(client):
    callers = {1: client.member, 2: client.trainer, 3: client.coordinator}
    for route, method in ROUTES:
        where = f"{method} {route.path}"
        needed = RANK[access_of(route)]
        anonymous = call(client, route, method)
        assert (anonymous.status_code == 401) == (needed > 0), where
        assert needed == 0 or anonymous.headers["www-authenticate"] == 'Bearer realm="kitchen"', where
        for rank, person in callers.items():
            answer = call(client, route, method, person.headers)
            assert answer.status_code not in {401, 500}, where
            refused = answer.status_code == 403 and answer.json()["code"] == "role-needed"
            assert refused == (rank < needed), where


def test_a_bad_token_gets_nowhere(client):
    tokens = ["Bearer", "Bearer x", "Basic YTpi", "Bearer a.b.c", f"Bearer {NOBODY}.secret", "Bearer \u00e9.\u00e9"]
    for route, method in ROUTES:
        if route.path in {"/healthz", "/readyz", "/metrics"}:  # these look at nobody
            continue
        for token in tokens:
            answer = call(client, route, method, {"Authorization": token.encode("latin-1")})
            assert (answer.status_code, answer.json()["code"]) == (401, "token-refused"), f"{method} {route.path}"
            assert 'error="invalid_token"' in answer.headers["www-authenticate"]


def test_head_is_get_without_the_body(client):
    for route, method in ROUTES:
        if method != "GET":
            continue
        read = call(client, route, "GET", client.coordinator.headers)
        head = call(client, route, "HEAD", client.coordinator.headers)
        assert (head.status_code, head.content) == (read.status_code, b""), route.path
        same = {name: value for name, value in read.headers.items() if name not in HEADERS_OF_THE_MOMENT}
        seen = {name: value for name, value in head.headers.items() if name not in HEADERS_OF_THE_MOMENT}
        assert seen == same, route.path


def test_allow_lists_every_method_of_the_path(client):
    for path in sorted({path_of(route) for route, _ in ROUTES}):
        answer = client.request("TRACE", path)
        assert answer.status_code == 405, path
        methods = {method for route, method in ROUTES if route.path_regex.match(path)}
        assert set(answer.headers["allow"].split(", ")) == methods | ({"HEAD"} if "GET" in methods else set()), path


def test_an_unknown_parameter_is_refused(client):
    for route, method in ROUTES:
        answer = client.request(method, f"{path_of(route)}?colour=blue", headers=client.coordinator.headers)
        assert answer.status_code == 422, f"{method} {route.path}"
        assert "colour" not in answer.text


def test_a_body_that_is_none_is_refused(client):
    unreadable = [b"{", b"\xff\xfe", b"[" * 60_000, b"1" * 5000]
    shapeless = [b"NaN", b"1e999", b"null", b'"text"', b'{"surely-unknown": 1}', b'{"surely-unknown": NaN}']
    for route, method in WITH_A_BODY:
        for status, bodies in {400: unreadable, 422: shapeless}.items():
            for body in bodies:
                answer = call(client, route, method, writing_headers(client), content=body)
                assert answer.status_code == status, f"{method} {route.path} {body[:30]!r}"
                assert b"surely-unknown" not in answer.content


def test_a_body_that_is_too_large_is_refused_announced_or_not(client):
    large = b" " * (3 * 1024 * 1024)
    for route, method in WITH_A_BODY:
        chunks = (large[at : at + 65536] for at in range(0, len(large), 65536))
        for content in (large, chunks):
            answer = call(client, route, method, writing_headers(client), content=content)
            assert (answer.status_code, answer.json()["code"]) == (413, "too-large"), f"{method} {route.path}"


def test_a_body_that_is_not_json_is_refused(client):
    for route, method in WITH_A_BODY:
        for kind in ("text/plain", "application/x-www-form-urlencoded", "application/jsonp", ""):
            headers = {**writing_headers(client), "Content-Type": kind}
            answer = call(client, route, method, headers, content=b"{}")
            assert (answer.status_code, answer.headers["accept"]) == (415, "application/json"), route.path
