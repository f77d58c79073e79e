"""The worked calls under openapi/calls, each run as its reader would run it."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

CALLS = Path(__file__).parents[2] / "openapi" / "calls"
SHOWN = {
    "check_a_recipe": ["ready", "boiling-water", "10"],
    "book_a_canner": ["confirmed", "409", "slot-taken"],
    "run_a_batch": ["10", "Plum jam", "7", "shelf", "1", "refrigerator"],
}


def test_every_call_is_tried_and_listed():
    names = {path.stem.replace("-", "_") for path in CALLS.iterdir() if path.suffix in {".sh", ".py"}}
    assert names == set(SHOWN)
    listed = (CALLS / "README.md").read_text()
    assert all(path.name in listed for path in CALLS.iterdir() if path.name != "README.md")


@pytest.mark.parametrize("call", sorted(path.name for path in CALLS.iterdir() if path.suffix in {".sh", ".py"}))
def test_a_call_runs_as_it_stands(served, call):
    for needed in ("curl", "jq") if call.endswith(".sh") else ():
        if shutil.which(needed) is None:
            (pytest.fail if os.environ.get("CI") else pytest.skip)(f"{needed} isn't on this machine.")
    tokens = {"KITCHEN": served.url, "TOKEN": served.member.token, "COORDINATOR": served.coordinator.token}
    program = "bash" if call.endswith(".sh") else sys.executable
    ran = subprocess.run(
        [program, str(CALLS / call)],
        env={**os.environ, **tokens},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ran.returncode == 0, ran.stderr + ran.stdout
    for shown in SHOWN[Path(call).stem.replace("-", "_")]:
        assert shown in ran.stdout, f"{shown} isn't in {ran.stdout}"
