"""The board over a day of a hall kitchen: in this process, and for a browser."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from service.app import create_app
from service.settings import Settings
from tests.board.scene import Scene, hall
from tests.conftest import Client, Clock, _people


@pytest.fixture(scope="module")
def scene(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Scene]:
    """The hall at noon, on SQLite and for every test of a module: none of them changes what another looks at."""
    path = tmp_path_factory.mktemp("board") / "kitchen.db"
    shutil.copy(sqlite_template, path)
    clock = Clock(datetime(2027, 6, 12, 12, tzinfo=UTC))
    app = create_app(Settings(database_url=f"sqlite:///{path}", limits=False), clock)
    with Client(app, clock, **_people(app, clock.at)) as client:
        yield hall(client)
