"""Lists in pages: everything once, and cursors that are only ours."""

import pytest


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
