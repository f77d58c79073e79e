"""The contract that is committed is the contract of the service, and it shows what it means."""

from pathlib import Path

import pytest
from openapi_spec_validator import validate

from service.app import create_app
from service.cli import written_contract
from service.settings import Settings

COMMITTED = Path(__file__).parents[1] / "openapi" / "openapi.json"


@pytest.fixture(scope="module")
def document():
    return create_app(Settings(database_url="sqlite:///contract.db")).openapi()


@pytest.fixture(scope="module")
def operations(document):
    return {
        f"{method.upper()} {path}": operation
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
    }


def shown(document, content):
    """Whether a body or an answer has an example, of its own or of its schema."""
    schema = content["schema"]
    if "$ref" in schema:
        schema = document["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    return "example" in content or "examples" in content or "examples" in schema


def test_the_committed_contract_is_the_services_own():
    assert COMMITTED.read_text(encoding="utf-8") == written_contract(), (
        "run `canning-kitchen openapi` and read the diff"
    )


def test_it_is_openapi(document):
    validate(document)
    assert document["openapi"].startswith("3.1")


def test_an_operation_is_called_like_its_function_and_no_two_alike(operations):
    names = [operation["operationId"] for operation in operations.values()]
    assert len(set(names)) == len(names)
    assert all(name.isidentifier() for name in names)


def test_every_body_and_every_answer_has_an_example(document, operations):
    without = [
        f"{name} {status}"
        for name, operation in operations.items()
        for status, part in {"body": operation.get("requestBody", {}), **operation["responses"]}.items()
        for content in part.get("content", {}).values()
        if not shown(document, content)
    ]
    assert without == []


def test_every_no_is_a_problem_document(document, operations):
    assert not {"HTTPValidationError", "ValidationError"} & set(document["components"]["schemas"])
    for name, operation in operations.items():
        for status, answer in operation["responses"].items():
            if int(status) >= 400:
                assert list(answer["content"]) == ["application/problem+json"], f"{name} {status}"
