"""What holds for every connection, whichever database it leads to."""

from datetime import UTC, datetime, timedelta, timezone
from uuid import uuid4

import pytest
import sqlalchemy
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, IntegrityError, StatementError
from sqlmodel import Session, select

from service.database.engine import open_engine
from service.database.prepared import Prepared
from service.members.tables import Kitchen, Token
from tests import make

MOMENT = datetime(2027, 8, 14, 10, 30, tzinfo=timezone(timedelta(hours=-6)))


@pytest.fixture
def database(database_url):
    opened = open_engine(database_url)
    yield opened
    opened.close()


@pytest.mark.parametrize("url", ["sqlite://", "sqlite:///:memory:", "mysql://localhost/kitchen"])
def test_a_database_is_a_file_or_a_server(url):
    with pytest.raises(ValueError, match="database"):
        open_engine(url)


def test_a_reader_cannot_write(database):
    with database.reader.connect() as connection, pytest.raises(DBAPIError, match=r"read-?only"):
        connection.execute(text("DELETE FROM kitchen"))


def test_what_is_read_in_a_session_is_of_one_state(database):
    with make.session(database) as session:
        make.kitchen(session)
    with Session(database.reader) as reading:
        assert len(reading.exec(select(Kitchen)).all()) == 1
        with make.session(database) as session:
            make.kitchen(session)
        assert len(reading.exec(select(Kitchen)).all()) == 1
    with Session(database.reader) as reading:
        assert len(reading.exec(select(Kitchen)).all()) == 2


def test_looks_at_a_file_are_at_one_state(database):
    with make.session(database) as session:
        make.kitchen(session)
    counted = Prepared(sqlalchemy.select(sqlalchemy.func.count()).select_from(Kitchen))
    with database.look() as look:
        assert counted.rows(look) == [(1,)]
        with make.session(database) as session:
            make.kitchen(session)
        assert counted.rows(look) == [(1 if database.dialect == "sqlite" else 2,)]


def test_sqlite_is_set_to_keep_what_it_said_it_kept(database):
    if database.dialect == "sqlite":
        with database.writer.connect() as connection:
            values = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
                for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
            }
        assert values == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 5000}


def test_postgresql_gives_up_in_time(database):
    if database.dialect == "postgresql":
        with database.writer.connect() as connection:
            values = [
                connection.execute(text(f"SHOW {name}")).scalar()
                for name in ("statement_timeout", "lock_timeout", "idle_in_transaction_session_timeout", "timezone")
            ]
        assert values == ["5s", "3s", "15s", "UTC"]


def test_postgresql_keeps_what_it_said_it_kept_whatever_the_server_is_set_to(database):
    """The servers of these tests are set to forget the last moments before a crash."""
    if database.dialect == "postgresql":
        with database.writer.connect() as connection:
            assert connection.execute(text("SHOW synchronous_commit")).scalar() == "on"
            source = "SELECT source FROM pg_settings WHERE name = 'synchronous_commit'"
            assert connection.execute(text(source)).scalar() == "client"


def test_a_savepoint_rolls_back(database):
    with make.session(database) as session:
        make.kitchen(session)
        with pytest.raises(IntegrityError), session.begin_nested():
            make.kitchen(session, altitude_ft=99_999)
    with Session(database.reader) as session:
        assert len(session.exec(select(Kitchen)).all()) == 1


def test_a_row_that_points_at_nothing_is_refused(database):
    with pytest.raises(IntegrityError), make.session(database) as session:
        make.member(session, kitchen_id=uuid4())


def test_a_word_nobody_knows_is_refused(database):
    with make.session(database) as session:
        make.kitchen(session)
        with pytest.raises(IntegrityError), session.begin_nested():
            session.execute(
                text("INSERT INTO member (id, kitchen_id, name, role) SELECT id, id, 'Ada', 'wizard' FROM kitchen")
            )


def test_a_moment_comes_back_aware_and_in_utc(database):
    with make.session(database) as session:
        member, _ = make.member(session, make.kitchen(session).id, at=MOMENT)
    with Session(database.reader) as session:
        found = session.exec(select(Token.made_at).where(Token.member_id == member.id)).one()
    assert (found, found.tzinfo) == (MOMENT, UTC)


def test_a_moment_without_a_zone_is_refused(database):
    with pytest.raises(StatementError), make.session(database) as session:
        make.member(session, make.kitchen(session).id, at=datetime(2027, 8, 14))  # noqa: DTZ001
