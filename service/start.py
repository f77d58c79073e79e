"""The way in, of the program and of each process that serves.

What is loaded at a start stays. To look all of it over for garbage again and again while it grows takes a sixth of the
start: nothing is looked over until all is there, and never again what is there by then.
"""

import gc
import logging
import sys
from functools import partial
from typing import TYPE_CHECKING

YOUNG = 5_000  # values made before the young are looked over: a batch of recipes makes 700 every few, which took 7 %

if TYPE_CHECKING:
    from fastapi import FastAPI

    from service.database.engine import Database
    from service.settings import Settings
    from service.web.opening import Opening


def run() -> None:
    """Run the command `canning-kitchen` was given; who serves needn't wait for the other commands."""
    gc.disable()
    if sys.argv[1:2] == ["serve"]:
        from service.serving import commands as main
    else:
        from service.cli import main

    gc.enable()
    main()


def served() -> "FastAPI":
    """Make the whole application the environment describes: what each of several processes starts from."""
    gc.disable()
    from service.settings import Settings

    return _whole(Settings())


def opening() -> "Opening":
    """Make the same where one process serves alone: it tells how it is while the whole is loaded."""
    gc.disable()
    from service.database.engine import open_engine
    from service.published.loading import facts, kitchen_figures
    from service.settings import Settings
    from service.web.opening import Opening

    facts()  # a bad row of the published figures stops the start
    kitchen_figures()
    settings = Settings()
    database = open_engine(settings.database_url, settings.connections, settings.answer_seconds)
    return Opening(database, settings.metrics_token, partial(_whole, settings, database))


def _whole(settings: "Settings", database: "Database | None" = None) -> "FastAPI":
    from service.app import create_app

    # No line of the log shows where it was written, which is a third of its cost (Logging HOWTO, "Optimization").
    logging.logThreads = logging.logProcesses = logging.logMultiprocessing = False
    logging._srcfile = None
    app = create_app(settings, database=database)
    gc.freeze()
    gc.set_threshold(YOUNG)
    gc.enable()
    return app
