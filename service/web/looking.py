"""How a request reads: who asks, and then what they ask for, on one connection."""

from typing import Annotated

from fastapi import Depends, Request
from sqlalchemy import Connection
from sqlmodel import Session


def looking(request: Request) -> Connection:
    """The connection of this request that only reads; it ends with the request's work."""
    state = request.state
    if state.looking is None or state.looking.closed:
        state.looking = state.work.enter_context(request.app.state.database.look())
    connection: Connection = state.looking
    return connection


def reading_session(request: Request) -> Session:
    """A session on that connection, for what is read as objects; all that it reads is of one state."""
    session: Session = request.state.work.enter_context(Session(looking(request)))
    return session


def look_no_more(request: Request) -> None:
    """Give the connection back, before another is asked for: who holds one and waits for one may wait for ever."""
    if request.state.looking is not None:
        request.state.looking.close()


async def _look(request: Request) -> Connection:
    return looking(request)


Looking = Annotated[Connection, Depends(_look)]
"""For what is read most: rows of a `Prepared` statement, mostly one, without a session around it."""
