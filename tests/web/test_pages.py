"""Lists in pages: everything once, and cursors that are only ours."""

import hashlib
import json
from base64 import urlsafe_b64decode, urlsafe_b64encode

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from service.web.pages import MARK_BYTES


def walk(client, limit, between=lambda: None):
    path, seen = f"/v1/members?limit={limit}", []
    while path:
        answer = client.get(path, headers=client.coordinator.headers)
        assert answer.status_code == 200
        seen += [member["name"] for member in answer.json()["items"]]
        path = answer.headers["link"].removeprefix("<").split(">")[0] if "link" in answer.headers else None
        assert (path is None) == (answer.json()["next_cursor"] is None)
        between()
    return seen


def add(client, name):
    client.post("/v1/members", headers=client.coordinator.headers, json={"name": name})


@pytest.mark.parametrize("limit", [1, 2, 3, 4, 200])
def test_every_member_comes_exactly_once_in_order(client, limit):
    assert walk(client, limit) == ["Ada", "Bo", "Cora", "Tam"]


def test_what_existed_throughout_comes_once_while_others_write(client):
    add(client, "Bo")
    seen = walk(client, 1, between=lambda: add(client, "Aa"))
    assert [name for name in seen if name != "Aa"] == ["Ada", "Bo", "Bo", "Cora", "Tam"]


@pytest.mark.parametrize("limit", ["0", "201", "-1", "five", "1e2", "", "99999999999999999999"])
def test_a_limit_is_one_to_two_hundred(client, limit):
    answer = client.get(f"/v1/members?limit={limit}", headers=client.coordinator.headers)
    assert answer.json()["errors"][0]["parameter"] == "limit"


def test_a_cursor_we_did_not_give_out_is_refused(client):
    given = client.get("/v1/members?limit=1", headers=client.coordinator.headers).json()["next_cursor"]
    changed = [given[:at] + ("A" if given[at] != "A" else "B") + given[at + 1 :] for at in range(len(given))]
    for cursor in [*changed, "", "x", "%00", "====", given[:-4], given * 2, "\u00e9"]:
        answer = client.get("/v1/members", params={"cursor": cursor}, headers=client.coordinator.headers)
        assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor"), cursor


def first_cursor(client, path="/v1/members?limit=1"):
    return client.get(path, headers=client.coordinator.headers).json()["next_cursor"]


def test_a_cursor_is_good_in_every_process_and_after_a_restart(client):
    cursor = first_cursor(client)
    url = client.app.state.database.writer.url.render_as_string(hide_password=False)
    with TestClient(create_app(Settings(database_url=url, limits=False), client.clock)) as another:
        answer = another.get(f"/v1/members?limit=1&cursor={cursor}", headers=client.coordinator.headers)
    assert [member["name"] for member in answer.json()["items"]] == ["Bo"]


def test_a_cursor_cannot_be_made_without_the_key(client):
    """What everybody can see is how a cursor is built; its signature takes a key that only the database has."""
    place = urlsafe_b64decode(first_cursor(client))[MARK_BYTES:]
    signed = json.dumps(["/v1/members", [], place.decode()]).encode()
    forged = urlsafe_b64encode(hashlib.sha256(signed).digest()[:MARK_BYTES] + place).decode()
    answer = client.get("/v1/members", params={"cursor": forged}, headers=client.coordinator.headers)
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor")


def test_a_cursor_is_for_its_own_list_and_filters(client):
    cursor = first_cursor(client)
    for path in ("/v1/notices", "/v1/recipes", "/v1/bookings"):
        answer = client.get(path, params={"cursor": cursor}, headers=client.coordinator.headers)
        assert answer.json()["code"] == "bad-cursor", path
    rules = client.get("/v1/reference/ingredients?limit=1&q=plum").json()["next_cursor"]
    assert client.get(f"/v1/reference/ingredients?q=plum&cursor={rules}").status_code == 200
    assert client.get(f"/v1/reference/ingredients?q=pear&cursor={rules}").json()["code"] == "bad-cursor"


def test_the_longest_name_makes_a_cursor_that_is_taken_back(client):
    for _ in range(2):
        add(client, "\U0001fad9" * 200)
    path = f"/v1/members?limit=200&cursor={first_cursor(client, '/v1/members?limit=5')}"
    assert len(client.get(path, headers=client.coordinator.headers).json()["items"]) == 1
