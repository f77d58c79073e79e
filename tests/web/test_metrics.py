"""What is counted, and who may read it."""

import pytest
from fastapi.testclient import TestClient
from pydantic import SecretStr, ValidationError

from service.settings import Settings
from tests.batches.make import PLUM_JAM
from tests.bookings.kitchen import book, opened, piece
from tests.conftest import Client

SECRET = "the-secret-of-the-metrics"
KEY = {"Authorization": f"Bearer {SECRET}"}


@pytest.fixture
def counted(client: Client) -> Client:
    client.app.state.metrics_token = SecretStr(SECRET)
    return client


def value(client: TestClient, line: str) -> float:
    text = client.get("/metrics", headers=KEY).text
    return next((float(each.rpartition(" ")[2]) for each in text.splitlines() if each.startswith(f"{line} ")), 0.0)


def test_without_a_secret_there_are_none(client: Client) -> None:
    assert client.get("/metrics", headers=KEY).status_code == 404
    assert "SECRET" not in repr(Settings(metrics_token=SecretStr("x" * 16)))
    with pytest.raises(ValidationError):
        Settings(metrics_token=SecretStr("short"))


def test_they_take_their_own_secret(counted: Client) -> None:
    assert counted.get("/metrics").status_code == 401
    for wrong in (
        counted.coordinator.headers,
        {"Authorization": SECRET},
        {"Authorization": "Bearer é".encode("latin-1")},
    ):
        assert counted.get("/metrics", headers=wrong).status_code == 401
    assert counted.get("/metrics", headers=KEY).headers["content-type"].startswith("text/plain; version=0.0.4")


def test_requests_refusals_and_verdicts_are_counted_by_template_and_code(counted: Client) -> None:
    opened(counted)
    canner = piece(counted)
    lines = {
        'canning_request_seconds_count{method="POST",route="/v1/bookings"}': 2,
        'canning_answers_total{method="POST",route="/v1/bookings",status="201"}': 1,
        'canning_problems_total{code="slot-taken",route="/v1/bookings"}': 1,
        'canning_recipe_checks_total{verdict="ready"}': 1,
        'canning_answers_total{method="other",route="none",status="404"}': 1,
    }
    before = {line: value(counted, line) for line in lines}
    assert [book(counted, counted.member, canner).status_code for _ in range(2)] == [201, 409]
    assert counted.post("/v1/recipe-checks", json={**PLUM_JAM, "altitude_ft": 500}).json()["verdict"] == "ready"
    counted.request("BREW", "/coffee")
    assert {line: value(counted, line) - before[line] for line in lines} == lines
    assert str(canner) not in counted.get("/metrics", headers=KEY).text
