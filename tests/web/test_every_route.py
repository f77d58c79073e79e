"""What holds for every route there is: a new one can't be forgotten."""

import re
from itertools import cycle, islice

from fastapi.routing import APIRoute

from service.app import ROUTERS
from service.core.roles import Scope
from service.web.callers import access_of, scopes_of
from tests import make
from tests.web import everything
from tests.web.everything import LINES, SCOPES, World

NOBODY = "b43f6dbf-b95f-4e9a-b885-7b5b399e584a"
ROUTES = [
    (route, method)
    for router in ROUTERS
    for route in router.routes
    if isinstance(route, APIRoute)
    for method in sorted(route.methods)
]
WITH_A_BODY = [(route, method) for route, method in ROUTES if route.body_field is not None]
WITH_NO_FIELDS = [
    (route, method)
    for route, method in ROUTES
    if method != "GET" and route.body_field is None and route.takes == "application/json"
]
UNASKED = {"/healthz", "/readyz", "/metrics"}  # these look at nobody
RANK = {"anyone": 0, "member": 1, "trainer": 2, "coordinator": 3}
HEADERS_OF_THE_MOMENT = {"x-request-id", "ratelimit"}


def path_of(route):
    return re.sub(r"\{[^}]*\}", NOBODY, route.path)


def call(client, route, method, headers=None, **more):
    return client.request(method, path_of(route), headers=headers, **more)


def writing_headers(client):
    return {**client.coordinator.headers, "Content-Type": "application/json", "If-Match": '"1"'}


def test_every_route_has_its_line_and_asks_for_what_the_line_says():
    assert set(LINES) == set(everything.ROUTES)
    for name, line in LINES.items():
        route = everything.ROUTES[name]
        assert access_of(route) == line.access, name
        if line.access != "anyone":
            assert scopes_of(route) == SCOPES[line.scope], name


def test_every_line_lets_in_whom_it_says_and_nobody_else(client):
    """Each route, as called by everybody: what is Ada's isn't there for others. The refused ask first.

    What a token is good for is judged before any route and whatever the database: each route meets some of the bad
    ones in turn, and on PostgreSQL one of the narrow ones.
    """
    world = World(client)
    on_sqlite = client.app.state.database.writer.dialect.name == "sqlite"
    bad = cycle(bad_tokens(world).items())
    narrow = {
        (person.id, scope): world.scoped(person, scope)
        for person in (world.ada, client.trainer, world.cora)
        for scope in set(Scope) - {Scope.EVERYTHING}
    }
    calls, wrong = 0, []

    for name, line in LINES.items():
        method, template = name.split()
        call, needed, caller = line.call(world), RANK[line.access], world.caller(line)

        def answered(token, method=method, call=call):
            nonlocal calls
            calls += 1
            version = {"if_match": '"1"'} if method in {"PUT", "PATCH", "DELETE"} else {}
            got = call.ask(client, method, token, **version)
            return got.status, got.code

        def expect(holds, *seen, name=name):
            wrong.extend([] if holds else [(name, *seen)])

        if needed:
            seen = answered(None)
            expect(seen == (401, "token-needed"), "nobody", seen)
        for what, token in islice(bad, 2 if on_sqlite else 1) if template not in UNASKED else ():
            seen = answered(token)
            expect(seen == (401, "token-refused"), what, seen)
        elsewhere = needed and (line.here or "{" in template.replace("{day}", ""))
        for rank, person in ((1, client.other), (2, client.trainer), (3, client.stranger)):
            seen = answered(person.token)
            if rank < needed:
                expect(seen == (403, "role-needed"), person.name, seen)
            elif (person is client.stranger and elsewhere) or (line.adas and not (rank == 2 and line.trainers)):
                expect(seen[0] == 404, person.name, seen)
            else:
                expect(seen[0] == line.done or seen[0] not in {401, 403, 404, 500, 503}, person.name, seen)
        others = sorted(set(Scope) - SCOPES[line.scope]) if needed else []
        for scope in others if on_sqlite else others[:1]:
            seen = answered(narrow[caller.id, scope])
            expect(seen == (403, "scope-needed"), scope, seen)
        seen = answered(caller.token, call=line.call(world))
        expect(seen[0] in {200, 201, 202, 204, 303, line.done} or seen == (412, "stale"), caller.name, seen)
        for scope in SCOPES[line.scope] - {Scope.EVERYTHING} if needed else ():
            seen = answered(narrow[caller.id, scope])
            expect(seen[0] < 500 and seen[0] not in {401, 403, 404}, scope, seen)
        if needed and caller is not world.cora:
            seen = answered(world.cora.token)
            expect(seen[0] < 500 and (seen[0] in {403, 404}) != line.cora, "Cora", seen)
    assert not wrong, "\n".join(map(str, wrong))
    assert calls > 6 * len(LINES)


def test_no_list_shows_what_is_somebody_elses(client):
    world = World(client)
    lists = [name for name in LINES if name.startswith("GET /v1/") and "{" not in name.replace("{day}", "")]
    paths = {name: LINES[name].call(world).path for name in lists} | {"her pantry": "/v1/members/me/pantry"}
    shown = set()
    for name, path in paths.items():
        for person in (client.other, client.trainer, client.stranger, client.member):
            text = client.get(path, headers=person.headers).text
            hers = {each for each in world.adas if each in text}
            if person is client.member:
                shown |= hers
            elif name != "GET /v1/holds":
                assert not hers, (name, person.name)
    assert shown == set(world.adas)


def bad_tokens(world):
    """Malformed, unknown, with another's secret, revoked, expired, and that of somebody who left."""
    client, token_id = world.client, world.ada.token.partition(".")[0]
    revoked = world.token()
    path = f"/v1/members/{world.ada.id}/tokens/{revoked['id']}/revocation"
    assert world.post(path, None, world.cora).status_code == 200
    with make.session(client.app.state.database) as session:
        _, expired = make.member(session, world.ada.kitchen_id, expires_at=client.clock.at)
        gone, left = make.member(session, world.ada.kitchen_id)
    assert world.post(f"/v1/members/{gone.id}/departure", {}, world.cora).status_code == 200
    return {
        "malformed": "x",
        "unknown": f"{NOBODY}.{'a' * 43}",
        "another's secret": f"{token_id}.{world.bo.token.partition('.')[2]}",
        "revoked": revoked["token"],
        "expired": expired,
        "left": left,
    }


def test_a_malformed_token_gets_nowhere(client):
    tokens = ["Bearer", "Bearer x", "Basic YTpi", "Bearer a.b.c", f"Bearer {NOBODY}.secret", "Bearer \u00e9.\u00e9"]
    for token in tokens:
        answer = client.get("/v1/members/me", headers={"Authorization": token.encode("latin-1")})
        assert (answer.status_code, answer.json()["code"]) == (401, "token-refused"), token
        assert answer.headers["www-authenticate"] == 'Bearer realm="kitchen", error="invalid_token"'


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


def test_a_parameter_stands_once(client):
    for query in ("limit=1&limit=2", "limit=1&cursor=&limit=1"):
        answer = client.get(f"/v1/bookings?{query}", headers=client.member.headers)
        assert (answer.status_code, answer.json()["errors"][0]["code"]) == (422, "repeated")


def test_a_body_that_is_none_is_refused(client):
    unreadable = [b"{", b"\xff\xfe", b"[" * 60_000, b"1" * 5000, b'{"a": 1, "\\u0061": 2}', "{}".encode("utf-16")]
    shapeless = [b"NaN", b"1e999", b"null", b'"text"', b'{"surely-unknown": 1}', b'{"surely-unknown": NaN}']
    for route, method in WITH_A_BODY:
        for status, bodies in {400: unreadable, 422: shapeless}.items():
            for body in bodies:
                answer = call(client, route, method, writing_headers(client), content=body)
                assert answer.status_code == status, f"{method} {route.path} {body[:30]!r}"
                assert b"surely-unknown" not in answer.content


def test_what_is_said_to_an_act_without_fields_is_not_passed_over(client):
    assert WITH_NO_FIELDS
    for route, method in WITH_NO_FIELDS:
        for status, bodies in {400: (b"{", b"cancel it"), 422: (b'{"surely-unknown": 1}', b"[]", b"0")}.items():
            for body in bodies:
                answer = call(client, route, method, writing_headers(client), content=body)
                assert answer.status_code == status, f"{method} {route.path} {body!r}"
                assert b"surely-unknown" not in answer.content
        for body in (b"", b"{}", b"null"):
            answer = call(client, route, method, writing_headers(client), content=body)
            assert answer.status_code not in {400, 422}, f"{method} {route.path} {body!r}"


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


def test_a_body_has_one_kind_and_is_not_packed(client):
    plain = {**client.coordinator.headers, "Content-Type": "application/json"}
    for more in (("Content-Type", "text/plain"), ("Content-Encoding", "gzip")):
        answer = client.post("/v1/members", headers=[*plain.items(), more], content=b'{"name": "Dee"}')
        assert answer.status_code == 415, more
