"""Eight people who want the same canner at the same moment, over HTTP: one gets it, seven are told when it is free."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from tests.bookings.kitchen import at, book, opened, piece
from tests.conftest import Client

PEOPLE = 8


def test_one_of_eight_gets_the_canner(client: Client) -> None:
    opened(client)
    canner = piece(client)
    barrier = Barrier(PEOPLE)

    def try_it(person: int) -> tuple[int, str | None]:
        barrier.wait()
        answer = book(client, client.members[person % 2], canner)
        return answer.status_code, answer.json().get("next_free_at")

    with ThreadPoolExecutor(PEOPLE) as pool:
        answers = sorted(pool.map(try_it, range(PEOPLE)), key=lambda answer: answer[0])
    assert answers == [(201, None)] + [(409, at("14T17:00"))] * (PEOPLE - 1)
    assert len(client.get("/v1/bookings", headers=client.coordinator.headers).json()["items"]) == 1


def test_of_two_who_cancel_at_once_one_did(client: Client) -> None:
    opened(client)
    made = book(client, client.member, piece(client)).json()
    barrier = Barrier(2)

    def cancel(_: int) -> int:
        barrier.wait()
        path = f"/v1/bookings/{made['id']}/cancellation"
        return int(client.post(path, headers=client.member.headers).status_code)

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(cancel, range(2))) == [200, 409]
