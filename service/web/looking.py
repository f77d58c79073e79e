"""The one session in which a request reads: who asks, and then what they ask for."""

from fastapi import Request
from sqlmodel import Session


def looking(request: Request) -> Session:
    """The session of this request that only reads; it ends with the request's work."""
    state = request.state
    if state.looking is None:
        state.looking = state.work.enter_context(Session(request.app.state.database.reader))
    session: Session = state.looking
    return session


def look_no_more(request: Request) -> None:
    """Give the connection back, before another is asked for: who holds one and waits for one may wait for ever."""
    if request.state.looking is not None:
        request.state.looking.close()
