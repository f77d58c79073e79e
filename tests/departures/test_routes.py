from typing import Any

import pytest

from tests.batches.make import Day, ok
from tests.bookings.kitchen import booked, opened, piece
from tests.conftest import Client, Person
from tests.pantry.make import holders, lot, move, proved, read


def depart(client: Client, who: Person, by: Person | None = None, **values: Any) -> Any:
    headers = (by or client.coordinator).headers
    return client.post(f"/v1/members/{who.id}/departure", json=values, headers=headers)


def recalled_and_other_jars(client: Client) -> tuple[str, str]:
    """A lot on the shelf and one that is called back, both of the first member."""
    kept, recalled = lot(client), lot(client, title="Doubtful jam")
    headers = client.coordinator.headers
    ok(client.post(f"/v1/lots/{recalled}/recall", json={"reason": "Seals let go."}, headers=headers))
    return kept, recalled


@pytest.mark.parametrize("handed_on", [True, False], ids=["handed on", "taken along"])
def test_a_member_leaves_and_no_jar_is_lost(client: Client, handed_on: bool) -> None:
    kept, recalled = recalled_and_other_jars(client)
    opened(client)
    ahead = booked(client, client.member, piece(client))
    jars_to = {"jars_to": str(client.other.id)} if handed_on else {}
    left = ok(depart(client, client.member, **jars_to))
    assert left["cancelled_bookings"] == [ahead["id"]]
    if handed_on:
        assert (left["jars_handed_on"], left["jars_taken_along"]) == (16, 0)
        assert holders(client, kept) == {("Bo", "shelf"): 8}
        assert holders(client, recalled) == {("Bo", "recalled"): 8}
    else:
        assert (left["jars_handed_on"], left["jars_taken_along"]) == (8, 8)
        assert holders(client, kept) == {("Ada", "given"): 8}
        assert holders(client, recalled) == {("Cora", "recalled"): 8}
    assert proved(client)
    assert read(client, "/members/me/pantry").status_code == 401
    assert depart(client, client.member).status_code == 404
    give = move(client, lot(client, by=client.other), client.other, kind="give", to_member_id=str(client.member.id))
    assert give.json()["code"] == "not-possible"
    listed = ok(read(client, "/members", client.coordinator))["items"]
    assert "Ada" not in [each["name"] for each in listed]


def test_jars_taken_along_are_called_back_by_name(client: Client) -> None:
    code = lot(client)
    ok(depart(client, client.member))
    headers = client.coordinator.headers
    found = ok(client.post(f"/v1/lots/{code}/recall", json={"reason": "Seals let go."}, headers=headers))
    assert found["recall"]["to_account_for"] == 8
    assert [gift["recipient"] for gift in found["gifts"]] == ["Ada"]
    outcome = {"outcome": "destroyed", "jar_size": "half-pint", "count": 8, "member_id": str(client.member.id)}
    ok(client.post(f"/v1/lots/{code}/recall/outcomes", json=outcome, headers=headers))
    assert ok(read(client, f"/lots/{code}", client.coordinator))["recall"]["status"] == "closed"


def test_nobody_leaves_in_the_middle_of_a_batch(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    assert depart(client, client.member).json()["code"] == "not-now"
    ok(day.out())
    ok(day.seals(8, 0))
    assert ok(depart(client, client.member))["jars_taken_along"] == 8


def test_who_may_let_whom_go(client: Client) -> None:
    assert depart(client, client.member, client.member).status_code == 403
    assert depart(client, client.member, client.trainer).status_code == 403
    assert depart(client, client.member, client.stranger).status_code == 404
    assert depart(client, client.coordinator).json()["code"] == "not-possible"
    for heir in (client.member, client.stranger):
        assert depart(client, client.member, jars_to=str(heir.id)).json()["code"] == "not-possible"
    assert depart(client, client.member, jars_to=1).status_code == 422
    assert read(client, "/members/me").status_code == 200
