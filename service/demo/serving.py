"""The demo as a command: a fresh database is migrated and filled, the tour is told, and the kitchen served."""

import json
import sqlite3
import threading
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import uvicorn
from sqlmodel import Session, select

from service.app import create_app
from service.core.roles import Role
from service.database.engine import open_engine
from service.database.migrating import WrongSchemaError, migrate
from service.demo import filling, kitchen, tour
from service.members import store
from service.members import tokens as members_tokens
from service.members.tables import Member
from service.settings import Settings

# Marks an SQLite file as this demo's own (PRAGMA application_id), so that no other file is ever written over.
DEMO_APPLICATION_ID = 0x4A617273


class NoDemoError(Exception):
    """The demo can't be shown here; the message says why."""


def run(port: int, database: Path, tokens: Path, *, show_tour: bool, stay: bool) -> None:
    """Serve the demo kitchen on loopback until stopped, or until the tour ends. Raises `NoDemoError`."""
    if _is_there(database):
        _bring_up_to_date(database)
        people = _people(database, tokens)
    else:
        people = _fresh(database)
    settings = _settings(database)
    base_url = f"http://127.0.0.1:{port}"
    people["base_url"] = base_url
    _write(tokens, people)
    server = uvicorn.Server(uvicorn.Config(create_app(settings), port=port, log_level="warning"))
    if not (show_tour or stay):
        return
    if not show_tour:
        print(f"Serving {kitchen.KITCHEN} on {base_url}; tokens are in {tokens}. Stop with Ctrl-C.", flush=True)
        server.run()
        return
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        _wait_until(server, thread)
        print(f"{kitchen.KITCHEN}, {kitchen.ALTITUDE_FT:,} ft. Everything in it is invented.", flush=True)
        tour.walk(base_url, people, lambda line: print(line, flush=True))
        if stay:
            places = "the board at /board, docs at /docs"
            print(f"\nServing on {base_url} ({places}); tokens are in {tokens}. Stop with Ctrl-C.", flush=True)
            thread.join()
    except KeyboardInterrupt:
        pass
    finally:
        server.should_exit = True
        thread.join(timeout=20)


def _is_there(database: Path) -> bool:
    """Whether a demo's file is there already. Raises `NoDemoError` where another one is."""
    if not database.exists() or database.stat().st_size == 0:
        return False
    try:
        with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as connection:
            marked = connection.execute("PRAGMA application_id").fetchone()[0] == DEMO_APPLICATION_ID
    except sqlite3.DatabaseError:
        marked = False
    if not marked:
        raise NoDemoError(f"{database} is there and isn't a demo's database; name another file.")
    return True


def _settings(database: Path) -> Settings:
    return Settings(database_url=f"sqlite:///{database}", limits=False)


def _fresh(database: Path) -> dict[str, Any]:
    """Migrate and fill a new file beside the one asked for, so that a half-filled one never stands in its place."""
    filled = database.with_name(database.name + ".filling")
    filled.unlink(missing_ok=True)
    settings = _settings(filled)
    now = datetime.now(UTC).replace(microsecond=0)
    with closing(open_engine(settings.database_url, settings.connections)) as opened:
        migrate(opened)
        with Session(opened.writer) as session:
            row = store.add_kitchen(session, kitchen.KITCHEN, kitchen.ALTITUDE_FT, kitchen.TIME_ZONE)
            person = store.add_member(session, row.id, kitchen.COORDINATOR, Role.COORDINATOR)
            _, token = members_tokens.make(session, person.id, now)
            session.commit()
            coordinator = {"member_id": str(person.id), "name": person.name, "token": token}
    people = filling.fill(settings, token, until=now)
    with closing(sqlite3.connect(filled)) as connection:
        connection.execute(f"PRAGMA application_id = {DEMO_APPLICATION_ID}")
    filled.replace(database)
    return {"coordinator": coordinator, **people}


def _bring_up_to_date(database: Path) -> None:
    """Migrate the file of an older version's demo. Raises `NoDemoError` for a newer one's."""
    with closing(open_engine(_settings(database).database_url)) as opened:
        try:
            migrate(opened)
        except WrongSchemaError as wrong:
            raise NoDemoError(str(wrong)) from wrong


def _people(database: Path, tokens: Path) -> dict[str, Any]:
    """Who is in a demo's file, with the tokens written when it was filled, or new ones where those are lost."""
    try:
        kept: dict[str, Any] = json.loads(tokens.read_text())
    except (OSError, ValueError):
        return _with_new_tokens(database)
    return kept


def _with_new_tokens(database: Path) -> dict[str, Any]:
    settings, now = _settings(database), datetime.now(UTC).replace(microsecond=0)
    with closing(open_engine(settings.database_url, settings.connections)) as opened, Session(opened.writer) as session:
        people = {}
        for person in session.exec(select(Member)).all():
            _, token = members_tokens.make(session, person.id, now)
            people[person.name] = {"member_id": str(person.id), "name": person.name, "token": token}
        session.commit()
    return {
        "coordinator": people[kitchen.COORDINATOR],
        "trainer": people[kitchen.TRAINER],
        "members": [people[name] for name in kitchen.MEMBERS],
    }


def _write(tokens: Path, people: dict[str, Any]) -> None:
    order = ("base_url", "coordinator", "trainer", "members")
    tokens.touch(mode=0o600)
    tokens.write_text(json.dumps({key: people[key] for key in order}, indent=2, ensure_ascii=False) + "\n")


def _wait_until(server: uvicorn.Server, thread: threading.Thread) -> None:
    while not server.started:
        if not thread.is_alive():
            raise NoDemoError("The demo couldn't be served; `--port` names another port.")
        time.sleep(0.02)
