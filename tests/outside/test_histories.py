"""Histories of members at work, briefly, and that the checker of them can tell right from wrong."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import _own_database as own_database
from tests.outside.histories import (
    IMPOSSIBLE,
    Call,
    by_processes,
    explained,
    in_this_process,
    of_jars,
    of_seals,
    of_times,
)

NOTHING = frozenset()


def calls(*given):
    """Acts as (act, answer, asked, answered)."""
    return [Call("it", *each) for each in given]


@pytest.mark.parametrize(
    ("history", "first", "step", "fits"),
    [
        pytest.param([(("check",), True, 0, 9), (("check",), False, 1, 2)], False, of_seals, True, id="overtaken"),
        pytest.param([(("check",), True, 0, 1), (("check",), True, 2, 3)], False, of_seals, False, id="twice"),
        pytest.param([(("check",), True, 0, 1), (("read",), False, 2, 3)], False, of_seals, False, id="read too late"),
        pytest.param([(("check",), True, 0, 3), (("read",), False, 2, 4)], False, of_seals, True, id="read meanwhile"),
        pytest.param(
            [(("book", 0, 2), "a", 0, 5), (("book", 1, 3), "b", 1, 4)], NOTHING, of_times, False, id="double booking"
        ),
        pytest.param(
            [(("book", 0, 2), "a", 0, 1), (("cancel", "a"), True, 2, 6), (("book", 1, 3), "b", 3, 4)],
            NOTHING,
            of_times,
            True,
            id="cancelled meanwhile",
        ),
        pytest.param(
            [(("book", 0, 2), "a", 0, 1), (("book", 1, 3), "b", 2, 3), (("cancel", "a"), True, 4, 6)],
            NOTHING,
            of_times,
            False,
            id="cancelled later",
        ),
        pytest.param([(("book", 0, 2), None, 0, 1)], NOTHING, of_times, False, id="refused for no reason"),
        pytest.param([(("use", 0, 3), True, 0, 9), (("jars", 0), 2, 1, 8)], (5,), of_jars, True, id="used"),
        pytest.param(
            [(("use", 0, 3), True, 0, 9), (("use", 0, 3), True, 1, 8)], (5,), of_jars, False, id="out of none"
        ),
        pytest.param(
            [(("give", 0, 2, 1), True, 0, 4), (("jars", 1), 2, 1, 2), (("jars", 0), 5, 3, 5)],
            (5, 0),
            of_jars,
            False,
            id="there and still here",
        ),
    ],
)
def test_the_checker_tells_right_from_wrong(history, first, step, fits):
    assert explained(calls(*history), first, step) == fits


def in_any_order(history, first, step):
    """The same as `explained`, by trying every order."""
    for order in permutations(history):
        kept = all(not later.answered < sooner.asked for n, sooner in enumerate(order) for later in order[n + 1 :])
        state = first
        for call in order if kept else ():
            state = step(state, call.act, call.answer)
            if state is IMPOSSIBLE:
                break
        if kept and state is not IMPOSSIBLE:
            return True
    return False


MOMENTS = st.tuples(st.integers(0, 6), st.integers(0, 3)).map(lambda times: (times[0], times[0] + times[1]))
ACTS = st.one_of(
    st.tuples(st.tuples(st.just("use"), st.just(0), st.integers(1, 2)), st.booleans()),
    st.tuples(st.tuples(st.just("give"), st.integers(0, 1), st.integers(1, 2), st.integers(0, 1)), st.booleans()),
    st.tuples(st.tuples(st.just("jars"), st.integers(0, 1)), st.integers(0, 3)),
)


@given(st.lists(st.tuples(ACTS, MOMENTS), max_size=5))
def test_the_search_finds_an_order_where_there_is_one(given_):
    history = [Call("it", act, answer, *times) for (act, answer), times in given_]
    assert explained(history, (2, 1), of_jars) == in_any_order(history, (2, 1), of_jars)


def test_a_long_history_of_many_at_once_is_searched_to_its_end():
    """Six at once for 300 acts, all explained but the last."""
    history = calls(*((("give", n % 3, 1, (n + 1) % 3), True, n, n + 6.5) for n in range(300)))
    wrong = Call("it", ("jars", 0), 99, 400, 401)
    first = (100, 100, 100)
    assert explained(history, first, of_jars)
    assert not explained([*history, wrong], first, of_jars)


def test_processes_against_several_workers_get_answers_that_make_sense(postgresql_server):
    for url in own_database(postgresql_server, "template0"):
        histories, acts, wrong = by_processes(url, processes=3, workers=2, count=1, acts=12)
        assert (histories > 3, acts > 20, wrong) == (True, True, 0)


def test_each_answer_makes_sense_in_some_order(tmp_path):
    url = f"sqlite:///{tmp_path}/kitchen.db"
    histories, acts, wrong = in_this_process(url, players=4, count=1, acts=15, fault=False)
    assert (histories, acts > 30, wrong) == (6, True, 0)


def test_an_old_view_of_what_is_booked_is_found(empty_database_url):
    assert in_this_process(empty_database_url, players=4, count=1, acts=25, fault=True)[2] > 0
