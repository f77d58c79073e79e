"""Taking in and writing out at the command line: row-numbered faults, all or nothing, safe to repeat."""

import json
import shutil
import stat
from datetime import UTC, datetime

import pytest
import yaml
from sqlmodel import Session, select
from typer.testing import CliRunner

from service.audit.tables import AuditEntry
from service.cli import main
from service.database.engine import open_engine
from service.equipment.tables import Equipment
from service.members.tables import Member
from service.members.tokens import recognise
from service.recipes.tables import Check, Recipe, Revision
from tests import make
from tests.batches.make import CRUSHED_TOMATOES, PLUM_JAM

EQUIPMENT = """kind,name,canner_kind,capacity,places,needs_burner
canner,Blue kettle,boiling-water,half-pint 12; pint 9; quart 7,,yes
burner,Left burner,,,,
rack,"Rack, by the door",,,48,

table,Tisch für Gläser,,,,
"""
RECIPES = """title,family,ingredients,jars,pack,headspace_in,method,minutes
Plum jam,jam,"4 1/2 cups crushed plums
7 1/2 cups sugar; 1 pouch (3 oz) liquid pectin",half-pint 8,hot,0.25,boiling-water,10
Plums and hope,jam,4 cups plums,half-pint 8,,,,
"""


@pytest.fixture
def kitchen(sqlite_template, tmp_path, monkeypatch):
    """A kitchen with a coordinator, in a database that the settings name; the folder that files are written to."""
    file = tmp_path / "kitchen.db"
    shutil.copy(sqlite_template, file)
    monkeypatch.setenv("CANNING_DATABASE_URL", f"sqlite:///{file}")
    monkeypatch.chdir(tmp_path)
    database = open_engine(f"sqlite:///{file}")
    with make.session(database) as session:
        row = make.kitchen(session)
        make.member(session, row.id, name="Cora", role="coordinator")
    yield Kitchen(tmp_path, database)
    database.close()


class Kitchen:
    """Commands in a folder, and what the database has after them."""

    def __init__(self, folder, database):
        self.folder, self.database = folder, database

    def run(self, *arguments):
        return CliRunner().invoke(main, [str(argument) for argument in arguments])

    def take(self, what, text, *options, name="rows.csv"):
        file = self.folder / name
        file.write_text(text, encoding="utf-8")
        return self.run("import", what, file, *options)

    def rows(self, table):
        with Session(self.database.reader) as session:
            return session.exec(select(table)).all()


def test_equipment_is_taken_in_once(kitchen):
    dry = kitchen.take("equipment", EQUIPMENT, "--dry-run")
    assert (dry.exit_code, dry.output) == (0, "Would be 4 added, 0 unchanged.\n")
    assert kitchen.rows(Equipment) == []
    assert kitchen.take("equipment", EQUIPMENT).output == "4 added, 0 unchanged.\n"
    assert kitchen.take("equipment", EQUIPMENT).output == "0 added, 4 unchanged.\n"
    found = {row.name: row for row in kitchen.rows(Equipment)}
    assert set(found) == {"Blue kettle", "Left burner", "Rack, by the door", "Tisch für Gläser"}
    kettle = found["Blue kettle"]
    assert (kettle.capacity, kettle.needs_burner) == ({"half-pint": 12, "pint": 9, "quart": 7}, True)
    (entry,) = kitchen.rows(AuditEntry)
    assert (entry.act, entry.about, entry.member_id) == ("import-equipment", "4 added, 0 revised", None)


def test_one_wrong_row_and_nothing_is_taken_in(kitchen):
    wrong = EQUIPMENT + "canner,Grey drum,boiling-water,,,\nstove,Old stove,,,,\nburner,,,,,\nrack,Shelf,,,many,\n"
    refused = kitchen.take("equipment", wrong)
    assert refused.exit_code == 1
    said = refused.output.splitlines()
    assert [line.partition(":")[0] for line in said[:-1]] == ["row 7", "row 8", "row 9", "row 10"]
    assert said[-1] == "Nothing was taken in: 4 of 8 rows are wrong."
    assert "places: a whole number is written in digits" in said[3]
    assert kitchen.rows(Equipment) == []
    assert kitchen.rows(AuditEntry) == []


def test_equipment_that_is_there_is_never_changed(kitchen):
    kitchen.take("equipment", EQUIPMENT)
    other = kitchen.take("equipment", EQUIPMENT.replace("quart 7", "quart 5"))
    assert other.exit_code == 1
    assert "row 2: there is other equipment of this name" in other.output


@pytest.mark.parametrize(
    ("text", "says"),
    [
        pytest.param("", "names columns", id="empty"),
        pytest.param("kind,colour\nburner,red\n", "unknown here: colour", id="another column"),
        pytest.param("kind,kind\nburner,table\n", "each once", id="a column twice"),
        pytest.param('kind,name\nburner,"open\n', "isn't CSV", id="a quote that never ends"),
        pytest.param("kind,name\nburner,Left,again\n", "row 2: has more cells", id="too many cells"),
        pytest.param("kind,name\nburner,a\x00b\n", "", id="a control character"),
    ],
)
def test_a_file_that_is_no_table_is_refused(kitchen, text, says):
    refused = kitchen.take("equipment", text)
    assert refused.exit_code == 1
    assert says in refused.output
    assert kitchen.rows(Equipment) == []


def test_members_get_tokens_that_work_in_a_file_for_the_owner_only(kitchen):
    people = "name,role\nAda,member\nTam,trainer\nCora,coordinator\n"
    tokens = kitchen.folder / "tokens.json"
    assert kitchen.take("members", people, "--tokens", tokens, "--dry-run").output == "Would be 2 added, 1 unchanged.\n"
    assert not tokens.exists()
    assert kitchen.take("members", people, "--tokens", tokens).output == "2 added, 1 unchanged.\n"
    assert stat.S_IMODE(tokens.stat().st_mode) == 0o600
    made = json.loads(tokens.read_text())
    assert set(made) == {"Ada", "Tam"}
    with Session(kitchen.database.reader) as session:
        assert recognise(kitchen.database, made["Ada"], datetime.now(UTC), session).name == "Ada"
    again = kitchen.take("members", people, "--tokens", tokens)
    assert (again.exit_code, "is there already" in again.output) == (1, True)
    assert kitchen.take("members", people, "--tokens", "more.json").output == "0 added, 3 unchanged.\n"
    assert "another role" in kitchen.take("members", "name,role\nAda,trainer\n", "--tokens", "more.json").output
    assert len(kitchen.rows(Member)) == 3


def test_recipes_are_checked_as_they_are_taken_in_and_revised_where_they_changed(kitchen):
    taken = kitchen.take("recipes", RECIPES, "--member", "Cora")
    assert taken.exit_code == 0
    assert "row 4: Plums and hope is " in taken.output
    assert "2 added, 0 unchanged." in taken.output
    assert {row.verdict for row in kitchen.rows(Check)} >= {"ready"}
    assert kitchen.take("recipes", RECIPES, "--member", "Cora").output == "0 added, 2 unchanged.\n"
    changed = kitchen.take("recipes", RECIPES.replace("4 cups plums", "5 cups plums"), "--member", "Cora")
    assert "0 added, 1 revised, 1 unchanged." in changed.output
    assert (len(kitchen.rows(Recipe)), len(kitchen.rows(Revision))) == (2, 3)
    nobody = kitchen.take("recipes", RECIPES, "--member", "Nobody")
    assert (nobody.exit_code, nobody.output) == (1, "No members of this kitchen have that name.\n")


def test_what_was_written_out_is_taken_in_again_unchanged(kitchen):
    kitchen.take("equipment", EQUIPMENT)
    text = yaml.safe_dump([PLUM_JAM, CRUSHED_TOMATOES])
    assert kitchen.take("recipes", text, "--member", "Cora", name="recipes.yaml").exit_code == 0
    out = kitchen.folder / "out"
    assert kitchen.run("export", out).exit_code == 0
    (recipes,) = out.glob("recipes-*.yaml")
    for file, options in (
        ("equipment.yaml", ()),
        ("members.yaml", ("--tokens", "none.json")),
        (recipes.name, ("--member", "Cora")),
    ):
        what = file.partition(".")[0].partition("-")[0]
        again = kitchen.run("import", what, out / file, *options)
        assert again.output.startswith("0 added, "), again.output
    assert {row["title"] for row in yaml.safe_load(recipes.read_text())} == {"Plum jam", "Crushed tomatoes"}


def test_yaml_with_references_or_something_else_than_a_list_is_refused(kitchen):
    twice = "- {kind: burner, name: Left, name: Right}\n"
    for text in ("a: &a [1]\nb: *a\n", "kind: burner\n", "[", "- just words\n", twice):
        refused = kitchen.take("equipment", text, name="rows.yaml")
        assert refused.exit_code == 1
        assert "Traceback" not in refused.output
