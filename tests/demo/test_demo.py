"""The demo does the main job from an empty folder, and never touches a file that isn't its own."""

import json
import socket
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from typer.testing import CliRunner

from service.cli import main
from service.database.engine import open_engine
from service.database.migrating import migrate
from tests import ports


def demo(folder: Path, *options: str, port: int | None = None) -> subprocess.CompletedProcess[str]:
    command = [str(Path(sys.executable).with_name("canning-kitchen")), "demo", "--port", str(port or ports.free())]
    command += ["--database", "kitchen.db", "--tokens", "tokens.json", *options]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120, check=False)


@pytest.fixture(scope="module")
def toured(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    folder = tmp_path_factory.mktemp("demo")
    return folder, demo(folder, "--exit")


def test_the_tour_shows_the_main_job(toured: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    _, told = toured
    assert told.returncode == 0, told.stderr
    for shown in (
        "Plum jam, as published: READY",
        "The same with 4 cups of sugar: REVISE",
        "The same, doubled: REVISE",
        "Crushed tomatoes, as published: READY",
        "The same without its lemon juice: UNSAFE",
        "POST /v1/bookings -> 201",
        "POST /v1/bookings -> 409",
        "everything it held is free again",
        "7 jars sealed",
        "best by",
    ):
        assert shown in told.stdout


def test_the_tokens_file_names_everyone_who_can_sign_in(
    toured: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    folder, _ = toured
    tokens = json.loads((folder / "tokens.json").read_text())
    assert set(tokens) == {"base_url", "coordinator", "trainer", "members"}
    assert all({"member_id", "name", "token"} <= set(person) for person in tokens["members"])
    assert (folder / "tokens.json").stat().st_mode & 0o077 == 0


def test_a_file_of_an_older_version_is_brought_up_to_date_and_the_tour_told_again(
    toured: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    folder, _ = toured
    before = json.loads((folder / "tokens.json").read_text())
    with closing(open_engine(f"sqlite:///{folder}/kitchen.db")) as database:
        migrate(database, "-1")
    again = demo(folder, "--exit")
    assert again.returncode == 0, again.stderr
    assert "It has become one before" in again.stdout
    assert "best by" in again.stdout
    assert json.loads((folder / "tokens.json").read_text())["members"] == before["members"]


def test_where_nothing_can_be_served_it_is_said_in_a_sentence(
    toured: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    folder, _ = toured
    with socket.create_server(("127.0.0.1", 0)) as taken:
        refused = demo(folder, "--exit", port=taken.getsockname()[1])
    assert refused.returncode == 1
    assert "names another port" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_any_other_file_is_refused_and_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "kitchen.db").write_text("somebody's letters")
    refused = CliRunner().invoke(main, ["demo", "--exit", "--database", "kitchen.db", "--tokens", "tokens.json"])
    assert refused.exit_code != 0
    assert "isn't a demo's" in refused.stderr
    assert (tmp_path / "kitchen.db").read_text() == "somebody's letters"
