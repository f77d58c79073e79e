"""Outages, briefly: what they do at length is a command."""

import os

import pytest

from tests import postgresql
from tests.outside.outages import endured

CONFIRMED = 2


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_no_confirmed_write_is_lost_whatever_befalls_the_database(kind: str) -> None:
    if kind == "postgresql" and postgresql.programs() is None:
        wanted = os.environ.get("CI") or os.environ.get("CANNING_TEST_POSTGRES") == "required"
        (pytest.fail if wanted else pytest.skip)("PostgreSQL's initdb and pg_ctl aren't on this machine.")
    endured(kind, CONFIRMED)
