"""How much each caller may ask for."""

from datetime import UTC, datetime
from http.client import HTTPConnection

import pytest
import uvicorn
from fastapi.testclient import TestClient
from typer.testing import CliRunner

from service import cli
from service.app import create_app
from service.settings import Settings
from service.web.allowances import MOST_CALLERS, Allowances
from tests import make
from tests.batches.make import PLUM_JAM
from tests.web.serving import serving


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


def test_no_more_callers_are_remembered_than_there_is_room_for():
    allowances = Allowances(60, clock=lambda: 0.0)
    for number in range(MOST_CALLERS + 50):
        allowances.spend(str(number), 60)
    assert len(allowances.left) == MOST_CALLERS
    assert allowances.spend(str(MOST_CALLERS + 49), 1).wait_seconds > 0


@pytest.fixture
def limited(database_url):
    """A service that lets everybody ask ten times a minute, with a member's token."""
    app = create_app(Settings(database_url=database_url, requests_per_minute=10), lambda: make.A_MOMENT)
    with make.session(app.state.database) as session:
        _, token = make.member(session, make.kitchen(session).id)
    return app, {"Authorization": f"Bearer {token}"}


def left(answer):
    """What an answer says is left."""
    policy = answer.headers["ratelimit-policy"]
    assert policy == '"requests";q=10;w=60'
    return int(answer.headers["ratelimit"].split(";")[1].removeprefix("r="))


def test_a_batch_of_checks_costs_as_much_as_its_checks(limited):
    app, member = limited
    with TestClient(app) as client:
        batch = {"recipes": [PLUM_JAM] * 4}
        assert left(client.post("/v1/recipe-checks/batch", json=batch, headers=member)) == 6
        assert left(client.post("/v1/recipe-checks", json=PLUM_JAM, headers=member)) == 5
        refused = client.post("/v1/recipe-checks/batch", json={"recipes": [PLUM_JAM] * 8}, headers=member)
        assert (refused.status_code, refused.json()["code"]) == (429, "too-many-requests")
        assert 1 <= int(refused.headers["retry-after"]) <= 60
        assert left(client.get("/v1/members/me", headers=member)) <= 4


def test_tokens_and_addresses_have_allowances_of_their_own(limited):
    app, member = limited
    with TestClient(app) as client:
        for _ in range(12):
            answer = client.get("/v1/members/me")  # nobody, then one refused token after the other
        assert answer.status_code == 429
        assert client.get("/v1/members/me", headers={"Authorization": "Bearer x"}).status_code == 429
        assert client.get("/v1/members/me", headers=member).status_code == 200
        assert client.get("/healthz").status_code == 200


@pytest.mark.parametrize(("hosts", "statuses"), [
    (["2001:db8:1:2::1", "2001:db8:1:2:ffff::2"], [200, 429]),
    (["2001:db8:1:2::1", "2001:db8:1:3::1"], [200, 200]),
    (["192.0.2.1", "192.0.2.2"], [200, 200]),
])  # fmt: skip
def test_an_address_of_ipv6_is_its_network(sqlite_template, hosts, statuses):
    app = create_app(Settings(database_url=f"sqlite:///{sqlite_template}", requests_per_minute=1))
    asked = [TestClient(app, client=(host, 1)).get("/problems/busy").status_code for host in hosts]
    assert asked == statuses


@pytest.mark.parametrize(("trusted", "statuses"), [("127.0.0.1", [200, 200, 429]), ("192.0.2.9", [200, 429, 429])])
def test_only_a_trusted_proxy_says_whose_request_it_is(sqlite_template, trusted, statuses):
    app = create_app(Settings(database_url=f"sqlite:///{sqlite_template}", requests_per_minute=1))
    seen = []
    with serving(app, forwarded_allow_ips=trusted, lifespan="off") as port:
        for said in ("198.51.100.1", "198.51.100.2", "198.51.100.2"):
            connection = HTTPConnection("127.0.0.1", port, timeout=10)
            connection.request("GET", "/problems/busy", headers={"X-Forwarded-For": said})
            seen.append(connection.getresponse().status)
            connection.close()
    assert seen == statuses


def test_the_server_trusts_the_proxies_of_the_settings(monkeypatch, database_url):
    given = {}
    monkeypatch.setenv("CANNING_DATABASE_URL", database_url)
    monkeypatch.setattr(uvicorn, "run", lambda *_, **options: given.update(options))
    monkeypatch.setenv("CANNING_TRUSTED_PROXIES", "10.0.0.0/8")
    CliRunner().invoke(cli.main, ["serve", "--no-migrate"])
    assert given["forwarded_allow_ips"] == "10.0.0.0/8"
