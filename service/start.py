"""The way in, of the program and of each process that serves.

What is loaded at a start stays. To look all of it over for garbage again and again while it grows takes a sixth of the
start: nothing is looked over until all is there, and never again what is there by then.
"""

import gc
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fastapi import FastAPI


def run() -> None:
    """Run the command `canning-kitchen` was given."""
    gc.disable()
    from service.cli import main

    gc.enable()
    main()


def served() -> "FastAPI":
    """Make the application the environment describes: what each process that serves starts from."""
    gc.disable()
    from service.app import create_app
    from service.settings import Settings

    app = create_app(Settings())
    gc.freeze()
    gc.enable()
    return app
