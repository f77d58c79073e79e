"""The routes that say whether the service lives, can work, and what its problems mean."""

from fastapi import Request
from sqlalchemy.exc import SQLAlchemyError

from service.database.engine import Database
from service.database.guard import guard_present
from service.database.migrating import is_at_head
from service.database.probing import takes_a_write
from service.web.bodies import Answer, example
from service.web.callers import OpenToAll, Unasked
from service.web.problems import CATALOGUE, Problem, problems
from service.web.routing import Routes

router = Routes("", "service")


class Alive(Answer):
    """The service lives, or can work."""

    model_config = example(status="ok")

    status: str


class ProblemPage(Answer):
    """What one kind of problem means."""

    model_config = example(
        code="not-found", status=404, title="Not here", explanation="There is no such thing in this kitchen."
    )

    code: str
    status: int
    title: str
    explanation: str


@router.get("/healthz", dependencies=[Unasked])
async def healthz() -> Alive:
    """Answer as long as the process lives; nothing else is touched."""
    return Alive(status="ok")


@router.get("/readyz", dependencies=[Unasked], responses=problems(503))
def readyz(request: Request) -> Alive:
    """Say whether the database answers, has the right schema and takes a write."""
    database: Database = request.app.state.database
    try:
        with database.reader.connect() as connection:
            if not is_at_head(connection):
                raise Problem("database-unavailable", "The database isn't up to date.")
            if not guard_present(connection):
                raise Problem("database-unavailable", "The database has lost its guard against double bookings.")
    except SQLAlchemyError:
        raise Problem("database-unavailable", "The database doesn't answer.") from None
    if not takes_a_write(database):
        raise Problem("storage-full", "The database doesn't take a write.")
    return Alive(status="ok")


@router.get("/problems/{code}", dependencies=[OpenToAll], responses=problems(404))
def explain_problem(code: str) -> ProblemPage:
    """Explain a problem's code."""
    kind = CATALOGUE.get(code)
    if kind is None:
        raise Problem("not-found", "There is no such problem.")
    return ProblemPage(code=code, status=kind.status, title=kind.title, explanation=kind.explanation)
