import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from tests import make
from tests.batches.make import SNAP_BEANS, Day, ok, pantry
from tests.conftest import Client, Person
from tests.pantry.make import holders, move, proved, read


def lot(client: Client, lot_code: str, by: Person | None = None) -> Any:
    return read(client, f"/lots/{lot_code}", by or client.coordinator)


def test_jars_go_where_they_are_sent_and_none_is_lost(client: Client) -> None:
    code = Day(client).to_the_shelf(8)
    receiver = str(client.other.id)
    for values in (
        {"kind": "give", "count": 2, "to_member_id": receiver},
        {"kind": "chill"},
        {"kind": "freeze", "location": "chest freezer"},
        {"kind": "open", "from_state": "refrigerator"},
        {"kind": "use", "from_state": "opened"},
        {"kind": "discard"},
        {"kind": "relocate", "count": 3, "location": "left shelf"},
    ):
        answer = move(client, code, **values)
        assert ok(answer)["kind"] == values["kind"]
        assert answer.headers["Location"] == f"/v1/lots/{code}"
        assert sum(holders(client, code).values()) == 8
        assert proved(client)
    assert holders(client, code) == {
        ("Ada", "shelf"): 3,
        ("Ada", "freezer"): 1,
        ("Ada", "used"): 1,
        ("Ada", "discarded"): 1,
        ("Bo", "shelf"): 2,
    }
    assert {item["state"]: item["location"] for item in pantry(client)} == {
        "shelf": "left shelf",
        "freezer": "chest freezer",
    }
    assert ok(move(client, code, client.other, count=2))["to_state"] == "used"
    assert pantry(client, client.other) == []


def test_what_cannot_be_moved_is_refused_and_changes_nothing(client: Client) -> None:
    code = Day(client).to_the_shelf(8)
    give = {"kind": "give", "to_member_id": str(client.other.id)}
    refused = [
        (move(client, code, count=9), 409, "too-few-jars"),
        (move(client, code, from_state="freezer"), 409, "too-few-jars"),
        (move(client, code, jar_size="quart"), 409, "too-few-jars"),
        (move(client, code, from_state="hold"), 409, "not-now"),
        (move(client, code, from_state="recalled"), 409, "recalled"),
        (move(client, "270814-01-A"), 404, "misread-lot-code"),
        (move(client, "270814-01-P"), 404, "not-found"),
        (move(client, code, client.other), 404, "not-found"),
        (move(client, code, client.stranger), 404, "not-found"),
        (move(client, code, **give | {"to_member_id": str(client.member.id)}), 422, "not-possible"),
        (move(client, code, **give | {"to_member_id": str(client.stranger.id)}), 422, "not-possible"),
        (move(client, code, **give | {"to_member_id": str(uuid4())}), 422, "not-possible"),
        (move(client, code, kind="give"), 422, "not-possible"),
        (move(client, code, **give, recipient="a neighbour"), 422, "not-possible"),
        (move(client, code, recipient="a neighbour"), 422, "not-possible"),
        (move(client, code, kind="give", recipient=""), 422, "invalid-request"),
        (move(client, code, kind="relocate"), 422, "not-possible"),
        (move(client, code, count=0), 422, "invalid-request"),
        (move(client, code, count=-1), 422, "invalid-request"),
        (move(client, code, count=1.5), 422, "invalid-request"),
        (move(client, code, count=True), 422, "invalid-request"),
        (move(client, code, count=10**30), 422, "invalid-request"),
        (move(client, code, kind="fill"), 422, "invalid-request"),
        (move(client, code, from_state="used"), 422, "invalid-request"),
        (move(client, code, kind="relocate", location="\x00"), 422, "invalid-request"),
        (move(client, code, surprise=1), 422, "invalid-request"),
        (client.post("/v1/movements", json={}), 401, "token-needed"),
    ]
    assert [(answer.status_code, answer.json()["code"]) for answer, _, _ in refused] == [
        (status, problem) for _, status, problem in refused
    ]
    assert holders(client, code) == {("Ada", "shelf"): 8}


def test_the_last_jars_are_given_once_however_many_give_them(client: Client) -> None:
    code = Day(client).to_the_shelf(5)
    barrier = threading.Barrier(8)

    def give(_number: int) -> int:
        barrier.wait()
        return int(move(client, code, kind="give", to_member_id=str(client.other.id)).status_code)

    with ThreadPoolExecutor(8) as threads:
        statuses = sorted(threads.map(give, range(8)))
    assert statuses == [201] * 5 + [409] * 3
    assert holders(client, code) == {("Bo", "shelf"): 5}
    assert proved(client)


def test_the_same_request_twice_moves_jars_once(client: Client) -> None:
    code = Day(client).to_the_shelf(5)
    new = {"kind": "use", "lot_code": code, "jar_size": "half-pint", "count": 2}
    headers = client.member.headers | {"Idempotency-Key": "two jars for breakfast"}
    answers = [client.post("/v1/movements", json=new, headers=headers) for _ in range(2)]
    assert ok(answers[0]) == ok(answers[1])
    assert holders(client, code) == {("Ada", "shelf"): 3, ("Ada", "used"): 2}


def test_a_pantry_is_filtered(client: Client) -> None:
    jam = Day(client).to_the_shelf(8)
    beans = Day(client, SNAP_BEANS, kind="pressure-dial", hours_ago=72).to_the_shelf(7)
    ok(move(client, jam, kind="chill", count=2))

    def codes(query: str) -> list[tuple[str, str]]:
        return [(item["lot_code"], item["state"]) for item in pantry(client, query=query)]

    assert codes("")[0] == (beans, "shelf")
    assert set(codes("")[1:]) == {(jam, "refrigerator"), (jam, "shelf")}
    assert codes("?family=jam&state=shelf") == [(jam, "shelf")]
    assert codes("?product=green-beans") == [(beans, "shelf")]
    assert codes("?jar_size=quart") == [(beans, "shelf")]
    assert codes("?best_by_before=2028-06-12") == [(beans, "shelf")]
    assert codes("?best_by_before=2028-06-11") == []
    assert codes("?state=opened") == []
    for query in ("?state=used", "?state=shelves", "?best_by_before=soon", "?colour=red", "?limit=0", "?cursor=none"):
        answer = client.get(f"/v1/members/me/pantry{query}", headers=client.member.headers)
        assert answer.status_code == 422, query
    summary = ok(client.get("/v1/members/me/pantry/summary", headers=client.member.headers))
    assert summary["jars"] == 15
    assert summary["by_state"] == {"refrigerator": 2, "shelf": 13}
    assert summary["by_family"] == {"jam": 8, "vegetable": 7}
    assert summary["by_jar_size"] == {"half-pint": 8, "quart": 7}
    assert summary["first_best_by"] == "2028-06-11"


def test_a_pantry_is_paged_while_jars_move(client: Client) -> None:
    codes = [Day(client, hours_ago=hours).to_the_shelf(4) for hours in range(40, 100, 10)]
    moving, staying = codes[2], set(codes) - {codes[2]}
    seen: list[str] = []
    query = "?limit=1"
    while query:
        page = ok(client.get(f"/v1/members/me/pantry{query}", headers=client.member.headers))
        seen += [item["lot_code"] for item in page["items"] if item["state"] == "shelf"]
        query = page["next_cursor"] and f"?limit=1&cursor={page['next_cursor']}"
        if len(seen) == 1:
            ok(move(client, moving, count=4))
        ok(move(client, codes[0], kind="relocate", count=1, location=f"shelf {len(seen)}"))
    assert sorted(code for code in seen if code != moving) == sorted(staying)


def test_a_pantry_is_its_members_and_the_coordinators(client: Client) -> None:
    Day(client).to_the_shelf(8)
    for path in ("pantry", "pantry/summary"):
        whole = f"/v1/members/{client.member.id}/{path}"
        assert client.get(whole).status_code == 401
        for outsider in (client.other, client.trainer, client.stranger):
            assert client.get(whole, headers=outsider.headers).status_code == 404
        for insider in (client.member, client.coordinator):
            assert client.get(whole, headers=insider.headers).status_code == 200
        for nobody in (str(uuid4()), "you", "%00", str(client.stranger.id)):
            answer = client.get(f"/v1/members/{nobody}/{path}", headers=client.coordinator.headers)
            assert answer.status_code == 404


def test_a_lot_is_read_whole_by_a_coordinator_and_in_part_by_a_holder(client: Client) -> None:
    code = Day(client).to_the_shelf(8)
    assert lot(client, code, client.other).status_code == 404
    ok(move(client, code, kind="give", count=3, to_member_id=str(client.other.id)))
    assert len(ok(lot(client, code))["holders"]) == 2
    assert [holder["count"] for holder in ok(lot(client, code, client.other))["holders"]] == [3]
    assert lot(client, code.lower().replace("-", "")).status_code == 200
    for wrong in (code[:-1] + ("A" if code[-1] != "A" else "B"), "jam", "0" * 60):
        assert lot(client, wrong).status_code == 404
    assert lot(client, code, client.stranger).status_code == 404


def test_a_recall_reaches_every_jar_that_anyone_still_has(client: Client) -> None:
    day = Day(client)
    code = day.to_the_shelf(8)
    for values in (
        {"kind": "give", "count": 3, "to_member_id": str(client.other.id)},
        {"kind": "use"},
        {"kind": "open"},
    ):
        ok(move(client, code, **values))

    def recall(by: Person, **body: Any) -> Any:
        return client.post(f"/v1/lots/{code}/recall", json={"reason": "Seals let go."} | body, headers=by.headers)

    assert recall(client.member).status_code == 403
    assert recall(client.stranger).status_code == 404
    assert recall(client.coordinator, reason="").status_code == 422
    assert ok(recall(client.coordinator))["recall_reason"] == "Seals let go."
    assert recall(client.coordinator).json()["code"] == "already-done"
    assert holders(client, code) == {("Ada", "recalled"): 4, ("Ada", "used"): 1, ("Bo", "recalled"): 3}
    assert move(client, code, from_state="recalled").json()["code"] == "recalled"
    ok(move(client, code, kind="discard", count=4, from_state="recalled"))
    assert proved(client)
    ok(day.load(2, minutes=100))
    ok(day.out(minutes=120, load=2))
    assert {each["state"] for each in ok(day.seals(1, 1, load=2))["lots"]} == {"recalled"}
    assert proved(client)


def test_the_ledger_is_written_once(client: Client) -> None:
    Day(client).to_the_shelf(8)
    for statement in (
        "UPDATE movement SET jars = 9",
        "DELETE FROM movement",
        "UPDATE revision SET title = 'Other'",
        "DELETE FROM revision_check",
    ):
        with pytest.raises(DBAPIError, match="written_once"), make.session(client.app.state.database) as session:
            session.execute(text(statement))


def test_the_database_keeps_balances_from_falling_below_zero(client: Client) -> None:
    Day(client).to_the_shelf(8)
    with (
        pytest.raises(DBAPIError, match="jars_never_below_zero"),
        make.session(client.app.state.database) as session,
    ):
        session.execute(text("UPDATE balance SET jars = -1"))


def test_a_balance_changed_behind_the_ledger_is_found(client: Client) -> None:
    Day(client).to_the_shelf(8)
    assert proved(client)
    with make.session(client.app.state.database) as session:
        session.execute(text("UPDATE balance SET jars = jars + 1"))
    assert not proved(client)
