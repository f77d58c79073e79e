"""How long a booking may last: whoever looks for what is still held goes by it."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from service.core.scheduling.bookings import LONGEST, Claim, Step, too_long

BEGINS = datetime(2027, 6, 14, 8, tzinfo=UTC)


@pytest.mark.parametrize(
    ("lasts", "code"),
    [
        pytest.param(LONGEST, None, id="the longest there is"),
        pytest.param(LONGEST + timedelta(minutes=1), "not-possible", id="a minute more"),
    ],
)
def test_a_booking_has_a_longest_time_over_all_its_claims(lasts: timedelta, code: str | None) -> None:
    cooked = Claim(Step.COOK, uuid4(), True, BEGINS, BEGINS + timedelta(hours=1), True, ())
    rested = Claim(Step.REST, uuid4(), True, BEGINS + timedelta(hours=1), BEGINS + lasts, False, ())
    refused = too_long((rested, cooked))
    assert (refused and refused.code) == code
