"""The service as one application: every feature's routes behind the same gate, with the same manners."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from functools import cache, partial
from math import inf

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from sqlalchemy import select
from sqlalchemy.exc import SQLAlchemyError
from starlette.exceptions import HTTPException
from starlette.middleware.exceptions import ExceptionMiddleware

from service.audit import routes as audit
from service.audit import store as trail
from service.batches import routes as batches
from service.board import routes as board
from service.board.season import routes as season
from service.bookings import routes as bookings
from service.bookings.fair_use import routes as fair_use
from service.bookings.waiting import offering
from service.bookings.waiting import routes as waiting
from service.bookings.waiting import store as waiting_list
from service.calendars import routes as calendars
from service.checks import routes as checks
from service.database.engine import Database, open_engine
from service.database.migrating import require_head
from service.database.prepared import Prepared
from service.database.probing import Probe
from service.departures import routes as departures
from service.equipment import routes as equipment
from service.harvests import routes as harvests
from service.members import routes as members
from service.members import store, tokens
from service.pantry import routes as pantry
from service.pantry.lots import routes as lots
from service.plans import routes as plans
from service.plans.planner import Planner
from service.prints import routes as prints
from service.published.loading import facts, kitchen_figures
from service.recipes import routes as recipes
from service.records import routes as records
from service.reference import routes as reference
from service.settings import Settings
from service.web import health, manual
from service.web import store as answers
from service.web.allowances import Allowances, NoLimits
from service.web.arrivals import Arrivals
from service.web.browsers import for_people
from service.web.contract import contract
from service.web.envelope import Envelope
from service.web.gate import Gate
from service.web.problems import answer_database, answer_invalid, answer_problem
from service.web.routing import Directory
from service.web.sessions import RepeatedError, answer_repeated
from service.web.store import signing_key

ROUTERS = [
    health.router,
    manual.router,
    members.router,
    audit.router,
    equipment.router,
    bookings.router,
    plans.router,
    fair_use.router,
    waiting.router,
    batches.router,
    batches.holds,
    reference.router,
    reference.pages,
    checks.router,
    recipes.router,
    pantry.router,
    lots.router,
    records.router,
    departures.router,
    harvests.router,
    prints.router,
    prints.pages,
    prints.browsed,
    calendars.router,
    calendars.pages,
    season.router,
    board.router,
]


def now() -> datetime:
    """The time."""
    return datetime.now(UTC)


def create_app(settings: Settings, clock: Callable[[], datetime] = now, database: Database | None = None) -> FastAPI:
    """Make the application these settings describe; it starts only on a database that is at head."""
    facts()  # a bad row of the published figures stops the start
    kitchen_figures()
    database = database or open_engine(settings.database_url, settings.connections, settings.answer_seconds)
    probe = Probe(database)

    planner = Planner(database, clock)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        require_head(database)
        app.state.cursor_key()
        planner.start()
        yield
        planner.stop()
        probe.close()
        database.close()

    app = FastAPI(
        title="Canning kitchen",
        version="1",
        description="Recipe checks, bookings, batches and jars for shared canning kitchens.",
        lifespan=lifespan,
        redirect_slashes=False,
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        telemetry={"tracing": False, "metrics": False, "logs": False},
    )
    app.state.database = database
    app.state.probe = probe
    app.state.storage_full_at = -inf
    app.state.metrics_token = settings.metrics_token
    app.state.clock = clock
    app.state.planner = planner
    app.state.public_url = settings.public_url
    app.state.recognise = partial(tokens.recognise, database)
    app.state.asked_first = Prepared(
        select(
            tokens.still_speaks,
            answers.was_answered,
            waiting_list.anybody_overdue,
            trail.last_number,
            trail.last_sha256,
        )
    )
    app.state.cursor_key = cache(partial(signing_key, database, "cursors"))
    app.state.lock_kitchen = store.lock_kitchen
    app.state.settle = offering.settle
    app.state.entry = trail.entry
    app.state.allowances = Allowances(settings.requests_per_minute) if settings.limits else NoLimits()
    for router in ROUTERS:
        app.router.routes.extend(router.routes)
    app.openapi = partial(contract, app)  # type: ignore[method-assign]
    app.state.contract = manual.written_once(app.openapi)
    app.add_exception_handler(HTTPException, for_people(answer_problem))
    app.add_exception_handler(RequestValidationError, for_people(answer_invalid))
    app.add_exception_handler(SQLAlchemyError, for_people(answer_database))
    app.add_exception_handler(RepeatedError, answer_repeated)
    # FastAPI's own stack has four more layers, which do for a request what these do already, or nothing.
    answering = ExceptionMiddleware(Directory(app.router), app.exception_handlers)
    gate = Gate(answering, settings.connections, settings.waiting, settings.wait_seconds)
    app.middleware_stack = Envelope(Arrivals(gate, app.routes, settings.body_seconds))
    return app
