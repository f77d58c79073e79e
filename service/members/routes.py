"""The routes of a kitchen and its members."""

from zoneinfo import available_timezones

from fastapi import Response

from service.core.roles import Scope
from service.members import bodies, store, tokens
from service.web import (
    UNCHANGED,
    Coordinator,
    IfMatch,
    Member,
    Now,
    Page,
    Problem,
    Reading,
    Routes,
    Trainer,
    Writing,
    also_for,
    problems,
    stale,
    tag,
)
from service.web.types import Id, Timestamp

router = Routes("/v1", "members")


@router.get("/kitchen", responses=UNCHANGED | problems(403))
def get_kitchen(caller: Coordinator, session: Reading, response: Response) -> bodies.KitchenAnswer:
    """Read the kitchen's settings."""
    kitchen = store.kitchen(session, caller.kitchen_id)
    tag(response, kitchen.version)
    return bodies.KitchenAnswer.model_validate(kitchen)


@router.patch("/kitchen", responses=problems(403, 412, 428))
def change_kitchen(
    change: bodies.KitchenChange, caller: Coordinator, version: IfMatch, session: Writing, response: Response
) -> bodies.KitchenAnswer:
    """Change the kitchen's settings."""
    if change.time_zone is not None and change.time_zone not in available_timezones():
        raise Problem("unknown-time-zone", "The time zone database has no zone of that name.")
    values = {name: value for name, value in change.model_dump().items() if value is not None}
    kitchen = store.change_kitchen(session, caller.kitchen_id, version, values)
    if kitchen is None:
        raise stale()
    tag(response, kitchen.version)
    return bodies.KitchenAnswer.model_validate(kitchen)


@router.get("/members", responses=problems(403))
def list_members(caller: Coordinator, session: Reading, page: Page) -> bodies.MemberList:
    """List the kitchen's members by name."""
    rows = store.members(session, caller.kitchen_id, page.limit, page.after(str, Id))
    items, next_cursor = page.page(rows, place=lambda row: (row.name, row.id))
    return bodies.MemberList(
        items=tuple(bodies.MemberAnswer.model_validate(row) for row in items), next_cursor=next_cursor
    )


@router.post("/members", status_code=201, responses=problems(403))
def add_member(new: bodies.NewMember, caller: Coordinator, session: Writing, response: Response) -> bodies.MemberAnswer:
    """Take somebody into the kitchen."""
    member = store.add_member(session, caller.kitchen_id, new.name, new.role)
    response.headers["Location"] = f"/v1/members/{member.id}"
    return bodies.MemberAnswer.model_validate(member)


@router.get("/members/me")
def get_me(caller: Member, session: Reading) -> bodies.MeAnswer:
    """Read who the token speaks for."""
    return _whole(session, caller.kitchen_id, caller.id)


@router.get("/members/{member_id}", responses=problems(403, 404))
def get_member(member_id: Id, caller: Trainer, session: Reading) -> bodies.MeAnswer:
    """Read one member with every sign-off."""
    return _whole(session, caller.kitchen_id, member_id)


@router.post("/members/{member_id}/tokens", status_code=201, responses=problems(403, 404))
def make_token(
    member_id: Id, new: bodies.NewToken, caller: Coordinator, session: Writing, now: Now, response: Response
) -> bodies.TokenAnswer:
    """Make a token for a member; it is shown this once."""
    member = store.member(session, caller.kitchen_id, member_id)
    if member is None:
        raise Problem.not_found()
    if new.expires_at is not None and new.expires_at <= now:
        raise Problem("not-possible", "A token ends in the future.")
    return _shown(response, f"{member.id}", *tokens.make(session, member.id, now, new.expires_at, new.scope))


@router.post("/members/me/tokens/rotation", status_code=201)
@also_for(*Scope)
def rotate_token(caller: Member, session: Writing, now: Now, response: Response) -> bodies.TokenAnswer:
    """Change the token that is sent for a new one of the same scope and end; the old one is good for 10 minutes yet."""
    return _shown(response, "me", *tokens.rotate(session, caller.token_id, now))


@router.get("/members/me/tokens")
def list_own_tokens(caller: Member, session: Reading, page: Page) -> bodies.TokenList:
    """List one's own tokens, those that ended too, the newest first."""
    return _listed(session, caller.id, page)


@router.post("/members/me/tokens/{token_id}/revocation", responses=problems(404))
def revoke_own_token(token_id: Id, caller: Member, session: Writing, now: Now) -> bodies.Revocation:
    """End one of one's own tokens at once; ended with itself, it isn't good for a repeat either."""
    if not tokens.revoke(session, caller.id, token_id, now):
        raise Problem.not_found()
    return bodies.Revocation(id=token_id, revoked=True)


@router.get("/members/{member_id}/tokens", responses=problems(403, 404))
def list_tokens(member_id: Id, caller: Coordinator, session: Reading, page: Page) -> bodies.TokenList:
    """List a member's tokens, those that ended too, the newest first."""
    member = store.member(session, caller.kitchen_id, member_id)
    if member is None:
        raise Problem.not_found()
    return _listed(session, member.id, page)


@router.post("/members/{member_id}/tokens/{token_id}/revocation", responses=problems(403, 404))
def revoke_token(member_id: Id, token_id: Id, caller: Coordinator, session: Writing, now: Now) -> bodies.Revocation:
    """End a token at once."""
    member = store.member(session, caller.kitchen_id, member_id)
    if member is None or not tokens.revoke(session, member.id, token_id, now):
        raise Problem.not_found()
    return bodies.Revocation(id=token_id, revoked=True)


@router.post("/members/{member_id}/sign-offs", status_code=201, responses=problems(403, 404))
def give_sign_off(
    member_id: Id, new: bodies.NewSignOff, caller: Trainer, session: Writing, now: Now, response: Response
) -> bodies.SignOffAnswer:
    """Sign a member off for something, until a day."""
    member = store.member(session, caller.kitchen_id, member_id)
    if member is None:
        raise Problem.not_found()
    response.headers["Location"] = f"/v1/members/{member.id}"
    return bodies.SignOffAnswer.model_validate(
        store.sign_off(session, member.id, new.skill, new.expires_on, caller.id, now)
    )


@router.get("/notices")
def list_notices(caller: Member, session: Reading, page: Page) -> bodies.NoticeList:
    """List what one was told about one's bookings and lots, newest first."""
    rows = store.notices(session, caller.id, page.after(Timestamp, Id), page.limit)
    items, next_cursor = page.page(rows, place=lambda row: (row.told_at, row.id))
    return bodies.NoticeList(
        items=tuple(bodies.NoticeAnswer.model_validate(row) for row in items), next_cursor=next_cursor
    )


def _listed(session: Reading, member_id: Id, page: Page) -> bodies.TokenList:
    rows = tokens.of_member(session, member_id, page.after(Timestamp, Id), page.limit)
    items, next_cursor = page.page(rows, place=lambda row: (row.made_at, row.id))
    return bodies.TokenList(items=tuple(bodies.TokenItem.model_validate(row) for row in items), next_cursor=next_cursor)


def _shown(response: Response, whose: str, token: tokens.Token, shown: str) -> bodies.TokenAnswer:
    response.headers["Location"] = f"/v1/members/{whose}/tokens"
    response.headers["Cache-Control"] = "no-store"
    return bodies.TokenAnswer(id=token.id, token=shown, expires_at=token.expires_at, scope=token.scope)


def _whole(session: Reading, kitchen_id: Id, member_id: Id) -> bodies.MeAnswer:
    member = store.member(session, kitchen_id, member_id)
    if member is None:
        raise Problem.not_found()
    return bodies.MeAnswer.of(member, store.kitchen(session, kitchen_id), store.sign_offs(session, member_id))
