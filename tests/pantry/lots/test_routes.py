import threading
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from service.members import store as members
from tests import make
from tests.batches.make import ok
from tests.conftest import Client, Person
from tests.pantry.make import holders, lot, move, proved, read


def recall(client: Client, code: str, by: Person | None = None, reason: str = "Seals let go.") -> Any:
    headers = (by or client.coordinator).headers
    return client.post(f"/v1/lots/{code}/recall", json={"reason": reason}, headers=headers)


def account(client: Client, code: str, outcome: str, by: Person | None = None, **values: Any) -> Any:
    new = {"outcome": outcome, "jar_size": "half-pint", "count": 1} | values
    return client.post(f"/v1/lots/{code}/recall/outcomes", json=new, headers=(by or client.member).headers)


def share(client: Client, code: str, who: Person | None = None, **values: Any) -> Any:
    return client.post(f"/v1/lots/{code}/shares", json=values, headers=(who or client.member).headers)


def many_members(client: Client, count: int) -> list[Person]:
    with make.session(client.app.state.database) as session:
        made = [make.member(session, client.member.kitchen_id, name=f"Member {number:02}") for number in range(count)]
        return [Person(row.id, row.kitchen_id, row.name, token) for row, token in made]


def jars(**counts: int) -> list[dict[str, Any]]:
    return [{"size": size.replace("_", "-"), "count": count} for size, count in counts.items()]


def test_jars_are_shared_by_work_and_the_rest_is_dealt_fairly(client: Client) -> None:
    code = lot(client, {"half-pint": 8, "pint": 4})
    people = (client.member, client.other, client.trainer)
    parts = [{"member_id": str(person.id), "part": 2} for person in people]
    shared = ok(share(client, code, by="work", jars=jars(half_pint=8, pint=4), shares=parts))
    # four pints among three: the first named gets the odd one; of eight half-pints the other two get the odd ones
    assert [each["jars"] for each in shared["shares"]] == [
        {"pint": 2, "half-pint": 2},
        {"pint": 1, "half-pint": 3},
        {"pint": 1, "half-pint": 3},
    ]
    assert holders(client, code) == {(person.name, "shelf"): 4 for person in people}
    assert proved(client)


def test_jars_are_shared_as_each_share_says(client: Client) -> None:
    code = lot(client)
    shares = [{"member_id": str(client.other.id), "jars": jars(half_pint=3)}]
    ok(share(client, code, by="jars", shares=shares))
    assert holders(client, code) == {("Ada", "shelf"): 5, ("Bo", "shelf"): 3}
    ok(share(client, code, client.coordinator, by="jars", shares=shares, from_member_id=str(client.member.id)))
    assert holders(client, code) == {("Ada", "shelf"): 2, ("Bo", "shelf"): 6}
    assert read(client, f"/lots/{code}", client.other).json()["left"] == 6


def test_what_cannot_be_shared_is_refused_and_moves_nothing(client: Client) -> None:
    code = lot(client)
    bo, ada, eight = str(client.other.id), str(client.member.id), jars(half_pint=8)
    mine = [{"member_id": bo, "jars": jars(half_pint=1)}]
    parts = [{"member_id": bo, "part": 1}]
    refused = [
        (share(client, code, by="jars", shares=[{"member_id": bo, "jars": jars(half_pint=9)}]), 409, "too-few-jars"),
        (share(client, code, by="work", jars=jars(half_pint=9), shares=parts), 409, "too-few-jars"),
        (share(client, code, by="work", jars=jars(quart=1), shares=parts), 409, "too-few-jars"),
        (share(client, code, by="work", shares=parts), 422, "not-possible"),
        (share(client, code, by="jars", jars=eight, shares=mine), 422, "not-possible"),
        (share(client, code, by="jars", shares=parts), 422, "not-possible"),
        (share(client, code, by="produce", jars=eight, shares=mine), 422, "not-possible"),
        (share(client, code, by="produce", jars=eight, shares=[{"member_id": bo, "part": 0}]), 422, "not-possible"),
        (share(client, code, by="produce", jars=eight, shares=parts * 2), 422, "not-possible"),
        (share(client, code, by="jars", shares=[{"member_id": str(client.stranger.id)}]), 422, "not-possible"),
        (share(client, code, by="jars", shares=mine, from_member_id=bo), 403, "role-needed"),
        (share(client, code, client.coordinator, by="jars", shares=mine, from_member_id=bo), 404, "not-found"),
        (share(client, code, client.other, by="jars", shares=mine), 404, "not-found"),
        (share(client, code, client.stranger, by="jars", shares=mine), 404, "not-found"),
        (share(client, code, by="luck", shares=mine), 422, "invalid-request"),
        (share(client, code, by="jars", shares=[]), 422, "invalid-request"),
        (share(client, code, by="jars", shares=mine, from_state="recalled"), 422, "invalid-request"),
        (share(client, code, by="work", jars=eight, shares=[{"member_id": bo, "part": -1}]), 422, "invalid-request"),
        (share(client, code, by="work", jars=eight, shares=[{"member_id": ada, "part": True}]), 422, "invalid-request"),
    ]
    assert [(answer.status_code, answer.json()["code"]) for answer, _, _ in refused] == [
        (status, problem) for _, status, problem in refused
    ]
    assert holders(client, code) == {("Ada", "shelf"): 8}


def test_a_recall_stays_open_until_every_jar_is_accounted_for(client: Client) -> None:
    code = lot(client, broken=1)
    ok(move(client, code, kind="give", count=3, to_member_id=str(client.other.id)))
    ok(move(client, code, kind="give", count=2, recipient="a neighbour, 14 Mill Lane"))
    ok(move(client, code))
    assert account(client, code, "returned").json()["code"] == "not-now"
    found = ok(recall(client, code))
    assert (found["filled"], found["left"]) == (9, 7)
    assert found["recall"] | {"to_tell": []} == {
        "status": "open", "to_account_for": 7, "returned": 0, "destroyed": 0, "eaten": 0, "to_tell": [],
    }  # fmt: skip
    told = {each["name"]: each for each in found["recall"]["to_tell"]}
    assert {name: each["to_account_for"] for name, each in told.items()} == {"Ada": 4, "Bo": 3}
    assert [gift["recipient"] for gift in told["Ada"]["gifts"]] == ["a neighbour, 14 Mill Lane"]
    for person in (client.member, client.other):
        (notice,) = ok(read(client, "/notices", person))["items"]
        assert notice["lot_code"] == code
        assert "Seals let go." in notice["message"]
    assert read(client, "/notices", client.trainer).json()["items"] == []
    assert account(client, code, "returned", count=5).json()["code"] == "too-few-jars"
    assert account(client, code, "returned", client.other, member_id=str(client.member.id)).status_code == 403
    assert account(client, code, "returned", client.trainer).status_code == 404
    assert account(client, code, "vanished").status_code == 422
    ok(account(client, code, "destroyed", count=3))
    ok(account(client, code, "eaten"))
    ok(account(client, code, "returned", client.other, count=2))
    (listed,) = ok(read(client, "/recalls", client.coordinator))["items"]
    assert (listed["lot_code"], listed["status"], listed["to_account_for"]) == (code, "open", 1)
    ok(account(client, code, "returned", client.coordinator, member_id=str(client.other.id)))
    closed = ok(read(client, f"/lots/{code}", client.coordinator))
    assert closed["recall"] | {"to_tell": []} == {
        "status": "closed", "to_account_for": 0, "returned": 3, "destroyed": 3, "eaten": 1, "to_tell": [],
    }  # fmt: skip
    assert (closed["filled"], closed["left"]) == (9, 0)
    assert read(client, "/recalls", client.coordinator).json()["items"][0]["status"] == "closed"
    own = ok(read(client, f"/lots/{code}", client.other))["recall"]
    assert ([each["name"] for each in own["to_tell"]], own["returned"], own["destroyed"]) == (["Bo"], 3, 0)
    assert proved(client)


def test_nothing_of_a_recalled_lot_is_given_away_whoever_was_first(client: Client) -> None:
    code = lot(client, {"half-pint": 40})
    barrier = threading.Barrier(9)

    def give(number: int) -> list[int]:
        barrier.wait()
        values = {"to_member_id": str(client.other.id)} if number % 2 else {"recipient": "a neighbour"}
        return [int(move(client, code, kind="give", **values).status_code) for _ in range(3)]

    def call_back() -> int:
        barrier.wait()
        return int(recall(client, code).status_code)

    with ThreadPoolExecutor(9) as threads:
        giving = [threads.submit(give, number) for number in range(8)]
        recalled = threads.submit(call_back)
        statuses = {status for each in giving for status in each.result()}
    assert recalled.result() == 200
    assert statuses <= {201, 409}
    assert {state for _, state in holders(client, code)} == {"recalled"}
    assert sum(holders(client, code).values()) == 40
    assert proved(client)


def test_a_recall_reaches_twenty_members_at_once(client: Client) -> None:
    people = many_members(client, 20)
    code = lot(client, {"half-pint": 60, "pint": 40})
    shares = [{"member_id": str(person.id), "part": 1} for person in people]
    ok(share(client, code, by="produce", jars=jars(half_pint=60, pint=40), shares=shares))
    for person in people[:5]:
        ok(move(client, code, person, kind="open"))
    found = ok(recall(client, code))
    held = [each for each in found["holders"] if each["count"]]
    assert {each["state"] for each in held} == {"recalled"}
    assert sum(each["count"] for each in held) == found["recall"]["to_account_for"] == found["filled"] == 100
    assert [each["name"] for each in found["recall"]["to_tell"]] == ["Ada", *(person.name for person in people)]
    with make.session(client.app.state.database) as session:
        assert all(len(members.notices(session, person.id, None, 5)) == 1 for person in people)
    assert proved(client)


def test_a_misread_code_finds_no_lot(client: Client) -> None:
    code = lot(client)
    digits = code.replace("-", "")
    for at, digit in enumerate(digits[:-1]):
        misread = digits[:at] + str((int(digit) + 1) % 10) + digits[at + 1 :]
        answer = read(client, f"/lots/{misread}", client.coordinator)
        assert (answer.status_code, answer.json()["code"]) == (404, "misread-lot-code"), misread
    assert read(client, f"/lots/{code.lower()}", client.coordinator).json()["lot_code"] == code


def test_cautions_for_low_acid_food_come_with_its_lots(client: Client) -> None:
    jam, beans = lot(client), lot(client, {"quart": 7}, title="Snap beans", family="vegetable")

    def rules(code: str) -> list[str]:
        return [each["rule"] for each in read(client, f"/lots/{code}").json()["cautions"]]

    assert rules(jam) == ["discard-signs"]
    assert rules(beans) == [
        "discard-signs",
        "altitude-detox-boil",
        "spoiled-low-acid-sealed",
        "spoiled-low-acid-open",
    ]
