from uuid import UUID

from service.core.jars.departures import departure
from service.core.jars.movements import EATABLE, HELD, State, balances
from tests.core.jars.make import ADA, BEN, place

CORA = UUID(int=7)
EVERYWHERE = {place(state): 1 for state in State}


def test_all_jars_that_are_anybodys_go_to_the_heir_as_they_are() -> None:
    moved = departure(EVERYWHERE, "Ada", BEN, CORA)
    assert {(each.target.holder_id, each.target.state) for each in moved} == {(BEN, state) for state in HELD}


def test_without_an_heir_what_may_be_eaten_is_taken_along_and_the_rest_is_the_kitchens() -> None:
    after = balances(departure(EVERYWHERE, "Ada", None, CORA))
    assert after[place(State.GIVEN)] == len(EATABLE)
    assert {where.state for where in after if where.holder_id == CORA} == {State.HOLD, State.RECALLED}
    assert all(jars < 0 for where, jars in after.items() if where.holder_id == ADA and where.state in HELD)
