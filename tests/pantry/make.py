"""Lots on a member's shelf, written straight into the ledger."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from service.core.jars import movements
from service.core.jars.movements import SealCheck, State
from service.core.refusals import Refused
from service.pantry import store
from tests import make
from tests.conftest import Client, Person

EIGHT = {"half-pint": 8}


def lot(
    client: Client,
    jars: Mapping[str, int] = EIGHT,
    by: Person | None = None,
    title: str = "Plum jam",
    family: str = "jam",
    made_on: date | None = None,
    unsealed: int = 0,
    broken: int = 0,
    checked_days_ago: float = 0,
) -> str:
    """A lot of so many sealed jars of each size; of each size, so many more that didn't seal or broke."""
    member = by or client.member
    at = client.clock.at - timedelta(days=checked_days_ago)
    with make.session(client.app.state.database) as session:
        row = store.add_lot(session, member.kitchen_id, title, family, None, made_on or at.date(), 12)
        assert not isinstance(row, Refused)
        for size, sealed in jars.items():
            filled = movements.fill(row.id, size, member.id, SealCheck(sealed, unsealed, broken), State.SHELF, "")
            store.write(session, row, filled, member.id, at)
        return row.code


def move(client: Client, lot_code: str, by: Person | None = None, **values: Any) -> Any:
    new = {"kind": "use", "lot_code": lot_code, "jar_size": "half-pint", "count": 1} | values
    return client.post("/v1/movements", json=new, headers=(by or client.member).headers)


def read(client: Client, path: str, by: Person | None = None) -> Any:
    return client.get(f"/v1{path}", headers=(by or client.member).headers)


def holders(client: Client, lot_code: str) -> dict[tuple[str, str], int]:
    """A lot's jars by holder and state, all sizes together."""
    found: dict[tuple[str, str], int] = {}
    for holder in read(client, f"/lots/{lot_code}", client.coordinator).json()["holders"]:
        where = holder["name"], holder["state"]
        found[where] = found.get(where, 0) + holder["count"]
    return found


def proved(client: Client) -> bool:
    with make.session(client.app.state.database) as session:
        return store.prove(session, client.member.kitchen_id).holds
