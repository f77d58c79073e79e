"""Texts of the four published formats, typed here by hand, are read into problems that are solved as by hand."""

from pathlib import Path

import pytest

from service.core.scheduling.solving import Effort, solve
from tests.outside.families import read
from tests.outside.instances import line

JOB_SHOP = """2 2
0 3 1 2
1 2 0 4
"""
FLEXIBLE = """2 2 1.5
2 2 1 3 2 4 1 2 2
2 1 2 2 1 1 4
"""
PROJECT = """************************************************************************
jobs (incl. supersource/sink ):  4
************************************************************************
PRECEDENCE RELATIONS:
jobnr.    #modes  #successors   successors
   1        1          2           2   3
   2        1          1           4
   3        1          1           4
   4        1          0
************************************************************************
REQUESTS/DURATIONS:
jobnr. mode duration  R 1  R 2
------------------------------------------------------------------------
  1      1     0       0    0
  2      1     3       2    0
  3      1     4       1    1
  4      1     0       0    0
************************************************************************
RESOURCEAVAILABILITIES:
  R 1  R 2
    2    1
************************************************************************
"""
LAGS = """2 1 0 0
0 1 2 1 2 [0] [0]
1 1 2 2 3 [{least}] [3]
2 1 2 1 3 [-5] [2]
3 1 0
0 1 0 0
1 1 3 1
2 1 2 1
3 1 0 0
1
"""


@pytest.mark.parametrize(
    ("name", "text", "makespan"),
    [
        pytest.param("shop", JOB_SHOP, "7", id="a job shop: four after three on the first machine"),
        pytest.param("flexible.fjs", FLEXIBLE, "7", id="a flexible job shop: four after three on the first machine"),
        pytest.param("project.sm", PROJECT, "7", id="a project: one after the other, as both want the first resource"),
        pytest.param("lags.sch", LAGS.format(least=4), "6", id="lags: four apart, and two more"),
        pytest.param("lags.sch", LAGS.format(least=6), "infeasible", id="six apart, and five at most"),
    ],
)
def test_a_text_is_read_as_its_authors_publish_it(tmp_path: Path, name: str, text: str, makespan: str) -> None:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    (instance,) = read(path)
    assert (instance.name, instance.is_known) == (path.stem, False)
    found, _, proven, _ = line(solve(instance.problem, Effort(5, repeatable=True))).split()
    assert (found, proven) == (makespan, "true")


def test_a_text_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear all, the plums are ripe.", encoding="utf-8")
    with pytest.raises(ValueError, match="none of the four"):
        read(path)
