"""The command that serves, by itself: it waits for nothing to be loaded that only the other commands need."""

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from typing import Annotated, NoReturn

import typer
import uvicorn
from sqlalchemy.exc import OperationalError

from service.database.engine import open_engine
from service.database.migrating import WrongSchemaError, migrate, require_head
from service.settings import Settings
from service.web.connections import AT_ONCE, Connection, room
from service.web.metrics import FOLDER
from service.web.workers import HANGING_SECONDS, watch_closely

commands = typer.Typer(no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False)

FINISH_SECONDS = 20
SAFE_FOR_WORKERS = (3, 51, 3)
WORKERS_ON_AN_OLD_SQLITE = (
    "SQLite {} can, rarely, damage its file when one process writes while another tidies up (mended in 3.51.3):"
    " use one worker, or PostgreSQL."
)
FEW_FILES = "The system lets this process have so few files open that it keeps {} connections at most."
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(message)s"}, "plain": {"format": "%(levelname)s %(name)s: %(message)s"}},
    "handlers": {
        "lines": {"class": "logging.StreamHandler", "formatter": "line", "stream": "ext://sys.stdout"},
        "errors": {"class": "logging.StreamHandler", "formatter": "plain", "stream": "ext://sys.stderr"},
    },
    "loggers": {
        "canning.requests": {"handlers": ["lines"], "level": "INFO", "propagate": False},
        "canning.errors": {"handlers": ["errors"], "level": "INFO", "propagate": False},
        "uvicorn": {"handlers": ["errors"], "level": "INFO", "propagate": False},
    },
}


@commands.callback()
def canning_kitchen() -> None:
    """A shared canning kitchen's service."""


@commands.command("serve")
def serve(
    host: Annotated[str, typer.Option(help="The address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="The port to listen on.", min=0, max=65535)] = 8000,
    migrating: Annotated[bool, typer.Option("--migrate/--no-migrate", help="Migrate the database first.")] = True,
    workers: Annotated[int, typer.Option(help="Processes that serve.", min=1, max=64)] = 1,
) -> None:
    """Serve the kitchen the settings name, until stopped."""
    settings = Settings()
    if migrating:
        bring_up_to_date(settings)
    _require_head(settings)
    if workers > 1 and settings.database_url.startswith("sqlite") and sqlite3.sqlite_version_info < SAFE_FOR_WORKERS:
        typer.echo(WORKERS_ON_AN_OLD_SQLITE.format(sqlite3.sqlite_version), err=True)
    most = room(settings.open_connections)
    if most < settings.open_connections:
        typer.echo(FEW_FILES.format(most), err=True)
    watch_closely()
    with _counting_together(settings, workers):
        uvicorn.run(
            # beside others, who can answer meanwhile, a worker takes nothing before it is whole
            "service.start:opening" if workers == 1 else "service.start:served",
            factory=True,
            http=partial(Connection, most=most, head_seconds=settings.head_seconds),  # type: ignore[arg-type]
            ws="none",
            backlog=AT_ONCE,
            workers=workers,
            timeout_worker_healthcheck=HANGING_SECONDS,
            host=host,
            port=port,
            log_config=LOGGING,
            access_log=False,
            server_header=False,
            forwarded_allow_ips=settings.trusted_proxies,
            timeout_graceful_shutdown=FINISH_SECONDS,
        )


def bring_up_to_date(settings: Settings, revision: str = "head") -> None:
    """Migrate the database the settings name."""
    database = open_engine(settings.database_url)
    try:
        migrate(database, revision)
    except WrongSchemaError as wrong:
        fail(wrong)
    finally:
        database.close()


def fail(error: Exception) -> NoReturn:
    """Say why, without a traceback."""
    typer.echo(str(error.orig if isinstance(error, OperationalError) else error).strip(), err=True)
    raise typer.Exit(1) from None


def _require_head(settings: Settings) -> None:
    """Say plainly why there is nothing to serve, before any worker starts."""
    database = open_engine(settings.database_url)
    try:
        require_head(database)
    except (WrongSchemaError, OperationalError) as failed:
        fail(failed)
    finally:
        database.close()


@contextmanager
def _counting_together(settings: Settings, workers: int) -> Iterator[None]:
    """Give several workers a folder for what they count, so that any of them can tell the metrics of all."""
    if workers == 1 or settings.metrics_token is None or FOLDER in os.environ:
        yield
        return
    with tempfile.TemporaryDirectory(prefix="canning-metrics-") as folder:
        os.environ[FOLDER] = folder
        yield
