"""The page of the published statements. What must stand on it is read from the data files, not through the loader."""

import csv
import json
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.core.rules.rulebook import RULES
from service.published import loading
from service.published.loading import facts
from service.reference.rules_page import EVIDENCE, HOMES, SEVERITIES, rules_page
from service.settings import Settings

DATA = Path(loading.__file__).parent / "data"
STATEMENTS = [json.loads(line) for line in (DATA / "rules.jsonl").read_text(encoding="utf-8").splitlines()]
WITHOUT_AN_END = {"meta"}  # of the elements used here


class Reader(HTMLParser):
    """The text of each article, by its id; it fails where an element isn't closed in its turn."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.article = ""
        self.articles: dict[str, str] = {}
        self.ids: list[str] = []
        self.links: list[str] = []
        self.levels: list[int] = []
        self.elements: set[str] = set()
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.elements.add(tag)
        assert not any(name.startswith("on") for name in given)
        if tag not in WITHOUT_AN_END:
            self.open.append(tag)
        if "id" in given:
            self.ids.append(given["id"])
        if tag == "article":
            self.article = given["id"]
            self.articles[self.article] = ""
        if tag == "a":
            self.links.append(given["href"])
        if tag in ("h1", "h2", "h3"):
            self.levels.append(int(tag[1]))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag
        if tag == "article":
            self.article = ""

    def handle_data(self, data):
        if self.article:
            self.articles[self.article] += data


@pytest.fixture(scope="module")
def answer(tmp_path_factory):
    """The page as the service sends it; it needs no database."""
    file = tmp_path_factory.mktemp("database") / "none.sqlite"
    return TestClient(create_app(Settings(database_url=f"sqlite:///{file}", limits=False))).get("/rules")


@pytest.fixture(scope="module")
def page(answer):
    return Reader(answer.text)


def test_it_is_a_page_that_may_be_kept_and_runs_nothing(answer):
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert answer.headers["cache-control"].startswith("public")
    assert answer.headers["etag"]
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")


def test_it_loads_nothing_from_elsewhere(page, answer):
    assert page.elements.isdisjoint({"script", "link", "img", "iframe", "object", "form"})
    assert "url(" not in answer.text
    assert "@import" not in answer.text


def test_every_statement_stands_on_it_once_in_full(page):
    assert sorted(page.articles) == sorted(statement["id"] for statement in STATEMENTS)
    for statement in STATEMENTS:
        text = page.articles[statement["id"]]
        examples = (statement["example_ok"], statement["example_bad"])
        for said in (statement["says"], statement["fix"], *statement["exceptions"], *examples):
            assert said in text, statement["id"]
        for name, value in statement["figures"].items():
            assert f"{name.replace('_', ' ')}: {value}" in text, statement["id"]


def test_every_statement_shows_its_severity_its_home_and_how_well_it_is_known(page):
    for statement in STATEMENTS:
        text = page.articles[statement["id"]]
        for word in (statement["severity"], statement["home"]):
            assert word.replace("-", " ").capitalize() in text, statement["id"]
        assert EVIDENCE[statement["evidence"]] in text, statement["id"]


def test_every_statement_names_its_source(page):
    with (DATA / "sources.csv").open(encoding="utf-8", newline="") as file:
        sources = {row["key"]: row for row in csv.DictReader(file)}
    for statement in STATEMENTS:
        key, _, place = statement["source"].partition(" ")
        text = page.articles[statement["id"]]
        assert sources[key]["title"] in text, statement["id"]
        assert sources[key]["publisher"] in text, statement["id"]
        assert place in text, statement["id"]


def test_what_the_check_makes_of_a_statement_stands_beside_it(page):
    for rule in RULES:
        assert rule.says in page.articles[rule.id]


def test_every_word_of_the_catalogue_is_explained():
    assert {statement["severity"] for statement in STATEMENTS} <= set(SEVERITIES)
    assert {statement["home"] for statement in STATEMENTS} <= set(HOMES)


def test_its_headings_go_down_one_at_a_time_and_its_links_arrive(page):
    assert page.levels[0] == 1
    assert page.levels.count(1) == 1
    assert all(below <= above + 1 for above, below in zip(page.levels, page.levels[1:], strict=False))
    assert len(page.ids) == len(set(page.ids))
    assert {link[1:] for link in page.links if link.startswith("#")} <= set(page.ids)


def test_markup_in_a_statement_is_only_text():
    sly = "<script>alert(\"x\")</script> & 'more'"
    figures = facts()
    statement = replace(
        figures.statements[0],
        says=sly,
        fix=sly,
        figures={sly: sly},
        exceptions=(sly,),
        example_ok=sly,
        example_bad=sly,
        source=replace(figures.statements[0].source, title=sly, publisher=sly, url="javascript:alert(1)"),
    )
    page = Reader(rules_page(replace(figures, statements=(statement,))))
    assert "script" not in page.elements
    assert page.articles[statement.id].count(sly) == 9
    assert not any(link.startswith("javascript") for link in page.links)
