"""Text that somebody wrote by hand, in YAML or JSON, read so that nothing in it is passed over."""

import json
from typing import Any

import yaml

from service.web.asking import each_once


class NotPlainError(ValueError):
    """The text is YAML or JSON, but may mean more than it seems to; says what is in the way."""


class _Plain(yaml.SafeLoader):
    """YAML with each name of a mapping once, as YAML 1.2.2 asks in 3.2.1.1; by itself the loader keeps the last."""

    def construct_mapping(self, node: Any, deep: bool = False) -> Any:
        found = super().construct_mapping(node, deep=deep)
        if len(found) < len(node.value):
            raise NotPlainError(f"A name stands twice in what begins on line {node.start_mark.line + 1}.")
        return found


def read_yaml(text: str) -> Any:
    """Read YAML without its references, which may unfold to any size. Raises ValueError and `yaml.YAMLError`."""
    if any(isinstance(event, yaml.AliasEvent) for event in yaml.parse(text, Loader=yaml.SafeLoader)):
        raise NotPlainError("Write it without YAML references.")
    return yaml.load(text, Loader=_Plain)  # noqa: S506 (it is a SafeLoader)


def read_json(text: str) -> Any:
    """Read JSON with each name of an object once. Raises ValueError."""
    try:
        return json.loads(text, object_pairs_hook=each_once)
    except json.JSONDecodeError:
        raise
    except ValueError as twice:
        raise NotPlainError(str(twice)) from None
