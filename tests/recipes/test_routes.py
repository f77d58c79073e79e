from copy import deepcopy
from typing import Any
from uuid import UUID, uuid4

import pytest

from service.recipes import store
from tests import make
from tests.batches.make import PLUM_JAM, ok
from tests.conftest import Client, Person

LESS_SUGAR = PLUM_JAM | {"ingredients": ["4 1/2 cups crushed plums", "3 cups sugar", "1 pouch (3 oz) liquid pectin"]}


def post(client: Client, body: Any, path: str = "", by: Person | None = None) -> Any:
    return client.post(f"/v1/recipes{path}", json=body, headers=(by or client.member).headers)


def get(client: Client, path: str = "", by: Person | None = None) -> Any:
    return client.get(f"/v1/recipes{path}", headers=(by or client.member).headers)


def test_a_recipe_is_kept_with_the_check_it_got(client: Client) -> None:
    answer = post(client, PLUM_JAM)
    kept = ok(answer)
    assert (kept["revision"], kept["check"]["verdict"]) == (1, "ready")
    assert answer.headers["Location"] == f"/v1/recipes/{kept['id']}/revisions/1"
    shown = ok(get(client, f"/{kept['id']}/revisions/1"))
    assert shown["check"] == kept["check"]
    assert shown["rulebook"] == kept["check"]["rulebook"]
    assert {name: shown["recipe"][name] for name in PLUM_JAM if name != "process"} == {
        name: value for name, value in PLUM_JAM.items() if name != "process"
    }


def test_a_revision_never_changes_and_a_new_one_stands_beside_it(client: Client) -> None:
    first = ok(post(client, PLUM_JAM))
    second = ok(post(client, LESS_SUGAR | {"title": "Less sweet"}, f"/{first['id']}/revisions"))
    assert (second["id"], second["revision"]) == (first["id"], 2)
    assert second["check"]["verdict"] != "ready"
    assert ok(get(client, f"/{first['id']}/revisions/1"))["check"] == first["check"]
    whole = ok(get(client, f"/{first['id']}"))
    assert (whole["title"], whole["revision"], whole["verdict"]) == ("Less sweet", 2, second["check"]["verdict"])
    assert [each["revision"] for each in whole["revisions"]] == [1, 2]
    assert get(client, f"/{first['id']}/revisions/3").status_code == 404


def test_the_kitchens_altitude_counts(client: Client) -> None:
    assert ok(post(client, PLUM_JAM | {"altitude_ft": 4200}))["check"]["verdict"] == "ready"
    refused = post(client, PLUM_JAM | {"altitude_ft": 0})
    assert (refused.status_code, refused.json()["code"]) == (422, "wrong-altitude")


def test_recipes_are_their_members_and_the_coordinators(client: Client) -> None:
    recipe_id = ok(post(client, PLUM_JAM))["id"]
    for outsider in (client.other, client.trainer, client.stranger):
        for path in (f"/{recipe_id}", f"/{recipe_id}/revisions/1"):
            assert get(client, path, outsider).status_code == 404
        assert post(client, PLUM_JAM, f"/{recipe_id}/revisions", outsider).status_code == 404
        assert ok(get(client, "", outsider))["items"] == []
    assert ok(get(client, f"/{recipe_id}", client.coordinator))["member_id"] == str(client.member.id)
    assert len(ok(get(client, "", client.coordinator))["items"]) == 1
    assert client.get(f"/v1/recipes/{recipe_id}").status_code == 401
    assert client.post("/v1/recipes", json=PLUM_JAM).status_code == 401


@pytest.mark.parametrize(
    "body",
    [
        pytest.param({}, id="nothing"),
        pytest.param([], id="a list"),
        pytest.param(PLUM_JAM | {"title": ""}, id="no title"),
        pytest.param(PLUM_JAM | {"title": "\x00"}, id="a control character"),
        pytest.param(PLUM_JAM | {"ingredients": []}, id="no ingredients"),
        pytest.param(PLUM_JAM | {"ingredients": ["sugar"] * 201}, id="too many ingredients"),
        pytest.param(PLUM_JAM | {"ingredients": [{"name": "sugar", "amount": -1}]}, id="a negative amount"),
        pytest.param(PLUM_JAM | {"surprise": 1}, id="an unknown field"),
        pytest.param(PLUM_JAM | {"altitude_ft": "high"}, id="an altitude in words"),
    ],
)
def test_what_is_no_recipe_is_refused_and_not_kept(client: Client, body: Any) -> None:
    assert post(client, body).status_code == 422
    assert ok(get(client))["items"] == []


def test_ids_that_cannot_be_are_not_there(client: Client) -> None:
    for wrong in (str(uuid4()), "jam", "%00", "0" * 500):
        assert get(client, f"/{wrong}").status_code == 404
        assert post(client, PLUM_JAM, f"/{wrong}/revisions").status_code == 404


def test_all_recipes_come_once_while_others_are_added(client: Client) -> None:
    there = {ok(post(client, PLUM_JAM | {"title": f"Jam {number}"}))["id"] for number in range(5)}
    seen: list[str] = []
    query = "?limit=2"
    while query:
        page = ok(get(client, query))
        seen += [item["id"] for item in page["items"]]
        query = page["next_cursor"] and f"?limit=2&cursor={page['next_cursor']}"
        client.clock.pass_by(seconds=1)
        ok(post(client, deepcopy(PLUM_JAM)))
    assert sorted(seen) == sorted(there)


def test_a_verdict_holds_for_the_altitude_it_was_made_at(client: Client) -> None:
    kept = ok(post(client, PLUM_JAM))
    recipe_id = UUID(kept["id"])
    kitchen_id = client.member.kitchen_id
    database = client.app.state.database
    with make.session(database) as session:
        verdict = store.revision_verdict(session, kitchen_id, recipe_id, 1)
        assert verdict == store.RevisionVerdict("ready", (), client.member.id)
        assert store.revision_verdict(session, kitchen_id, recipe_id, 2) is None
        assert store.revision_verdict(session, client.stranger.kitchen_id, recipe_id, 1) is None
    read = client.get("/v1/kitchen", headers=client.coordinator.headers)
    headers = client.coordinator.headers | {"If-Match": read.headers["ETag"]}
    ok(client.patch("/v1/kitchen", json={"altitude_ft": 7000}, headers=headers))
    with make.session(database) as session:
        moved = store.revision_verdict(session, kitchen_id, recipe_id, 1)
        assert moved == store.RevisionVerdict("untested", ("untested",), client.member.id)
