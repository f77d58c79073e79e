"""Text that would be a command elsewhere is text here: in every field of every body, in every path and query."""

import copy
import csv
import io
import json
from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy import inspect

from tests.test_contract import COMMITTED
from tests.web.asking import ask
from tests.web.everything import LINES, World, writes

COMPUTED = str(9091 * 8803)
SQL = "'; DROP TABLE member; --{{9091*8803}}${9091*8803}<%=9091*8803%>#{9091*8803}"
MARKUP = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>\u202e\ufeff\U0001f9d1\u200d\U0001f33e"
FORMULAS = ("=1+1", "@SUM(1)", "+1+1", "-1+1", " =1+1", "\uff1d1+1")
HOSTILE = [SQL + MARKUP, "a\x00b"]
PATHS = ["%00", "%2e%2e%2fkitchen", "%ff%fe", "%27%20OR%201=1--", "%20" * 900, "%0d%0aX-Injected:%201", "9" * 40]
QUERIES = ["%00", "%27%20OR%201=1--", "a" * 3000]
AS_CSV = {"GET /v1/batch-records/table"}


def contract() -> dict[str, Any]:
    """The contract as it is committed, which another test holds to the service's own."""
    return dict(json.loads(COMMITTED.read_text(encoding="utf-8")))


def texts(document: dict[str, Any], schema: dict[str, Any], value: Any, at: tuple[Any, ...] = ()) -> Iterator[Any]:
    """Where the contract takes free text in a body, whether this one has it or not."""
    if "$ref" in schema:
        schema = document["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    for kind in schema.get("anyOf", schema.get("oneOf", ())):
        yield from texts(document, kind, value, at)
    if schema.get("type") == "string" and "enum" not in schema:
        yield at
    for name, inside in schema.get("properties", {}).items() if isinstance(value, dict) else ():
        yield from texts(document, inside, value.get(name), (*at, name))
    if isinstance(value, list) and value and "items" in schema:
        yield from texts(document, schema["items"], value[0], (*at, 0))


def with_text(body: Any, place: tuple[Any, ...], hostile: str) -> Any:
    changed = parent = copy.deepcopy(body)
    for step in place[:-1]:
        parent = parent[step]
    parent[place[-1]] = hostile
    return changed


def tables(client: Any) -> set[str]:
    with client.app.state.database.reader.connect() as connection:
        return set(inspect(connection).get_table_names())


def test_no_text_is_a_command(client):
    world, document, before = World(client), contract(), tables(client)
    tried, kept, wrong = 0, 0, []
    for name, line in LINES.items():
        method, template = name.split()
        operation = document["paths"].get(template, {}).get(method.lower(), {})
        if "requestBody" not in operation:
            continue
        call, token = line.call(world), world.caller(line).token
        version = (
            {"if_match": ask(client, "GET", call.path, token).headers["etag"]} if method in {"PUT", "PATCH"} else {}
        )
        schema = operation["requestBody"]["content"]["application/json"]["schema"]
        for place in dict.fromkeys(texts(document, schema, call.body)):
            for hostile in HOSTILE:
                got = ask(client, method, call.path, token, with_text(call.body, place, hostile), **version)
                tried += 1
                kept += got.status < 300 and writes(name)
                if got.status >= 500 or COMPUTED.encode() in got.content:
                    wrong.append((name, place, hostile, got.content[:200]))
    assert not wrong, "\n".join(map(str, wrong))
    assert tried > 150
    assert kept > 10
    assert tables(client) == before
    for name, line in LINES.items():  # what was kept is shown as what it is
        if not name.startswith("GET ") or line.done:
            continue
        got = ask(client, "GET", line.call(world).path, world.caller(line).token)
        assert got.status == 200, (name, got.content[:300])
        assert COMPUTED.encode() not in got.content, name
        if got.headers["content-type"].startswith(("text/html", "image/svg")):
            assert b"<script>alert" not in got.content, name
            assert b"<img src=x" not in got.content, name
    assert ask(client, "GET", "/v1/ledger/proof", world.cora.token).json["holds"] is True


def test_no_path_and_no_query_is_a_command(client):
    world, document = World(client), contract()
    tried = 0
    for name, line in LINES.items():
        method, template = name.split()
        call, token = line.call(world) if "{" not in template else None, world.caller(line).token
        body = None if method == "GET" or template.startswith("/board") else {}
        for odd in PATHS if "{" in template else ():
            whole = "/".join(odd if step.startswith("{") else step for step in template.split("/"))
            got = ask(client, method, whole, token, body, if_match='"1"')
            assert got.status in {400, 401, 404, 405, 409, 422}, (name, odd, got.content[:200])
            assert "x-injected" not in got.headers
            tried += 1
        operation = document["paths"].get(template, {}).get(method.lower(), {})
        for parameter in operation.get("parameters", ()) if call else ():
            for odd in QUERIES if parameter["in"] == "query" else ():
                joint = "&" if "?" in call.path else "?"
                got = ask(client, method, f"{call.path}{joint}{parameter['name']}={odd}", token, call.body)
                assert got.status in {200, 404, 422}, (name, parameter["name"], odd, got.content[:200])
                tried += 1
    assert tried > 500


def test_no_cell_of_any_table_is_a_formula(client):
    """Every export in comma-separated values, of which there is one; a new one has to be named here."""
    document = contract()
    exports = {
        f"{method.upper()} {path}"
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
        if any(kind.startswith("text/csv") for kind in operation["responses"].get("200", {}).get("content", {}))
    }
    assert exports == AS_CSV
    world = World(client)
    for formula in FORMULAS:
        sent = {"cause": "something-else", "says": formula}
        assert world.post(f"/v1/batches{world.day.path}/deviations", sent).status_code == 201
    for name in AS_CSV:
        line = LINES[name]
        text = ask(client, "GET", line.call(world).path, world.cora.token).content.decode()
        assert "1+1" in text
        for row in csv.reader(io.StringIO(text, newline="")):
            for value in row:
                assert not value.lstrip(" ").startswith(("=", "+", "@", "\t", "\r", "\uff1d")), value
                assert not value.startswith("-") or value[1:].replace(".", "").isdigit(), value


@pytest.mark.parametrize("depth", [50, 500, 990, 5_000, 30_000])
def test_no_depth_of_a_body_is_too_much_to_refuse(client, depth):
    deep = b'{"recipes": [{"title": ' + b'{"a": [' * depth + b"]}" * depth + b"}]}"
    got = ask(client, "POST", "/v1/recipe-checks/batch", client.member.token, deep)
    assert got.status in {200, 400}
    if got.status == 200:
        assert got.json["results"][0]["problem"]["code"] == "invalid-request"
    wide = {"recipes": [{"title": "x", "ingredients": ["sugar"] * 201}]}
    assert "problem" in ask(client, "POST", "/v1/recipe-checks/batch", client.member.token, wide).json["results"][0]
