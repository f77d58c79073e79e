"""The same four families as their authors publish them, in plain text, read into the fields of our files.

Each is told by its shape, and a file that is none of them is refused. The headed tables and the bracketed lags are as
the parsers of PyJobShop/PSPLIB (MIT) read them; the two shops are written from memory of their files.

- projects with successors (`.sm`): headed tables, between lines of asterisks;
- projects with lags (`.sch`): numbers only; each activity with its successors and a lag in brackets for each;
- job shops: jobs and machines, then a line of machine and duration pairs for each job; or, below `Times` and
  `Machines`, a line of each for each job;
- flexible job shops (`.fjs`): jobs and machines, then for each operation of a job the number of its modes and those.

A file may hold several, one after another, with words around them; a line that says `instance` before one names it.
Words and empty lines count for nothing, nor do numbers after those that an instance has in a line.
"""

import re
from collections.abc import Iterator
from typing import Any

NOT_ONE = "This is none of the four published formats."
COMMENT = re.compile(r"\s*(#|//|%|;).*|\s+(#|//).*$")

Words = list[list[str]]


def read(name: str, text: str) -> list[dict[str, Any]]:
    """Read every instance, whose published optimum such a file doesn't tell."""
    lines = [COMMENT.sub("", line) for line in text.lstrip("\ufeff").splitlines()]
    if any("PRECEDENCE RELATIONS" in line for line in lines):
        found = list(_projects("\n".join(lines)))
    elif any(re.fullmatch(r"\s*times\s*", line, re.IGNORECASE) for line in lines):
        found = list(_in_two_tables(lines))
    elif any(re.search(r"\[\s*-?\d+\s*\]", line) for line in lines):
        found = list(_one_after_another(lines, _with_lags))
    else:
        found = list(_one_after_another(lines, _shop))
    if not found:
        raise ValueError(NOT_ONE)
    names = [named or (name if len(found) == 1 else f"{name}-{place}") for place, (named, _) in enumerate(found, 1)]
    return [{"name": each, **instance} for each, (_, instance) in zip(names, found, strict=True)]


Named = tuple[str | None, dict[str, Any]]


def _one_after_another(lines: list[str], take: Any) -> Iterator[Named]:
    """Read instances that are only numbers; words between them may name the next."""
    named, numbers = None, Words()
    for line in [*lines, " instance "]:
        if re.fullmatch(r"[-\d.\[\]\s]*", line):
            if line.strip():
                numbers.append(re.sub(r"\[\s*(-?\d+)\s*\]", r"[\1]", line).split())
            continue
        if numbers and not re.fullmatch(r"[\s+*=_-]*", line):
            while numbers:
                instance, numbers = take(numbers)
                yield named, instance
                named = None
        said = re.match(r"\s*instance\s+(\S+)\s*$", line, re.IGNORECASE)
        named = said.group(1) if said else named


def _in_two_tables(lines: list[str]) -> Iterator[Named]:
    """Job shops with a table of durations and one of machines, each below its word."""
    below: list[list[list[int]]] = [[]]
    for line in (line.strip() for line in lines):
        if line.lower() in ("times", "machines"):
            below.append([])
        elif line and re.fullmatch(r"[-\d\s]*", line):
            below[-1].append([int(word) for word in line.split()])
    for before, times, machines in zip(below[::2], below[1::2], below[2::2], strict=False):
        jobs, stations = before[-1][:2]
        found = _in_turn(
            [
                [n for pair in zip(*both, strict=True) for n in pair]
                for both in zip(machines[:jobs], times[:jobs], strict=True)
            ],
            stations,
        )
        if found is None or len(times) < jobs:
            raise ValueError("A job doesn't visit each machine once.")
        yield None, found


def _shop(lines: Words) -> tuple[dict[str, Any], Words]:
    if len(lines[0]) < 2 or not all(word.isdigit() for word in lines[0][:2]):
        raise ValueError(NOT_ONE)
    jobs, machines = int(lines[0][0]), int(lines[0][1])
    if jobs < 1 or len(lines) <= jobs:
        raise ValueError(f"It says that there are {jobs} jobs, and has {len(lines) - 1} lines for them.")
    rows, others = [[int(word) for word in line] for line in lines[1 : jobs + 1]], lines[jobs + 1 :]
    if all(len(row) == 2 * machines for row in rows) and (found := _in_turn(rows, machines)):
        return found, others
    try:
        return {"jobs": [_operations(row) for row in rows]}, others
    except ValueError:
        found = _in_turn([row[: 2 * machines] for row in rows], machines)
        if found is None:
            raise
        return found, others


def _in_turn(rows: list[list[int]], machines: int) -> dict[str, Any] | None:
    """A job shop, if each job visits every machine once; machines are counted from none or from one."""
    for least in (0, 1):
        if all(sorted(row[::2]) == list(range(least, least + machines)) for row in rows):
            return {
                "machines": [[machine - least for machine in row[::2]] for row in rows],
                "durations": [row[1::2] for row in rows],
            }
    return None


def _operations(row: list[int]) -> list[list[tuple[int, int]]]:
    """The modes of each operation of a job; machines are counted from one."""
    numbers = iter(row)
    try:
        found = [[(next(numbers) - 1, next(numbers)) for _ in range(next(numbers))] for _ in range(next(numbers))]
    except (StopIteration, RuntimeError) as short:
        raise ValueError("A job has fewer numbers than it says.") from short
    if not all(found) or any(machine < 0 for modes in found for machine, _ in modes):
        raise ValueError("An operation has no machine.")
    if next(numbers, None) is not None:
        raise ValueError("A job has numbers left over.")
    return found


def _projects(text: str) -> Iterator[Named]:
    for part in text.split("PRECEDENCE RELATIONS")[1:]:
        yield None, _with_successors(f"PRECEDENCE RELATIONS{part}")


def _with_successors(text: str) -> dict[str, Any]:
    parts = {title: _numbers(text, title) for title in ("PRECEDENCE RELATIONS", "REQUESTS/DURATIONS", "AVAILABILITIES")}
    if not parts["AVAILABILITIES"]:
        raise ValueError("It doesn't say how much of each resource there is.")
    capacities, count = parts["AVAILABILITIES"][0], len(parts["PRECEDENCE RELATIONS"])
    rows = parts["REQUESTS/DURATIONS"]
    if len(rows) != count or any(row[1] != 1 for row in (*rows, *parts["PRECEDENCE RELATIONS"])):
        raise ValueError("A project has one line for the only mode of each job.")
    if any(len(row) < 3 + len(capacities) for row in rows):
        raise ValueError("A job doesn't say how much it takes of each resource.")
    return {
        "capacities": capacities,
        "durations": [row[2] for row in rows],
        "demands": [row[3 : 3 + len(capacities)] for row in rows],
        "successors": [row[3 : 3 + row[2]] for row in parts["PRECEDENCE RELATIONS"]],
    }


def _numbers(text: str, title: str) -> list[list[int]]:
    """The rows of numbers below a title, up to the next line of asterisks."""
    if title not in text:
        raise ValueError(f"It has no {title}.")
    below = text.split(title, 1)[1].partition("\n")[2].split("****", 1)[0]
    return [
        [int(word) for word in line.split()] for line in below.splitlines() if re.fullmatch(r"[\d\s]*\d[\d\s]*", line)
    ]


def _with_lags(lines: Words) -> tuple[dict[str, Any], Words]:
    activities, resources = int(lines[0][0]) + 2, int(lines[0][1])  # one that begins it and one that ends it
    if len(lines) < 2 * activities + 2:
        raise ValueError("It has fewer lines than its activities need.")
    lags = []
    for words in lines[1 : activities + 1]:
        one, successors = int(words[0]), int(words[2])
        others = [int(word) for word in words[3 : 3 + successors]]
        weights = [int(word.strip("[]")) for word in words[3 + successors : 3 + 2 * successors]]
        lags += [(one, other, lag) for other, lag in zip(others, weights, strict=True)]
    rows = [[int(word) for word in words] for words in lines[activities + 1 : 2 * activities + 1]]
    instance = {
        "capacities": [int(word) for word in lines[2 * activities + 1][:resources]],
        "durations": [row[2] for row in rows],
        "demands": [row[3 : 3 + resources] for row in rows],
        "lags": lags,
    }
    return instance, lines[2 * activities + 2 :]
