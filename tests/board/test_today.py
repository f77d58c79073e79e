"""What the wall shows is what the API says, and nobody's name."""

import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.board.reading import SVG, Read, see, words
from tests.board.scene import NOON, Scene
from tests.bookings.kitchen import at

DENVER = ZoneInfo("America/Denver")


@pytest.fixture(scope="module")
def page(scene: Scene):
    return see(scene.client, "/board", scene.client.member)


def bookings_of_today(scene: Scene):
    """Each claim of a confirmed booking, as the coordinator reads it: equipment, begin, end, booking."""
    client = scene.client
    answer = client.get(
        f"/v1/bookings?from={at('14T06:00')}&to={at('15T06:00')}&limit=200", headers=client.coordinator.headers
    )
    return [
        (claim["equipment_id"], datetime.fromisoformat(claim["starts_at"]), datetime.fromisoformat(claim["ends_at"]), b)
        for b in answer.json()["items"]
        if b["status"] in ("confirmed", "done")
        for claim in b["claims"]
    ]


@pytest.mark.parametrize("layout", ["wide", "narrow"])
def test_each_booking_is_a_rectangle_between_its_hours(scene: Scene, page, layout: str) -> None:
    picture = page.one(f"{SVG}svg", class_=f"timetable {layout}")
    ticks = [each for each in picture.iter(f"{SVG}text") if each.get("class") == "hour"]
    first, last = ((float(each.get("x", "")), int(each.text or "")) for each in (ticks[0], ticks[-1]))
    an_hour = (last[0] - first[0]) / (last[1] - first[1])

    def x(moment: datetime) -> float:
        local = moment.astimezone(DENVER)
        return first[0] + (local.hour + local.minute / 60 - first[1]) * an_hour

    rows = [each for each in picture.iter(f"{SVG}rect") if each.get("class") == "free"]
    names = [each.text for each in picture.iter(f"{SVG}text") if each.get("class") == "name"]
    bars = [each for each in picture.iter(f"{SVG}rect") if (each.get("class") or "").startswith("bar ")]
    drawn = set()
    for bar in bars:
        name = next(
            name
            for name, row in zip(names, rows, strict=True)
            if float(row.get("y", ""))
            <= float(bar.get("y", ""))
            < float(row.get("y", "")) + float(row.get("height", ""))
        )
        left, kind = float(bar.get("x", "")), (bar.get("class") or "").removeprefix("bar ")
        if kind in ("booked", "yours"):
            drawn.add((scene.pieces[str(name)], round(left), round(left + float(bar.get("width", ""))), kind))
    mine = str(scene.client.member.id)
    expected = {
        (piece, round(x(starts)), round(x(ends)), "yours" if booking["member_id"] == mine else "booked")
        for piece, starts, ends, booking in bookings_of_today(scene)
    }
    assert {each[0] for each in drawn} == {each[0] for each in expected}
    for piece, starts_x, ends_x, kind in expected:  # a pixel either way is rounding
        assert any(
            (piece, kind) == (other[0], other[3]) and abs(other[1] - starts_x) <= 1 and abs(other[2] - ends_x) <= 1
            for other in drawn
        ), (piece, starts_x, ends_x, kind)
    assert len(drawn) == len(expected)


def test_half_a_rack_is_half_a_line(page) -> None:
    picture = page.one(f"{SVG}svg", class_="timetable wide")
    racked = next(each for each in picture.iter(f"{SVG}rect") if "36 of 72" in words_of_title(each))
    row = next(each for each in picture.iter(f"{SVG}rect") if each.get("class") == "free")
    assert float(racked.get("height", "")) == float(row.get("height", "")) / 2


def words_of_title(rect) -> str:
    title = rect.find(f"{SVG}title")
    return "" if title is None else title.text


def test_what_is_free_now_is_what_a_search_finds_now(scene: Scene, page) -> None:
    client = scene.client
    found = set()
    for kind in ("burner", "canner", "table", "rack"):
        wish = {
            "equipment_kind": kind,
            "minutes": 5,
            "not_before": at("14T18:20"),
            "not_after": at("14T18:25"),
            "limit": 100,
        }
        answer = client.post("/v1/slot-searches", json=wish, headers=client.member.headers).json()
        found |= {option["claims"][0]["equipment_id"] for option in answer["options"]}
    shown = words(page.section("Free now"))
    assert {name for name, id in scene.pieces.items() if id in found} == {n for n in scene.pieces if n in shown}
    assert "Steam canner to 13:00" in shown
    assert "Long table to 12:30" in shown


def test_the_canners_are_told_earliest_first_and_never_too_soon(page) -> None:
    section = page.section("Out of the canners next")
    rows = [[words(cell) for cell in row] for row in section.iter("tr")][1:]
    # In at 12:15 for 10 minutes, and at 11:45 for 55: USDA AIB 539, Guides 7 and 3, at 4,200 ft.
    assert [(row[0].split(" yours")[0], row[1], row[2].split(" ")[0], row[3]) for row in rows] == [
        ("Speckled kettle", "8 half-pint", "12:25", "5 min"),
        ("Blue kettle", "7 quart", "12:40", "20 min"),
    ]
    assert "Count the minutes yourself" in words(section)


def test_past_its_earliest_time_a_load_goes_by_its_own_timer(scene: Scene) -> None:
    scene.client.clock.at = NOON + timedelta(minutes=21)
    try:
        section = see(scene.client, "/board", scene.client.member).section("Out of the canners next")
        assert "by its own timer" in words(section)
        assert "0 min" not in words(section)
    finally:
        scene.client.clock.at = NOON


def test_clocks_and_holds_are_said_with_their_moments(page) -> None:
    shown = words(page.section("Clocks and holds"))
    # Unsealed: 24 hours after 15:05; heated too little: 24 hours at most after 16:50; a rest of 12 hours after 10:00.
    assert "1 half-pint jar didn't seal: eat, chill, freeze or process again by 15:05 (yours: Plum jam)" in shown
    assert "8 half-pint jars heated too little: a trainer decides by 16:50" in shown
    assert "8 half-pint jars at rest: seals can be checked from 22:00" in shown
    assert "1 lot on hold , 8 jars counted" in shown


def test_those_who_decide_see_which_lot_waits_and_why(scene: Scene, page) -> None:
    client = scene.client
    (lot,) = client.get("/v1/holds", headers=client.trainer.headers).json()["items"]
    for who in (client.trainer, client.coordinator):
        shown = words(see(client, "/board", who).section("Clocks and holds"))
        assert f"Lot {lot['lot_code']}, 8 jars: {lot['deviations'][0]['says']}" in shown
    assert lot["lot_code"] not in page.answer.text


def test_the_next_days_say_when_a_canner_is_first_free(scene: Scene, page) -> None:
    rows = {words(row[0]): words(row) for row in page.section("The next days").iter("tr")}
    assert "closed nothing none" in rows["Thursday 17 June"]
    assert "08:00–20:00 4 h 08:00 boiling water" in rows["Tuesday 15 June"]  # Bo has one kettle, Ada the dial canner
    client = scene.client
    wish = {
        "equipment_kind": "canner",
        "canner_kind": "atmospheric-steam",
        "minutes": 60,
        "not_before": at("15T06:00"),
        "not_after": at("16T06:00"),
    }
    first = client.post("/v1/slot-searches", json=wish, headers=client.member.headers).json()["options"][0]
    local = datetime.fromisoformat(first["starts_at"]).astimezone(DENVER)
    assert f"{local:%H:%M} steam" in rows["Tuesday 15 June"]


@pytest.mark.parametrize("day", ["", "?day=2027-06-15"])
def test_nobody_is_named_but_oneself(scene: Scene, day: str) -> None:
    client = scene.client
    ours, theirs = (see(client, f"/board{day}", who).answer.text for who in (client.member, client.coordinator))
    assert not re.search(r"\bBo\b|secret jam|private matter", ours)
    assert not re.search(r"\b(Ada|Bo|jam|tomatoes|beans)\b|private matter|Stoning", theirs)


def test_a_screen_on_the_wall_shows_nobodys_and_leads_nowhere_else(scene: Scene) -> None:
    client = scene.client
    path = f"/v1/members/{client.member.id}/tokens"
    token = client.post(path, json={"scope": "board"}, headers=client.coordinator.headers).json()["token"]
    wall = {"Accept": "text/html", "Cookie": f"canning_kitchen={token}"}
    page = Read(client.get("/board", headers=wall))
    assert "Out of the canners next" in page.text
    assert not re.search(r"\b(Ada|Bo|jam|tomatoes|beans)\b|private matter|Stoning|[Yy]ours:", page.answer.text)
    assert {link.get("href") for link in page.all("a", page.one("nav"))} == {"/board", "/board/check", "/rules"}
    assert page.all("form") == []
    for other in ("/board/yours", "/board/slots", "/board/season"):
        assert client.get(other, headers=wall).status_code == 403
    instruments = client.post(path, json={"scope": "instruments"}, headers=client.coordinator.headers).json()["token"]
    assert client.get("/board", headers={"Cookie": f"canning_kitchen={instruments}"}).status_code == 403


def test_another_kitchen_sees_nothing_of_this_one(scene: Scene) -> None:
    page = see(scene.client, "/board", scene.client.stranger)
    assert "Another hall" in page.text
    assert not any(name in page.answer.text for name in scene.pieces)
    assert "kettle" not in page.answer.text


def test_without_a_token_there_is_only_the_way_in(scene: Scene) -> None:
    page = see(scene.client, "/board", None)
    assert page.status == 200
    assert [form.get("action") for form in page.all("form")] == ["/board/sign-in"]
    assert "Hall kitchen" not in page.answer.text


def test_a_closed_day_is_said_in_words(scene: Scene) -> None:
    page = see(scene.client, "/board?day=2027-06-17", scene.client.member)
    assert "The kitchen is closed all day." in page.text
    assert see(scene.client, "/board?day=never", scene.client.member).status == 422


def test_the_list_says_what_the_picture_shows(page) -> None:
    picture = page.one(f"{SVG}svg", class_="timetable wide")
    bars = [each for each in picture.iter(f"{SVG}rect") if (each.get("class") or "").startswith("bar ")]
    listed = words(page.one("table", page.section("Today")))
    assert bars
    assert all(words_of_title(bar) in listed for bar in bars)
