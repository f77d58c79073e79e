"""A statement that the driver runs says and finds what it would by SQLAlchemy's own way."""

from datetime import UTC, datetime
from uuid import UUID, uuid4

import pytest
from sqlalchemy import NullPool, bindparam, create_engine, insert, select, text
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlmodel import Session, col

from service.core.roles import Scope
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.database.engine import open_engine
from service.database.migrating import migrate
from service.database.prepared import FEW_ROWS, MOST_CURSORS, MOST_IN_ONE, Prepared, at_work, run, write
from service.equipment import store as equipment
from service.equipment.tables import Closure, Equipment, Opening, OpeningHours
from service.members.tables import SignOff, Skill, Token
from tests import make

ADD = Prepared(insert(Closure))
NOW = datetime(2027, 8, 14, 16, 30, tzinfo=UTC)
EVERYTHING = select(*Equipment.__table__.c).where(
    col(Equipment.kitchen_id) == bindparam("kitchen"), col(Equipment.kind) != EquipmentKind.RACK
)


@pytest.fixture
def session(database_url):
    database = open_engine(database_url)
    migrate(database)
    with make.session(database) as opened:
        yield opened
    database.close()


def closure(kitchen_id, **other):
    values = {"starts_at": NOW, "ends_at": NOW.replace(hour=17), "reason": "50 % of “us” are away: %s?"}
    return {"id": uuid4(), "kitchen_id": kitchen_id, "version": 1, **values, **other}


def test_rows_are_those_that_sqlalchemy_finds(session):
    here = make.kitchen(session)
    for name, capacity in (("Kettle", {"pint": 9}), ("Pot", None)):
        equipment.add(
            session, here.id, NOW,
            kind=EquipmentKind.CANNER, name=name, canner_kind=CannerKind.BOILING_WATER, capacity=capacity,
        )  # fmt: skip
    found = Prepared(EVERYTHING).rows(session, kitchen=here.id)
    assert found == [tuple(row) for row in session.connection().execute(EVERYTHING, {"kitchen": here.id})]
    assert len(found) == 2
    assert Prepared(EVERYTHING).rows(session, kitchen=uuid4()) == []


@pytest.mark.parametrize("count", [1, 3, MOST_IN_ONE + 1])
def test_rows_are_written_as_they_are(session, count):
    here = make.kitchen(session)
    rows = [closure(here.id, version=number) for number in range(count)]
    write(at_work(session), ADD.of(*rows))
    kept = equipment.closures(session, here.id, None, 20)
    assert sorted((row.model_dump() for row in kept), key=lambda row: row["version"]) == rows


def test_a_value_may_be_wanted_twice(session):
    here = make.kitchen(session)
    write(at_work(session), ADD.of(closure(here.id)))
    at = bindparam("at")
    query = select(col(Closure.version)).where(col(Closure.starts_at) <= at, col(Closure.ends_at) > at)
    assert Prepared(query).rows(session, at=NOW) == [(1,)]


def test_what_the_session_has_yet_to_write_is_written_first(session):
    here = make.kitchen(session)
    session.add(Closure(**closure(here.id)))
    assert len(Prepared(select(col(Closure.version))).rows(session)) == 1


def test_a_value_that_is_missing_is_an_error(session):
    with pytest.raises(KeyError, match="kitchen"):
        Prepared(EVERYTHING).rows(session)


def test_what_the_database_refuses_is_raised_as_by_sqlalchemy(session):
    nowhere = closure(uuid4(), ends_at=NOW)
    with pytest.raises(IntegrityError) as expected, session.begin_nested():
        session.connection().execute(insert(Closure), nowhere)
    with pytest.raises(IntegrityError) as raised, session.begin_nested():
        write(at_work(session), ADD.of(nowhere))
    assert type(raised.value.orig) is type(expected.value.orig)
    assert NOW.isoformat() not in str(raised.value)  # what somebody sent stays out of the log


def test_a_transaction_that_is_over_is_not_gone_on_with(session):
    here = make.kitchen(session)
    session.commit()
    write(at_work(session), ADD.of(closure(here.id)))
    session.rollback()
    assert Prepared(select(col(Closure.version))).rows(session) == []
    assert session.in_transaction()


def test_moments_ids_days_and_words_come_back_as_what_they_are(session):
    member, _ = make.member(session, make.kitchen(session).id, at=NOW)
    session.add(SignOff(member_id=member.id, skill=Skill.PRESSURE_CANNING, expires_on=NOW.date(), given_by=member.id,
                        given_at=NOW))  # fmt: skip
    whose = (
        select(col(Token.id), col(Token.made_at), col(Token.expires_at), col(Token.scope), col(SignOff.expires_on))
        .join(SignOff, col(SignOff.member_id) == col(Token.member_id))
        .where(col(Token.member_id) == bindparam("member"), col(Token.made_at) <= bindparam("at"))
        .limit(bindparam("most"))
    )
    ((token_id, made_at, *rest),) = found = Prepared(whose).rows(session, member=member.id, at=NOW, most=2)
    assert found == [
        tuple(row) for row in session.connection().execute(whose, {"member": member.id, "at": NOW, "most": 2})
    ]
    assert isinstance(token_id, UUID)
    assert (made_at, made_at.tzinfo, rest) == (NOW, UTC, [None, Scope.EVERYTHING, NOW.date()])


def test_a_connection_that_the_server_ended_is_noticed_before_it_is_used(database_url):
    """At once: it isn't asked each time whether it still is one, but what the server said when it ended it is there."""
    database, whose = open_engine(database_url), Prepared(select(text("pg_backend_pid()")))
    if database.dialect == "postgresql":
        with database.look() as look:
            ((own,),) = whose.rows(look)
        other = create_engine(database.writer.url, poolclass=NullPool)
        with other.connect() as connection:
            assert connection.execute(text("SELECT pg_terminate_backend(:own, 5000)"), {"own": own}).scalar_one()
        with database.look() as look:
            assert whose.rows(look) != [(own,)]
    database.close()


def test_a_transaction_within_another_is_taken_back_alone(session):
    here = make.kitchen(session)
    write(at_work(session), ADD.of(closure(here.id, version=1)))
    nested = session.begin_nested()
    write(at_work(session), ADD.of(closure(here.id, version=2)))
    nested.rollback()
    write(at_work(session), ADD.of(closure(here.id, version=3)))
    found = Prepared(select(col(Closure.version)).order_by(col(Closure.version))).rows(session)
    assert found == [(1,), (3,)]


def test_rows_that_point_at_each_other_are_written_together(session):
    here = make.kitchen(session)
    hours, opening = Prepared(insert(OpeningHours)), Prepared(insert(Opening))
    opens = [{"kitchen_id": here.id, "weekday": day, "opens_minute": 0, "closes_minute": 60} for day in range(7)]
    write(at_work(session), hours.of({"id": here.id, "version": 3}), opening.of(*opens))
    found, version = equipment.week(session, here.id)
    assert (len(found), version) == (7, 3)


def test_of_what_is_written_together_all_is_there_or_nothing(session):
    here = make.kitchen(session)
    session.commit()
    with pytest.raises(IntegrityError):
        write(at_work(session), ADD.of(closure(here.id), closure(uuid4()), closure(here.id)))
    session.rollback()
    assert Prepared(select(col(Closure.version))).rows(session) == []


def test_a_connection_that_broke_is_not_used_again(database_url):
    """As SQLAlchemy does itself: whoever comes next gets another one."""
    database = open_engine(database_url)
    if database.dialect == "postgresql":
        with Session(database.writer) as session:
            (own,) = Prepared(select(text("pg_backend_pid()"))).rows(session)[0]
            with database.writer.connect() as other:
                other.execute(text("SELECT pg_terminate_backend(:own)"), {"own": own})
            with pytest.raises(DBAPIError) as raised:
                run(at_work(session), "SELECT 1")
            assert raised.value.connection_invalidated
            session.rollback()
            assert Prepared(select(text("pg_backend_pid()"))).rows(session) != [(own,)]
    database.close()


def test_a_statement_that_is_run_again_finds_what_is_there_by_then(session):
    """Its cursor may be the same: values may be of other kinds than before, and what went wrong leaves nothing."""
    here = make.kitchen(session)
    ends = Prepared(
        select(col(Closure.version), col(Closure.ends_at))
        .where(col(Closure.kitchen_id) == bindparam("kitchen"), col(Closure.version) > bindparam("over"))
        .order_by(col(Closure.version))
    )
    assert ends.rows(session, kitchen=here.id, over=0) == []
    large = 2**31 - 1  # PostgreSQL is told whole numbers of several sizes
    write(at_work(session), ADD.of(closure(here.id, version=1)))
    write(at_work(session), ADD.of(closure(here.id, version=large)))
    assert ends.rows(session, kitchen=here.id, over=0) == [(1, NOW.replace(hour=17)), (large, NOW.replace(hour=17))]
    assert ends.rows(session, kitchen=here.id, over=70_000) == [(large, NOW.replace(hour=17))]
    assert ends.rows(session, kitchen=uuid4(), over=0) == []
    taken = closure(here.id, version=7)
    for row in (taken, taken):
        nested = session.begin_nested()
        try:
            write(at_work(session), ADD.of(row))
            nested.commit()
        except IntegrityError:
            nested.rollback()
    write(at_work(session), ADD.of(closure(here.id, version=8, ends_at=NOW.replace(hour=18))))
    assert [version for version, _ in ends.rows(session, kitchen=here.id, over=1)] == [7, 8, large]


def test_a_connection_keeps_few_cursors_and_no_long_lists(session):
    """Those of PostgreSQL alone are kept, and they are what its driver gives out, each with what it found last."""
    connection = at_work(session)

    def kept() -> list[object]:
        return [each for value in connection.info.values() if isinstance(value, dict) for each in value.values()]

    before = len(kept())
    if connection.dialect.name == "sqlite":
        run(connection, "SELECT 1").fetchall()
        assert kept() == []
        return
    assert len(run(connection, f"SELECT generate_series(1, {FEW_ROWS + 1})").fetchall()) == FEW_ROWS + 1
    assert len(kept()) == before
    first = run(connection, "SELECT 1")
    assert run(connection, "SELECT 1") is first
    assert first.fetchall() == [(1,)]
    for number in range(MOST_CURSORS + 1):
        run(connection, f"SELECT {number + 2}")
    assert len(kept()) == MOST_CURSORS
    assert first not in kept()
    with pytest.raises(DBAPIError):
        run(connection, "SELECT 1 / 0")
    assert len(kept()) == MOST_CURSORS
