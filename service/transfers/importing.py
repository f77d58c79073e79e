"""Taking in equipment, members and recipes from files: all rows or none, and the same file again changes nothing."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlmodel import Session

from service.checks.bodies import RecipeCheckRequest
from service.core.scheduling.equipment import senseless
from service.equipment import store as equipment
from service.equipment.bodies import NewEquipment
from service.members import store as members
from service.members import tokens
from service.members.bodies import NewMember
from service.members.tables import Kitchen, Member
from service.recipes import store as recipes
from service.recipes.judging import judge, kept_body
from service.transfers import reading
from service.transfers.reading import Cell, Sent

EQUIPMENT_CELLS: dict[str, Cell] = {
    "kind": str,
    "name": str,
    "canner_kind": str,
    "capacity": reading.counts,
    "places": reading.whole,
    "needs_burner": reading.flag,
    "in_service": reading.flag,
}
MEMBER_CELLS: dict[str, Cell] = {"name": str, "role": str}
RECIPE_CELLS: dict[str, Cell] = {
    "title": str,
    "family": str,
    "product": str,
    "ingredients": reading.several,
    "steps": reading.several,
    "pack": str,
    "headspace_in": reading.number,
    "jars": lambda cell: [{"size": size, "count": count} for size, count in reading.counts(cell).items()],
    "method": str,
    "minutes": reading.whole,
    "pressure_psi": reading.whole,
    "tested_recipe": str,
}
ALL_OF_THEM = 1_000_000

Watch = Callable[[Iterable[Sent]], Iterable[Sent]]
"""Hands the rows on one by one, and may show how far it has got."""


@dataclass(slots=True)
class Taken:
    """What a file came to: added and unchanged are rows; with any fault nothing is kept."""

    added: int = 0
    revised: int = 0
    unchanged: int = 0
    faults: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    tokens: dict[str, str] = field(default_factory=dict)


def take_equipment(session: Session, kitchen: Kitchen, sent: Sequence[Sent], now: datetime, watch: Watch) -> Taken:
    """Enter equipment that isn't there yet; what is there under the same name has to be the same."""
    taken = Taken()
    there = {row.name: _as_entered(row) for row in equipment.equipment(session, kitchen.id)}
    for row in watch(sent):
        new, faults = reading.read(row, NewEquipment)
        if faults:
            taken.faults += faults
            continue
        nonsense = senseless(new.kind, new.canner_kind, new.capacity, new.places, needs_burner=new.needs_burner)
        values = new.model_dump()
        if nonsense:
            taken.faults.append(f"row {row.row}: {nonsense.detail}")
        elif new.name not in there:
            equipment.add(session, kitchen.id, now, **values)
            there[new.name] = values
            taken.added += 1
        elif there[new.name] == values:
            taken.unchanged += 1
        else:
            taken.faults.append(
                f"row {row.row}: there is other equipment of this name; change that, or use another name"
            )
    return taken


def _as_entered(row: Any) -> dict[str, Any]:
    return {name: getattr(row, name) for name in NewEquipment.model_fields}


def take_members(session: Session, kitchen: Kitchen, sent: Sequence[Sent], now: datetime, watch: Watch) -> Taken:
    """Take in people who aren't members yet, each with a token; a member of the same name has to have the same role."""
    taken = Taken()
    there = {row.name: row.role for row in members.members(session, kitchen.id, ALL_OF_THEM, None)}
    for row in watch(sent):
        new, faults = reading.read(row, NewMember)
        if faults:
            taken.faults += faults
        elif new.name not in there:
            member = members.add_member(session, kitchen.id, new.name, new.role)
            _, taken.tokens[new.name] = tokens.make(session, member.id, now)
            there[new.name] = new.role
            taken.added += 1
        elif there[new.name] is new.role:
            taken.unchanged += 1
        else:
            taken.faults.append(f"row {row.row}: there is a member of this name with another role")
    return taken


def take_recipes(
    session: Session, kitchen: Kitchen, member: Member, sent: Sequence[Sent], now: datetime, watch: Watch
) -> Taken:
    """Keep recipes as a member's, each checked; one of the same title becomes a revision if it reads otherwise."""
    taken = Taken()
    there = {
        kept.revision.title: kept for kept in reversed(recipes.page(session, kitchen.id, member.id, ALL_OF_THEM, None))
    }
    for row in watch(sent):
        new, faults = reading.read(_with_process(row), RecipeCheckRequest)
        if faults:
            taken.faults += faults
            continue
        if new.altitude_ft not in (None, kitchen.altitude_ft):
            taken.faults.append(f"row {row.row}: altitude_ft: the kitchen's own altitude counts; leave it out")
            continue
        kept = there.get(new.title)
        if kept is not None and kept.revision.body == kept_body(new):
            taken.unchanged += 1
            continue
        check, judged = judge(new, kitchen.altitude_ft)
        if kept is None:
            there[new.title] = recipes.add(session, kitchen.id, member.id, judged, now)
            taken.added += 1
        else:
            there[new.title] = recipes.revise(session, kept.recipe, member.id, judged, now)
            taken.revised += 1
        if check.verdict != "ready":
            taken.notes.append(f"row {row.row}: {new.title} is {check.verdict}")
    return taken


def _with_process(sent: Sent) -> Sent:
    """A recipe's method, minutes and pressure stand in columns of their own."""
    if not isinstance(sent.values, dict):
        return sent
    values = dict(sent.values)
    process = {name: values.pop(name) for name in ("method", "minutes", "pressure_psi") if name in values}
    return Sent(sent.row, values | ({"process": process} if process else {}))
