"""The same POST with the same key: one row, the same answer."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from threading import Barrier

import pytest
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from service.database.prepared import at_work, write
from service.members.tables import Token
from service.web.store import KEPT_FOR, Stored, first_answer, remembered
from service.web.tables import AnsweredPost


def names(client):
    answer = client.get("/v1/members?limit=200", headers=client.coordinator.headers).json()
    return [member["name"] for member in answer["items"]]


def add(client, key, name="Dee", person=None):
    headers = {**(person or client.coordinator).headers, "Idempotency-Key": key}
    return client.post("/v1/members", headers=headers, json={"name": name})


def test_twice_in_a_row_is_once(client):
    first, second = add(client, "one"), add(client, "one")
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.content == second.content
    assert first.headers["location"] == second.headers["location"]
    assert "idempotency-replayed" not in first.headers
    assert second.headers["idempotency-replayed"] == "true"
    assert names(client).count("Dee") == 1


def test_quotes_around_a_key_make_no_difference(client):
    assert add(client, '"one"').json() == add(client, "one").json()


def test_one_request_has_one_key(client):
    headers = [*client.coordinator.headers.items(), ("Idempotency-Key", "one"), ("Idempotency-Key", "two")]
    answer = client.post("/v1/members", headers=headers, json={"name": "Dee"})
    assert (answer.status_code, answer.json()["errors"][0]["parameter"]) == (422, "Idempotency-Key")
    assert "Dee" not in names(client)


def test_a_key_is_for_its_path_whatever_host_is_named(client):
    first = add(client, "one")
    elsewhere = {**client.coordinator.headers, "Idempotency-Key": "one", "Host": "x/v1/members#"}
    answer = client.post("/v1/equipment", headers=elsewhere, json={"name": "Dee"})
    assert (first.status_code, answer.status_code) == (201, 422)


def test_twice_at_once_is_once(client):
    together = Barrier(8)

    def one(_):
        together.wait()
        return add(client, "at once")

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(one, range(8)))
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.content for answer in answers}) == 1
    assert names(client).count("Dee") == 1


def test_a_key_is_for_one_request(client):
    add(client, "one")
    answer = add(client, "one", name="Eve")
    assert (answer.status_code, answer.json()["code"]) == (422, "key-reused")
    assert "Eve" not in names(client)


def test_a_key_belongs_to_one_member(client):
    add(client, "one")
    assert "idempotency-replayed" not in add(client, "one", person=client.stranger).headers


def test_a_refusal_is_not_kept(client):
    headers = {**client.coordinator.headers, "Idempotency-Key": "one"}
    assert client.post("/v1/members", headers=headers, json={"name": 5}).status_code == 422
    assert add(client, "one").status_code == 201


def test_a_key_is_forgotten_after_seven_days(client):
    add(client, "one")
    client.clock.pass_by(days=7, seconds=1)
    assert "idempotency-replayed" not in add(client, "one").headers
    assert names(client).count("Dee") == 2


def test_a_key_of_no_shape_is_refused(client):
    assert add(client, "a" * 256).json()["errors"][0]["parameter"] == "Idempotency-Key"


def test_a_new_token_is_kept_sealed_for_the_token_that_asked_for_it(client):
    path, headers = f"/v1/members/{client.member.id}/tokens", {**client.coordinator.headers, "Idempotency-Key": "one"}
    first, second = (client.post(path, headers=headers, json={}) for _ in range(2))
    assert first.headers["cache-control"] == second.headers["cache-control"] == "no-store"
    assert first.json() == second.json()
    with Session(client.app.state.database.reader) as session:
        kept = " ".join(session.exec(select(AnsweredPost.body)).all())
        assert len(session.exec(select(Token).where(Token.member_id == client.member.id)).all()) == 2
    assert first.json()["token"] not in kept
    assert first.json()["id"] not in kept
    another = client.post(f"/v1/members/{client.coordinator.id}/tokens", headers=client.coordinator.headers, json={})
    headers["Authorization"] = f"Bearer {another.json()['token']}"
    assert client.post(path, headers=headers, json={}).json()["code"] == "key-reused"


def test_an_answer_makes_way_only_once_it_is_forgotten(client):
    kept = Stored("0" * 64, 201, {}, "first")
    member_id, at = client.member.id, client.clock()
    with Session(client.app.state.database.writer) as session:
        write(at_work(session), remembered(member_id, "one", kept, at))
        shortly_before = at + KEPT_FOR - timedelta(seconds=1)
        assert first_answer(session, member_id, "one", shortly_before) == kept
        with pytest.raises(IntegrityError), session.begin_nested():
            write(at_work(session), remembered(member_id, "one", kept, shortly_before))
        assert first_answer(session, member_id, "one", at + KEPT_FOR) is None
        write(at_work(session), remembered(member_id, "one", replace(kept, body="second"), at + KEPT_FOR))
        found = first_answer(session, member_id, "one", at + KEPT_FOR)
    assert found == replace(kept, body="second")


def test_what_is_forgotten_is_deleted_when_its_member_comes_back(client):
    add(client, "one")
    client.clock.pass_by(days=7, seconds=1)
    names(client)
    with Session(client.app.state.database.reader) as session:
        assert session.exec(select(AnsweredPost)).all() == []
