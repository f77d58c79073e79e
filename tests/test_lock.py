"""The locks hold what pyproject.toml asks for, with hashes; `.ci/lock` writes them anew."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
ASKED = {
    "docker/requirements.lock": PROJECT["dependencies"],
    ".ci/requirements-dev.lock": PROJECT["dependencies"] + PROJECT["optional-dependencies"]["dev"],
}


def locked(name: str) -> dict[str, str]:
    entries = re.findall(r"^([A-Za-z0-9._-]+)(?:\[[^]]*\])?==(\S+)(.*(?:\n    .*)*)", (ROOT / name).read_text(), re.M)
    assert all("--hash=sha256:" in rest for _, _, rest in entries)
    return {canonicalize_name(package): version for package, version, _ in entries}


@pytest.mark.parametrize("name", ASKED)
def test_a_lock_holds_what_is_asked_for(name: str) -> None:
    found = locked(name)
    for asked in map(Requirement, ASKED[name]):
        assert asked.specifier.contains(found[canonicalize_name(asked.name)]), f"{asked}: run .ci/lock"


def test_what_is_served_is_what_is_tested() -> None:
    assert locked("docker/requirements.lock").items() <= locked(".ci/requirements-dev.lock").items()
