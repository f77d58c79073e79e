"""Writing equipment, members and recipes into files that can be taken in again, here or elsewhere."""

from pathlib import Path
from typing import Any

import yaml
from sqlmodel import Session

from service.equipment import store as equipment
from service.equipment.bodies import NewEquipment
from service.members import store as members
from service.members.tables import Kitchen
from service.recipes import store as recipes
from service.transfers.importing import ALL_OF_THEM


def write(session: Session, kitchen: Kitchen, folder: Path) -> dict[str, int]:
    """Write `equipment.yaml`, `members.yaml` and a file of recipes for each member who has any; how many of each."""
    folder.mkdir(parents=True, exist_ok=True)
    people = members.members(session, kitchen.id, ALL_OF_THEM, None)
    files: dict[str, list[Any]] = {
        "equipment": [
            {name: _plain(getattr(row, name)) for name in NewEquipment.model_fields if getattr(row, name) is not None}
            for row in equipment.equipment(session, kitchen.id)
        ],
        "members": [{"name": row.name, "role": row.role.value} for row in people],
    }
    for member in people:
        kept = recipes.page(session, kitchen.id, member.id, ALL_OF_THEM, None)
        if kept:
            files[f"recipes-{member.id}"] = [each.revision.body for each in reversed(kept)]
    for name, rows in files.items():
        text = yaml.safe_dump(rows, allow_unicode=True, sort_keys=False, width=120)
        (folder / f"{name}.yaml").write_text(text, encoding="utf-8")
    return {name: len(rows) for name, rows in files.items()}


def _plain(value: Any) -> Any:
    return getattr(value, "value", value)
