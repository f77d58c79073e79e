"""Booking a single piece of equipment over HTTP, and every way in which it is refused."""

from typing import Any

import pytest

from service.recipes import store as recipes
from tests import make
from tests.bookings.kitchen import at, book, booked, opened, piece, refused, wish
from tests.conftest import Client


def test_a_canner_is_booked_and_found_again(client: Client) -> None:
    opened(client)
    canner = piece(client)
    answer = book(client, client.member, canner, jars=[{"size": "half-pint", "count": 8}])
    assert answer.status_code == 201
    made = answer.json()
    assert made["status"] == "confirmed"
    assert made["member_id"] == str(client.member.id)
    assert made["claims"] == [
        {
            "step": "process",
            "equipment_id": canner,
            "unit_fixed": True,
            "starts_at": at("14T16:00"),
            "ends_at": at("14T17:00"),
            "attended": False,
        }
    ]
    assert client.get(answer.headers["location"], headers=client.member.headers).json() == made
    assert client.get("/v1/bookings", headers=client.member.headers).json()["items"] == [made]


def test_the_same_time_is_refused_to_the_second_with_the_next_free_time(client: Client) -> None:
    opened(client)
    canner = piece(client)
    booked(client, client.member, canner)
    assert refused(book(client, client.other, canner, "14T16:30", "14T17:30")) == (409, "slot-taken", at("14T17:00"))
    booked(client, client.other, canner, "14T17:00", "14T18:00")
    booked(client, client.other, canner, "14T15:00", "14T16:00")


@pytest.mark.parametrize(
    ("times", "expected"),
    [
        pytest.param(("14T17:00", "14T16:00"), (422, "ends-before-start", at("14T17:00")), id="ends before it starts"),
        pytest.param(("14T08:00", "14T09:00"), (422, "in-the-past", at("14T14:00")), id="in the past"),
        pytest.param(("14T12:00", "14T13:00"), (409, "kitchen-closed", at("14T14:00")), id="before it opens"),
        pytest.param(("15T01:00", "15T03:00"), (409, "kitchen-closed", at("15T14:00")), id="past closing"),
        pytest.param(("14T14:00", "15T15:00"), (422, "not-possible", at("14T14:00")), id="longer than a day"),
    ],
)
def test_a_wish_that_cant_be_is_refused_with_the_next_free_time(
    client: Client, times: tuple[str, str], expected: tuple[int, str, str]
) -> None:
    opened(client)
    canner = piece(client)
    assert refused(book(client, client.member, canner, *times)) == expected
    assert client.get("/v1/bookings", headers=client.coordinator.headers).json()["items"] == []


@pytest.mark.parametrize(
    ("ends", "next_free_at"),
    [
        pytest.param("15T18:00", "15T18:00", id="within the first days"),
        pytest.param("22T15:30", "22T15:30", id="after them"),
        pytest.param("30T03:00", "30T14:00", id="when the kitchen opens again"),
    ],
)
def test_the_next_free_time_is_found_however_far_ahead_it_is(client: Client, ends: str, next_free_at: str) -> None:
    opened(client)
    canner = piece(client)
    outage = {"starts_at": at("14T15:00"), "ends_at": at(ends), "reason": "The gauge reads high."}
    answer = client.post(f"/v1/equipment/{canner}/outages", json=outage, headers=client.coordinator.headers)
    assert answer.status_code == 201
    assert refused(book(client, client.member, canner)) == (409, "out-of-service", at(next_free_at))


def test_half_minutes_are_refused(client: Client) -> None:
    opened(client)
    body = wish(piece(client)) | {"ends_at": "2027-06-14T17:00:30Z"}
    answer = client.post("/v1/bookings", json=body, headers=client.member.headers)
    assert refused(answer) == (422, "not-possible", at("14T16:00"))


def test_a_kitchen_without_hours_is_closed(client: Client) -> None:
    assert refused(book(client, client.member, piece(client))) == (409, "kitchen-closed", None)


def test_equipment_out_of_service_is_refused(client: Client) -> None:
    opened(client)
    assert refused(book(client, client.member, piece(client, in_service=False))) == (409, "out-of-service", None)


def test_a_pressure_canner_needs_the_sign_off(client: Client) -> None:
    opened(client)
    canner = piece(client, canner_kind="pressure-dial")
    assert refused(book(client, client.other, canner)) == (403, "sign-off-missing", at("14T16:00"))
    made = booked(client, client.member, canner)
    assert made["claims"][0]["attended"]


@pytest.mark.parametrize(("expires_on", "status"), [("2027-06-15", 201), ("2027-06-14", 403)])
def test_the_sign_off_holds_through_its_last_day_by_the_kitchens_clock(
    client: Client, expires_on: str, status: int
) -> None:
    opened(client)
    canner = piece(client, canner_kind="pressure-weighted")
    body = {"skill": "pressure-canning", "expires_on": expires_on}
    path = f"/v1/members/{client.other.id}/sign-offs"
    assert client.post(path, json=body, headers=client.trainer.headers).status_code == 201
    assert book(client, client.other, canner, "16T00:00", "16T01:00").status_code == status  # 15 June there


def test_a_jar_size_the_canner_doesnt_hold_is_refused(client: Client) -> None:
    opened(client)
    canner = piece(client)
    booked(client, client.member, canner, jars=[{"size": "pint", "count": 90}])
    answer = book(client, client.member, canner, "14T18:00", "14T19:00", jars=[{"size": "half-gallon", "count": 1}])
    assert refused(answer) == (422, "does-not-fit", at("14T18:00"))
    answer = book(client, client.member, canner, "14T18:00", "14T19:00", jars=[{"size": "bucket", "count": 1}])
    assert refused(answer) == (422, "not-possible", at("14T18:00"))


def test_a_rack_is_shared_jar_by_jar(client: Client) -> None:
    opened(client)
    rack = piece(client, kind="rack", name="Left rack", places=12)
    booked(client, client.member, rack, jars=[{"size": "pint", "count": 7}])
    booked(client, client.other, rack, jars=[{"size": "pint", "count": 5}])
    assert refused(book(client, client.other, rack, jars=[{"size": "pint", "count": 1}])) == (
        409,
        "slot-taken",
        at("14T17:00"),
    )


def test_a_canner_takes_a_burner_along_where_the_kitchen_says_so(client: Client) -> None:
    opened(client)
    first, second = (piece(client, name=name, needs_burner=True) for name in ("Blue kettle", "Red kettle"))
    assert refused(book(client, client.member, first)) == (409, "slot-taken", None)
    burner = piece(client, kind="burner", name="Burner 1")
    made = booked(client, client.member, first)
    assert [(claim["equipment_id"], claim["unit_fixed"]) for claim in made["claims"]] == [
        (first, True),
        (burner, False),
    ]
    assert refused(book(client, client.other, second)) == (409, "slot-taken", at("14T17:00"))
    assert book(client, client.other, burner).status_code == 409
    client.post(f"/v1/bookings/{made['id']}/cancellation", headers=client.member.headers)
    booked(client, client.other, second)


def test_a_cancelled_booking_frees_exactly_what_it_held(client: Client) -> None:
    opened(client)
    canner = piece(client)
    made, kept = booked(client, client.member, canner), booked(client, client.member, canner, "14T17:00", "14T18:00")
    path = f"/v1/bookings/{made['id']}/cancellation"
    answer = client.post(path, headers=client.member.headers)
    assert (answer.status_code, answer.json()["status"]) == (200, "cancelled")
    again = client.post(path, headers=client.member.headers)
    assert (again.status_code, again.json()["code"]) == (409, "already-cancelled")
    booked(client, client.other, canner)
    assert book(client, client.other, canner, "14T17:00", "14T18:00").status_code == 409
    assert client.get(f"/v1/bookings/{kept['id']}", headers=client.member.headers).json()["status"] == "confirmed"


def test_a_member_sees_and_cancels_only_their_own(client: Client) -> None:
    opened(client)
    made = booked(client, client.member, piece(client))
    path = f"/v1/bookings/{made['id']}"
    for person in (client.other, client.trainer, client.stranger):
        assert client.get(path, headers=person.headers).status_code == 404
        assert client.post(f"{path}/cancellation", headers=person.headers).status_code == 404
        for query in ("", f"?member_id={client.member.id}"):
            assert client.get(f"/v1/bookings{query}", headers=person.headers).json()["items"] == []
    assert client.get(path, headers=client.coordinator.headers).json() == made
    assert client.get(path).status_code == 401


def test_another_kitchens_equipment_isnt_there(client: Client) -> None:
    opened(client)
    opened(client, by=client.stranger)
    assert book(client, client.member, piece(client, by=client.stranger)).status_code == 404
    assert book(client, client.member, "nothing-of-ours").status_code == 404


def test_a_coordinator_books_for_others_and_in_the_past(client: Client) -> None:
    opened(client)
    canner = piece(client)
    made = booked(client, client.coordinator, canner, "13T16:00", "13T17:00", member_id=str(client.other.id))
    assert made["member_id"] == str(client.other.id)
    assert client.get(f"/v1/bookings/{made['id']}", headers=client.other.headers).status_code == 200
    assert book(client, client.member, canner, member_id=str(client.other.id)).json()["code"] == "role-needed"
    assert book(client, client.coordinator, canner, member_id=str(client.stranger.id)).status_code == 404


def test_a_coordinator_cant_lend_out_their_own_training(client: Client) -> None:
    opened(client)
    canner = piece(client, canner_kind="pressure-dial")
    answer = book(client, client.coordinator, canner, member_id=str(client.other.id))
    assert answer.json()["code"] == "sign-off-missing"
    booked(client, client.coordinator, canner, member_id=str(client.member.id))


def test_bookings_are_listed_by_time_equipment_and_member_in_pages(client: Client) -> None:
    opened(client)
    first, second = piece(client), piece(client, name="Red kettle")
    made = [booked(client, client.member, first, f"14T{hour}:00", f"14T{hour}:45")["id"] for hour in range(15, 20)] + [
        booked(client, client.other, second, "14T20:00", "14T21:00")["id"]
    ]

    def ids(query: str) -> list[str]:
        found, path = [], f"/v1/bookings?{query}"
        while path:
            answer = client.get(path, headers=client.coordinator.headers)
            assert answer.status_code == 200, answer.text
            found += [item["id"] for item in answer.json()["items"]]
            path = answer.headers["link"].split(">")[0].strip("<") if "link" in answer.headers else ""
        return found

    assert ids("limit=2") == made
    assert ids(f"from={at('14T16:45')}&to={at('14T18:01')}") == made[2:4]
    assert ids(f"equipment_id={second}") == made[5:]
    assert ids(f"member_id={client.member.id}&limit=3") == made[:5]


def test_a_repeated_post_books_once(client: Client) -> None:
    opened(client)
    body, headers = wish(piece(client)), {**client.member.headers, "Idempotency-Key": "one"}
    first, second = (client.post("/v1/bookings", json=body, headers=headers) for _ in range(2))
    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json() == second.json()
    assert len(client.get("/v1/bookings", headers=client.member.headers).json()["items"]) == 1


def test_a_booking_on_the_day_the_clocks_go_back_may_last_the_hour_longer(client: Client) -> None:
    """America/Denver has 25 hours on 7 November 2027 (IANA time zone database)."""
    opened(client, [{"weekday": "sunday", "opens": "00:00", "closes": "24:00"}])
    canner = piece(client)
    body = wish(canner) | {"starts_at": "2027-11-07T06:00:00Z", "ends_at": "2027-11-08T06:00:00Z"}
    assert client.post("/v1/bookings", json=body, headers=client.member.headers).status_code == 201
    body = wish(canner) | {"starts_at": "2027-11-08T06:00:00Z", "ends_at": "2027-11-08T07:00:00Z"}
    assert client.post("/v1/bookings", json=body, headers=client.member.headers).status_code == 201
    body = wish(canner) | {"starts_at": "2027-11-08T07:00:00Z", "ends_at": "2027-11-08T08:00:00Z"}
    assert client.post("/v1/bookings", json=body, headers=client.member.headers).json()["code"] == "kitchen-closed"


@pytest.mark.parametrize(
    "change",
    [
        pytest.param({"starts_at": "2027-06-14T16:00:00"}, id="no offset"),
        pytest.param({"starts_at": 1813075200}, id="a number for a time"),
        pytest.param({"ends_at": "2027-02-30T16:00:00Z"}, id="no such day"),
        pytest.param({"purpose": ""}, id="no purpose"),
        pytest.param({"purpose": "a\x00b"}, id="a NUL"),
        pytest.param({"purpose": "p" * 501}, id="too long a purpose"),
        pytest.param({"equipment_id": 7}, id="a number for an id"),
        pytest.param({"jars": [{"size": "pint", "count": 0}]}, id="no jars of a size"),
        pytest.param({"jars": [{"size": "pint", "count": True}]}, id="true jars"),
        pytest.param({"jars": [{"size": "pint", "count": 1e300}]}, id="too many jars"),
        pytest.param({"jars": [{"size": "pint", "count": 1}] * 21}, id="too many sizes"),
        pytest.param({"acknowledged": "yes"}, id="a word for a flag"),
        pytest.param({"unknown": 1}, id="an unknown field"),
    ],
)
def test_a_booking_of_the_wrong_shape_is_a_problem_and_changes_nothing(client: Client, change: dict[str, Any]) -> None:
    opened(client)
    answer = client.post("/v1/bookings", json=wish(piece(client)) | change, headers=client.member.headers)
    assert (answer.status_code, answer.json()["code"]) == (422, "invalid-request")
    assert client.get("/v1/bookings", headers=client.member.headers).json()["items"] == []


def test_a_recipe_comes_with_its_revision_and_has_to_be_there(client: Client) -> None:
    opened(client)
    canner, nowhere = piece(client), "00000000-0000-4000-8000-000000000001"
    assert book(client, client.member, canner, recipe_id=nowhere).json()["code"] == "not-possible"
    assert book(client, client.member, canner, recipe_id=nowhere, revision=1).status_code == 404


@pytest.mark.parametrize(
    ("verdict", "severities", "acknowledged", "status"),
    [
        pytest.param("ready", (), False, 201, id="ready"),
        pytest.param("revise", ("quality",), True, 201, id="only quality, acknowledged"),
        pytest.param("revise", ("quality",), False, 422, id="only quality"),
        pytest.param("unsafe", ("unsafe", "quality"), True, 422, id="unsafe, acknowledged"),
    ],
)
def test_only_a_revision_that_is_ready_is_booked(
    client: Client, verdict: str, severities: tuple[str, ...], acknowledged: bool, status: int
) -> None:
    opened(client)
    judged = recipes.Judged("Plum jam", {}, "2026.1", 4200, verdict, severities, {})
    with make.session(client.app.state.database) as session:
        kept = recipes.add(session, client.member.kitchen_id, client.member.id, judged, make.A_MOMENT)
        recipe_id = str(kept.recipe.id)
    canner, named = piece(client), {"recipe_id": recipe_id, "revision": 1, "acknowledged": acknowledged}
    assert book(client, client.other, canner, **named).status_code == 404
    answer = book(client, client.member, canner, **named)
    if status == 201:
        assert (answer.status_code, answer.json()["recipe_id"], answer.json()["revision"]) == (201, recipe_id, 1)
    else:
        assert refused(answer) == (422, "not-ready", at("14T16:00"))
