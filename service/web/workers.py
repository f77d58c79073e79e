"""A process that serves beside others, as uvicorn's supervisor keeps it."""

from uvicorn.supervisors import multiprocess

HANGING_SECONDS = 120  # how long a worker may not answer its supervisor; a busy machine, or one starting, isn't hanging


class Worker(multiprocess.Process):
    """A worker whose death is seen at once, also by a supervisor that waits for its answer.

    uvicorn keeps the worker's end of their pipe open in the supervisor as well: a pipe to the dead then never ends,
    and while the supervisor waits for one of them it replaces none.
    """

    def start(self) -> None:
        """Start it, and leave its end of the pipe to it alone."""
        super().start()
        self.child_conn.close()


def watch_closely() -> None:
    """Have uvicorn's supervisor start workers of this kind."""
    multiprocess.Process = Worker  # type: ignore[misc]
