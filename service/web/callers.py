"""Who is asking: the access each route states, and the allowance each caller has."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from ipaddress import ip_address, ip_network
from typing import Annotated, Any, TypeVar
from uuid import UUID

from fastapi import Depends, Request, params
from fastapi.routing import APIRoute
from sqlalchemy import Connection

from service.core.roles import Role, Scope
from service.web.looking import looking
from service.web.problems import AUTHENTICATE, Problem


@dataclass(frozen=True, slots=True)
class Kitchen:
    """The kitchen a caller belongs to, as far as every route may need it."""

    id: UUID
    altitude_ft: int
    time_zone: str
    best_by_months: int


@dataclass(frozen=True, slots=True)
class Caller:
    """The member a token speaks for."""

    id: UUID
    name: str
    role: Role
    kitchen: Kitchen
    token_id: UUID
    scope: Scope = Scope.EVERYTHING

    @property
    def kitchen_id(self) -> UUID:
        """The id of the caller's kitchen."""
        return self.kitchen.id

    @property
    def is_coordinator(self) -> bool:
        """Whether the caller decides for the whole kitchen."""
        return self.role is Role.COORDINATOR


def moment(request: Request) -> datetime:
    """The time of a request, to the second, in UTC: the same whoever asks."""
    state = request.state
    if not hasattr(state, "moment"):
        state.moment = request.app.state.clock().replace(microsecond=0)
    known: datetime = state.moment
    return known


async def now(request: Request) -> datetime:
    """The time of this request."""
    return moment(request)


Now = Annotated[datetime, Depends(now)]


def known_caller(request: Request) -> Caller | None:
    """The member whose token came along, `None` without one, refused with a bad one."""
    headers = request.headers.getlist("authorization")
    if not headers:
        return None
    scheme, _, token = headers[0].partition(" ")
    recognise: Callable[[str, datetime, Connection], Caller | None] = request.app.state.recognise
    good = len(headers) == 1 and scheme.lower() == "bearer"
    caller = recognise(token, moment(request), looking(request)) if good else None
    if caller is None:
        spend(request, None, 1)
        raise Problem("token-refused", "The token isn't one this kitchen knows, or no longer.")
    request.state.caller = caller
    return caller


def spend(request: Request, caller: Caller | None, cost: int) -> None:
    """Take from the allowance of a token, or of an address where there is none."""
    who = str(caller.token_id) if caller else f"address {_address(request.client.host if request.client else '')}"
    told = request.app.state.allowances.spend(who, cost)
    request.state.allowance_headers = told.headers
    if told.wait_seconds:
        raise Problem(
            "too-many-requests", "That was too much at once.", headers={"Retry-After": str(told.wait_seconds)}
        )


@lru_cache(maxsize=1024)
def _address(host: str) -> str:
    """An address as allowances know it: whoever has one of IPv6 has the 2**64 beside it."""
    try:
        address = ip_address(host)
    except ValueError:
        return host
    return str(ip_network((address, 64), strict=False)) if address.version == 6 else host


ACCESS = "__access__"
_ALSO_FOR = "__also_for__"
_Endpoint = TypeVar("_Endpoint", bound=Callable[..., Any])


def also_for(*scopes: Scope) -> Callable[[_Endpoint], _Endpoint]:
    """Open a route to tokens of narrower scopes: stands below `@router.get(…)`."""

    def mark(endpoint: _Endpoint) -> _Endpoint:
        setattr(endpoint, _ALSO_FOR, frozenset(scopes))
        return endpoint

    return mark


def scopes_of(route: APIRoute) -> frozenset[Scope]:
    """The scopes of which a token needs one here: to read is enough for a GET, everything for the rest."""
    usual = {Scope.EVERYTHING, Scope.READ} if "GET" in (route.methods or ()) else {Scope.EVERYTHING}
    return frozenset(usual | getattr(route.endpoint, _ALSO_FOR, frozenset()))


def _states(access: str) -> Callable[[Any], Any]:
    def mark(dependency: Any) -> Any:
        setattr(dependency, ACCESS, access)
        return dependency

    return mark


@_states("anyone")
async def anyone(request: Request) -> Caller | None:
    """Let anybody in; a token that is sent has to be good all the same."""
    caller = known_caller(request)
    spend(request, caller, 1)
    return caller


@_states("member")
async def member(request: Request) -> Caller:
    """Let any member of any kitchen in; ownership is part of the query."""
    return _let_in(request)


def _let_in(request: Request) -> Caller:
    """Let a member in, once for each request: its allowance pays for it once, however many ask who is there."""
    state = request.state
    if not hasattr(state, "let_in"):
        state.let_in = _a_member(request)
    caller: Caller = state.let_in
    return caller


def _a_member(request: Request) -> Caller:
    caller = known_caller(request)
    if caller is None:
        spend(request, None, 1)
        raise Problem("token-needed", "This takes a member's token.")
    spend(request, caller, 1)
    wanted = scopes_of(request.scope["route"])
    if caller.scope not in wanted:
        named = " ".join(scope for scope in Scope if scope in wanted)
        challenge = f'{AUTHENTICATE}, error="insufficient_scope", scope="{named}"'  # RFC 6750, section 3.1
        raise Problem("scope-needed", "The token isn't made for this.", headers={"WWW-Authenticate": challenge})
    return caller


@_states("trainer")
async def trainer(request: Request) -> Caller:
    """Let trainers and coordinators in."""
    caller = _let_in(request)
    if caller.role is Role.MEMBER:
        raise Problem("role-needed", "This is for trainers and coordinators.")
    return caller


@_states("coordinator")
async def coordinator(request: Request) -> Caller:
    """Let coordinators in."""
    caller = _let_in(request)
    if not caller.is_coordinator:
        raise Problem("role-needed", "This is for coordinators.")
    return caller


@_states("anyone")
async def unasked() -> None:
    """Let anybody in without a look at who it is, nor at the database."""


OptionalMember = Annotated[Caller | None, Depends(anyone)]
Member = Annotated[Caller, Depends(member)]
Trainer = Annotated[Caller, Depends(trainer)]
Coordinator = Annotated[Caller, Depends(coordinator)]
OpenToAll = Depends(anyone)
"""For a route that doesn't ask who is there: `dependencies=[OpenToAll]`."""
Unasked = Depends(unasked)
"""For the few routes that have to answer whatever else hangs."""


async def cost_more(request: Request) -> Callable[[int], None]:
    """A way to say that one request was worth several."""

    def more(cost: int) -> None:
        spend(request, getattr(request.state, "caller", None), cost)

    return more


CostMore = Annotated[Callable[[int], None], Depends(cost_more)]


def says_who_may_come(endpoint: Callable[..., Any], asks: Iterable[params.Depends] = ()) -> bool:
    """Whether a route states its access, in its signature or beside it; cheap enough for every route at every start."""
    metadata = (found for hint in endpoint.__annotations__.values() for found in getattr(hint, "__metadata__", ()))
    depends = [*asks, *(found for found in metadata if isinstance(found, params.Depends))]
    asked = [each.dependency for each in depends if each.dependency is not None]
    return any(hasattr(each, ACCESS) or says_who_may_come(each) for each in asked)


def access_of(route: APIRoute) -> str | None:
    """The strictest access a route states, `None` if it states none."""
    order = ["anyone", "member", "trainer", "coordinator"]
    stated: list[str] = []
    waiting = [route.dependant]
    while waiting:
        dependant = waiting.pop()
        stated += [getattr(dependant.call, ACCESS)] if hasattr(dependant.call, ACCESS) else []
        waiting += dependant.dependencies
    return max(stated, key=order.index, default=None)
