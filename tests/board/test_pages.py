"""Every page is plain HTML that stands by itself: by the standard, labelled, and without a script that it needs."""

import re

import pytest

from tests.batches.make import PLUM_JAM
from tests.board.reading import SVG, Read, see, send, words
from tests.board.scene import Scene

OPEN = ["/board", "/board/sign-in", "/board/check"]
FOR_MEMBERS = ["/board", "/board?day=2027-06-15", "/board/yours", "/board/slots", "/board/check", "/board/season"]


def pages(scene: Scene) -> list[Read]:
    """Each page once as it is met, results of forms among them."""
    client, ada = scene.client, scene.client.member
    found = [see(client, path, None) for path in OPEN] + [see(client, path, ada) for path in FOR_MEMBERS]
    found.append(see(client, f"/board/slots?recipe={scene.recipes['jam']}%3A1&size=half-pint&count=8", ada))
    found.append(see(client, "/board/slots?what=canner%3Aboiling-water&minutes=60", ada))
    found.append(see(client, "/board/slots?what=burner&minutes=many", ada))
    form = {"title": "<script>alert(1)</script>", "lines": "22 lb tomatoes\n<b>salt</b>", "family": "tomato"}
    found.append(Read(send(client, "/board/check", form, ada)))
    found.append(Read(send(client, "/board/check", {"title": "x", "headspace_in": "'\"><i>"}, None)))
    picked = {"name-1": "plums", "amount-1": "60", "unit-1": "lb", "by-1": "2027-06-16", "recipe": scene.recipes["jam"]}
    found.append(Read(send(client, "/board/season", picked, ada)))
    return found


@pytest.fixture(scope="module")
def all_pages(scene: Scene) -> list[Read]:
    return pages(scene)


def test_each_page_has_a_name_one_heading_and_labels_for_its_fields(all_pages: list[Read]) -> None:
    for page in all_pages:
        title = page.one("title").text or ""
        assert len(page.all("h1")) == 1, title
        assert page.one("html").get("lang") == "en"
        assert page.one("main").get("id") == "main"
        ids = [each.get("id") for each in page.root.iter() if each.get("id")]
        assert len(ids) == len(set(ids)), title
        labelled = {each.get("for") for each in page.all("label")}
        for each in (*page.all("input"), *page.all("select"), *page.all("textarea")):
            assert each.get("type") == "hidden" or each.get("id") in labelled, title
        for each in page.all(f"{SVG}svg"):
            if each.get("role") == "img":
                assert set((each.get("aria-labelledby") or "").split()) <= set(ids), title


def test_no_page_runs_or_loads_anything_but_the_services_own_files(all_pages: list[Read]) -> None:
    for page in all_pages:
        policy = page.answer.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; style-src 'self'; script-src 'self'")
        assert "unsafe" not in policy
        for each in page.root.iter():
            assert each.tag != "style"
            assert not any(name.startswith("on") or name == "style" for name in each.attrib)
        assert {each.get("src") for each in page.all("script")} <= {"/board/refresh.js"}
        assert all(not each.text for each in page.all("script"))


def test_what_somebody_wrote_is_text(all_pages: list[Read]) -> None:
    shown = [page for page in all_pages if "alert(1)" in page.answer.text]
    assert shown
    assert all("<script>alert" not in page.answer.text for page in all_pages)
    assert all("<i>" not in page.answer.text for page in all_pages)


def test_a_check_on_the_page_is_the_check_of_the_api(scene: Scene) -> None:
    client, ada = scene.client, scene.client.member
    lines = ["22 lb tomatoes, peeled, crushed", "1 tsp salt per quart"]
    for recipe in ({"title": "Tomatoes", "ingredients": lines}, PLUM_JAM):
        form = {"title": recipe["title"], "lines": "\r\n".join(recipe["ingredients"])}
        for name in ("family", "pack"):
            if name in recipe:
                form[name] = str(recipe[name])
        sent = {"title": form["title"], "ingredients": recipe["ingredients"]} | {
            name: form[name] for name in ("family", "pack") if name in form
        }
        said = client.post("/v1/recipe-checks", json=sent, headers=ada.headers).json()
        page = Read(send(client, "/board/check", form, ada))
        assert words(page.one("h2", id="verdict-title")) == f"{recipe['title']}: {said['verdict']}"
        shown = [words(each) for each in page.all("li") if each.get("class") in SEVERITIES]
        assert len(shown) == len(said["findings"])
        for text, finding in zip(shown, said["findings"], strict=True):
            assert " ".join(finding["message"].split()) in text
            assert " ".join(finding["fix"].split()) in text
            where = re.fullmatch(r"#/ingredients/(\d+)", finding["where"] or "")
            assert not where or f"line {int(where[1]) + 1}" in text
        minutes = [words(each) for each in page.all("td", data_is="Minutes")]
        assert minutes == [str(option["minutes"]) for option in said["process"]["options"]]
        assert said["notice"] in page.text
        assert ("Keep this recipe" in page.text) == (said["verdict"] == "ready")


SEVERITIES = {"unsafe", "untested", "spoilage", "set-failure", "quality", "paperwork"}


def test_without_a_token_a_recipe_is_checked_at_the_altitude_that_is_said(scene: Scene) -> None:
    form = {"title": "Plum jam", "lines": "4 1/2 cups crushed plums\n7 1/2 cups sugar", "altitude_ft": "2500"}
    page = Read(send(scene.client, "/board/check", form, None))
    assert page.status == 200
    assert "Keep this recipe" not in page.text
    missing = Read(send(scene.client, "/board/check", {**form, "altitude_ft": ""}, None))
    assert missing.status == 422


def test_what_cannot_be_read_is_named_by_its_label_and_kept_in_the_form(scene: Scene) -> None:
    form = {"title": "Jam", "lines": "plums\n" + "x" * 501, "count": "some", "size": "pint", "headspace_in": "a bit"}
    page = Read(send(scene.client, "/board/check", form, scene.client.member))
    said = words(page.one("div", role="alert"))
    assert page.status == 422
    for label in ("Line 2:", "Jars:", "Headspace:"):
        assert label in said
    assert page.one("input", id="count").get("value") == "some"


def test_styles_and_script_are_kept_by_a_browser_until_they_change(scene: Scene) -> None:
    for name in ("style.css", "season.css", "refresh.js", "icon.svg"):
        first = scene.client.get(f"/board/{name}")
        again = scene.client.get(f"/board/{name}", headers={"If-None-Match": first.headers["etag"]})
        assert (first.status_code, again.status_code) == (200, 304)
        assert first.headers["cache-control"] == "public, max-age=300"
