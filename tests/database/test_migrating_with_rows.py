"""Every revision goes down and up on a database with rows in it, and the rows of every table that stays are kept."""

from itertools import pairwise
from pathlib import Path

from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from service.database.migrating import migrate
from tests.batches.make import Day, ok
from tests.conftest import Client

JARS = [{"size": "half-pint", "count": 8}]

SCRIPTS = ScriptDirectory(str(Path(__file__).parents[2] / "migrations"))
REVISIONS = [*(script.revision for script in SCRIPTS.walk_revisions()), "base"]


def rows(client: Client) -> dict[str, int]:
    with client.app.state.database.reader.connect() as connection:
        names = inspect(connection).get_table_names()
        count = "SELECT count(*) FROM {}"
        return {
            name: connection.execute(text(count.format(name))).scalar_one()
            for name in names
            if name != "alembic_version"
        }


def test_the_rows_of_a_batch_day_survive_each_step_down_and_up(client: Client) -> None:
    day = Day(client, by=client.coordinator)  # who decides about their own jars: nobody needs a notice
    day.to_the_shelf()
    ok(day.ph(3.2))  # by a meter nobody calibrated
    ok(day.decide("destroy", client.coordinator))
    outage = {"starts_at": "2027-06-20T10:00:00Z", "ends_at": "2027-06-22T10:00:00Z", "reason": "A new gasket"}
    headers = client.coordinator.headers
    ok(client.post(f"/v1/equipment/{day.canner_id}/outages", json=outage, headers=headers))
    peak = {"name": "Tomato weeks", "first_on": "2027-08-15", "last_on": "2027-09-30", "open_bookings": 2}
    ok(client.put("/v1/fair-use", json={"seasons": [peak]}, headers={**headers, "If-Match": '"1"'}))
    ok(
        client.put(
            "/v1/kitchen-figures", json={"minutes": {"prep_minutes": 60}}, headers={**headers, "If-Match": '"1"'}
        )
    )
    plan = {
        "from": "2027-06-25T14:00:00Z",
        "to": "2027-06-27T02:00:00Z",
        "batches": [
            {
                "recipe_id": day.booking["recipe_id"],
                "revision": 1,
                "member_id": str(client.coordinator.id),
                "jars": JARS,
                "due_by": "2027-06-26T20:00:00Z",
            }
        ],
    }
    ok(client.post("/v1/equipment", json={"kind": "rack", "name": "Rack", "places": 40}, headers=headers))
    planned = client.post("/v1/day-plans", json=plan, headers=headers)
    assert planned.status_code == 202, planned.text
    client.post(f"{planned.headers['location']}/cancellation", headers=headers)  # nobody works on it meanwhile
    wanted = {"equipment_kind": "canner", "minutes": 60, "purpose": "Plums"}
    ok(client.post("/v1/waiting-list", json=wanted, headers=headers))  # offered at once: a hold, and a notice
    database = client.app.state.database
    whole = rows(client)
    filled = ("member", "booking", "occupancy", "revision", "lot", "movement", "batch", "deviation", "hold_decision")
    filled += ("kitchen_figures", "day_plan", "planned_batch", "waiting", "hold", "notice")
    assert all(whole[name] for name in filled)
    for newer, revision in pairwise(REVISIONS):
        before = rows(client)
        migrate(database, revision)
        after = rows(client)
        if "waiting" in before and "waiting" not in after:
            before["notice"] -= 1  # one about a place on the list goes with the list
        assert after == {name: count for name, count in before.items() if name in after}, revision
        if revision != "base":
            migrate(database, newer)
            assert rows(client) == {name: after.get(name, 0) for name in before}, revision
            migrate(database, revision)
    assert rows(client) == {}
    migrate(database)
    assert set(rows(client)) == set(whole)
