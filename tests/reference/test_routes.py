import csv
import re
from pathlib import Path
from shutil import copy
from urllib.parse import urlencode

import pytest
from fastapi.testclient import TestClient

from service.app import create_app
from service.published import loading
from service.published.loading import RULEBOOK, facts
from service.settings import Settings

DATA = Path(loading.__file__).parent / "data"


@pytest.fixture(scope="module")
def client(tmp_path_factory, sqlite_template):
    """The whole service, on a database without a row: only the key that signs cursors is kept there."""
    file = copy(sqlite_template, tmp_path_factory.mktemp("database") / "empty.db")
    return TestClient(
        create_app(Settings(database_url=f"sqlite:///{file}", limits=False)), raise_server_exceptions=False
    )


def get(client, path, **query):
    answer = client.get(f"/v1/reference{path}?{urlencode(query)}")
    assert answer.status_code == 200, answer.text
    return answer.json()


def walk(client, path, **query):
    """Every item of a list, page by page."""
    items, cursor = [], None
    while True:
        body = get(client, path, limit=200, **query, **({"cursor": cursor} if cursor else {}))
        items += body["items"]
        cursor = body["next_cursor"]
        if cursor is None:
            return items


def test_every_cell_of_the_printed_tables_is_served(client):
    """One item per row and band, against the data file read by another route than the loader's."""
    expected = []
    with (DATA / "processes.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            sizes = row["jar_sizes"].split()
            sterile = row["sterile_jars"].split()
            for band, low, high, figure in re.findall(
                r"((\d+)(?:-(\d+)|\+)):(\d+)", row["pressure_psi"] or row["minutes"]
            ):
                pressure = bool(row["pressure_psi"])
                minutes = int(row["minutes"]) if pressure else int(figure)
                feet = {"low": int(low), "high": int(high) if high else None}
                psi = int(figure) if pressure else None
                expected.append((row["id"], sizes, feet, minutes, psi, band in sterile, row["evidence"]))
    served = [
        (
            item["id"],
            item["jar_sizes"],
            item["altitude_band_ft"],
            item["minutes"],
            item["pressure_psi"],
            item["sterile_jars"],
            item["source"]["evidence"],
        )
        for item in walk(client, "/processes")
    ]
    assert served == expected
    assert len(served) == 1166


def test_a_process_is_found_by_product_method_jar_and_altitude(client):
    """Complete Guide to Home Canning, rev. 2015, Guide 4 page 4-8: snap beans, 13 psi from 4,001 to 6,000 ft."""
    (item,) = walk(
        client, "/processes", product="green-beans", method="pressure-dial", jar_size="quart", altitude_ft=4200
    )
    assert (item["minutes"], item["pressure_psi"], item["headspace_in"]) == (25, 13, 1.0)
    assert item["altitude_band_ft"] == {"low": 4001, "high": 6000}
    assert item["by"] is None
    assert item["source"]["publisher"] == "USDA National Institute of Food and Agriculture"


def test_a_half_pint_takes_the_pint_row_where_it_has_none_of_its_own(client):
    """Guide 1 page 1-23; peaches print pints and quarts."""
    items = walk(client, "/processes", product="peaches", method="boiling-water", jar_size="half-pint", altitude_ft=0)
    assert [(item["pack"], item["minutes"], item["by"]) for item in items] == [
        ("hot", 20, "half-pint-as-pint"),
        ("raw", 25, "half-pint-as-pint"),
    ]


def test_steam_gives_the_derived_rows(client):
    items = walk(client, "/processes", method="atmospheric-steam")
    assert items
    assert {item["method"] for item in items} == {"atmospheric-steam"}
    assert max(item["minutes"] for item in items) == 45
    assert not {item["product"] for item in items} & {"green-beans", "lemon-curd"}


def test_the_acid_of_each_jar_is_shown(client):
    """Guide 3 page 3-5."""
    item = walk(client, "/processes", product="tomatoes-crushed", method="boiling-water", jar_size="quart")[0]
    assert {"name": "bottled lemon juice", "unit": "tbsp", "amounts": {"pint": 1, "quart": 2}} in item["acid_per_jar"]


def test_a_product_that_nobody_published_has_no_process(client):
    assert walk(client, "/processes", product="cake") == []


def test_no_process_is_shown_above_the_last_printed_band(client):
    assert walk(client, "/processes", product="green-beans", method="pressure-dial", altitude_ft=8001) == []


@pytest.mark.parametrize(
    "query",
    [
        pytest.param("altitude_ft=4,200", id="an altitude with a comma"),
        pytest.param("altitude_ft=nan", id="an altitude that is no number"),
        pytest.param("altitude_ft=1e9", id="an altitude in space"),
        pytest.param("altitude_ft=99999", id="an altitude above every mountain"),
        pytest.param("method=oven", id="no method of ours"),
        pytest.param("jar_size=gill", id="no jar of ours"),
        pytest.param("product=", id="an empty product"),
        pytest.param("product=%00", id="a NUL"),
        pytest.param("product=" + "a" * 200, id="a product without end"),
        pytest.param("limit=0", id="no items"),
        pytest.param("limit=201", id="too many items"),
        pytest.param("cursor=abc", id="a cursor of one's own"),
        pytest.param("colour=red", id="an unknown parameter"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(client, query):
    answer = client.get(f"/v1/reference/processes?{query}")
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"


def test_a_cursor_of_another_list_is_refused(client):
    cursor = get(client, "/rules", limit=1)["next_cursor"]
    answer = client.get("/v1/reference/ingredients", params={"cursor": cursor})
    assert (answer.status_code, answer.json()["code"]) == (422, "bad-cursor")


@pytest.mark.parametrize(
    "path", ["/rules", "/processes", "/tested-recipes", "/tested-recipes/peach-butter", "/ingredients"]
)
def test_the_figures_may_be_kept_until_the_next_edition(client, path):
    answer = client.get(f"/v1/reference{path}")
    assert answer.headers["cache-control"] == "public, max-age=300"
    assert answer.headers["etag"] == f'"{RULEBOOK}"'
    again = client.get(f"/v1/reference{path}", headers={"If-None-Match": answer.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_the_link_leads_to_the_next_page(client):
    first = client.get("/v1/reference/rules?limit=2")
    link = re.fullmatch(r'<(.+)>; rel="next"', first.headers["link"])
    assert link is not None
    second = client.get(link[1]).json()
    ids = [statement.id for statement in facts().statements]
    assert [item["id"] for item in first.json()["items"] + second["items"]] == ids[:4]


def test_every_statement_is_served_with_its_source_and_mark(client):
    items = walk(client, "/rules")
    assert [item["id"] for item in items] == [statement.id for statement in facts().statements]
    assert len(items) == 256
    assert all(item["example_ok"] and item["example_bad"] for item in items)
    assert all(item["source"]["title"] for item in items)
    assert sum(item["source"]["evidence"] == "memory" for item in items) == 19


def test_every_tested_recipe_is_served_in_the_list_and_by_itself(client):
    items = walk(client, "/tested-recipes")
    assert len(items) == 118
    for item in items:
        assert get(client, f"/tested-recipes/{item['id']}") == item
        assert item["lines"]
        assert bool(item["options"]) is not item["kept_cold"]


def test_a_tested_recipe_carries_its_ingredients_lines_and_options(client):
    """Complete Guide to Home Canning, AIB 539 rev. 2015, Guide 3 page 3-8."""
    recipe = get(client, "/tested-recipes/tomatoes-crushed")
    acid = next(each for each in recipe["ingredients"] if each["name"] == "lemon juice")
    assert acid["per_jar"] == {"amount": 2, "unit": "tbsp", "jar": "quart"}
    assert [other["name"] for other in acid["alternatives"]] == ["citric acid", "vinegar"]
    quarts = [
        option["minutes"]
        for option in recipe["options"]
        if option["method"] == "boiling-water" and option["jar_sizes"] == ["quart"]
    ]
    assert quarts == [45, 50, 55, 60]


def test_a_recalled_process_says_so(client):
    recipe = get(client, "/tested-recipes/peach-butter")
    assert recipe["source"]["evidence"] == "read"
    assert {option["source"]["evidence"] for option in recipe["options"]} == {"memory"}


def test_a_tested_recipe_that_nobody_published_is_not_there(client):
    answer = client.get("/v1/reference/tested-recipes/cake")
    assert (answer.status_code, answer.json()["code"]) == (404, "not-found")


def test_an_ingredient_is_found_by_any_of_its_names_the_closest_first(client):
    found = [item["id"] for item in walk(client, "/ingredients", q="Sugar")]
    assert found[0] == "sugar-granulated"
    assert "sugar-brown" in found
    assert walk(client, "/ingredients", q="no such thing") == []


def test_every_figure_of_an_ingredient_shows_its_own_mark_of_evidence(client):
    """Garlic's pH is recalled, its cup is read from the nutrient database, its solids are computed from it."""
    garlic = next(item for item in walk(client, "/ingredients", q="garlic") if item["id"] == "garlic")
    assert garlic["ph"]["source"]["evidence"] == "memory"
    assert garlic["forms"][0]["source"]["evidence"] == "read"
    assert garlic["soluble_solids"]["source"]["evidence"] == "computed"


def test_every_ingredient_is_served(client):
    assert [item["id"] for item in walk(client, "/ingredients")] == [each.id for each in facts().ingredients]


def test_nothing_can_be_written_here(client):
    answer = client.post("/v1/reference/rules", json={})
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET, HEAD")
