"""Texts of the four published formats, typed here by hand, are read into problems that are solved as by hand."""

from pathlib import Path

import pytest

from service.core.scheduling.solving import Effort, solve
from tests.outside.families import read
from tests.outside.instances import line, main

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
TABLES = """Nb of jobs, Nb of Machines, Time seed, Machine seed, Upper bound, Lower bound :
   2    2    840612802    398197754    9    7
Times
 3 2
 2 4
Machines
 1 2
 2 1
"""
SEVERAL = """ This file has two of them.
 instance first
 ++++++++++++++++++++
 Two by two instance, number 1
 2 2
 0 3 1 2
 1 2 0 4
 ++++++++++++++++++++
 instance second
 ++++++++++++++++++++
 1 2
 0 3 1 2
 ++++++++++++++++++++
 EOF
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
        pytest.param("shop", "# two by two\n\n" + JOB_SHOP, "7", id="a job shop with a comment and an empty line"),
        pytest.param("shop", JOB_SHOP.replace("0 3", "0 3 "), "7", id="a job shop with spaces to spare"),
        pytest.param("shop", "2 2\n1 3 2 2\n2 2 1 4", "7", id="a job shop whose machines count from one"),
        pytest.param("shop", JOB_SHOP.replace("\n", "  # so\n"), "7", id="a job shop with words after its numbers"),
        pytest.param("shop", JOB_SHOP.replace("2\n", "2 99\n", 2), "7", id="a job shop with a column more"),
        pytest.param("shop", TABLES, "7", id="a job shop in two tables"),
        pytest.param("flexible.fjs", FLEXIBLE, "7", id="a flexible job shop: four after three on the first machine"),
        pytest.param("project.sm", PROJECT, "7", id="a project: one after the other, as both want the first resource"),
        pytest.param("lags.sch", LAGS.format(least=4), "6", id="lags: four apart, and two more"),
        pytest.param("lags.sch", LAGS.format(least=6), "infeasible", id="six apart, and five at most"),
    ],
)
def test_a_text_is_read_as_its_authors_publish_it(tmp_path: Path, name: str, text: str, makespan: str) -> None:
    path = tmp_path / name
    for each in (text, text.rstrip("\n"), text.replace("\n", " \t\r\n"), f"\ufeff{text}\n\n", f"\n{text}"):
        path.write_text(each, encoding="utf-8", newline="")
        (instance,) = read(path)
        found, _, proven, _ = line(solve(instance.problem, Effort(5, repeatable=True))).split()
        assert (found, proven) == (makespan, "true")
    assert (instance.name, instance.is_known) == (path.stem, False)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        pytest.param(SEVERAL, ["first", "second"], id="named"),
        pytest.param(f"{FLEXIBLE}\n{FLEXIBLE}", ["some-1", "some-2"], id="flexible job shops"),
        pytest.param(PROJECT + PROJECT, ["some-1", "some-2"], id="projects"),
        pytest.param(LAGS.format(least=4) + LAGS.format(least=6), ["some-1", "some-2"], id="lags"),
        pytest.param(TABLES + TABLES, ["some-1", "some-2"], id="in two tables"),
    ],
)
def test_a_text_may_hold_several(tmp_path: Path, text: str, names: list[str]) -> None:
    path = tmp_path / "some.txt"
    path.write_text(text, encoding="utf-8")
    assert [instance.name for instance in read(path)] == names


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("", id="nothing"),
        pytest.param("2 2\n0 3 1 2\n", id="a job too few"),
        pytest.param("2 2\n0 3 1\n1 2 0 4\n", id="half a pair"),
        pytest.param(FLEXIBLE.replace("1 2 2\n", "1 2\n"), id="a mode without a duration"),
        pytest.param(PROJECT.replace("  2      1     3 ", "  2      2     3 "), id="a second mode"),
        pytest.param(PROJECT.replace("    2    1\n", ""), id="no resources"),
        pytest.param(LAGS.format(least=4).replace("1 1 3 1\n", ""), id="an activity without a duration"),
        pytest.param('{"instances": [{"name": "x"}]}', id="no family"),
        pytest.param('{"instances": [', id="half a file"),
    ],
)
def test_a_file_that_cant_be_read_says_so_and_hides_no_other(
    tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    bad, good = tmp_path / "bad", tmp_path / "good"
    bad.write_text(text, encoding="utf-8")
    good.write_text(JOB_SHOP, encoding="utf-8")
    monkeypatch.setattr("sys.argv", ["instances", "--seconds", "5", str(bad), str(tmp_path / "nowhere"), str(good)])
    assert main() == 2
    said = capsys.readouterr()
    assert [each.split()[:4] for each in said.out.splitlines()] == [["good", "7", "7", "true"]]
    assert [each.split(" can't be read: ")[0] for each in said.err.splitlines()] == [
        str(bad),
        str(tmp_path / "nowhere"),
    ]


def test_a_text_of_another_kind_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear all, the plums are ripe.", encoding="utf-8")
    with pytest.raises(ValueError, match="none of the four"):
        list(read(path))
