"""A backup is made while others write and put back: all that was confirmed before it is there, and the sums agree."""

import threading
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import text
from sqlmodel import Session, select
from typer.testing import CliRunner

from service.bookings.tables import Booking
from service.cli import main
from service.database.engine import Database, open_engine
from service.database.migrating import has_rows, migrate
from service.keeping.backups import BackupError, back_up, restore
from service.keeping.verifying import verify
from service.pantry import store as pantry
from service.pantry.tables import Movement
from tests import postgresql
from tests.bookings.kitchen import book, opened, piece
from tests.conftest import Client
from tests.pantry.make import lot, move

WRITTEN_BEFORE = 20


@pytest.fixture
def elsewhere(database_url: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[str]:
    """Another database of the same kind, with nothing in it."""
    if database_url.startswith("sqlite"):
        yield f"sqlite:///{tmp_path / 'elsewhere.db'}"
        return
    server, name = request.getfixturevalue("postgresql_server"), f"elsewhere_{uuid4().hex}"
    postgresql.on_server(server, f"CREATE DATABASE {name} TEMPLATE template0")
    yield server.format(name)
    postgresql.on_server(server, f"DROP DATABASE {name} WITH (FORCE)")


class Writers:
    """Members who book and use jars, one thing after the other, until they are stopped; what was confirmed is noted."""

    def __init__(self, client: Client) -> None:
        opened(client)
        self.confirmed: list[str] = []
        self.failed: list[str] = []
        self.stopping = threading.Event()
        canners, code = [piece(client, name=f"Kettle {n}") for n in range(2)], lot(client, {"half-pint": 500})
        self.threads = [threading.Thread(target=self.book, args=(client, canner)) for canner in canners]
        self.threads.append(threading.Thread(target=self.use, args=(client, code)))

    def book(self, client: Client, canner: str) -> None:
        for number in range(1, 1000):
            day, slot = divmod(number, 40)
            hour, minute = divmod(14 * 60 + slot * 15, 60)
            answer = book(client, client.member, canner, *(f"{15 + day}T{hour:02}:{minute + m:02}" for m in (0, 10)))
            if self.stopping.is_set():
                return
            self.note(answer)

    def use(self, client: Client, code: str) -> None:
        while not self.stopping.is_set():
            self.note(move(client, code))

    def note(self, answer) -> None:
        if answer.status_code != 201:
            self.failed.append(answer.text)
        else:
            self.confirmed.append(answer.json()["id"])

    def wait_for(self, count: int) -> set[str]:
        while len(self.confirmed) < count and not self.failed:
            self.stopping.wait(0.01)
        return set(self.confirmed)

    def __enter__(self) -> "Writers":
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stopping.set()
        for thread in self.threads:
            thread.join()


def kept(database: Database) -> set[str]:
    with Session(database.reader) as session:
        return {str(found) for table in (Booking, Movement) for found in session.exec(select(table.id))}


def test_what_was_confirmed_before_a_backup_is_in_it(
    client: Client, database_url: str, elsewhere: str, tmp_path: Path
) -> None:
    file = tmp_path / "kitchen.backup"
    with Writers(client) as writers:
        before = writers.wait_for(WRITTEN_BEFORE)
        back_up(database_url, file)
        began_after = writers.wait_for(len(writers.confirmed) + 5)
    assert not writers.failed
    assert file.stat().st_mode & 0o777 == 0o600
    assert restore(elsewhere, file) is None
    restored = open_engine(elsewhere)
    try:
        found = kept(restored)
        assert before <= found <= kept(client.app.state.database)
        assert len(began_after) > len(before)
        looked = list(verify(restored))
        assert [line for each in looked for line in each.wrong] == []
        with Session(restored.reader) as session:
            proof = pantry.prove(session, client.member.kitchen_id)
        assert proof.filled == proof.held + proof.ended == 500
    finally:
        restored.close()


def test_nothing_is_written_over_what_a_database_holds(client: Client, database_url: str, tmp_path: Path) -> None:
    file = tmp_path / "kitchen.backup"
    back_up(database_url, file)
    with pytest.raises(BackupError, match="there already"):
        back_up(database_url, file)
    with pytest.raises(BackupError, match="holds data already"):
        restore(database_url, file)
    with pytest.raises(BackupError, match="stop the service"):
        restore(database_url, file, replace=True)
    assert client.get("/v1/members", headers=client.coordinator.headers).status_code == 200
    assert list(tmp_path.glob("*.partial")) + list(tmp_path.glob("*.restoring*")) == []


def test_what_is_replaced_is_set_aside(client: Client, database_url: str, tmp_path: Path) -> None:
    file, database = tmp_path / "kitchen.backup", client.app.state.database
    back_up(database_url, file)
    headers = client.coordinator.headers
    assert client.post("/v1/members", json={"name": "Dee"}, headers=headers).status_code == 201
    database.close()
    aside = restore(database_url, file, replace=True)
    names = [each["name"] for each in client.get("/v1/members", headers=headers).json()["items"]]
    assert names == ["Ada", "Bo", "Cora", "Tam"]
    assert aside
    if database.dialect == "sqlite":
        old = open_engine(f"sqlite:///{aside}")
        table = "member"
    else:
        old, table = open_engine(database_url), f"{aside.removeprefix('schema ')}.member"
    with old.reader.connect() as connection:
        assert connection.execute(text(f"SELECT count(*) FROM {table} WHERE name = 'Dee'")).scalar_one() == 1
    old.close()


def test_a_backup_that_cannot_be_used_changes_nothing(database_url: str, elsewhere: str, tmp_path: Path) -> None:
    file, other = tmp_path / "kitchen.backup", tmp_path / "other"
    back_up(database_url, file)
    other.write_bytes(b"SQLite format 3\0" if database_url.startswith("postgresql") else b"PGDMP")
    with pytest.raises(BackupError, match="is a backup of"):
        restore(elsewhere, other)
    other.write_bytes(b"A diary")
    with pytest.raises(BackupError, match="isn't a backup"):
        restore(elsewhere, other)
    other.write_bytes(file.read_bytes()[: file.stat().st_size // 2])  # half of it arrived
    with pytest.raises(BackupError):
        restore(elsewhere, other)
    with pytest.raises(BackupError, match="no-such"):
        restore(elsewhere, tmp_path / "no-such")
    database = open_engine(elsewhere)
    with database.reader.connect() as connection:
        assert not has_rows(connection)
    migrate(database)  # it is as good as new
    database.close()


def test_an_unknown_schema_is_neither_backed_up_nor_put_back(
    client: Client, database_url: str, elsewhere: str, tmp_path: Path
) -> None:
    file = tmp_path / "kitchen.backup"
    back_up(database_url, file)
    with client.app.state.database.writer.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'from-the-future'"))
    with pytest.raises(BackupError, match="doesn't know"):
        back_up(database_url, tmp_path / "newer.backup")
    empty = open_engine(elsewhere)
    empty.writer.connect().close()
    with pytest.raises(BackupError, match="nothing in it"):
        back_up(elsewhere, tmp_path / "empty.backup")
    empty.close()


def test_the_commands_say_how_it_went(
    client: Client, database_url: str, elsewhere: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def run(*arguments: str) -> tuple[int, str]:
        done = CliRunner().invoke(main, arguments)
        return done.exit_code, done.output

    file = str(tmp_path / "kitchen.backup")
    monkeypatch.setenv("CANNING_DATABASE_URL", database_url)
    assert run("backup", file)[0] == 0
    assert run("backup", file) == (1, f"{file} is there already: a backup never writes over another file.\n")
    monkeypatch.setenv("CANNING_DATABASE_URL", elsewhere)
    status, said = run("restore", file)
    assert (status, said.splitlines()[0]) == (0, "Restored.")
    assert run("verify")[0] == 0
    database = open_engine(elsewhere)
    with database.writer.begin() as connection:
        connection.execute(text("UPDATE kitchen SET version = 2"))
        guard = "movement_is_written_once"
        drop = f"{guard}_on_update" if database.dialect == "sqlite" else f"{guard} ON movement"
        connection.execute(text(f"DROP TRIGGER {drop}"))
    database.close()
    status, said = run("verify")
    assert status == 2
    assert "  movement could be changed: its trigger is gone\n" in said
    monkeypatch.setenv("CANNING_DATABASE_URL", f"sqlite:///{tmp_path}/no/such/folder.db")
    assert run("verify") == (1, "unable to open database file\n")
