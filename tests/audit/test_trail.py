"""Who did what is written with the act itself, by every route that writes, and can't be changed unseen."""

import csv
import hashlib
import json
from concurrent.futures import ThreadPoolExecutor
from io import StringIO

import pytest
from fastapi.routing import APIRoute
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError
from typer.testing import CliRunner

from service.app import ROUTERS
from service.audit import store
from service.audit.chain import BEGINNING
from service.cli import main
from service.database.prepared import at_work, write
from service.keeping.verifying import verify
from service.web.contract import depends_on
from service.web.sessions import writing
from tests import make
from tests.batches.make import Day
from tests.bookings.kitchen import book, opened, piece
from tests.conftest import Client

WRITE_NOTHING = {
    "check_one_recipe",
    "check_many_recipes",
    "check_written_recipe",
    "draw_harvest_plan",
    "plan_harvest",
    "search_slots",
    "sign_in",
    "sign_out",
}
LIFT = {
    "sqlite": [
        "DROP TRIGGER audit_entry_is_written_once_on_update",
        "DROP TRIGGER audit_entry_is_written_once_on_delete",
    ],
    "postgresql": ["DROP TRIGGER audit_entry_is_written_once ON audit_entry"],
}


def trail(client: Client, query: str = "", by: object = None) -> list[dict]:
    answer = client.get(f"/v1/audit-entries{query}", headers=(by or client.coordinator).headers)
    assert answer.status_code == 200, answer.text
    return answer.json()["items"]


def add(client: Client, **more: str):
    return client.post("/v1/members", json={"name": "Dee"}, headers={**client.coordinator.headers, **more})


def wrong(client: Client) -> list[str]:
    return [line for each in verify(client.app.state.database) if each.at == "audit trails" for line in each.wrong]


def test_every_route_that_writes_leaves_an_entry() -> None:
    """`writing` adds the entry; what changes nothing is listed here by hand."""
    routes = [route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute)]
    changing = [route for route in routes if route.methods & {"POST", "PUT", "PATCH", "DELETE"}]
    without = {route.name for route in changing if not depends_on(writing, route.dependant)}
    assert without == WRITE_NOTHING


def test_an_entry_says_who_did_what_to_what_and_when(client: Client) -> None:
    made = add(client, **{"X-Request-Id": "a-request-of-mine"})
    (entry,) = trail(client)
    assert entry == {
        "number": 1,
        "at": "2027-06-14T10:00:00Z",
        "member_id": str(client.coordinator.id),
        "act": "add_member",
        "about": f"/v1/members/{made.json()['id']}",
        "request_id": "a-request-of-mine",
        "sha256": entry["sha256"],
    }


def test_a_whole_day_is_told_in_order_without_a_word_of_anybody(client: Client) -> None:
    Day(client).to_the_shelf()
    told = trail(client)
    assert [each["act"] for each in reversed(told)] == [
        "set_opening_hours",
        "add_equipment",
        "add_recipe",
        "book",
        "start_batch",
        "add_load",
        "take_load_out",
        "check_seals",
    ]
    written = json.dumps(told)
    assert not any(word in written for word in ("Ada", "Cora", "Plum", "canner"))
    mine = trail(client, f"?member_id={client.member.id}")
    assert {each["member_id"] for each in mine} == {str(client.member.id)}
    assert 0 < len(mine) < len(told)


def test_what_was_refused_or_repeated_leaves_no_entry(client: Client) -> None:
    opened(client)
    canner = piece(client)
    assert book(client, client.member, canner).status_code == 201
    before = trail(client)
    assert book(client, client.other, canner).status_code == 409
    assert add(client, **{"Idempotency-Key": "once"}).status_code == 201
    assert add(client, **{"Idempotency-Key": "once"}).headers["idempotency-replayed"] == "true"
    assert [each["act"] for each in trail(client)[: -len(before)]] == ["add_member"]


def test_a_kitchen_has_its_own_trail_for_its_coordinators(client: Client) -> None:
    add(client)
    assert trail(client, by=client.stranger) == []
    for person in (client.member, client.trainer):
        assert client.get("/v1/audit-entries", headers=person.headers).status_code == 403


def test_entries_written_at_once_are_one_chain_and_come_in_pages(client: Client) -> None:
    with ThreadPoolExecutor(4) as pool:
        assert {answer.status_code for answer in pool.map(lambda _: add(client), range(12))} == {201}
    numbers, path = [], "/v1/audit-entries?limit=5"
    while path:
        answer = client.get(path, headers=client.coordinator.headers)
        numbers += [each["number"] for each in answer.json()["items"]]
        path = answer.links.get("next", {}).get("url")
    assert numbers == list(range(12, 0, -1))
    assert wrong(client) == []


@pytest.mark.parametrize("kept", [True, False])
def test_what_is_known_of_the_end_holds_only_until_something_is_added(client: Client, kept: bool) -> None:
    """Also what was taken back again: whoever knew the end before looks anew."""
    add(client)
    about = (client.coordinator.kitchen_id, None)
    with make.session(client.app.state.database) as session:
        ((number, sha256),) = session.connection().execute(text("SELECT number, sha256 FROM audit_entry")).all()
        nested = session.begin_nested()
        store.note(session, *about, "offer_time", "/v1/waiting-list/1", None, client.clock())
        (nested.commit if kept else nested.rollback)()
        last = store.entry(session, *about, "book", "/v1/bookings/1", None, client.clock(), (number, sha256))
        write(at_work(session), last)
    assert [each["number"] for each in trail(client)] == ([3, 2, 1] if kept else [2, 1])
    assert wrong(client) == []


@pytest.mark.parametrize("statement", ["UPDATE audit_entry SET act = 'nothing'", "DELETE FROM audit_entry"])
def test_the_database_refuses_to_change_an_entry(client: Client, statement: str) -> None:
    add(client)
    database = client.app.state.database
    statements = [statement, "TRUNCATE audit_entry"] if database.dialect == "postgresql" else [statement]
    for each in statements:
        with pytest.raises(DBAPIError, match="written_once"), database.writer.begin() as connection:
            connection.execute(text(each))
    assert len(trail(client)) == 1


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE audit_entry SET about = '/v1/kitchen' WHERE number = 2",
        "DELETE FROM audit_entry WHERE number = 2",
        "UPDATE audit_entry SET number = 9 WHERE number = 3",
        "DELETE FROM audit_entry WHERE number = 1",
    ],
)
def test_a_change_past_the_service_is_found(client: Client, statement: str) -> None:
    for _ in range(3):
        add(client)
    database = client.app.state.database
    with database.writer.begin() as connection:
        for lifted in LIFT[database.dialect]:
            connection.execute(text(lifted))
        connection.execute(text(statement))
    assert wrong(client)


def test_anybody_can_follow_the_chain_in_an_export(
    client: Client, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(2):
        add(client)
    monkeypatch.setenv("CANNING_DATABASE_URL", database_url)
    kitchen_id, sha256 = str(client.coordinator.kitchen_id), BEGINNING
    exported = CliRunner().invoke(main, ["audit", kitchen_id])
    assert exported.exit_code == 0
    entries = [json.loads(line) for line in exported.output.splitlines()]
    for entry in entries:
        fields = [entry[name] for name in ("number", "at", "member_id", "act", "about", "request_id")]
        whole = json.dumps([sha256, kitchen_id, *fields], separators=(",", ":"))
        sha256 = hashlib.sha256(whole.encode()).hexdigest()
        assert entry["sha256"] == sha256
    table = CliRunner().invoke(main, ["audit", kitchen_id, "--format", "csv"]).output
    assert [row["sha256"] for row in csv.DictReader(StringIO(table))] == [entry["sha256"] for entry in entries]
