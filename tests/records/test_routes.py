import csv
from io import StringIO
from typing import Any

from tests.batches.make import PLUM_JAM, Day, ok
from tests.conftest import Client, Person
from tests.pantry.make import move

RANGE = "?from=2027-06-01&to=2027-06-30"


def records(client: Client, path: str = RANGE, by: Person | None = None) -> Any:
    return client.get(f"/v1/batch-records{path}", headers=(by or client.coordinator).headers)


def lines(client: Client, by: Person | None = None) -> list[dict[str, str]]:
    answer = records(client, f"/table{RANGE}", by)
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/csv")
    return list(csv.DictReader(StringIO(answer.text, newline="")))


def test_a_record_holds_the_whole_batch(client: Client) -> None:
    day = Day(client)
    code = day.to_the_shelf(8)
    ok(day.ph(3.4, calibrated_at_buffers=[4.01, 7.0]))
    ok(move(client, code, kind="give", count=2, to_member_id=str(client.other.id)))
    client.clock.pass_by(minutes=1)
    ok(move(client, code, kind="give", recipient="=HYPERLINK(neighbour)"))
    (record,) = ok(records(client))["items"]
    assert record == ok(records(client, f"/{day.batch['id']}"))
    assert record["batch"]["lot_code"] == code
    assert (record["revision"], record["altitude_ft"], record["member"]["name"]) == (1, 4200, "Ada")
    assert (record["processes"][0]["minutes"], record["processes"][0]["source"]["evidence"]) == (10, "read")
    assert [each["ph"] for each in record["ph_readings"]] == [3.4]
    assert [(each["count"], each["to_name"]) for each in record["handed_on"]] == [
        (2, "Bo"),
        (1, "=HYPERLINK(neighbour)"),
    ]
    assert (record["filled"], record["left"], record["made_on"], record["kept_until"]) == (
        8, 7, "2027-06-12", "2030-06-12",
    )  # fmt: skip
    assert "sale-local-law" in [note["rule"] for note in record["notes"]]
    (line,) = lines(client)
    assert (line["lot_code"], line["jars"], line["sealed"], line["minutes"]) == (code, "8", "8", "10")
    assert line["handed_on"] == "2 half-pint to Bo; 1 half-pint to =HYPERLINK(neighbour)"


def test_a_title_is_no_formula_in_the_table(client: Client) -> None:
    Day(client, PLUM_JAM | {"title": "=1+1"}).to_the_shelf(8)
    assert [line["title"] for line in lines(client)] == ["'=1+1"]


def test_members_get_the_records_of_their_own_batches(client: Client) -> None:
    day = Day(client)
    day.to_the_shelf(8)
    own = f"/{day.batch['id']}"
    for outsider in (client.other, client.trainer, client.stranger):
        assert ok(records(client, by=outsider))["items"] == []
        assert lines(client, outsider) == []
        assert records(client, own, outsider).status_code == 404
    for insider in (client.member, client.coordinator):
        assert len(ok(records(client, by=insider))["items"]) == len(lines(client, insider)) == 1
        assert records(client, own, insider).status_code == 200


def test_a_range_is_two_days_in_order(client: Client) -> None:
    refused = [
        ("", "invalid-request"),
        ("?from=2027-06-01", "invalid-request"),
        ("?from=soon&to=2027-06-30", "invalid-request"),
        ("?from=2027-06-30&to=2027-06-01", "ends-before-start"),
        ("?from=1970-01-01&to=2199-12-31", "not-possible"),
    ]
    for query, code in refused:
        for path in ("", "/table"):
            answer = records(client, path + query)
            assert (answer.status_code, answer.json()["code"]) == (422, code), query
    assert ok(records(client, "?from=2199-12-31&to=2199-12-31"))["items"] == []
