"""What measures and rules pass around never changes: a verdict can be kept, shared between threads and compared."""

import importlib
import pkgutil
from dataclasses import is_dataclass

import pytest

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
    assert value.__dataclass_params__.frozen  # type: ignore[attr-defined]


@pytest.mark.parametrize("value", VALUES, ids=lambda value: f"{value.__module__}.{value.__qualname__}")
def test_two_values_with_the_same_fields_are_one(value: type) -> None:
    assert value.__dataclass_params__.eq is (value.__name__ not in HELD_ONCE)  # type: ignore[attr-defined]


@pytest.mark.parametrize("value", VALUES, ids=lambda value: f"{value.__module__}.{value.__qualname__}")
def test_a_value_holds_its_fields_and_nothing_more(value: type) -> None:
    assert ("__slots__" in vars(value)) is (value.__name__ not in WITH_MORE)
