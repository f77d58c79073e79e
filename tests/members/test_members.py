"""Members, tokens and sign-offs of one kitchen, unseen by any other."""

from datetime import date
from uuid import uuid4

import pytest
from sqlalchemy import event
from sqlmodel import Session, select

from service.members import store
from service.members.tables import Token


def whoami(client, token):
    return client.get("/v1/members/me", headers={"Authorization": f"Bearer {token}"})


def new_token(client, person, **body):
    path = f"/v1/members/{person.id}/tokens"
    return client.post(path, headers=client.coordinator.headers, json=body).json()


def test_a_token_speaks_for_its_member(client):
    me = client.get("/v1/members/me", headers=client.member.headers).json()
    assert (me["name"], me["role"], me["kitchen"]["altitude_ft"]) == ("Ada", "member", 4200)
    assert me["sign_offs"] == [{"skill": "pressure-canning", "expires_on": "2030-01-01"}]


def test_a_token_is_kept_as_a_hash_only(client):
    with Session(client.app.state.database.reader) as session:
        kept = " ".join(str(row) for row in session.exec(select(Token)).all())
    assert client.member.token.partition(".")[2] not in kept


def test_a_token_with_another_secret_or_id_is_refused(client):
    token_id, _, secret = client.member.token.partition(".")
    other_id, _, other = client.other.token.partition(".")
    for token in (f"{token_id}.{other}", f"{other_id}.{secret}", f"{token_id}.", f"{token_id}.{secret}x", token_id):
        assert whoami(client, token).json()["code"] == "token-refused"


def test_a_token_ends_when_it_says_so(client):
    made = new_token(client, client.member, expires_at="2027-06-15T00:00:00Z")
    assert whoami(client, made["token"]).status_code == 200
    client.clock.pass_by(days=1)
    assert whoami(client, made["token"]).status_code == 401


def test_a_revoked_token_ends_at_once_and_the_others_stay(client):
    made = new_token(client, client.member)
    path = f"/v1/members/{client.member.id}/tokens/{made['id']}/revocation"
    assert client.post(path, headers=client.coordinator.headers).json() == {"id": made["id"], "revoked": True}
    assert client.post(path, headers=client.coordinator.headers).status_code == 200
    assert whoami(client, made["token"]).status_code == 401
    assert whoami(client, client.member.token).status_code == 200


def test_use_is_noted_hourly_at_most(client):
    def noted():
        with Session(client.app.state.database.reader) as session:
            return session.exec(select(Token.used_at).where(Token.member_id == client.member.id)).one()

    whoami(client, client.member.token)
    first = noted()
    client.clock.pass_by(minutes=59)
    whoami(client, client.member.token)
    assert noted() == first == client.clock.at.replace(hour=10, minute=0)
    client.clock.pass_by(minutes=2)
    whoami(client, client.member.token)
    assert noted() == client.clock.at


def test_a_rotated_token_keeps_scope_and_end_and_the_old_one_ends_soon(client):
    made = new_token(client, client.member, scope="read", expires_at="2027-07-01T00:00:00Z")
    headers = {"Authorization": f"Bearer {made['token']}", "Idempotency-Key": "changing"}
    first, again = (client.post("/v1/members/me/tokens/rotation", headers=headers) for _ in range(2))
    assert (first.status_code, first.json()) == (201, again.json())
    assert (first.json()["scope"], first.json()["expires_at"]) == ("read", "2027-07-01T00:00:00Z")
    assert [whoami(client, each["token"]).status_code for each in (made, first.json())] == [200, 200]
    client.clock.pass_by(minutes=10)
    assert [whoami(client, each["token"]).status_code for each in (made, first.json())] == [401, 200]


def test_a_coordinator_sees_every_token_and_no_secret(client):
    made = new_token(client, client.member, scope="board", expires_at="2027-07-01T00:00:00Z")
    path = f"/v1/members/{client.member.id}/tokens"
    client.post(f"{path}/{made['id']}/revocation", headers=client.coordinator.headers)
    answer = client.get(f"{path}?limit=200", headers=client.coordinator.headers)
    listed = {each["id"]: each for each in answer.json()["items"]}
    assert len(listed) == 2
    assert listed[made["id"]]["revoked_at"] == listed[made["id"]]["made_at"] == "2027-06-14T10:00:00Z"
    assert made["token"].partition(".")[2] not in answer.text
    assert client.get(path, headers=client.stranger.headers).status_code == 404


def test_a_member_ends_a_lost_token_and_then_the_one_that_is_sent(client):
    lost, kiosk = new_token(client, client.member), new_token(client, client.member, scope="read")
    path = "/v1/members/me/tokens"
    listed = client.get(path, headers=client.member.headers).json()["items"]
    assert {lost["id"], kiosk["id"]} < {each["id"] for each in listed}
    narrow = {"Authorization": f"Bearer {kiosk['token']}"}
    assert client.post(f"{path}/{lost['id']}/revocation", headers=narrow).json()["code"] == "scope-needed"
    assert client.post(f"{path}/{lost['id']}/revocation", headers=client.other.headers).status_code == 404
    for token_id in (lost["id"], client.member.token.partition(".")[0]):
        answer = client.post(f"{path}/{token_id}/revocation", headers=client.member.headers)
        assert answer.json() == {"id": token_id, "revoked": True}
    ended = [whoami(client, token).status_code for token in (lost["token"], client.member.token, kiosk["token"])]
    assert ended == [401, 401, 200]
    (entry,) = (
        each
        for each in client.get("/v1/audit-entries", headers=client.coordinator.headers).json()["items"]
        if each["about"] == f"{path}/{lost['id']}/revocation"
    )
    assert (entry["act"], entry["member_id"]) == ("revoke_own_token", str(client.member.id))


def test_a_token_that_has_ended_already_is_not_made(client):
    answer = client.post(
        f"/v1/members/{client.member.id}/tokens",
        headers=client.coordinator.headers,
        json={"expires_at": "2027-06-14T10:00:00Z"},
    )
    assert (answer.status_code, answer.json()["code"]) == (422, "not-possible")


def test_a_token_nobody_has_costs_as_much_as_a_wrong_secret(client):
    """Neither the answer nor the work tells whether an id is known: the same statements, one hash, one comparison."""
    statements = []
    token_id = client.member.token.partition(".")[0]
    whoami(client, client.member.token)
    event.listen(client.app.state.database.reader, "before_cursor_execute", lambda *given: statements.append(given[2]))
    seen = []
    for token in (f"{token_id}.{'a' * 43}", f"{uuid4()}.{'a' * 43}"):
        statements.clear()
        answer = whoami(client, token)
        document = {name: value for name, value in answer.json().items() if name != "instance"}
        headers = {name: value for name, value in answer.headers.items() if name != "x-request-id"}
        seen.append((answer.status_code, document, headers, list(statements)))
    assert seen[0] == seen[1]
    assert seen[0][0] == 401
    assert any("token.secret_sha256" in each for each in seen[0][3])


def test_a_coordinator_takes_somebody_in(client):
    made = client.post("/v1/members", headers=client.coordinator.headers, json={"name": "Dee", "role": "trainer"})
    assert made.status_code == 201
    read = client.get(made.headers["location"], headers=client.trainer.headers).json()
    assert (read["name"], read["role"], read["sign_offs"]) == ("Dee", "trainer", [])


def test_nothing_of_another_kitchen_is_there(client):
    headers = client.stranger.headers
    path = f"/v1/members/{client.member.id}"
    token_id = client.member.token.partition(".")[0]
    assert client.get(path, headers=headers).status_code == 404
    assert client.post(f"{path}/tokens", headers=headers, json={}).status_code == 404
    assert client.post(f"{path}/tokens/{token_id}/revocation", headers=headers).status_code == 404
    sign_off = {"skill": "pressure-canning", "expires_on": "2030-01-01"}
    assert client.post(f"{path}/sign-offs", headers=headers, json=sign_off).status_code == 404
    listed = client.get("/v1/members", headers=headers).json()["items"]
    assert [member["name"] for member in listed] == ["Sid"]
    assert whoami(client, client.member.token).status_code == 200


def test_a_token_of_one_member_is_not_revoked_through_another(client):
    token_id = client.member.token.partition(".")[0]
    path = f"/v1/members/{client.other.id}/tokens/{token_id}/revocation"
    assert client.post(path, headers=client.coordinator.headers).status_code == 404


@pytest.mark.parametrize("member_id", ["nobody", "b43f6dbf-b95f-4e9a-b885-7b5b399e584a", "\u00e9", "1" * 300])
def test_an_id_of_nobody_is_not_there(client, member_id):
    assert client.get(f"/v1/members/{member_id}", headers=client.coordinator.headers).status_code == 404


def test_a_newer_sign_off_takes_the_place_of_the_one_before(client):
    path = f"/v1/members/{client.other.id}/sign-offs"
    for day in ("2027-01-01", "2028-06-30"):
        made = client.post(path, headers=client.trainer.headers, json={"skill": "pressure-canning", "expires_on": day})
        assert (made.status_code, made.json()["expires_on"]) == (201, day)
    with Session(client.app.state.database.reader) as session:
        (row,) = store.sign_offs(session, client.other.id)
        assert row.expires_on == date(2028, 6, 30)


def test_two_read_and_both_write_but_one_is_told(client):
    headers = client.coordinator.headers
    read = client.get("/v1/kitchen", headers=headers)
    changing = {**headers, "If-Match": read.headers["etag"]}
    first = client.patch("/v1/kitchen", headers=changing, json={"best_by_months": 18})
    second = client.patch("/v1/kitchen", headers=changing, json={"name": "Lost"})
    assert (first.status_code, second.status_code) == (200, 412)
    now = client.get("/v1/kitchen", headers=headers)
    assert (now.json()["name"], now.json()["best_by_months"]) == ("Hall kitchen", 18)
    assert now.headers["etag"] == first.headers["etag"] != read.headers["etag"]
    assert client.patch("/v1/kitchen", headers=headers, json={}).status_code == 428


@pytest.mark.parametrize(
    "if_match",
    [["*"], ['"1", "2"'], ['"1"', '"2"'], ['W/"1"'], ["1"], ['"01"'], ['"-1"'], ['"' + "9" * 400 + '"'], [""]],
)
def test_who_does_not_name_the_one_version_they_saw_changes_nothing(client, if_match):
    headers = [*client.coordinator.headers.items(), *(("If-Match", each) for each in if_match)]
    answer = client.patch("/v1/kitchen", headers=headers, json={"name": "Lost"})
    assert (answer.status_code, answer.json()["code"]) == (412, "stale")


def test_who_has_the_kitchen_as_it_is_gets_nothing_again(client):
    headers = client.coordinator.headers
    etag = client.get("/v1/kitchen", headers=headers).headers["etag"]
    again = client.get("/v1/kitchen", headers={**headers, "If-None-Match": etag})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", etag)


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"time_zone": "Moon/Base"}, "unknown-time-zone"),
        ({"time_zone": "../../etc/passwd"}, "unknown-time-zone"),
        ({"best_by_months": 19}, "invalid-request"),
        ({"altitude_ft": 15_001}, "invalid-request"),
        ({"altitude_ft": "4200"}, "invalid-request"),
    ],
)
def test_a_kitchen_stays_on_earth(client, change, code):
    headers = {**client.coordinator.headers, "If-Match": '"1"'}
    answer = client.patch("/v1/kitchen", headers=headers, json=change)
    assert (answer.status_code, answer.json()["code"]) == (422, code)
