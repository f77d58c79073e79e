"""What measures and rules pass around never changes: a verdict can be kept, shared between threads and compared."""

import importlib
import pkgutil
from dataclasses import is_dataclass
from pathlib import Path

import pytest
from mypy import api

from service.core import measures, rules

VALUES = [
    value
    for package in (measures, rules)
    for module in pkgutil.iter_modules(package.__path__, f"{package.__name__}.")
    for value in vars(importlib.import_module(module.name)).values()
    if isinstance(value, type) and is_dataclass(value) and value.__module__ == module.name
]
# Made once, from the tables or for one check; what is looked up for one is remembered by identity.
HELD_ONCE = {"Facts", "Case", "Process", "Ingredient", "TestedRecipe", "Food", "Listed", "Slot"}
WITH_MORE = {"Facts", "Case", "Recogniser"}  # remember what was looked up in them, or are looked up by name


@pytest.mark.parametrize("value", VALUES, ids=lambda value: f"{value.__module__}.{value.__qualname__}")
def test_a_value_never_changes(value: type) -> None:
    """By its own guard, or by mypy where that would cost too much."""
    assert value.__dataclass_params__.frozen or "@value(frozen=True" in _decorator(value)  # type: ignore[attr-defined]


def _decorator(value: type) -> str:
    source = Path(importlib.import_module(value.__module__).__file__ or "").read_text(encoding="utf-8")
    return source.partition(f"\nclass {value.__name__}:")[0].rpartition("\n")[2]


def test_mypy_refuses_to_change_a_value_that_has_no_guard_of_its_own(tmp_path: Path) -> None:
    changing = tmp_path / "changing.py"
    changing.write_text(
        "from service.core.measures.values import value\n\n\n"
        "@value(frozen=True, slots=True)\nclass Jar:\n    size: str\n\n\n"
        'Jar("pint").size = "quart"\n',
        encoding="utf-8",
    )
    said, _, failed = api.run([str(changing)])
    assert failed
    assert 'Property "size" defined in "Jar" is read-only' in said


@pytest.mark.parametrize("value", VALUES, ids=lambda value: f"{value.__module__}.{value.__qualname__}")
def test_two_values_with_the_same_fields_are_one(value: type) -> None:
    assert value.__dataclass_params__.eq is (value.__name__ not in HELD_ONCE)  # type: ignore[attr-defined]


@pytest.mark.parametrize("value", VALUES, ids=lambda value: f"{value.__module__}.{value.__qualname__}")
def test_a_value_holds_its_fields_and_nothing_more(value: type) -> None:
    assert ("__slots__" in vars(value)) is (value.__name__ not in WITH_MORE)
