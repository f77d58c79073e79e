"""The cookie holds a token for pages alone, and a form of another site's page does nothing with it."""

import pytest

from service.members import tokens
from tests import make
from tests.batches.make import Day, ok
from tests.board.reading import FROM_HERE, Read, see, send, words
from tests.bookings.kitchen import opened, piece
from tests.conftest import Client


def sign_in(client: Client, token: str, **more: str):
    return client.post("/board/sign-in", data={"token": token, **more}, headers=FROM_HERE, follow_redirects=False)


def test_signing_in_sets_a_cookie_that_scripts_and_other_sites_do_not_get(client: Client) -> None:
    answer = sign_in(client, client.member.token)
    assert (answer.status_code, answer.headers["location"]) == (303, "/board")
    cookie = answer.headers["set-cookie"].lower()
    for part in ("httponly", "samesite=strict", "path=/board"):
        assert part in cookie
    assert "max-age" not in cookie  # it goes when the browser is closed
    assert "secure" not in cookie  # over plain HTTP, where a secure one would never come back
    assert "max-age=7776000" in sign_in(client, client.member.token, keep="yes").headers["set-cookie"].lower()


def test_over_https_the_cookie_never_goes_over_http(client: Client) -> None:
    answer = client.post(
        "https://testserver/board/sign-in",
        data={"token": client.member.token},
        headers=FROM_HERE,
        follow_redirects=False,
    )
    assert "secure" in answer.headers["set-cookie"].lower()


def test_the_api_never_looks_at_a_cookie(client: Client) -> None:
    cookie = {"Cookie": f"canning_kitchen={client.member.token}"}
    assert client.get("/v1/bookings", headers=cookie).status_code == 401
    assert client.get("/board/yours", headers=cookie).status_code == 200


@pytest.mark.parametrize("token", ["", "x", "a.b", "\u00e9.\u00e9", "é" * 100])
def test_a_bad_token_is_refused_and_not_kept(client: Client, token: str) -> None:
    answer = sign_in(client, token)
    assert answer.status_code == 422
    assert "set-cookie" not in answer.headers
    assert "isn't one a kitchen here knows" in Read(answer).text


def test_a_token_that_was_revoked_is_dropped(client: Client) -> None:
    with make.session(client.app.state.database) as session:
        row, shown = tokens.make(session, client.member.id, client.clock.at)
        tokens.revoke(session, client.member.id, row.id, client.clock.at)
    headers = {"Cookie": f"canning_kitchen={shown}", "Accept": "text/html"}
    for path in ("/board", "/board/yours"):
        answer = client.get(path, headers=headers, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/board/sign-in")
        assert 'canning_kitchen=""' in answer.headers["set-cookie"]


def test_whoever_is_not_signed_in_is_shown_the_way_in(client: Client) -> None:
    for path in ("/board/yours", "/board/slots", "/board/season"):
        answer = client.get(path, headers={"Accept": "text/html"}, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/board/sign-in")
        assert client.get(path).json()["code"] == "token-needed"  # for a program, as everywhere


def test_signing_out_drops_the_cookie(client: Client) -> None:
    answer = send(client, "/board/sign-out", {}, client.member)
    assert answer.status_code == 303
    assert "max-age=0" in answer.headers["set-cookie"].lower()


FROM_ELSEWHERE = [
    pytest.param({"Sec-Fetch-Site": "cross-site"}, id="another site's page"),
    pytest.param({"Sec-Fetch-Site": "same-site"}, id="a page of a neighbouring host"),
    pytest.param({"Sec-Fetch-Site": "none"}, id="no page at all"),
    pytest.param({"Origin": "http://elsewhere.example"}, id="an older browser, another site"),
    pytest.param({"Origin": "null"}, id="a page without an origin"),
    pytest.param({"Origin": "http://testserver.elsewhere.example"}, id="a host that begins alike"),
    pytest.param({"Sec-Fetch-Site": "cross-site", "Origin": "http://testserver"}, id="two words that differ"),
    pytest.param({}, id="nothing said"),
]


@pytest.mark.parametrize("headers", FROM_ELSEWHERE)
def test_a_form_from_elsewhere_does_nothing(client: Client, headers: dict[str, str]) -> None:
    cookie = {"Cookie": f"canning_kitchen={client.coordinator.token}"}
    for path, form in (
        ("/board/recipes", {"title": "Jam", "lines": "plums"}),
        ("/board/sign-out", {}),
        ("/board/sign-in", {"token": client.member.token}),
    ):
        answer = client.post(path, data=form, headers=cookie | headers, follow_redirects=False)
        assert (answer.status_code, answer.json()["code"]) == (403, "not-from-here"), path
    listed = client.get("/v1/recipes", headers=client.coordinator.headers).json()["items"]
    assert listed == []


def test_an_older_browser_says_the_origin_instead(client: Client) -> None:
    headers = {"Cookie": f"canning_kitchen={client.member.token}", "Origin": "http://testserver"}
    answer = client.post("/board/sign-out", data={}, headers=headers, follow_redirects=False)
    assert answer.status_code == 303


def offer(client: Client, query: str = "what=canner%3Aboiling-water&minutes=60&purpose=Plums"):
    page = see(client, f"/board/slots?{query}", client.member)
    form = next(each for each in page.all("form") if (each.get("action") or "").startswith("/board/bookings"))
    return form.get("action") or "", page.fields(form)


def test_a_time_is_found_booked_once_and_given_back(client: Client) -> None:
    opened(client)
    piece(client)
    path, form = offer(client)
    first, again = (send(client, path, form, client.member) for _ in range(2))  # a hand that presses twice
    assert (first.status_code, again.status_code) == (303, 303)
    assert first.headers["location"] == again.headers["location"]
    (booked,) = client.get("/v1/bookings", headers=client.member.headers).json()["items"]
    assert (booked["purpose"], booked["status"]) == ("Plums", "confirmed")
    assert first.headers["location"] == f"/board/yours#booking-{booked['id']}"

    page = see(client, "/board/yours", client.member)
    article = page.one("article", id=f"booking-{booked['id']}")
    giving = page.one("form", article)
    assert send(client, giving.get("action") or "", {}, client.other).status_code == 404  # not Bo's to give back
    assert send(client, giving.get("action") or "", {}, client.member).status_code == 303
    (booked,) = client.get("/v1/bookings", headers=client.member.headers).json()["items"]
    assert booked["status"] == "cancelled"


def test_a_time_that_is_gone_is_said_on_a_page_with_the_next(client: Client) -> None:
    opened(client)
    piece(client)
    path, form = offer(client)
    assert send(client, path, form, client.other).status_code == 303
    page = Read(send(client, path, form, client.member))
    assert page.status == 409
    # The kitchen opens at eight: the hour from then on is gone.
    assert "Free again on Monday 14 June 2027, 09:00" in page.text
    assert client.get("/v1/bookings", headers=client.member.headers).json()["items"] == []


def test_an_offer_that_was_changed_on_the_way_is_judged_like_any_booking(client: Client) -> None:
    opened(client)
    piece(client, canner_kind="pressure-dial")
    path, form = offer(client, "what=canner%3Apressure-dial&minutes=60")
    assert Read(send(client, path, form, client.other)).status == 403  # Bo has no sign-off
    assert Read(send(client, path, {"booking": "{"}, client.member)).status == 422
    assert Read(send(client, path, {}, client.member)).status == 422


def test_a_recipe_is_checked_kept_and_its_whole_batch_booked(client: Client) -> None:
    opened(client)
    piece(client)
    for kind, more in {"burner": {}, "table": {}, "rack": {"places": 72}}.items():
        for number in (1, 2):
            piece(client, kind=kind, name=f"{kind} {number}", **more)
    form = {
        "title": "Plum jam",
        "lines": "4 1/2 cups crushed plums\n7 1/2 cups sugar\n1 pouch (3 oz) liquid pectin",
        "family": "jam",
        "size": "half-pint",
        "count": "8",
    }
    page = Read(send(client, "/board/check", form, client.member))
    keeping = next(each for each in page.all("form") if (each.get("action") or "").startswith("/board/recipes"))
    kept = send(client, keeping.get("action") or "", page.fields(keeping), client.member)
    assert kept.status_code == 303
    page = see(client, kept.headers["location"], client.member)
    finding = page.all("form", action="/board/slots")[0]
    wanted = page.fields(finding)
    assert (wanted["count"], wanted["size"]) == ("8", "half-pint")
    path, form = offer(client, "&".join(f"{name}={value.replace(':', '%3A')}" for name, value in wanted.items()))
    assert send(client, path, form, client.member).status_code == 303
    (booked,) = client.get("/v1/bookings", headers=client.member.headers).json()["items"]
    assert {claim["step"] for claim in booked["claims"]} == {"prep", "cook", "fill", "process", "rest"}
    assert booked["purpose"] == "Plum jam"


def test_nothing_is_kept_of_a_recipe_that_is_not_read(client: Client) -> None:
    answer = send(client, "/board/recipes", {"title": "Jam"}, client.member)
    assert Read(answer).status == 422
    assert client.get("/v1/recipes", headers=client.member.headers).json()["items"] == []


def test_a_token_that_only_reads_is_offered_nothing_to_write(client: Client) -> None:
    opened(client)
    piece(client)
    path, form = offer(client)
    made = client.post(
        f"/v1/members/{client.member.id}/tokens", json={"scope": "read"}, headers=client.coordinator.headers
    ).json()
    reader = {"Accept": "text/html", "Cookie": f"canning_kitchen={made['token']}"}
    page = Read(client.get("/board/slots?what=canner%3Aboiling-water&minutes=60", headers=reader))
    assert page.status == 200
    assert "Book this time" not in page.text
    refused = client.post(path, data=form, headers={**FROM_HERE, **reader})
    assert refused.status_code == 403


def test_jars_that_did_not_seal_have_their_own_short_day_in_both_lists(client: Client) -> None:
    day = Day(client)
    ok(day.load(8))
    ok(day.out())
    ok(day.seals(7, 1))
    page = see(client, "/board/yours", client.member)
    first, pantry = (
        sorted(words(each) for each in page.all("td", page.section(title), data_is="Best by"))
        for title in ("Eat first", "Your pantry")
    )
    assert len(set(first)) == 2  # of the sealed and of the others
    assert pantry == first
