"""Somebody leaves while others give them jars, call a lot back and book for them: nothing is lost."""

from concurrent.futures import ThreadPoolExecutor

from tests.bookings.kitchen import book, opened, piece
from tests.conftest import Client
from tests.departures.test_routes import depart
from tests.pantry.make import holders, lot, move, proved

ATTEMPTS = 6


def test_no_jar_goes_to_somebody_who_has_left_however_close_it_was(client: Client) -> None:
    opened(client)
    kettle, code = piece(client), lot(client, by=client.other)
    leaver, giver = client.member, client.other

    def give(_: int) -> int:
        sent = move(client, code, giver, kind="give", to_member_id=str(leaver.id))
        return int(sent.status_code)

    with ThreadPoolExecutor(ATTEMPTS + 2) as pool:
        giving = [pool.submit(give, attempt) for attempt in range(ATTEMPTS)]
        leaving = pool.submit(depart, client, leaver, jars_to=str(client.coordinator.id))
        booking = pool.submit(book, client, leaver, kettle)
    given = sum(each.result() == 201 for each in giving)
    assert {each.result() for each in giving} <= {201, 404, 409, 422}
    assert leaving.result().status_code == 200
    assert booking.result().status_code in (201, 401)
    kept = holders(client, code)
    assert kept.get(("Ada", "shelf"), 0) == 0
    assert kept.get(("Cora", "shelf"), 0) == given
    assert sum(kept.values()) == 8
    assert proved(client)
    ahead = client.get("/v1/bookings", headers=client.coordinator.headers).json()["items"]
    assert [each["status"] for each in ahead] in ([], ["cancelled"])
