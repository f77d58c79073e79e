"""Requests made up from the contract, good and bad, and every answer held against it."""

import json
import random
from collections import Counter
from collections.abc import Iterator
from contextlib import suppress
from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis.errors import Unsatisfiable
from hypothesis.strategies import SearchStrategy
from schemathesis.checks import not_a_server_error
from schemathesis.generation import GenerationMode
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from tests.conftest import Client
from tests.web.everything import LINES, World

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
MODES = (GenerationMode.POSITIVE, GenerationMode.NEGATIVE)


def cases(document: dict[str, Any], examples: int, start: int) -> Iterator[tuple[str, Any]]:
    """So many good and so many bad requests for each operation, by its name; the same for the same start."""
    for found in schemathesis.openapi.from_dict(json.loads(json.dumps(document))).get_all_operations():
        operation = found.ok()
        for mode in MODES:
            yield from (
                (operation.label, case) for case in _made(operation.as_strategy(generation_mode=mode), examples, start)
            )


def _made(strategy: SearchStrategy[Any], examples: int, start: int) -> list[Any]:
    made: list[Any] = []

    @seed(start)
    @settings(
        max_examples=examples,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(strategy)
    def collect(case: Any) -> None:
        made.append(case)

    with suppress(Unsatisfiable):  # what takes nothing can't be sent badly
        collect()
    return made


def hold(
    client: Client, made: list[tuple[str, Any]], start: int, *, in_turn: bool = False
) -> tuple[Counter[int], list[str]]:
    """Send each as a coordinator and as a member, or as one of them in turn; about half of them to something that is
    there. The statuses of the answers, and what the contract doesn't have."""
    world, chance = World(client), random.Random(start)
    seen: Counter[int] = Counter()
    wrong: list[str] = []
    there: dict[str, str] = {}
    for number, (name, case) in enumerate(made):
        if name not in there:
            there[name] = LINES[name].call(world).path.partition("?")[0]
        path = there[name] if chance.random() < 0.5 else None
        people = (world.cora, world.ada)
        for person in people[number % 2 :][:1] if in_turn else people:
            sent = case.as_transport_kwargs(base_url="http://testserver")
            sent["headers"] = {**sent["headers"], **person.headers}
            sent["cookies"] = None
            if "data" in sent:
                sent["content"] = sent.pop("data")
            if path:
                sent["url"] = f"http://testserver{path}"
            try:
                answer = client.request(**sent)
            except UnicodeEncodeError:  # a header that no client can send
                seen[0] += 1
                continue
            seen[answer.status_code] += 1
            try:
                case.validate_response(answer, checks=CHECKS)
            except BaseExceptionGroup as failure:  # of its checks, all that failed
                wrong.append(f"{name} as {person.name}: {failure}\n{sent}"[:3000])
    return seen, wrong
