"""Whatever can be changed has a version: of two who read it and write at once, one is told."""

import json
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from service.web.contract import depends_on
from service.web.etags import if_match
from tests.test_contract import COMMITTED
from tests.web.asking import ask
from tests.web.everything import LINES, ROUTES, World

CHANGES = [name for name in ROUTES if name.split()[0] in {"PUT", "PATCH", "DELETE"}]


def test_every_change_asks_for_a_version_and_can_be_read_with_one():
    assert CHANGES
    for name in CHANGES:
        assert depends_on(if_match, ROUTES[name].dependant), name
        assert f"GET {name.split()[1]}" in ROUTES, name


def test_that_a_reader_has_it_already_is_documented_where_it_can_be_answered(client):
    world, paths = World(client), json.loads(COMMITTED.read_text(encoding="utf-8"))["paths"]
    for name, line in LINES.items():
        method, _, path = name.partition(" ")
        if method == "GET" and path in paths:
            shown = line.call(world).ask(client, method, world.caller(line).token)
            assert ("etag" in shown.headers) == ("304" in paths[path]["get"]["responses"]), name


def test_of_two_who_change_the_same_at_once_one_is_told(client):
    world = World(client)
    for name in CHANGES:
        method, call, token = name.split()[0], LINES[name].call(world), world.cora.token

        def change(body, version=None, method=method, call=call, token=token):
            header = {"if_match": version} if version else {}
            return ask(client, method, call.path, token, body, **header)

        read = ask(client, "GET", call.path, token)
        version = read.headers["etag"]
        assert (change(call.body).status, change(call.body).code) == (428, "version-needed"), name
        for stale in ('"999999"', f"W/{version}", "*", '""', "x", f'{version}, "7"'):
            assert (change(call.body, stale).status, change(call.body, stale).code) == (412, "stale"), (name, stale)
        assert ask(client, "GET", call.path, token).content == read.content, name

        together = Barrier(2)

        def at_once(body, change=change, version=version, together=together):
            together.wait()
            return change(body, version)

        with ThreadPoolExecutor(2) as pool:
            both = sorted(pool.map(at_once, (call.body, call.other)), key=lambda each: each.status)
        assert both[0].status in {200, 204}, name
        after = ask(client, "GET", call.path, token)
        if method == "DELETE":
            assert (both[1].status, after.status) == (404, 404), name
            continue
        assert (both[1].status, both[1].code) == (412, "stale"), name
        assert after.headers["etag"] == both[0].headers["etag"] != version, name
        unchanged = ask(client, "GET", call.path, token, if_none_match=after.headers["etag"])
        assert (unchanged.status, unchanged.content) == (304, b""), name
        kept = {key: value for key, value in both[0].json.items() if key != "displaced"}
        assert kept == after.json, name
