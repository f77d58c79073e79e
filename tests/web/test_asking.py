"""What a route is given and answers is what FastAPI's own handler gives and answers."""

from datetime import date
from typing import Annotated

import pytest
from fastapi import APIRouter, BackgroundTasks, Depends, FastAPI, Header, Path, Query, Request, Response
from fastapi.responses import HTMLResponse
from fastapi.testclient import TestClient
from pydantic import BaseModel, Field

from service.web import Routes
from service.web.asking import Wants
from service.web.callers import Unasked

Asked = list[str]


class Jam(BaseModel):
    fruit: str
    jars: int = Field(default=1, ge=1, serialization_alias="glasses")


class Row:
    """What a store returns: no model, but with its attributes."""

    def __init__(self, fruit: str, jars: int) -> None:
        self.fruit, self.jars = fruit, jars


class Paging(BaseModel):
    limit: int = Field(default=50, le=100)
    cursor: str | None = None


def asked(router: APIRouter, told: Asked) -> TestClient:
    """A service with one route for each thing that a route may ask for; `told` says what was asked, in order."""

    async def clock(request: Request) -> str:
        told.append("clock")
        return request.headers.get("x-clock", "noon")

    async def page(response: Response, paging: Annotated[Paging, Query()], at: Annotated[str, Depends(clock)]) -> int:
        told.append("page")
        response.headers["X-Page"] = at
        return paging.limit

    async def seal(at: Annotated[str, Depends(clock)], x_seal: Annotated[int, Header(ge=1)] = 1) -> int:
        told.append("seal")
        return x_seal

    Clock, Page, Seal = Annotated[str, Depends(clock)], Annotated[int, Depends(page)], Annotated[int, Depends(seal)]

    @router.get("/jams/{number}", dependencies=[Unasked])
    def jam(number: Annotated[int, Path(ge=1)], page: Page, seal: Seal, at: Clock) -> Jam:
        return Jam(fruit=f"{page} {seal} {at}", jars=number)

    @router.get("/rows", dependencies=[Unasked])
    def rows() -> list[Jam]:
        return [Row("plum", 2), Row("pear", 3)]  # type: ignore[list-item]

    @router.get("/found", dependencies=[Unasked])
    def found(
        page: Page,
        day: date,
        jars: Annotated[int, Query(ge=1)] = 1,
        fruit: Annotated[str | None, Query(alias="of", max_length=5)] = None,
        kinds: Annotated[tuple[str, ...], Query()] = ("jam",),
    ) -> dict[str, object]:
        return {"page": page, "day": day, "jars": jars, "fruit": fruit, "kinds": kinds}

    @router.post("/jams", status_code=201, dependencies=[Unasked])
    def cook(new: Jam, response: Response, seal: Seal) -> Jam:
        response.headers["ETag"] = '"1"'
        if new.jars > 9:
            response.status_code = 202
        return new

    @router.delete("/jams", status_code=204, dependencies=[Unasked])
    def eat(after: BackgroundTasks) -> None:
        after.add_task(told.append, "afterwards")

    @router.get("/later", dependencies=[Unasked])
    def later(after: BackgroundTasks, response: Response) -> Response:
        response.headers["X-Lost"] = "an answer of its own has headers of its own"
        after.add_task(told.append, "afterwards")
        return Response("later", 203, media_type="text/plain")

    @router.get("/page", response_class=HTMLResponse, dependencies=[Unasked])
    def shown() -> str:
        return "<p>ü</p>"

    @router.get("/loop", dependencies=[Unasked])
    async def stay(at: Clock) -> Jam:
        return Jam(fruit=at)

    app = FastAPI()
    app.router.routes.extend(router.routes)
    return TestClient(app)


@pytest.mark.parametrize(
    ("method", "path", "sent"),
    [
        ("GET", "/jams/3?limit=7", {"headers": {"X-Clock": "ten"}}),
        ("GET", "/jams/3", {}),
        ("GET", "/jams/0", {}),
        ("GET", "/jams/x?limit=1000", {"headers": {"X-Seal": "0"}}),
        ("GET", "/found?day=2027-08-14", {}),
        ("GET", "/found?day=2027-08-14&jars=2&of=plum&kinds=jelly", {}),
        ("GET", "/found?limit=7&day=2027-08-14&of=&kinds=", {}),
        ("GET", "/found?day=today&jars=0&of=apricot", {}),
        ("GET", "/found?jars=0", {}),
        ("GET", "/rows", {}),
        ("POST", "/jams", {"json": {"fruit": "plum"}}),
        ("POST", "/jams", {"json": {"fruit": "plum", "jars": 10}}),
        ("POST", "/jams", {"json": {"jars": 0}, "headers": {"X-Seal": "none"}}),
        ("POST", "/jams", {"json": []}),
        ("POST", "/jams", {"json": None, "headers": {"Content-Type": "application/json"}}),
        ("POST", "/jams", {}),
        ("DELETE", "/jams", {}),
        ("GET", "/later", {}),
        ("GET", "/page", {}),
        ("GET", "/loop", {}),
    ],
)
def test_a_route_answers_as_fastapi_would_have_it(method, path, sent):
    ours, theirs = [], []
    answers = [
        asked(router, told).request(method, path, **sent)
        for router, told in ((Routes("", "trying"), ours), (APIRouter(), theirs))
    ]
    assert answers[0].status_code == answers[1].status_code
    assert answers[0].content == answers[1].content
    assert answers[0].headers.raw == answers[1].headers.raw
    assert ours == theirs


def test_what_nobody_here_asks_for_is_refused():
    def reads_a_cookie(cookie: Annotated[str, Header()]) -> None: ...

    router = APIRouter()
    router.get("/")(reads_a_cookie)
    (route,) = router.routes
    route.dependant.cookie_params = route.dependant.header_params
    with pytest.raises(TypeError, match="reads_a_cookie"):
        Wants(route.dependant)
