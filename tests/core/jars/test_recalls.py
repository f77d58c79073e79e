import pytest

from service.core.jars.movements import Kind, Movement, State, recall
from service.core.jars.recalls import Outcome, account
from service.core.refusals import Refused
from tests.core.jars.make import place


@pytest.mark.parametrize(
    ("outcome", "kind", "state"),
    [
        pytest.param(Outcome.RETURNED, Kind.RETURN, State.RETURNED, id="brought back"),
        pytest.param(Outcome.DESTROYED, Kind.DISCARD, State.DISCARDED, id="destroyed"),
        pytest.param(Outcome.EATEN, Kind.USE, State.USED, id="eaten before anyone knew"),
    ],
)
def test_a_called_back_jar_comes_to_an_end(outcome: Outcome, kind: Kind, state: State) -> None:
    called_back = place(State.RECALLED)
    assert account(outcome, 2, called_back, {called_back: 2}) == Movement(kind, 2, called_back, place(state))


def test_no_more_jars_end_than_were_called_back() -> None:
    refused = account(Outcome.EATEN, 3, place(State.RECALLED), {place(State.RECALLED): 2, place(): 5})
    assert isinstance(refused, Refused)
    assert (refused.code, refused.extra) == ("too-few-jars", {"jars": 2})


def test_jars_given_to_outsiders_are_called_back_and_those_at_an_end_are_not() -> None:
    everywhere = {place(state): 1 for state in State}
    taken = {movement.source.state for movement in recall(everywhere) if movement.source}
    ends = {State.USED, State.RETURNED, State.DISCARDED}
    assert taken == set(State) - ends - {State.RECALLED, State.BATCH}
