"""The board over a day of a hall kitchen: in this process, and for a browser."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from service.app import create_app
from service.settings import Settings
from tests.board.scene import NOON, Scene, hall
from tests.conftest import Client, Clock, _people


@dataclass(frozen=True)
class Kept:
    """The hall at noon as a file, with its people."""

    path: Path
    people: dict[str, Any]
    scene: Scene


@pytest.fixture(scope="session")
def kept_hall(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Kept:
    """Made once, for all modules to copy."""
    path = tmp_path_factory.mktemp("hall") / "kitchen.db"
    shutil.copy(sqlite_template, path)
    clock = Clock(datetime(2027, 6, 12, 12, tzinfo=UTC))
    app = _app(path, clock)
    people = _people(app, clock.at)
    with Client(app, clock, **people) as client:  # closes the database on its way out
        return Kept(path, people, hall(client))


@pytest.fixture(scope="module")
def scene(kept_hall: Kept, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Scene]:
    """The hall at noon, on SQLite and for every test of a module: none of them changes what another looks at."""
    path = tmp_path_factory.mktemp("board") / "kitchen.db"
    shutil.copy(kept_hall.path, path)
    clock = Clock(NOON)
    with Client(_app(path, clock), clock, **kept_hall.people) as client:
        yield replace(kept_hall.scene, client=client)


def _app(path: Path, clock: Clock) -> Any:
    return create_app(Settings(database_url=f"sqlite:///{path}", limits=False), clock)
