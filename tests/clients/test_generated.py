"""openapi-python-client makes a typed client of the committed contract, without a warning, and the client works."""

import importlib
import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
CONTRACT = HERE.parents[1] / "openapi" / "openapi.json"
READS_PICTURES = HERE.parents[1] / "openapi" / "client.yaml"  # the generator doesn't know that SVG is text
PROGRAMS = Path(sys.executable).parent
# The generator's own `__exit__` hands on what it declares as objects; what it makes of the contract is held to all.
TYPES = "[mypy]\nstrict = True\n[mypy-kitchen_client.client]\ndisable_error_code = arg-type\n"


def run(folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    paths = {"PATH": f"{PROGRAMS}{os.pathsep}{os.environ['PATH']}", "MYPYPATH": str(folder)}  # it formats with ruff
    return subprocess.run(
        [str(PROGRAMS / command[0]), *command[1:]],
        cwd=folder,
        env={**os.environ, **paths},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.fixture(scope="module")
def generated(tmp_path_factory):
    """The folder with the client, and what the generator said."""
    folder = tmp_path_factory.mktemp("generated")
    config = ("--config", str(READS_PICTURES))
    options = (
        *config,
        "--path",
        str(CONTRACT),
        "--output-path",
        "kitchen_client",
        "--meta",
        "none",
        "--fail-on-warning",
    )
    return folder, run(folder, "openapi-python-client", "generate", *options)


@pytest.fixture
def flows(generated, monkeypatch):
    folder, _ = generated
    monkeypatch.syspath_prepend(str(folder))
    yield importlib.import_module("tests.clients.flows")
    for name in [name for name in sys.modules if name.startswith("kitchen_client")]:
        monkeypatch.delitem(sys.modules, name)


def test_the_generator_has_nothing_to_warn_of(generated):
    folder, said = generated
    assert (said.returncode, said.stderr) == (0, ""), said.stdout
    assert "arning" not in said.stdout
    assert (folder / "kitchen_client" / "api" / "bookings" / "book.py").exists()


def test_the_client_and_the_flows_are_typed(generated):
    folder, _ = generated
    (folder / "types.ini").write_text(TYPES)
    (folder / "flows.py").write_text((HERE / "flows.py").read_text())
    checked = run(folder, "mypy", "--config-file", "types.ini", "-p", "kitchen_client", "-m", "flows")
    assert checked.returncode == 0, checked.stdout


def test_the_main_jobs_are_done_with_it(served, flows):
    found = flows.all_three(served.url, served.member.token, served.coordinator.token)
    assert found == ("ready", ("confirmed", "slot-taken"), {"shelf": 7, "refrigerator": 1})
