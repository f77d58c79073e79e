"""How many statements an answer takes doesn't depend on how much it lists."""

import pytest
from sqlalchemy import event

from tests.batches.make import ok
from tests.web.everything import LINES, World

MORE = 2


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
    database, statements = client.app.state.database, []

    def counted() -> dict[str, tuple[int, int]]:
        """How many statements each route took, and how long its answer was."""
        found = {}
        for name, call in calls.items():
            token = world.caller(LINES[name]).token
            call.ask(client, "GET", token)  # the first use of a token in an hour is noted
            statements.clear()
            found[name] = (len(call.ask(client, "GET", token).content), len(statements))
        return found

    for engine in {database.reader, database.writer}:
        event.listen(engine, "before_cursor_execute", lambda *given: statements.append(given[2]))
    before = counted()
    grow(world)
    after = counted()
    assert sum(after[name][0] > before[name][0] for name in calls) > MORE, "nothing grew"
    assert {name: (before[name][1], after[name][1]) for name in calls if after[name][1] > before[name][1]} == {}
