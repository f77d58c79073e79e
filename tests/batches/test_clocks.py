"""Jars that can't go on the shelf have ways out, each within its time, and every jar of a load ends somewhere.

24 hours where only the seal failed and 2 where the process was wrong: University of Nebraska-Lincoln Extension, "Saving
home-canned food when jars do not seal"; up to 24 where a person decides: USDA, Utah State University Extension.
"""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from typing import Any

from service.pantry import store as pantry_store
from tests import make
from tests.batches.make import Day, canner, ok, pantry
from tests.conftest import Client

HALF_A_DAY = 12 * 60


def proved(client: Client) -> bool:
    with make.session(client.app.state.database) as session:
        return pantry_store.prove(session, client.member.kitchen_id).holds


def refused(answer: Any) -> tuple[int, str]:
    return answer.status_code, answer.json()["code"]


def short(day: Day) -> None:
    """A load of eight that came out a minute early, 54 minutes after the batch began."""
    ok(day.load())
    ok(day.out(minutes=54))


def test_what_did_not_seal_goes_in_again_with_new_lids_within_a_day(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    ok(day.out())
    checked = ok(day.seals(5, 3))
    assert checked["clock"] == {
        "because": "unsealed",
        "jars": 3,
        "again_by": day.at(90 + 24 * 60),
        "decided_by": None,
        "ways_out": ["reprocess with new lids", "refrigerate", "freeze", "discard"],
    }
    # The kitchen of these tests keeps the time of Denver: six hours behind in June.
    by = (day.starts + timedelta(minutes=90 + 24 * 60, hours=-6)).strftime("%Y-%m-%d %H:%M")
    cold = next(item for item in pantry(client) if item["state"] == "refrigerator")
    assert cold["location"] == f"did not seal: eat within days, freeze, or process again with new lids by {by}"
    assert refused(day.load(2, minutes=90 + 24 * 60 + 1, again=1)) == (409, "too-late")
    assert refused(day.load(4, minutes=1000, again=1)) == (409, "too-few-jars")
    assert refused(day.load(2, minutes=1000, again=1, discarded=1)) == (422, "not-possible")
    assert refused(day.load(2, minutes=1000, again=2)) == (404, "not-found")
    again = ok(day.load(2, minutes=1000, again=1))
    assert (again["load"], again["again"]) == (2, 1)
    assert day.holders() == {"shelf": 5, "refrigerator": 1, "batch": 2}
    assert day.now()["status"] == "running"
    assert day.now()["loads"][0]["clock"]["jars"] == 1
    ok(day.out(minutes=1020, load=2))
    ok(day.seals(1, 1, load=2, minutes=1020 + HALF_A_DAY))
    assert day.holders() == {"shelf": 6, "refrigerator": 2}
    assert day.now()["status"] == "done"
    assert proved(client)


def test_jars_that_were_eaten_or_frozen_meanwhile_do_not_go_in_again(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    ok(day.out())
    ok(day.seals(6, 2))
    move = {"lot_code": day.now()["lot_code"], "jar_size": "half-pint", "count": 1, "from_state": "refrigerator"}
    for kind in ("freeze", "use"):
        ok(client.post("/v1/movements", json=move | {"kind": kind}, headers=client.member.headers))
    assert refused(day.load(1, minutes=1000, again=1)) == (409, "too-few-jars")
    assert day.holders() == {"shelf": 6, "freezer": 1, "used": 1}
    assert proved(client)


def test_what_stood_unsealed_for_more_than_a_day_is_counted_as_discarded(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    ok(day.out())
    checked = ok(day.seals(6, 2, minutes=90 + 24 * 60 + 1))
    assert [(lot["state"], lot["count"]) for lot in checked["lots"]] == [("shelf", 6), ("discarded", 2)]
    assert day.holders() == {"shelf": 6, "discarded": 2}


def test_a_load_that_was_not_heated_enough_goes_in_again_whole_within_two_hours(client: Client) -> None:
    day = Day(client)
    short(day)
    clock = day.now()["loads"][0]["clock"]
    assert (clock["because"], clock["jars"]) == ("under-processed", 8)
    assert (clock["again_by"], clock["decided_by"]) == (day.at(54 + 120), day.at(54 + 24 * 60))
    assert refused(day.load(7, minutes=60, again=1)) == (422, "not-possible")
    assert refused(day.load(8, minutes=54 + 121, again=1)) == (409, "too-late")
    assert refused(day.load(8, minutes=53, again=1))[0] in (409, 422)
    again = ok(day.load(7, minutes=54 + 120, again=1, discarded=1))
    assert again["again"] == 1
    batch = day.now()
    assert (batch["on_hold"], batch["loads"][0]["unsealed"], batch["loads"][0]["broken"]) == (False, 7, 1)
    assert batch["deviations"][0]["settled_at"]
    assert day.holders() == {"batch": 7, "discarded": 1}
    assert refused(day.seals(8, 0)) == (409, "already-done")
    ok(day.out(minutes=190, load=2))
    ok(day.seals(7, 0, load=2, minutes=190 + HALF_A_DAY))
    assert day.holders() == {"shelf": 7, "discarded": 1}
    assert proved(client)


def test_what_went_wrong_again_waits_again(client: Client) -> None:
    day = Day(client)
    short(day)
    ok(day.load(8, minutes=60, again=1))
    ok(day.out(minutes=69, load=2))
    assert day.now()["on_hold"]
    ok(day.load(7, minutes=80, again=2, discarded=1))
    ok(day.out(minutes=100, load=3))
    ok(day.seals(7, 0, load=3))
    assert day.holders() == {"shelf": 7, "discarded": 1}
    assert not day.now()["on_hold"]
    assert proved(client)


def test_a_good_load_is_not_opened(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    assert refused(day.load(8, minutes=80, again=1)) == (409, "not-now")
    ok(day.out())
    assert refused(day.load(8, minutes=100, again=1)) == (409, "not-now")
    assert refused(day.load(8, minutes=100, discarded=1)) == (422, "not-possible")
    other_size = day.load(8, minutes=100, again=1, jar_size="pint")
    assert other_size.status_code == 422


def test_a_load_that_was_not_heated_enough_is_kept_cold_within_two_hours(client: Client) -> None:
    day = Day(client)
    short(day)
    assert refused(day.cold(minutes=54 + 121, to_freezer=8)) == (409, "too-late")
    assert refused(day.cold(to_freezer=7)) == (422, "not-possible")
    assert refused(day.cold(to_freezer=-1, to_refrigerator=9)) == (422, "invalid-request")
    put = ok(day.cold(to_refrigerator=2, to_freezer=5, discarded=1))
    assert {lot["state"]: lot["count"] for lot in put["lots"]} == {"refrigerator": 2, "freezer": 5, "discarded": 1}
    assert refused(day.cold(to_freezer=8)) == (409, "already-done")
    assert refused(day.seals(8, 0)) == (409, "already-done")
    batch = day.now()
    assert (batch["status"], batch["on_hold"]) == ("done", False)
    assert day.holders() == {"refrigerator": 2, "freezer": 5, "discarded": 1}
    assert proved(client)


def test_after_two_hours_a_person_decides_and_all_held_jars_of_the_load_go_in_again(client: Client) -> None:
    day = Day(client, hours_ago=18)
    short(day)
    ok(day.seals(7, 1, minutes=54 + HALF_A_DAY))
    assert day.holders() == {"hold": 8}
    now = (client.clock.at - day.starts).total_seconds() / 60
    assert refused(day.load(8, minutes=now, again=1)) == (409, "too-late")
    assert ok(day.decide("reprocess"))["lots"] == []
    assert day.holders() == {"hold": 8}
    assert refused(day.load(7, minutes=now, again=1)) == (422, "not-possible")
    ok(day.load(7, minutes=now, again=1, discarded=1))
    assert day.holders() == {"batch": 7, "discarded": 1}
    assert not day.now()["on_hold"]
    client.clock.pass_by(hours=13)
    ok(day.out(minutes=now + 20, load=2))
    ok(day.seals(7, 0, load=2, minutes=now + 20 + HALF_A_DAY))
    assert day.holders() == {"shelf": 7, "discarded": 1}
    assert proved(client)


def test_a_person_may_still_have_it_frozen_within_a_day(client: Client) -> None:
    day = Day(client, hours_ago=18)
    short(day)
    ok(day.seals(8, 0, minutes=54 + HALF_A_DAY))
    ok(day.decide("release", to_state="freezer"))
    assert day.holders() == {"freezer": 8}


def test_a_recall_reaches_jars_that_are_in_a_canner_once_more(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    ok(day.out())
    ok(day.seals(6, 2))
    ok(day.load(2, minutes=1000, again=1))
    recall = f"/v1/lots/{day.now()['lot_code']}/recall"
    ok(client.post(recall, json={"reason": "A lid let go."}, headers=client.coordinator.headers))
    ok(day.out(minutes=1020, load=2))
    ok(day.seals(2, 0, load=2, minutes=1020 + HALF_A_DAY))
    assert day.holders() == {"recalled": 8}
    assert proved(client)


def test_two_people_who_close_the_same_batch_close_it_once(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    ok(day.out())
    people = [client.member, client.coordinator] * 2
    barrier = threading.Barrier(len(people))
    check = {"sealed": 7, "unsealed": 1, "broken": 0, "at": day.at(900)}

    def close(person: Any) -> int:
        barrier.wait()
        return int(day.post(f"{day.path}/loads/1/seal-check", check, person).status_code)

    with ThreadPoolExecutor(len(people)) as threads:
        assert sorted(threads.map(close, people)) == [201, 409, 409, 409]
    assert day.holders() == {"shelf": 7, "refrigerator": 1}
    assert proved(client)


def test_the_same_seal_check_sent_twice_counts_once(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    ok(day.out())
    check = {"sealed": 7, "unsealed": 1, "broken": 0, "at": day.at(900)}
    path = f"/v1/batches{day.path}/loads/1/seal-check"
    headers = client.member.headers | {"Idempotency-Key": "the-check-of-load-1"}
    first, second = (client.post(path, json=check, headers=headers) for _ in range(2))
    assert (first.status_code, second.status_code) == (201, 201)
    assert second.json() == first.json()
    assert second.headers["Idempotency-Replayed"] == "true"
    assert refused(client.post(path, json=check, headers=client.member.headers)) == (409, "already-done")
    assert day.holders() == {"shelf": 7, "refrigerator": 1}


def test_no_more_jars_seal_than_were_filled(client: Client) -> None:
    day = Day(client)
    ok(day.load())
    ok(day.out())
    for counts in ((9, 0, 0), (8, 1, 0), (7, 0, 0), (0, 0, 0)):
        answer = day.seals(*counts)
        assert refused(answer) == (422, "not-possible")
        assert answer.json()["jars"] == 8


def test_a_further_load_after_the_booking_is_done_belongs_to_the_same_lot(client: Client) -> None:
    day = Day(client)
    code = day.to_the_shelf(6)
    ok(day.load(2, minutes=100))
    assert day.now()["status"] == "running"
    ok(day.out(minutes=120, load=2))
    assert ok(day.seals(2, 0, load=2))["lots"][0]["lot_code"] == code
    assert day.holders() == {"shelf": 8}
    assert ok(client.get(f"/v1/bookings/{day.booking['id']}", headers=client.member.headers))["status"] == "done"


def test_a_spare_canner_holds_one_load_of_the_batch_at_a_time(client: Client) -> None:
    day = Day(client)
    spare = canner(client)
    ok(day.load(4, canner_id=spare, as_it_was=True))
    assert refused(day.load(4, minutes=50, canner_id=spare, as_it_was=True)) == (409, "not-now")
