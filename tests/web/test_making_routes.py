"""A route knows its way from the start; the rest of it is made once, when it is first asked for."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from fastapi import Depends

from service.web.callers import Member, OpenToAll, cost_more
from service.web.routing import KitchenRoute, Routes

AT_ONCE = 8


async def greet(name: str) -> dict[str, str]:
    return {"hello": name}


def made_by(access: list[Any]) -> KitchenRoute:
    router = Routes("/v1/greetings", "greetings")
    router.get("/{name}", dependencies=access)(greet)
    (route,) = router.routes
    assert isinstance(route, KitchenRoute)
    return route


def test_the_way_is_known_before_the_rest_is_made() -> None:
    route = made_by([OpenToAll])
    assert route.path_regex.match("/v1/greetings/ada")
    assert route.methods == {"GET"}
    assert "dependant" not in vars(route)
    assert [field.name for field in route.dependant.path_params] == ["name"]
    assert route.name == "greet"


def test_whoever_asks_meanwhile_gets_the_same() -> None:
    for _ in range(20):
        route, together = made_by([OpenToAll]), Barrier(AT_ONCE)

        def asked(_number: int, route: KitchenRoute = route, together: Barrier = together) -> tuple[int, int]:
            together.wait()
            return id(route.dependant), id(route.app)

        with ThreadPoolExecutor(AT_ONCE) as threads:
            assert len(set(threads.map(asked, range(AT_ONCE)))) == 1


def test_a_route_says_who_may_use_it_or_there_is_no_service() -> None:
    async def for_members(caller: Member) -> None:
        """Known by its signature."""

    Routes("/v1/greetings", "greetings").get("/members")(for_members)
    with pytest.raises(RuntimeError, match="who may use it"):
        made_by([])
    with pytest.raises(RuntimeError, match="who may use it"):
        made_by([Depends(cost_more)])
