"""Histories of members at work, briefly, and that the checker of them can tell right from wrong."""

import pytest

from tests.outside.histories import Call, explained, in_this_process, of_jars, of_seals, of_times

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


def test_each_answer_makes_sense_in_some_order(empty_database_url):
    histories, acts, wrong = in_this_process(empty_database_url, players=4, count=1, acts=15, fault=False)
    assert (histories, acts > 30, wrong) == (6, True, 0)


def test_an_old_view_of_what_is_booked_is_found(empty_database_url):
    assert in_this_process(empty_database_url, players=4, count=1, acts=25, fault=True)[2] > 0
