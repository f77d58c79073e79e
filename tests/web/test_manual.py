"""The page to read the contract and try it on: it comes whole from this service, and its examples run as they stand."""

import re

import pytest

from tests.bookings.kitchen import opened, piece

pytestmark = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)

AN_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|\d{6}-\d\d-\w")


def test_the_page_loads_what_the_service_has_and_nothing_else(client):
    page = client.get("/docs")
    parts = re.findall(r'(?:src|href)="([^"]+)"', page.text)
    assert not re.search(r"https?:", page.text)
    assert "https:" not in page.headers["content-security-policy"]
    for part in parts:
        if not part.startswith("data:"):
            answer = client.get(f"/{part}")
            assert answer.status_code == 200, part
            again = client.get(f"/{part}", headers={"If-None-Match": answer.headers["etag"]})
            assert again.status_code == 304
    assert client.get("/docs/another.js").status_code == 404


def examples(client):
    """Every body the contract shows, with where it is sent."""
    document = client.app.openapi()
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            for content in operation.get("requestBody", {}).get("content", {}).values():
                schema = content["schema"]
                kinds = schema.get("anyOf") or schema.get("oneOf") or [schema]
                for kind in kinds:
                    named = document["components"]["schemas"].get(kind.get("$ref", "").rpartition("/")[2], {})
                    for example in named.get("examples", []):
                        yield method.upper(), path, operation["operationId"], example


def test_every_example_has_the_right_shape_and_runs_where_it_needs_nothing_that_is_not_there(client):
    opened(client)
    piece(client)
    ran, refused = set(), {}
    for method, path, operation, example in examples(client):
        headers = client.coordinator.headers
        if method in {"PUT", "PATCH"}:
            read = client.get(path, headers=headers)
            headers = headers | {"If-Match": read.headers.get("etag", '"1"')}
        answer = client.request(method, re.sub(r"\{[^}]*\}", "1", path), json=example, headers=headers)
        code = answer.json().get("code") if answer.content else None
        assert code not in {"invalid-request", "unreadable-json", "internal-error"}, f"{operation} {answer.text}"
        if answer.status_code < 300:
            ran.add(operation)
        elif "{" not in path and not AN_ID.search(str(example)):
            refused[operation] = code
    assert refused == {}
    assert ran >= {
        "check_one_recipe",
        "check_many_recipes",
        "add_recipe",
        "search_slots",
        "add_equipment",
        "add_member",
    }
