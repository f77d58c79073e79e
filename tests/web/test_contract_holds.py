"""The contract is the truth: whatever is sent, every answer is one it documents, and none is a fault of ours."""

import json

import pytest
from schemathesis.generation import GenerationMode

from tests.test_contract import COMMITTED
from tests.web import fuzzing

EXAMPLES, START = 1, 20270614


@pytest.fixture(scope="module")
def made():
    return {}


def test_every_answer_is_one_the_contract_documents(client, made):
    """At length, with other requests each time: `python -m tests.outside.fuzz`."""
    found = made.setdefault("cases", None) or list(
        fuzzing.cases(json.loads(COMMITTED.read_text(encoding="utf-8")), EXAMPLES, START)
    )
    made["cases"] = found
    everything = client.app.state.database.writer.dialect.name == "sqlite"
    if not everything:  # what is refused unread needs no second database
        found = [(name, case) for name, case in found if case.meta.generation.mode is GenerationMode.POSITIVE]
    seen, wrong = fuzzing.hold(client, found, START, in_turn=True)
    assert not wrong, "\n\n".join(wrong)
    assert seen.total() == len(found)
    assert {200, 201, 404} | ({422} if everything else set()) <= set(seen)
