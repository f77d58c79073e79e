"""What lists show without validating it is what the validator would have let through, and written the same way."""

import pytest

from service.bookings.bodies import BookingAnswer, BookingList
from service.pantry.bodies import PantryList
from service.pantry.lots.bodies import LotAnswer
from tests.batches.make import ok
from tests.web.everything import LINES, World

SHOWN = {
    "GET /v1/members/{member_id}/pantry": PantryList,
    "GET /v1/bookings": BookingList,
    "GET /v1/bookings/{booking_id}": BookingAnswer,
    "GET /v1/lots/{lot_code}": LotAnswer,
}


@pytest.mark.parametrize("name", SHOWN)
def test_an_answer_is_the_same_once_validated(client, name):
    world = World(client)
    world.held()  # a booked batch, with all it claims and the jars it fills
    ok(world.post("/v1/bookings", world.wish(days=10)))
    call, token = LINES[name].call(world), world.caller(LINES[name]).token
    answer = call.ask(client, "GET", token).content
    assert len(answer) > 100, "nothing is shown"
    assert SHOWN[name].model_validate_json(answer).model_dump_json().encode() == answer
