"""The command that serves, by itself: it waits for nothing to be loaded that only the other commands need."""

import os
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import partial
from typing import Annotated, Any, NoReturn

import typer
import uvicorn
from pydantic import ValidationError
from sqlalchemy.exc import OperationalError
from typer.core import TyperGroup

from service.database.engine import UnusableUrlError, open_engine
from service.database.migrating import WrongSchemaError, migrate, require_head
from service.settings import Settings
from service.web.connections import AT_ONCE, Connection, room
from service.web.metrics import FOLDER
from service.web.workers import HANGING_SECONDS, watch_closely


class Commands(TyperGroup):
    """Commands that say in a sentence, without a traceback, what of the settings or the database is in their way."""

    def invoke(self, ctx: Any) -> Any:
        """Do one. Exit status 1 where it can't be done."""
        try:
            return super().invoke(ctx)
        except (WrongSchemaError, UnusableUrlError) as failed:
            fail(str(failed))
        except OperationalError as failed:
            fail(str(failed.orig).strip())
        except ValidationError as failed:
            if failed.title != Settings.__name__:
                raise
            fail("\n".join(f"CANNING_{str(each['loc'][0]).upper()}: {each['msg']}." for each in failed.errors()))


commands = typer.Typer(cls=Commands, no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False)

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
    with closing(open_engine(settings.database_url)) as database:
        migrate(database, revision)


def fail(why: str) -> NoReturn:
    """Say why it can't be done, and do no more: exit status 1."""
    typer.echo(why, err=True)
    raise typer.Exit(1)


def _require_head(settings: Settings) -> None:
    """Say plainly why there is nothing to serve, before any worker starts."""
    with closing(open_engine(settings.database_url)) as database:
        require_head(database)


@contextmanager
def _counting_together(settings: Settings, workers: int) -> Iterator[None]:
    """Give several workers a folder for what they count, so that any of them can tell the metrics of all."""
    if workers == 1 or settings.metrics_token is None or FOLDER in os.environ:
        yield
        return
    with tempfile.TemporaryDirectory(prefix="canning-metrics-") as folder:
        os.environ[FOLDER] = folder
        yield
