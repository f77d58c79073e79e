"""What is printed says what the API says, fits its paper, and can't be broken by what people write."""

import re
import time
from html.parser import HTMLParser

import pytest

from service.prints import papers
from service.prints.formats import FORMATS
from tests.batches.make import CRUSHED_TOMATOES, PLUM_JAM, SNAP_BEANS, Day, booking, canner, ok
from tests.bookings.kitchen import booked, opened, piece
from tests.pantry.make import lot, move
from tests.prints.reading import codes, pdf, printed, text

AWKWARD = (
    '<b>Plum</b> & "jam" <script>alert(1)</script>',
    "&lt;para&gt; {{ 7 * 7 }} ]]> <br/",
    "מרקחת שזיפים של סבתא",
    "مربى البرقوق ½ °F",
    "Plums 🫙🍑👩‍🍳 jam\u200d\u202e backwards",
    "Zwetschgen\u00admus\nin two lines",
    "W" * 200,
    "プラムのジャム 李子果酱",
)
OWN = {"Sec-Fetch-Site": "same-origin"}
SQLITE = pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)  # one database is enough: nothing is stored
pytestmark = SQLITE


def words(page: str) -> str:
    """The text of a page; what a browser would run or load is counted as a fault."""
    found: list[str] = []

    class Reader(HTMLParser):
        skipping = False

        def handle_starttag(self, tag, attributes):
            assert tag not in {"script", "link", "img", "iframe", "object"}, tag
            assert not any(name.startswith("on") or name in {"src", "href"} for name, _ in attributes)
            self.skipping = tag == "style"

        def handle_endtag(self, tag):
            self.skipping = False

        def handle_data(self, data):
            found.append("" if self.skipping else data)

    Reader().feed(page)
    return " ".join(" ".join(found).split())


@pytest.mark.parametrize(
    ("body", "kind"), [(CRUSHED_TOMATOES, "boiling-water"), (SNAP_BEANS, "pressure-dial")], ids=["tomatoes", "beans"]
)
def test_a_run_sheet_is_one_page_with_the_figures_of_the_batch(client, body, kind):
    day = Day(client, body, kind=kind)
    sheet = day.now()["run_sheet"]
    path = f"run-sheets/{day.batch['id']}"
    for paper in ("letter", "a4"):
        document = pdf(client, path, paper=paper)
        assert len(document) == 1
        on_pdf = text(document)
    on_page = words(printed(client, path).text)
    (process,) = sheet["processes"]
    figure = f"{process['minutes']} min" + (f" at {process['pressure_psi']} psi" if process["pressure_psi"] else "")
    for found in (on_pdf, on_page):
        assert body["title"] in found
        assert figure in found
        assert "4,200 ft" in found
        assert found.count("\u2610") >= (len(sheet["steps"]) if found is on_pdf else 0)
        for part in sheet["gather"]["ingredients"]:
            assert f"{part['kitchen']} {part['name']}" in found
        for step in sheet["steps"]:
            assert f"{step['number']}. {step['says']}" in found
        for each in (*sheet["cautions"], *sheet["seal_check"], *sheet["cool_down"], sheet["rest"]["says"]):
            assert each in found
        for each in sheet["load_plan"]:
            assert f"Load {each['load']}: {each['count']} {each['jar_size']} jars in {each['canner']}" in found
        for each in sheet["fill"][0]["in_each_jar"]:
            assert each in found
        assert process["source"]["title"] in found


def test_a_run_sheet_is_printed_before_the_day_as_on_it(client):
    ahead = booking(client, canner(client), CRUSHED_TOMATOES, hours_ago=-48)
    path = f"booked-run-sheets/{ahead['id']}"
    before = words(printed(client, path).text)
    assert "Booked, not begun" in before
    assert "Booked, not begun" in text(pdf(client, path))
    client.clock.pass_by(hours=48)
    batch = ok(client.post("/v1/batches", json={"booking_id": ahead["id"]}, headers=client.member.headers))
    on_the_day = printed(client, f"run-sheets/{batch['id']}").text
    assert printed(client, path).text == on_the_day
    assert words(on_the_day) == before.replace(f" {papers.NOT_BEGUN}", "")


def test_what_becomes_no_batch_has_no_run_sheet(client):
    opened(client)
    plain = booked(client, client.member, piece(client), "15T14:00", "15T15:00")
    path = f"booked-run-sheets/{plain['id']}"
    assert printed(client, path).json()["code"] == "not-now"
    ahead = booking(client, canner(client), hours_ago=-53)
    path = f"booked-run-sheets/{ahead['id']}"
    ok(client.post(f"/v1/bookings/{ahead['id']}/cancellation", headers=client.member.headers))
    assert printed(client, path).json()["code"] == "not-now"
    assert printed(client, path, client.other).status_code == 404


def test_a_sheet_is_made_quickly(client):
    day = Day(client, CRUSHED_TOMATOES)
    pdf(client, f"run-sheets/{day.batch['id']}")  # fonts are read with the first sheet
    started = time.process_time()
    pdf(client, f"run-sheets/{day.batch['id']}")
    assert time.process_time() - started < 1  # about 0.15 s; the bound is for a busy machine


def test_labels_say_what_the_lot_says_and_their_codes_open_it(client):
    code = Day(client, PLUM_JAM).to_the_shelf()
    document = pdf(client, f"labels/{code}", format="letter-3x10-2.625x1in", first=4)
    shelved = ok(client.get(f"/v1/lots/{code}", headers=client.member.headers))
    found = text(document)
    assert (len(document), found.count(f"Lot {code}")) == (1, 8)
    assert f"Made on {shelved['made_on']}" in found
    assert f"Best by {shelved['best_by']}" in found
    assert "No ingredient is one of the 9 major allergens." in found
    assert codes(document) == [f"http://testserver/lots/{code}"] * 8
    page = client.get(f"/lots/{code.lower()}")
    assert page.status_code == 200
    assert f"Lot {code}" in page.text
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert client.get("/lots/270614-01-1").status_code == 404


def test_labels_of_each_format_lie_on_their_sheet(client):
    code = lot(client, {"half-pint": 3}, title="Plum jam with a name that goes on for a while")
    for form, sheet in FORMATS.items():
        lies_on_its_sheet(client, code, form, sheet)


def lies_on_its_sheet(client, code, form, sheet):
    document = pdf(client, f"labels/{code}", format=form.value)
    assert len(document) == -(-3 // sheet.per_page)
    assert set(codes(document)) == {f"http://testserver/lots/{code}"}
    right, bottom = (
        sheet.place_mm(sheet.per_page - 1)[axis] + sheet.label_mm[axis] - sheet.page_mm[axis] for axis in (0, 1)
    )
    assert right <= 0.01
    assert bottom <= 0.01
    assert sheet.label_mm[0] <= sheet.step_mm[0] + 0.01


def test_a_label_says_how_a_jar_is_kept(client):
    code = lot(client, {"half-pint": 2}, unsealed=1)
    move(client, code, kind="freeze")
    found = text(pdf(client, f"labels/{code}", format="single-4x2in"))
    assert found.count("Lot ") == 3
    assert "keep frozen" in found
    assert "keep in the refrigerator" in found
    assert "Eat by 2027-07-05" in found  # three weeks for a spread without a seal, as the pantry says
    assert "Allergens not known here" in found  # no recipe says what is in these jars


def test_jars_that_must_not_be_eaten_get_no_label_or_say_so(client):
    code = lot(client)
    headers = client.coordinator.headers
    ok(client.post(f"/v1/lots/{code}/recall", json={"reason": "Seals let go."}, headers=headers))
    assert printed(client, f"labels/{code}").json()["code"] == "recalled"
    day = Day(client, PLUM_JAM)
    ok(day.load())
    ok(day.out(46))  # out after a minute
    ok(day.seals(8, 0))
    held = day.now()["lot_code"]
    assert "ON HOLD: don't eat" in text(pdf(client, f"labels/{held}"))
    listed = text(pdf(client, "pantries/me"))
    assert "ON HOLD: don't eat" in listed
    assert "CALLED BACK: don't eat" in listed


def test_a_pantry_list_has_every_jar(client):
    codes_of = [lot(client, title=f"Jam {number}") for number in range(45)]
    document = pdf(client, "pantries/me")
    assert len(document) >= 2
    for found in (text(document), words(printed(client, "pantries/me").text)):
        assert "360 jars" in found
        assert all(code in found for code in codes_of)


def test_a_timetable_shows_ones_own_and_only_a_coordinator_everything(client):
    opened(client)
    kettle, rack = piece(client), piece(client, name="Second kettle")
    booked(client, client.member, kettle)
    booked(client, client.other, rack)
    path = f"timetables/{client.clock.at.date()}"
    for read in (lambda who: text(pdf(client, path, who)), lambda who: words(printed(client, path, who).text)):
        assert "Ada" in read(client.coordinator)
        assert "Bo" in read(client.coordinator)
        assert "Bo" not in read(client.member)
        assert "taken" in read(client.member)
        assert "Second kettle" in read(client.member)
        assert "Ada" not in read(client.stranger)


def test_what_people_write_breaks_nothing(client):
    of = {title: lot(client, title=title) for title in AWKWARD}
    listed = words(printed(client, "pantries/me").text)
    assert len(pdf(client, "pantries/me")) == 1
    for title, code in of.items():
        assert len(pdf(client, f"labels/{code}")) == 1
        assert " ".join(title.split()) in listed
        assert " ".join(title.split()) in words(printed(client, f"labels/{code}", count=1).text)


def test_letters_that_no_font_has_are_said_to_be_missing(client):
    code = lot(client, title="Plums 李子果酱 🍑, ½ jar of сливы")
    for path in (f"labels/{code}", "pantries/me"):
        assert "Plums [?] [?], ½ jar of сливы" in text(pdf(client, path))


def test_a_long_title_makes_nothing_else_on_a_label_small(client):
    long, short = lot(client, title="Plum " * 40), lot(client, title="Plum")
    sizes = []
    for code in (long, short):
        page = printed(client, f"labels/{code}", format="letter-3x10-2.625x1in", count=1).text
        sizes.append(float(re.search(r"font-size: ([\d.]+)pt\"><div>", page)[1]))
        found = text(pdf(client, f"labels/{code}", format="letter-3x10-2.625x1in", count=1))
        assert f"Lot {code}" in found
    assert sizes[0] >= 0.75 * sizes[1]


def test_a_run_sheet_with_awkward_words_is_one_page(client):
    body = CRUSHED_TOMATOES | {"title": " ".join(AWKWARD)[:200].replace("\n", " ")}
    day = Day(client, body)
    document = pdf(client, f"run-sheets/{day.batch['id']}")
    assert len(document) == 1
    assert "<b>Plum</b>" in text(document)


def test_papers_are_for_those_who_may_read_what_stands_on_them(client):
    day = Day(client, PLUM_JAM)
    code = day.to_the_shelf()
    paths = (f"run-sheets/{day.batch['id']}", f"labels/{code}", f"pantries/{client.member.id}")
    for path in paths:
        assert printed(client, path).status_code == 200
        assert printed(client, path, client.other).status_code == 404
        assert printed(client, path, client.stranger).status_code == 404
    assert printed(client, paths[0], client.coordinator).status_code == 200


def test_a_browser_that_is_signed_in_prints_the_same(client):
    code = lot(client)
    cookie = client.post("/board/sign-in", data={"token": client.member.token}, headers=OWN, follow_redirects=False)
    assert cookie.status_code == 303
    for path in (f"labels/{code}", "pantries/me", f"timetables/{client.clock.at.date()}"):
        seen = client.get(f"/board/prints/{path}")
        assert seen.status_code == 200
        assert seen.text == printed(client, path).text
    assert client.get("/board/prints/pantries/me?as=pdf").content.startswith(b"%PDF")
    assert f"/board/prints/labels/{code}?as=pdf" in client.get("/board/yours").text
