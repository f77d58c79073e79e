"""The routes that say whether the service lives, can work, and what its problems mean."""

import hmac
from time import monotonic
from typing import Any

from fastapi import Request, Response
from pydantic import SecretStr

from service.database.probing import Failing, Probe
from service.web import metrics
from service.web.bodies import Answer, example
from service.web.callers import OpenToAll, Unasked
from service.web.problems import CATALOGUE, Problem, problems
from service.web.routing import Routes

router = Routes("", "service")

READY_WITHIN_SECONDS = 1.0
STORAGE_FULL_SECONDS = 5.0  # a small write may find room where a member's found none: theirs is believed for so long
FAILURES = {
    Failing.SILENT: ("database-unavailable", "The database doesn't answer within a second."),
    Failing.BEHIND: ("database-unavailable", "The database isn't up to date."),
    Failing.UNGUARDED: ("database-unavailable", "The database has lost its guard against double bookings."),
    Failing.NOT_WRITTEN: ("storage-full", "The database doesn't take a write."),
}


class Exposition(Response):
    """Metrics in the text format of Prometheus, version 0.0.4."""

    media_type = metrics.MEDIA_TYPE


AS_METRICS: dict[int | str, dict[str, Any]] = {
    200: {"content": {Exposition.media_type: {"example": "canning_gate_waiting 0.0\n"}}}
}


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
    probe: Probe = request.app.state.probe
    failing = probe.failing(READY_WITHIN_SECONDS)
    if monotonic() - request.app.state.storage_full_at < STORAGE_FULL_SECONDS:
        failing = failing or Failing.NOT_WRITTEN
    if failing:
        raise Problem(*FAILURES[failing])
    return Alive(status="ok")


@router.get("/metrics", dependencies=[Unasked], response_class=Exposition, responses=AS_METRICS | problems(401, 404))
def get_metrics(request: Request) -> Response:
    """Give the metrics of this service to whoever has their secret; where none is set there are none."""
    secret: SecretStr | None = request.app.state.metrics_token
    if secret is None:
        raise Problem("not-found", "This service gives no metrics.")
    given = request.headers.get("authorization")
    if given is None:
        raise Problem("token-needed", "This takes the secret of the metrics.")
    wanted = f"Bearer {secret.get_secret_value()}"
    if not hmac.compare_digest(given.encode("latin-1"), wanted.encode()):
        raise Problem("token-refused", "That isn't the secret of the metrics.")
    return Exposition(metrics.written())


@router.get("/problems/{code}", dependencies=[OpenToAll], responses=problems(404))
def explain_problem(code: str) -> ProblemPage:
    """Explain a problem's code."""
    kind = CATALOGUE.get(code)
    if kind is None:
        raise Problem("not-found", "There is no such problem.")
    return ProblemPage(code=code, status=kind.status, title=kind.title, explanation=kind.explanation)
