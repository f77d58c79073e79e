"""All of a request's work is done in one thread, which isn't the event loop's."""

import asyncio
from threading import get_ident
from typing import Annotated

import pytest
from fastapi import Depends, FastAPI
from fastapi.testclient import TestClient

from service.web import Routes
from service.web.callers import Unasked


async def here() -> int:
    return get_ident()


async def waits() -> None:
    await asyncio.sleep(0)


def asked(router: Routes, **options: bool) -> TestClient:
    app = FastAPI()
    app.router.routes.extend(router.routes)
    return TestClient(app, **options)


def test_a_route_and_what_it_asks_for_share_a_thread_that_is_not_the_loops():
    router, threads = Routes("", "trying"), {}

    @router.post("/sums", dependencies=[Unasked])
    def add(body: dict[str, int], dependency: Annotated[int, Depends(here)]) -> int:
        threads.update(route=get_ident(), dependency=dependency)
        return sum(body.values())

    @router.get("/loop", dependencies=[Unasked])
    async def stay(dependency: Annotated[int, Depends(here)]) -> int:
        threads.update(loop=get_ident(), beside=dependency)
        return 0

    with asked(router) as client:
        assert client.post("/sums", json={"one": 1, "two": 2}).json() == 3
        assert client.get("/loop").json() == 0
    assert threads["route"] == threads["dependency"]
    assert threads["loop"] == threads["beside"]
    assert threads["route"] != threads["loop"]


def test_what_a_route_asks_for_may_not_want_a_thread_of_its_own():
    router = Routes("", "trying")

    def wants_one() -> None: ...

    @router.get("/never", dependencies=[Unasked])
    def never(_: Annotated[None, Depends(wants_one)]) -> None: ...

    with pytest.raises(TypeError, match="wants_one"):
        asked(router).get("/never")


def test_what_a_route_asks_for_may_not_wait_for_the_loop():
    router = Routes("", "trying")

    @router.get("/never", dependencies=[Unasked])
    def never(_: Annotated[None, Depends(waits)]) -> None: ...

    answer = asked(router, raise_server_exceptions=False).get("/never")
    assert answer.status_code == 500
    with pytest.raises(RuntimeError, match="waited for the event loop"):
        asked(router).get("/never")
