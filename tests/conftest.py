"""A database per test, built by the real migrations, on SQLite and on PostgreSQL; and a kitchen to call."""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import create_engine, make_url, text

from service.app import create_app
from service.database.engine import open_engine
from service.database.migrating import migrate
from service.settings import Settings
from tests import make

SERVER_USER = "postgres"
TEMPLATE = "kitchen_template"


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
    """A throw-away server on a socket of its own; without the programs it is skipped, but for CI, where it fails."""
    folder = _server_programs()
    if folder is None:
        wanted = os.environ.get("CI") or os.environ.get("CANNING_TEST_POSTGRES") == "required"
        (pytest.fail if wanted else pytest.skip)("PostgreSQL's initdb and pg_ctl aren't on this machine.")
    home = Path(tempfile.mkdtemp(prefix="canning-pg-", dir="/tmp"))
    drop = ["setpriv", f"--reuid={SERVER_USER}", f"--regid={SERVER_USER}", "--clear-groups"] if os.getuid() == 0 else []
    if drop:
        shutil.chown(home, SERVER_USER)
    data, log = home / "data", home / "log"
    options = f"-k {home} -c listen_addresses= -c fsync=off -c max_connections=200"

    def run(program: str, *arguments: str) -> None:
        command = [*drop, str(folder / program), "-D", str(data), *arguments]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, cwd=home)

    run("initdb", "-U", "kitchen", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
    run("pg_ctl", "-w", "-l", str(log), "-o", options, "start")
    server = f"postgresql+psycopg://kitchen@/{{}}?host={home}"
    try:
        _on_server(server, f"CREATE DATABASE {TEMPLATE}")
        _migrated(server.format(TEMPLATE))
        yield server
    finally:
        run("pg_ctl", "-w", "-m", "immediate", "stop")
        shutil.rmtree(home)


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


def _server_programs() -> Path | None:
    found = shutil.which("pg_ctl")
    folders = [Path(found).resolve().parent] if found else []
    folders += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((folder for folder in folders if (folder / "initdb").exists() and (folder / "pg_ctl").exists()), None)


def _migrated(url: str) -> None:
    database = open_engine(url)
    migrate(database)
    database.close()


def _own_database(server: str, template: str) -> Iterator[str]:
    name = f"kitchen_{uuid4().hex}"
    _on_server(server, f"CREATE DATABASE {name} TEMPLATE {template}")
    yield server.format(name)
    _on_server(server, f"DROP DATABASE {name} WITH (FORCE)")


def _on_server(server: str, statement: str) -> None:
    engine = create_engine(make_url(server.format("postgres")), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.execute(text(statement))
    engine.dispose()
