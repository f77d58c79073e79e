"""Whoever looks a database over finds each fault that is planted in it, and nothing where there is none."""

import pytest
from sqlalchemy import text

from service.keeping import verifying
from service.keeping.verifying import verify
from service.published.cells import BadFigure
from tests.batches.make import Day, booking, canner, ok
from tests.conftest import Client

DROP_GUARD = {
    "sqlite": ["DROP TRIGGER no_two_overlap_on_insert", "DROP TRIGGER no_two_overlap_on_update"],
    "postgresql": ["ALTER TABLE occupancy DROP CONSTRAINT no_two_overlap"],
}
TWICE = """
    INSERT INTO occupancy
        (id, booking_id, resource_id, lane_lo, lane_hi, starts_min, ends_min, active, unit_fixed, kind)
    SELECT '00000000000000000000000000000001', booking_id, resource_id, lane_lo, lane_hi, starts_min + 1, ends_min,
        active, unit_fixed, kind
    FROM occupancy WHERE kind = 'booking'
"""
FAULTS = {
    "jars": ["UPDATE balance SET jars = jars + 1 WHERE state = 'shelf'"],
    "bookings": [
        "UPDATE occupancy SET active = NOT active WHERE kind = 'booking'",
        "UPDATE booking SET status = 'confirmed'",
    ],
    "guards": DROP_GUARD,
    "occupied times": {dialect: [*drops, TWICE] for dialect, drops in DROP_GUARD.items()},
}


@pytest.fixture
def day(client: Client) -> Day:
    """A kitchen with a batch whose jars are on the shelf."""
    made = Day(client)
    made.to_the_shelf()
    return made


def wrong(client: Client) -> set[str]:
    return {each.at for each in verify(client.app.state.database) if each.wrong}


def test_a_sound_database_is_found_sound(client: Client, day: Day) -> None:
    looked = {each.at: each.count for each in verify(client.app.state.database)}
    assert wrong(client) == set()
    assert (looked["jars"], looked["bookings"], looked["occupied times"]) == (8, 1, 1)
    assert looked["published figures"] > 500


@pytest.mark.parametrize("place", FAULTS)
def test_a_planted_fault_is_found(client: Client, day: Day, place: str) -> None:
    database, statements = client.app.state.database, FAULTS[place]
    with database.writer.begin() as connection:
        for statement in statements[database.dialect] if isinstance(statements, dict) else statements:
            connection.execute(text(statement))
    assert place in wrong(client)


def test_a_row_that_points_at_nothing_is_found(client: Client, day: Day) -> None:
    database = client.app.state.database
    if database.dialect == "postgresql":
        return  # it doesn't let one in, nor a page be read that is damaged
    with database.writer.connect() as connection:
        driver = connection.connection.dbapi_connection
        driver.execute("PRAGMA foreign_keys = OFF")
        driver.execute("UPDATE balance SET holder_id = '00000000000000000000000000000009'")
        driver.execute("PRAGMA foreign_keys = ON")
    assert "storage" in wrong(client)


def test_a_figure_without_its_source_is_found(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def unsourced() -> None:
        raise BadFigure("processes.csv, row 2: no such source")

    monkeypatch.setattr(verifying, "facts", unsourced)
    assert wrong(client) == {"published figures"}


def test_done_confirmed_and_cancelled_bookings_hold_what_they_should(client: Client) -> None:
    Day(client).to_the_shelf()
    Day(client, hours_ago=24)
    made = booking(client, canner(client), hours_ago=-30)
    ok(client.post(f"/v1/bookings/{made['id']}/cancellation", headers=client.member.headers))
    assert wrong(client) == set()
