"""Every POST that writes can be repeated: the same key gets the first answer, at once, later, and after a restart."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from fastapi.testclient import TestClient
from sqlalchemy import func
from sqlmodel import Session, col, select

from service.app import create_app
from service.audit.tables import AuditEntry
from service.settings import Settings
from tests.web.asking import ask
from tests.web.everything import LINES, World, writes

POSTS = [name for name in LINES if name.startswith("POST ") and writes(name)]


def acts(client):
    """How many entries the trail has of what people did; what the waiting list then decides is nobody's act."""
    with Session(client.app.state.database.reader) as session:
        return session.exec(select(func.count()).where(col(AuditEntry.member_id).is_not(None))).one()


def test_every_post_that_writes_is_done_once_and_answered_alike(client):
    """Two at once, then once more, then with another body; at last each again from a service that was started anew."""
    world, answered, wrong = World(client), [], []
    for name in POSTS:
        line = LINES[name]
        call, token = line.call(world), world.caller(line).token
        together, before = Barrier(2), acts(client)

        def once(_, call=call, token=token, name=name, together=together):
            together.wait()
            return call.ask(client, "POST", token, idempotency_key=name)

        with ThreadPoolExecutor(2) as pool:
            both = list(pool.map(once, range(2)))
        later = call.ask(client, "POST", token, idempotency_key=name)
        other = call.ask(client, "POST", token, other=True, idempotency_key=name)
        first = next((each for each in both if "idempotency-replayed" not in each.headers), both[0])
        if first.status in {201, 202}:
            place = first.headers.get("location")
            assert place, name
            assert ask(client, "GET", place, world.cora.token).status == 200, (name, place)
        replayed = sorted("idempotency-replayed" in each.headers for each in both)
        expected = [first.status in {200, 201, 202, 303}, replayed == [False, True]]
        expected += [(each.status, each.content) == (first.status, first.content) for each in (*both, later)]
        expected += [each.headers.get("location") == first.headers.get("location") for each in (*both, later)]
        expected += ["idempotency-replayed" in later.headers, (other.status, other.code) == (422, "key-reused")]
        if line.done:  # refused: nothing is kept, and each is judged afresh
            expected = [each.status == line.done for each in (*both, later)]
        else:
            expected.append(acts(client) == before + 1)
            answered.append((name, call, token, first))
        if not all(expected):
            wrong.append((name, expected, [each.content[:200] for each in (*both, later, other)]))
    assert not wrong, "\n".join(map(str, wrong))
    url = client.app.state.database.writer.url.render_as_string(hide_password=False)
    before = acts(client)
    with TestClient(create_app(Settings(database_url=url, limits=False), client.clock)) as again:
        for name, call, token, first in answered:
            after = call.ask(again, "POST", token, idempotency_key=name)
            assert (after.status, after.content) == (first.status, first.content), name
            assert after.headers["idempotency-replayed"] == "true", name
    assert acts(client) == before
    assert len(answered) >= len(POSTS) - 1
