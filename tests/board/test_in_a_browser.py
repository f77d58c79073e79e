"""The pages in a real browser: Debian's Chromium, driven by Playwright, looked over by axe.

Screenshots are kept in the folder that CANNING_TEST_SCREENSHOTS names.
"""

import os
import shutil
import threading
import time
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.board.scene import NOON, Scene

WALL, DESK, PHONE = ({"width": wide, "height": high} for wide, high in ((1920, 1080), (1280, 800), (360, 740)))
ARGUMENTS = (
    "--no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync"
)
WCAG = {  # target-size is of 2.2 and off by itself
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}},
}
CONTRAST = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}  # all that a scheme of colours changes


@pytest.fixture(scope="module")
def address(scene: Scene) -> Iterator[str]:
    """The scene, served to a browser."""
    config = uvicorn.Config(scene.client.app, port=0, lifespan="off", ws="none", log_level="error")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started and time.monotonic() < until:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(timeout=20)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """A browser; without the program it is skipped, but for CI, where it fails."""
    program = shutil.which("chromium")
    if program is None:
        wanted = os.environ.get("CI") or os.environ.get("CANNING_TEST_BROWSER") == "required"
        (pytest.fail if wanted else pytest.skip)("Chromium isn't on this machine.")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=ARGUMENTS.split())
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def screenshots(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = Path(os.environ.get("CANNING_TEST_SCREENSHOTS") or tmp_path_factory.mktemp("screenshots"))
    folder.mkdir(parents=True, exist_ok=True)
    return folder


@pytest.fixture
def window(chromium: Browser, address: str) -> Iterator[Any]:
    """Opens windows, and fails where a page had something to complain about."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def opened(viewport: dict[str, int] = PHONE, **options: Any) -> Page:
        context = chromium.new_context(base_url=address, viewport=viewport, **options)
        context.set_default_timeout(10_000)
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        return page

    yield opened
    for context in contexts:
        context.close()
    expected = "Failed to load resource: the server responded with a status of"  # a form that was refused
    assert [said for said in complaints if not said.startswith(expected)] == []


def sign_in(page: Page, token: str) -> None:
    page.goto("/board")
    page.get_by_label("Your token").fill(token)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/board")


def board_token(scene: Scene) -> str:
    path = f"/v1/members/{scene.client.trainer.id}/tokens"
    answer = scene.client.post(path, json={"scope": "board"}, headers=scene.client.coordinator.headers)
    return str(answer.json()["token"])


def visit_today(page: Page, scene: Scene) -> None:
    page.goto("/board")
    page.get_by_text("The same as a list").click()


def visit_yours(page: Page, scene: Scene) -> None:
    page.goto("/board/yours")
    page.get_by_text("Give it back…").first.click()


def visit_times(page: Page, scene: Scene) -> None:
    page.goto(f"/board/slots?recipe={scene.recipes['jam']}%3A1&size=half-pint&count=8")
    expect(page.get_by_role("button", name="Book this time").first).to_be_visible()


def visit_check(page: Page, scene: Scene) -> None:
    page.goto("/board/check")
    page.get_by_label("What it is").fill("Tomatoes")
    page.get_by_label("Its ingredients, one a line").fill("22 lb tomatoes, peeled, crushed\n1 tsp salt per quart")
    page.get_by_text("More, where you know it").click()
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("heading", name="Tomatoes: unsafe")).to_be_visible()


def visit_misread(page: Page, scene: Scene) -> None:
    page.goto("/board/slots?what=burner&minutes=many")
    expect(page.get_by_role("alert")).to_be_visible()


def visit_season(page: Page, scene: Scene) -> None:
    page.goto("/board/season")
    for field, value in {"name": "plums", "amount": "60", "by": "2027-06-15"}.items():
        page.fill(f"#{field}-1", value)
    page.get_by_label("Plum jam").check()
    page.get_by_role("button", name="See what fits").click()
    expect(page.get_by_role("img", name="What is canned before it spoils")).to_be_visible()


def visit_nothing(page: Page, scene: Scene) -> None:
    page.goto("/board?day=never")
    expect(page.get_by_role("heading", name="Not possible")).to_be_visible()


VISITS = {
    "today": visit_today,
    "yours": visit_yours,
    "times": visit_times,
    "check": visit_check,
    "misread": visit_misread,
    "season": visit_season,
    "nothing": visit_nothing,
}


def looked_over(page: Page, name: str, options: dict[str, Any] = WCAG) -> None:
    """No violation of WCAG 2.2 A and AA that axe can find, and nothing to scroll sideways for."""
    results = Axe().run(page, options=options)
    assert results.violations_count == 0, f"{name}\n{results.generate_report()}"
    assert len(results.response["passes"]) > (10 if options is WCAG else 0)  # axe did look
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), name


@pytest.mark.parametrize(
    ("look", "viewport", "scheme", "names"),
    [
        pytest.param("phone", PHONE, "light", list(VISITS), id="on a phone"),
        pytest.param("dark", DESK, "dark", ["today", "check", "season"], id="on a desk in the dark"),
    ],
)
def test_every_page_is_accessible(
    window: Any, scene: Scene, screenshots: Path, look: str, viewport: dict[str, int], scheme: str, names: list[str]
) -> None:
    page, options = window(viewport, color_scheme=scheme), WCAG if scheme == "light" else CONTRAST
    page.goto("/board")
    looked_over(page, "sign in", options)
    page.screenshot(path=screenshots / f"{look}-sign-in.png", full_page=True)
    sign_in(page, scene.client.member.token)
    for name in names:
        VISITS[name](page, scene)
        looked_over(page, name, options)
        page.screenshot(path=screenshots / f"{look}-{name}.png", full_page=True)


def test_every_paper_is_accessible_on_a_phone_and_prints_on_its_page(
    window: Any, scene: Scene, screenshots: Path
) -> None:
    client, ada = scene.client, scene.client.member
    shelf = client.get("/v1/members/me/pantry", headers=ada.headers).json()["items"]
    new = {"equipment_id": scene.pieces["Dial canner"], "starts_at": "2027-06-19T15:00:00Z"}
    new |= {"ends_at": "2027-06-19T18:00:00Z", "purpose": "Beans", "recipe_id": scene.recipes["beans"], "revision": 1}
    booked = client.post("/v1/bookings", json=new, headers=ada.headers).json()
    papers = {
        "run-sheet": f"booked-run-sheets/{booked['id']}",
        "labels": f"labels/{next(each['lot_code'] for each in shelf)}",
        "day": f"timetables/{NOON:%Y-%m-%d}",
        "pantry": "pantries/me",
    }
    page = window()
    sign_in(page, ada.token)
    for name, path in papers.items():
        page.goto(f"/board/prints/{path}")
        looked_over(page, name)
        page.screenshot(path=screenshots / f"paper-{name}.png", full_page=True)
        printed = page.pdf(prefer_css_page_size=True)
        (screenshots / f"paper-{name}.pdf").write_bytes(printed)
        assert len(pypdfium2.PdfDocument(printed)) == 1, name


def test_a_planted_fault_is_found(window: Any) -> None:
    page = window()
    page.goto("/board")
    page.evaluate("document.querySelector('label[for=token]').remove()")
    with pytest.raises(AssertionError, match="label"):
        looked_over(page, "a field without a label")


@pytest.mark.parametrize(
    "options", [{"forced_colors": "active"}, {"contrast": "more"}], ids=["forced colours", "more contrast"]
)
def test_high_contrast_keeps_every_word_and_line(
    window: Any, scene: Scene, screenshots: Path, options: dict[str, Any]
) -> None:
    page = window(DESK, **options)
    sign_in(page, scene.client.member.token)
    page.screenshot(path=screenshots / f"{next(iter(options)).replace('_', '-')}.png")
    bar = page.locator("svg.wide rect.bar.booked").first
    fill, stroke, paper = (
        bar.evaluate("bar => getComputedStyle(bar).fill"),
        bar.evaluate("bar => getComputedStyle(bar).stroke"),
        page.evaluate("getComputedStyle(document.documentElement).backgroundColor"),
    )
    assert paper not in (fill, stroke)


def test_the_wall_shows_the_whole_sheet_at_once_and_keeps_it_up_to_date(
    window: Any, scene: Scene, screenshots: Path
) -> None:
    page = window(WALL)
    page.clock.install()
    sign_in(page, board_token(scene))
    looked_over(page, "the wall")
    page.screenshot(path=screenshots / "wall.png")
    bottom = page.locator(".sheet").evaluate("sheet => sheet.getBoundingClientRect().bottom")
    assert bottom <= WALL["height"]
    expect(page.locator(".loads")).to_contain_text("20 min")
    scene.client.clock.at = NOON + timedelta(minutes=1)
    try:
        page.clock.fast_forward(61_000)
        expect(page.locator(".loads")).to_contain_text("19 min")
        expect(page.get_by_text("This sheet is old")).to_be_hidden()
        page.route("**/board", lambda route: route.fulfill(status=503))
        page.clock.fast_forward(61_000)
        expect(page.get_by_text("This sheet is old")).to_be_visible()
        page.unroute("**/board")
        page.clock.fast_forward(61_000)
        expect(page.get_by_text("This sheet is old")).to_be_hidden()
    finally:
        scene.client.clock.at = NOON


def test_a_time_is_found_and_booked_by_keyboard_alone(window: Any, scene: Scene, screenshots: Path) -> None:
    page = window(DESK)
    page.goto("/board")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the content")).to_be_focused()
    tab_to(page, "#token")
    page.keyboard.type(scene.client.other.token)
    page.keyboard.press("Enter")
    expect(page.get_by_role("link", name="Today")).to_be_visible()
    for _ in range(3):  # past the way to the content and today
        page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Find a time")).to_be_focused()
    page.screenshot(path=screenshots / "keyboard-focus.png")
    page.keyboard.press("Enter")
    page.wait_for_url("**/board/slots")
    tab_to(page, "#what")
    page.keyboard.type("Burner")
    tab_to(page, "#purpose")
    page.keyboard.type("Blanching")
    page.keyboard.press("Enter")
    page.wait_for_url("**purpose=Blanching**")
    tab_to(page, "main button")
    page.keyboard.press("Enter")
    page.wait_for_url("**/board/yours#booking-*")
    expect(page.get_by_role("heading", name="Blanching")).to_be_visible()


def tab_to(page: Page, selector: str) -> None:
    """Press Tab until the element has the focus, as it must after some."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
            outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
            assert outline != "none"
            return
    raise AssertionError(f"Tab never comes to {selector}")


def test_without_a_script_everything_is_read_checked_and_booked(window: Any, scene: Scene, screenshots: Path) -> None:
    page = window(PHONE, java_script_enabled=False)
    sign_in(page, scene.client.other.token)
    expect(page.get_by_role("img", name="Timetable of Monday 14 June")).to_be_visible()
    page.get_by_text("The same as a list").click()
    expect(page.get_by_role("row", name="Blue kettle boiling water")).to_be_visible()
    page.screenshot(path=screenshots / "phone-no-script.png", full_page=True)
    page.get_by_role("link", name="Check a recipe").click()
    page.get_by_label("What it is").fill("Plum jam")
    page.get_by_label("Its ingredients, one a line").fill(
        "4 1/2 cups crushed plums\n7 1/2 cups sugar\n1 pouch (3 oz) liquid pectin"
    )
    page.get_by_role("button", name="Check it").click()
    expect(page.get_by_role("heading", name="Plum jam: ready")).to_be_visible()
    page.get_by_role("button", name="Keep this recipe and find a time").click()
    page.get_by_label("How many jars").fill("8")
    page.get_by_role("button", name="Find times for the whole batch").click()
    page.get_by_role("button", name="Book this time").first.click()
    expect(page.get_by_role("heading", name="Your bookings")).to_be_visible()
    booked = page.locator("article:target")
    expect(booked).to_contain_text("Plum jam")
    booked.get_by_text("Give it back…").click()
    booked.get_by_role("button", name="Yes, give back Plum jam").click()
    expect(booked).to_have_count(0)
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_label("Your token")).to_be_visible()
