"""How many statements an answer takes doesn't depend on how much it lists, and what is read most takes the fewest."""

import pytest
from sqlalchemy import event

from service.database.engine import Database
from tests.batches.make import ok
from tests.web.everything import LINES, World

MORE = 2
READ_MOST = {  # the statements of each answer: one for who asks, the rest for what is asked
    "GET /v1/members/me": 4,
    "GET /v1/members/{member_id}/pantry": 2,
    "GET /v1/members/{member_id}/pantry/eat-first": 2,
    "GET /v1/bookings": 2,
    "GET /v1/bookings/{booking_id}": 3,
    "GET /v1/lots/{lot_code}": 2,
}


def said_to(database: Database) -> list[str]:
    """What is said to a database from now on."""
    statements: list[str] = []
    for engine in {database.reader, database.writer}:
        event.listen(engine, "before_cursor_execute", lambda *given: statements.append(given[2]))
    return statements


def grow(world: World) -> None:
    """More of what lists show."""
    for number in range(MORE):
        world.lot_of_ada()
        world.recalled()
        world.held()
        ok(world.post("/v1/bookings", world.wish(days=10 + number)))
        world.newcomer()
        world.token()
        world.closed(day=210 + number)
        world.fed()
        world.planned()


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)  # the statements of both are the same
def test_what_is_read_takes_as_many_statements_however_much_there_is(client):
    world = World(client)
    grow(world)  # an empty list may leave a statement out
    calls = {name: line.call(world) for name, line in LINES.items() if name.startswith("GET /")}
    statements = said_to(client.app.state.database)

    def counted() -> dict[str, tuple[int, int]]:
        """How many statements each route took, and how long its answer was."""
        found = {}
        for name, call in calls.items():
            token = world.caller(LINES[name]).token
            call.ask(client, "GET", token)  # the first use of a token in an hour is noted
            statements.clear()
            found[name] = (len(call.ask(client, "GET", token).content), len(statements))
        return found

    before = counted()
    grow(world)
    after = counted()
    assert sum(after[name][0] > before[name][0] for name in calls) > MORE, "nothing grew"
    assert {name: (before[name][1], after[name][1]) for name in calls if after[name][1] > before[name][1]} == {}


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_what_is_read_most_takes_one_transaction_and_few_statements(client):
    """Each statement costs SQLAlchemy more than most cost the database, and each transaction as much as one of them."""
    world = World(client)
    statements, taken = said_to(client.app.state.database), {}
    for name in READ_MOST:
        call, token = LINES[name].call(world), world.caller(LINES[name]).token
        call.ask(client, "GET", token)  # the first use of a token in an hour is noted
        statements.clear()
        assert call.ask(client, "GET", token).status == 200
        taken[name] = (statements.count("BEGIN"), len(statements) - statements.count("BEGIN"))
    assert taken == {name: (1, most) for name, most in READ_MOST.items()}


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_booking_takes_one_transaction_and_few_statements(client):
    """One for who asks and one for what is asked first, four to decide, three to write, two to account for it."""
    world, statements = World(client), said_to(client.app.state.database)
    first, second = world.wish(days=10), world.wish(days=11)
    ok(world.post("/v1/bookings", first))  # the first use of a token in an hour is noted
    statements.clear()
    ok(world.post("/v1/bookings", second))
    begun = [each for each in statements if each.startswith("BEGIN")]
    assert (begun, len(statements) - len(begun)) == (["BEGIN", "BEGIN IMMEDIATE"], 10)
