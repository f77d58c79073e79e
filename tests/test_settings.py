"""Whoever runs the service finds every setting in the README, as it is."""

import re
from pathlib import Path

from service.settings import Settings

README = Path(__file__).parents[1] / "README.md"
ROW = re.compile(r"^\| `CANNING_(\w+)` \| (?:`(.*?)`|none) \|", re.MULTILINE)


def test_the_readme_names_each_setting_and_what_it_is_unless_set():
    named = {name.lower(): said or None for name, said in ROW.findall(README.read_text(encoding="utf-8"))}
    unless_set = {name: field.default for name, field in Settings.model_fields.items()}
    assert named.keys() == unless_set.keys()
    assert Settings.model_validate(named).model_dump() == unless_set
