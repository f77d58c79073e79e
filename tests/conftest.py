"""A database per test, built by the real migrations, on SQLite and on PostgreSQL; and a kitchen to call."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings

from service.app import create_app
from service.database.engine import open_engine
from service.database.migrating import migrate
from service.settings import Settings
from tests import make, postgresql, scratch

TEMPLATE = "kitchen_template"

# No test is timed: how long one takes tells of the machine it shares. Random examples are the same in each run, so that
# none fails for what it finds by chance beside another change; who asks for more of them gets others each time.
settings.register_profile(
    "untimed",
    deadline=None,
    derandomize=not any(name.endswith("_EXAMPLES") for name in os.environ),
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("untimed")


def pytest_configure() -> None:
    """Let `tmp_path` and whatever else asks for a temporary file have the tests' folder."""
    tempfile.tempdir = str(scratch.FOLDER)


@dataclass
class Person:
    """A member with a token; `headers` go with a request."""

    id: UUID
    kitchen_id: UUID
    name: str
    token: str

    @property
    def headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}"}


@dataclass
class Clock:
    """The time of the service, which a test may move."""

    at: datetime

    def __call__(self) -> datetime:
        return self.at

    def pass_by(self, **spans: float) -> None:
        self.at += timedelta(**spans)


@dataclass
class Client(TestClient):
    """The service, called in this process, with the people of one kitchen and a coordinator of another."""

    app: FastAPI
    clock: Clock
    coordinator: Person
    trainer: Person
    members: tuple[Person, Person]
    stranger: Person

    def __post_init__(self) -> None:
        super().__init__(self.app)

    @property
    def member(self) -> Person:
        return self.members[0]

    @property
    def other(self) -> Person:
        return self.members[1]


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """A throw-away server; without the programs it is skipped, but for CI, where it fails."""
    folder = postgresql.programs()
    if folder is None:
        wanted = os.environ.get("CI") or os.environ.get("CANNING_TEST_POSTGRES") == "required"
        (pytest.fail if wanted else pytest.skip)("PostgreSQL's initdb and pg_ctl aren't on this machine.")
    with postgresql.running(folder) as server:
        postgresql.on_server(server, f"CREATE DATABASE {TEMPLATE}")
        _migrated(server.format(TEMPLATE))
        yield server


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One migrated SQLite file, copied for each test."""
    path = tmp_path_factory.mktemp("sqlite") / "template.db"
    _migrated(f"sqlite:///{path}")
    return path


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A database with nothing in it."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.db'}"
        return
    yield from _own_database(request.getfixturevalue("postgresql_server"), "template0")


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A migrated database of the test's own."""
    if request.param == "sqlite":
        path = tmp_path / "kitchen.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
        return
    yield from _own_database(request.getfixturevalue("postgresql_server"), TEMPLATE)


@pytest.fixture
def client(database_url: str) -> Iterator[Client]:
    """A running service with a kitchen at 4,200 ft; its clock stands still on a June morning, ten o'clock in UTC."""
    clock = Clock(datetime(2027, 6, 14, 10, tzinfo=UTC))
    app = create_app(Settings(database_url=database_url, limits=False), clock)
    people = _people(app, clock.at)
    with Client(app, clock, **people) as ready:
        yield ready


def _people(app: FastAPI, at: datetime) -> dict:
    with make.session(app.state.database) as session:
        kitchen, elsewhere = make.kitchen(session), make.kitchen(session, name="Another hall")

        def person(name: str, role: str, kitchen_id: UUID = kitchen.id) -> Person:
            member, token = make.member(session, kitchen_id, name=name, role=role, at=at)
            return Person(member.id, kitchen_id, name, token)

        people = {
            "coordinator": person("Cora", "coordinator"),
            "trainer": person("Tam", "trainer"),
            "members": (person("Ada", "member"), person("Bo", "member")),
            "stranger": person("Sid", "coordinator", elsewhere.id),
        }
        trainer, signed_off = people["trainer"], people["members"][0]
        make.sign_off(session, signed_off.id, given_by=trainer.id, expires_on=date(2030, 1, 1), at=at)
    return people


def _migrated(url: str) -> None:
    database = open_engine(url)
    migrate(database)
    database.close()


def _own_database(server: str, template: str) -> Iterator[str]:
    name = f"kitchen_{uuid4().hex}"
    postgresql.on_server(server, f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")
    yield server.format(name)
    postgresql.on_server(server, f"DROP DATABASE {name} WITH (FORCE)")
