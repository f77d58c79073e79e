"""The hammer, briefly: what it does at length is a command."""

import pytest

from tests.outside.hammer import Force, hammered


def test_nothing_overlaps_and_nothing_is_lost_while_workers_are_killed(
    empty_database_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    force = Force(processes=3, bookings=8, workers=2, seconds=240, kill_after=10)
    assert hammered(empty_database_url, force), capsys.readouterr().out
