"""The same four families as their authors publish them, in plain text, read into the fields of our files.

Each is told by its shape, and a file that is none of them is refused. The headed tables and the bracketed lags are as
the parsers of PyJobShop/PSPLIB (MIT) read them; the two shops are written from memory of their files.

- projects with successors (`.sm`): headed tables, between lines of asterisks;
- projects with lags (`.sch`): numbers only; each activity with its successors and a lag in brackets for each;
- job shops: jobs and machines, then a line of machine and duration pairs for each job;
- flexible job shops (`.fjs`): jobs and machines, then for each operation of a job the number of its modes and those.
"""

import re
from typing import Any


def read(name: str, text: str) -> dict[str, Any]:
    """Read one instance, whose published optimum such a file doesn't tell."""
    if "PRECEDENCE RELATIONS" in text:
        return {"name": name, **_with_successors(text)}
    if "[" in text:
        return {"name": name, **_with_lags(text)}
    lines = [[float(word) for word in line.split()] for line in text.splitlines() if re.fullmatch(r"[\d.\s]+", line)]
    lines = [line for line in lines if line]
    if not lines or len(lines[0]) < 2:
        raise ValueError("This is none of the four published formats.")
    jobs, machines = int(lines[0][0]), int(lines[0][1])
    rows = [[int(number) for number in line] for line in lines[1 : jobs + 1]]
    if len(rows) == jobs and all(
        len(row) == 2 * machines and sorted(row[::2]) == list(range(machines)) for row in rows
    ):
        return {"name": name, "machines": [row[::2] for row in rows], "durations": [row[1::2] for row in rows]}
    return {"name": name, "jobs": [_operations(row) for row in rows]}


def _operations(row: list[int]) -> list[list[tuple[int, int]]]:
    """The modes of each operation of a job; machines are counted from one."""
    numbers = iter(row)
    found = [[(next(numbers) - 1, next(numbers)) for _ in range(next(numbers))] for _ in range(next(numbers))]
    if next(numbers, None) is not None:
        raise ValueError("A job has numbers left over.")
    return found


def _with_successors(text: str) -> dict[str, Any]:
    parts = {title: _numbers(text, title) for title in ("PRECEDENCE RELATIONS", "REQUESTS/DURATIONS", "AVAILABILITIES")}
    successors = [row[3:] for row in parts["PRECEDENCE RELATIONS"]]
    durations = [row[2] for row in parts["REQUESTS/DURATIONS"]]
    demands = [row[3:] for row in parts["REQUESTS/DURATIONS"]]
    (capacities,) = parts["AVAILABILITIES"]
    return {"capacities": capacities, "durations": durations, "demands": demands, "successors": successors}


def _numbers(text: str, title: str) -> list[list[int]]:
    """The rows of numbers below a title, up to the next line of asterisks."""
    below = text.split(title, 1)[1].split("\n", 1)[1].split("****", 1)[0]
    return [
        [int(word) for word in line.split()] for line in below.splitlines() if re.fullmatch(r"[\d\s]*\d[\d\s]*", line)
    ]


def _with_lags(text: str) -> dict[str, Any]:
    lines = [line.split() for line in text.splitlines() if line.strip()]
    activities, resources = int(lines[0][0]) + 2, int(lines[0][1])  # one that begins it and one that ends it
    lags = []
    for words in lines[1 : activities + 1]:
        one, successors = int(words[0]), int(words[2])
        others = [int(word) for word in words[3 : 3 + successors]]
        weights = [int(word.strip("[]")) for word in words[3 + successors : 3 + 2 * successors]]
        lags += [(one, other, lag) for other, lag in zip(others, weights, strict=True)]
    rows = [[int(word) for word in words] for words in lines[activities + 1 : 2 * activities + 1]]
    return {
        "capacities": [int(word) for word in lines[2 * activities + 1][:resources]],
        "durations": [row[2] for row in rows],
        "demands": [row[3:] for row in rows],
        "lags": lags,
    }
