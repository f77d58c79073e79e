"""How much each caller may ask for."""

from datetime import UTC, datetime

from fastapi.testclient import TestClient

from service.app import create_app
from service.settings import Settings
from service.web.allowances import Allowances


def test_an_allowance_runs_out_and_fills_up_again():
    at = 0.0
    allowances = Allowances(60, clock=lambda: at)
    assert [allowances.spend("ada", 1).wait_seconds for _ in range(61)] == [0] * 60 + [1]
    assert allowances.spend("bo", 1).wait_seconds == 0
    at = 10.0
    assert allowances.spend("ada", 10).wait_seconds == 0
    assert allowances.spend("ada", 5).wait_seconds == 5


def test_a_caller_is_told_what_is_left():
    told = Allowances(60, clock=lambda: 0.0).spend("ada", 15).headers
    assert told == {"RateLimit-Policy": '"requests";q=60;w=60', "RateLimit": '"requests";r=45;t=15'}


def test_one_too_many_is_told_how_long_to_wait(database_url):
    settings = Settings(database_url=database_url, requests_per_minute=3)
    with TestClient(create_app(settings, lambda: datetime(2027, 6, 14, tzinfo=UTC))) as client:
        answers = [client.get("/problems/busy") for _ in range(4)]
    assert [answer.status_code for answer in answers] == [200, 200, 200, 429]
    assert 1 <= int(answers[3].headers["retry-after"]) <= 20
