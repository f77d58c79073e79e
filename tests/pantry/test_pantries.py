from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import text

from tests import make
from tests.batches.make import ok
from tests.conftest import Client
from tests.pantry.make import lot, move, read


def listed(client: Client, query: str) -> list[dict[str, Any]]:
    return list(ok(read(client, f"/members/me/pantry{query}"))["items"])


def walked(client: Client, query: str) -> list[str]:
    """Titles of all pages of one item each, while jars move between them."""
    titles: list[str] = []
    cursor = ""
    while cursor is not None:
        page = ok(read(client, f"/members/me/pantry{query}&limit=1{cursor}"))
        titles += [item["title"] for item in page["items"]]
        cursor = f"&cursor={page['next_cursor']}" if page["next_cursor"] else None
        for item in page["items"]:
            ok(move(client, item["lot_code"], kind="chill", from_state="shelf"))
    return titles


@pytest.mark.parametrize(
    ("sort", "expected"),
    [
        pytest.param("title", ["Apple butter", "Beans", "Cherry jam"], id="by title"),
        pytest.param("-title", ["Cherry jam", "Beans", "Apple butter"], id="by title, backwards"),
        pytest.param("made_on", ["Beans", "Cherry jam", "Apple butter"], id="the oldest first"),
        pytest.param("-made_on", ["Apple butter", "Cherry jam", "Beans"], id="the newest first"),
        pytest.param("best_by", ["Beans", "Cherry jam", "Apple butter"], id="the first best-by first"),
    ],
)
def test_a_pantry_is_read_in_any_order_while_jars_move(client: Client, sort: str, expected: list[str]) -> None:
    today = client.clock.at.date()
    for title, days in (("Cherry jam", 20), ("Beans", 30), ("Apple butter", 10)):
        lot(client, {"half-pint": 3, "pint": 2}, title=title, made_on=today - timedelta(days=days))
    query = f"?sort={sort}&state=shelf"
    assert [item["title"] for item in listed(client, f"{query}&jar_size=pint")] == expected
    assert walked(client, f"{query}&jar_size=half-pint") == expected


def test_a_pantry_is_searched_by_lot_and_by_text(client: Client) -> None:
    jam, percent = lot(client), lot(client, title="50% fruit_spread")
    assert [item["lot_code"] for item in listed(client, f"?lot={jam.lower()}")] == [jam]
    for words, found in (("PLUM", [jam]), ("0% fruit_", [percent]), ("%", [percent]), ("_", [percent]), ("quince", [])):
        answer = client.get("/v1/members/me/pantry", params={"text": words}, headers=client.member.headers)
        assert [item["lot_code"] for item in ok(answer)["items"]] == found, words
    misread = read(client, f"/members/me/pantry?lot={jam[:-1]}!")
    assert (misread.status_code, misread.json()["code"]) == (404, "misread-lot-code")
    for query in ("?sort=count", "?sort=", "?text=%00", "?sort=title&cursor=none"):
        assert read(client, f"/members/me/pantry{query}").status_code == 422, query


def test_what_to_eat_first_goes_by_the_clock_of_each_jar(client: Client) -> None:
    today = client.clock.at.date()  # 14 June 2027
    jam = lot(client, unsealed=1, checked_days_ago=5)
    beans = lot(client, {"quart": 7}, title="Snap beans", family="vegetable", made_on=date(2026, 6, 1))
    salsa = lot(client, {"pint": 2}, title="Salsa", family="salsa")
    client.clock.pass_by(days=1)
    ok(move(client, salsa, kind="open", jar_size="pint"))
    client.clock.pass_by(days=1)
    ok(move(client, jam, kind="open", from_state="refrigerator"))
    found = ok(read(client, "/members/me/pantry/eat-first"))
    assert [(item["lot_code"], item["state"], item["clock"], item["eat_by"]) for item in found["items"]] == [
        (beans, "shelf", "best-by", "2027-06-01"),
        (salsa, "opened", "opened", str(today + timedelta(days=4))),
        # it had no seal and stood in the refrigerator before it was opened: that time isn't given back
        (jam, "opened", "opened", str(today + timedelta(days=16))),
        (jam, "shelf", "best-by", "2028-06-09"),
        (salsa, "shelf", "best-by", "2028-06-14"),
    ]
    assert [item["past"] for item in found["items"]] == [True, False, False, False, False]
    assert found["clocks"]["opened"]["source"]["evidence"] == "common-practice"
    assert [each["rule"] for each in found["cautions"]][:2] == ["discard-signs", "altitude-detox-boil"]
    assert len(ok(read(client, "/members/me/pantry/eat-first?limit=1"))["items"]) == 1
    assert read(client, "/members/me/pantry/eat-first?limit=0").status_code == 422


def test_moving_a_jar_about_does_not_turn_its_clock_back(client: Client) -> None:
    code = lot(client, unsealed=2)
    client.clock.pass_by(days=2)
    ok(move(client, code, kind="relocate", count=2, from_state="refrigerator", location="top shelf"))
    ok(move(client, code, kind="give", from_state="refrigerator", to_member_id=str(client.other.id)))
    for person in (client.member, client.other):
        found = ok(read(client, "/members/me/pantry/eat-first", person))["items"][0]
        assert (found["state"], found["since"]) == ("refrigerator", "2027-06-14")


def test_a_year_says_what_became_of_the_jars(client: Client) -> None:
    code = lot(client, {"half-pint": 8, "pint": 4}, broken=1)
    ok(move(client, code, kind="give", count=2, to_member_id=str(client.other.id)))
    ok(move(client, code, kind="give", recipient="a neighbour"))
    ok(move(client, code, count=2))
    ok(move(client, code, kind="open"))
    ok(move(client, code, kind="discard", from_state="opened"))
    year = ok(read(client, "/members/me/pantry/years/2027"))
    counts = {"put_up": 12, "received": 0, "eaten": 2, "given": 3, "lost": 3}
    assert {name: year[name] for name in counts} == counts
    assert [(each["family"], each["jar_size"], each["put_up"]) for each in year["groups"]] == [
        ("jam", "half-pint", 8),
        ("jam", "pint", 4),
    ]
    assert ok(read(client, "/members/me/pantry/years/2027", client.other))["received"] == 2
    assert ok(read(client, "/members/me/pantry/years/2026"))["put_up"] == 0
    assert read(client, "/members/me/pantry/years/20270").status_code == 422
    other = f"/members/{client.member.id}/pantry/years/2027"
    assert [read(client, other, who).status_code for who in (client.other, client.coordinator)] == [404, 200]


def test_a_year_begins_on_the_kitchens_calendar(client: Client) -> None:
    client.clock.at = client.clock.at.replace(year=2028, month=1, day=1, hour=3)  # still 2027 in Denver
    lot(client)
    assert ok(read(client, "/members/me/pantry/years/2027"))["put_up"] == 8
    assert ok(read(client, "/members/me/pantry/years/2028"))["put_up"] == 0


def test_an_outsiders_jar_stays_the_givers_to_ask_after(client: Client) -> None:
    code = lot(client)
    given = ok(move(client, code, kind="give", recipient="a neighbour, 14 Mill Lane"))
    assert (given["to_state"], given["recipient"]) == ("given", "a neighbour, 14 Mill Lane")
    assert [gift["recipient"] for gift in ok(read(client, f"/lots/{code}"))["gifts"]] == ["a neighbour, 14 Mill Lane"]
    assert sum(item["count"] for item in listed(client, "")) == 7


def test_a_coordinator_can_have_the_ledger_proved(client: Client) -> None:
    lot(client)
    assert ok(read(client, "/ledger/proof", client.coordinator)) == {
        "holds": True, "filled": 8, "held": 8, "ended": 0, "wrong": [],
    }  # fmt: skip
    assert ok(read(client, "/ledger/proof", client.stranger))["filled"] == 0
    assert read(client, "/ledger/proof").status_code == 403
    with make.session(client.app.state.database) as session:
        session.execute(text("UPDATE balance SET jars = 9"))
    found = ok(read(client, "/ledger/proof", client.coordinator))
    assert (found["holds"], [each["state"] for each in found["wrong"]]) == (False, ["shelf"])
