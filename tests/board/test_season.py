"""The season's numbers add up, and its pictures are drawn from them."""

from collections import Counter
from datetime import datetime, timedelta
from typing import Any
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest

from tests.batches.make import ok
from tests.board.reading import SVG
from tests.board.scene import Scene
from tests.bookings.kitchen import at

DENVER = ZoneInfo("America/Denver")
USE = "/v1/canner-use?from=2027-06-01&to=2027-06-30"
DRAWN_USE = USE.replace("?", "/picture?")
YEAR = "/v1/members/me/pantry/years/2027"


def drawn(answer: Any) -> ElementTree.Element:
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "image/svg+xml"
    assert answer.headers["content-security-policy"] == "default-src 'none'; style-src 'unsafe-inline'"
    root = ElementTree.fromstring(answer.text)  # not well-formed: an error
    assert root.tag == f"{SVG}svg"
    width, height = (float(each) for each in (root.get("viewBox") or "").split()[2:])
    for box in root.iter(f"{SVG}rect"):
        if box.get("x"):
            assert float(box.get("x", "")) + float(box.get("width", "")) <= width + 0.5
            assert float(box.get("y", "")) + float(box.get("height", "")) <= height + 0.5
    return root


def boxes(root: ElementTree.Element, look: str) -> dict[str, ElementTree.Element]:
    """The boxes of a look by what they say."""
    return {
        box.findtext(f"{SVG}title", ""): box
        for box in root.iter(f"{SVG}rect")
        if box.get("class") == look and box.find(f"{SVG}title") is not None
    }


def test_the_months_of_a_pantry_add_up_to_its_year(scene: Scene) -> None:
    client, ada = scene.client, scene.client.member
    lot = client.get("/v1/members/me/pantry?state=shelf", headers=ada.headers).json()["items"][0]
    use = {"kind": "use", "lot_code": lot["lot_code"], "jar_size": "half-pint", "count": 3}
    client.clock.pass_by(days=20)
    try:
        ok(client.post("/v1/movements", json=use, headers=ada.headers))
    finally:
        client.clock.pass_by(days=-20)
    months = client.get(f"{YEAR}/months", headers=ada.headers).json()["months"]
    whole = client.get(YEAR, headers=ada.headers).json()
    assert [each["month"] for each in months] == list(range(1, 13))
    for column in ("put_up", "received", "eaten", "given", "lost"):
        assert sum(each[column] for each in months) == whole[column]
    assert (months[5]["put_up"], months[6]["eaten"]) == (8, 3)

    root = drawn(client.get(f"{YEAR}/picture", headers=ada.headers))
    put_up, eaten = boxes(root, "put-up"), boxes(root, "eaten")
    assert (set(put_up), set(eaten)) == ({"8 jars put up in June"}, {"3 jars eaten in July"})
    wide = [float(box.get("width", "")) for box in (*put_up.values(), *eaten.values())]
    assert wide[0] * 3 == pytest.approx(wide[1] * 8, abs=0.1)


def test_the_use_of_canners_is_what_was_booked_by_the_clock_on_the_wall(scene: Scene) -> None:
    """Against a slow twin that goes through every minute of every booking, as the coordinator reads them."""
    client = scene.client
    canners = {id for name, id in scene.pieces.items() if "kettle" in name or "canner" in name}
    listed = client.get(
        f"/v1/bookings?from={at('01T06:00')}&to={at('30T06:00')}&limit=200", headers=client.coordinator.headers
    ).json()["items"]
    expected: Counter[tuple[int, int]] = Counter()
    for claim in (claim for booking in listed for claim in booking["claims"] if claim["equipment_id"] in canners):
        minute, ends = (datetime.fromisoformat(claim[name]) for name in ("starts_at", "ends_at"))
        while minute < ends:
            local = minute.astimezone(DENVER)
            expected[local.weekday(), local.hour] += 1
            minute += timedelta(minutes=1)
    answer = client.get(USE, headers=client.other.headers).json()
    days = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
    found = {(days.index(each["weekday"]), each["hour"]): each["booked_minutes"] for each in answer["hours"]}
    assert {key: minutes for key, minutes in found.items() if minutes} == dict(expected)
    # Open from 8 to 20 each day of June but the 17th, a Thursday, for each of four canners.
    assert sum(each["open_minutes"] for each in answer["hours"]) == 29 * 12 * 60 * 4

    root = drawn(client.get(DRAWN_USE, headers=client.other.headers))
    said = [title for number in range(6) for title in boxes(root, f"shade-{number}")]
    assert len(said) == len(answer["hours"])
    monday_noon = next(each for each in answer["hours"] if (each["weekday"], each["hour"]) == ("monday", 12))
    percent = round(100 * monday_noon["booked_minutes"] / monday_noon["open_minutes"])
    assert f"Monday, 12 to 13: {percent} percent of the canners' time booked" in said


def test_a_harvest_is_drawn_as_it_is_planned(scene: Scene) -> None:
    client, ada = scene.client, scene.client.member
    harvest = {
        "produce": [
            {"name": "plums", "amount": 60, "unit": "lb", "use_by": "2027-06-15"},
            {"name": "<quinces>", "amount": 1, "unit": "crate", "use_by": "2027-06-20"},
        ],
        "recipes": [scene.recipes["jam"]],
    }
    plan = client.post("/v1/harvest-plans", json=harvest, headers=ada.headers).json()
    left = next(rest for rest in plan["wont_fit"] if rest["name"] == "plums")["pounds"]["high"]
    root = drawn(client.post("/v1/harvest-plans/picture", json=harvest, headers=ada.headers))
    in_time, late = boxes(root, "put-up"), boxes(root, "spoils")
    assert list(late) == [f"{left:.3g} lb of plums: no time before it spoils"]
    widths = [float(box.get("width", "")) for box in (*in_time.values(), *late.values())]
    assert widths[1] / sum(widths) == pytest.approx(left / 60, abs=0.01)
    assert "<quinces>" in [each.text for each in root.iter(f"{SVG}text")]


def test_a_picture_is_for_those_its_numbers_are_for(scene: Scene) -> None:
    client = scene.client
    ada = f"/v1/members/{client.member.id}/pantry/years/2027"
    for path in (f"{ada}/months", f"{ada}/picture"):
        answers = [client.get(path, headers=who.headers).status_code for who in (client.member, client.coordinator)]
        refused = [client.get(path, headers=who.headers).status_code for who in (client.other, client.stranger)]
        assert (answers, refused) == ([200, 200], [404, 404])
    elsewhere = client.get(USE, headers=client.stranger.headers).json()
    assert (elsewhere["canners"], elsewhere["hours"]) == (0, [])
    assert "kettle" not in client.get(DRAWN_USE, headers=client.stranger.headers).text


@pytest.mark.parametrize(
    ("query", "code"),
    [
        ("from=2027-06-02&to=2027-06-01", "ends-before-start"),
        ("from=2026-01-01&to=2027-06-01", "not-possible"),
        ("from=2027-06-31&to=2027-07-01", "invalid-request"),
        ("from=1969-01-01&to=1969-01-02", "invalid-request"),
        ("from=2027-06-01", "invalid-request"),
    ],
)
def test_days_that_make_no_sense_are_refused(scene: Scene, query: str, code: str) -> None:
    for path in ("/v1/canner-use", "/v1/canner-use/picture"):
        answer = scene.client.get(f"{path}?{query}", headers=scene.client.member.headers)
        assert (answer.status_code, answer.json()["code"]) == (422, code)


def test_a_year_of_nothing_is_a_picture_too(scene: Scene) -> None:
    root = drawn(scene.client.get("/v1/members/me/pantry/years/1999/picture", headers=scene.client.member.headers))
    assert not boxes(root, "put-up")
