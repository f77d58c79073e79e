"""A recipe file at the command line: what is printed, and the exit status."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from service.checks.bodies import RecipeCheckRequest
from service.checks.checking import check_recipe
from service.cli import main

TOMATOES = """\
title: Crushed tomatoes
ingredients:
  - 22 lb tomatoes, peeled, cored, crushed
  - 2 tbsp bottled lemon juice per quart
jars:
  - {size: quart, count: 7}
process: {method: boiling-water, minutes: 45}
pack: hot
"""


def run(path: Path, *options: str) -> Result:
    return CliRunner().invoke(main, ["check", str(path), *options])


def written(folder: Path, text: str, name: str = "recipe.yaml") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_a_ready_recipe_is_told_verdict_first_and_then_its_process(tmp_path: Path) -> None:
    told = run(written(tmp_path, TOMATOES), "--altitude-ft", "800")
    assert told.exit_code == 0
    lines = told.output.splitlines()
    assert lines[0].startswith("READY.")
    assert any("quart, hot pack: 45 min, boiling-water canner" in line for line in lines)
    assert max(len(line) for line in lines) <= 80


def test_the_fix_stands_before_the_process(tmp_path: Path) -> None:
    told = run(written(tmp_path, TOMATOES.replace("  - 2 tbsp bottled lemon juice per quart\n", "")), "--altitude-ft=0")
    assert told.exit_code == 2
    assert told.output.startswith("UNSAFE.")
    assert told.output.index("Do:") < told.output.index("Process\n")


@pytest.mark.parametrize(
    ("change", "status"),
    [
        pytest.param(("", ""), 0, id="ready"),
        pytest.param(("  - 2 tbsp bottled", "  - 1 cup zorblax\n  - 2 tbsp bottled"), 2, id="untested"),
        pytest.param(("minutes: 45", "minutes: 15"), 2, id="unsafe"),
        pytest.param(("ingredients:", "ingredience:"), 3, id="a field we don't know"),
        pytest.param(("title: Crushed tomatoes", "title: [Crushed"), 3, id="no YAML"),
        pytest.param(("size: quart, count: 7", "size: quart, count: -7"), 3, id="jars below zero"),
    ],
)
def test_the_exit_status_says_the_verdict(tmp_path: Path, change: tuple[str, str], status: int) -> None:
    assert run(written(tmp_path, TOMATOES.replace(*change)), "--altitude-ft", "800").exit_code == status


def test_a_recipe_to_revise_leaves_with_one(tmp_path: Path) -> None:
    jam = {"title": "Plum jam", "ingredients": ["4 1/2 cups crushed plums", "5 cups sugar", "1 pouch liquid pectin"]}
    assert run(written(tmp_path, json.dumps(jam), "jam.json"), "--altitude-ft", "0").exit_code == 1


def test_the_altitude_has_to_be_known(tmp_path: Path) -> None:
    told = run(written(tmp_path, TOMATOES))
    assert told.exit_code == 3
    assert "altitude" in told.output


def test_the_answer_of_the_api_is_printed_on_request(tmp_path: Path) -> None:
    path = written(tmp_path, TOMATOES + "altitude_ft: 800\n")
    told = run(path, "--json")
    body = RecipeCheckRequest.model_validate(
        {
            "title": "Crushed tomatoes",
            "ingredients": ["22 lb tomatoes, peeled, cored, crushed", "2 tbsp bottled lemon juice per quart"],
            "jars": [{"size": "quart", "count": 7}],
            "process": {"method": "boiling-water", "minutes": 45},
            "pack": "hot",
            "altitude_ft": 800,
        }
    )
    assert json.loads(told.output) == check_recipe(body, 800).model_dump(mode="json", by_alias=True)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("", id="an empty file"),
        pytest.param("- a\n- list", id="a list"),
        pytest.param("a: &a [x, x]\nb: *a", id="references"),
        pytest.param("{" * 5000, id="a pit of braces"),
        pytest.param(f"ingredients: [1 cup flour]\n{TOMATOES}", id="a list of ingredients that another one replaces"),
        pytest.param('{"title": "x", "ingredients": ["flour"], "ingredients": ["plums"]}', id="the same in JSON"),
        pytest.param(f"<<: {{title: x}}\n{TOMATOES}", id="a name that is put in from beside"),
        pytest.param("title: x\n" + "#" * 70_000, id="too large"),
    ],
)
def test_what_isnt_a_recipe_is_unreadable(tmp_path: Path, text: str) -> None:
    assert run(written(tmp_path, text), "--altitude-ft", "0").exit_code == 3


def test_a_name_that_stands_twice_is_said_with_its_place(tmp_path: Path) -> None:
    told = run(written(tmp_path, f"{TOMATOES}jars:\n  - {{size: pint, count: 14}}\n"), "--altitude-ft", "0")
    assert (told.exit_code, "stands twice" in told.output) == (3, True)


def test_a_file_that_isnt_there_is_unreadable(tmp_path: Path) -> None:
    assert run(tmp_path / "nothing.yaml", "--altitude-ft", "0").exit_code == 3
