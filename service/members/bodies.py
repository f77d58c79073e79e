"""What is sent and answered about kitchens, members, tokens, sign-offs and notices."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated

from pydantic import Field

from service.core.roles import Role, Scope
from service.members import tables
from service.members.tables import Skill
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Day, Flag, Id, Name, Timestamp, Whole

A_MEMBER = "0f9c2c1e-5f0b-4a2e-9b57-3d7f6f1f2a10"
A_TOKENS_ID = "5a3f7c58-7a0d-4b7e-8a9c-0d6f2b9c4e21"
A_TOKEN = {
    "id": A_TOKENS_ID,
    "scope": "board",
    "made_at": "2027-05-01T09:00:00Z",
    "expires_at": None,
    "revoked_at": None,
    "used_at": "2027-08-13T09:00:00Z",
}
A_NOTICE = {
    "id": "f3a1c1de-31a4-4c8f-8d5e-9d5fd2a9c2b7",
    "booking_id": "b1d9a0c4-6a3e-4f0b-8f55-0c1c2f7a9e10",
    "lot_code": None,
    "waiting_id": None,
    "message": "Your booking was displaced. Blue kettle is out of service: the gauge reads high.",
    "told_at": "2027-08-13T09:00:00Z",
}

AltitudeFt = Annotated[Whole, Field(ge=-1500, le=15000)]
BestByMonths = Annotated[Whole, Field(ge=12, le=18)]


class KitchenChange(Body):
    """What to change about the kitchen; what isn't sent stays."""

    model_config = example(best_by_months=18)

    name: Name | None = None
    altitude_ft: AltitudeFt | None = None
    "feet above sea level; lies behind every process the kitchen is given"
    time_zone: Annotated[str, Field(strict=True, min_length=1, max_length=64)] | None = None
    "a name of the IANA time zone database"
    best_by_months: BestByMonths | None = None


class KitchenAnswer(Answer):
    """The kitchen a caller belongs to."""

    model_config = example(
        id="d0b2a1f0-22a5-4c68-9a0e-5a0a3b9f7c11",
        name="Hall kitchen",
        altitude_ft=4200,
        time_zone="America/Denver",
        best_by_months=12,
    )

    id: Id
    name: str
    altitude_ft: int
    time_zone: str
    best_by_months: int


class NewMember(Body):
    """Somebody to take into the kitchen."""

    model_config = example(name="Ada", role="member")

    name: Name
    role: Role = Role.MEMBER


class SignOffAnswer(Answer):
    """What somebody may do alone, and until when."""

    model_config = example(skill="pressure-canning", expires_on="2028-06-30")

    skill: Skill
    expires_on: date


class MemberAnswer(Answer):
    """A member of the kitchen."""

    model_config = example(id=A_MEMBER, name="Ada", role="member")

    id: Id
    name: str
    role: Role


class MeAnswer(MemberAnswer):
    """The caller, with the kitchen and every sign-off."""

    model_config = example(
        id=A_MEMBER,
        name="Ada",
        role="member",
        kitchen={
            "id": "d0b2a1f0-22a5-4c68-9a0e-5a0a3b9f7c11",
            "name": "Hall kitchen",
            "altitude_ft": 4200,
            "time_zone": "America/Denver",
            "best_by_months": 12,
        },
        sign_offs=[{"skill": "pressure-canning", "expires_on": "2028-06-30"}],
    )

    kitchen: KitchenAnswer
    sign_offs: tuple[SignOffAnswer, ...]

    @classmethod
    def of(cls, member: tables.Member, kitchen: tables.Kitchen, sign_offs: Iterable[tables.SignOff]) -> "MeAnswer":
        """Put the rows together."""
        return cls(
            id=member.id,
            name=member.name,
            role=member.role,
            kitchen=KitchenAnswer.model_validate(kitchen),
            sign_offs=tuple(SignOffAnswer.model_validate(row) for row in sign_offs),
        )


class MemberList(Listed[MemberAnswer]):
    """A page of members, by name."""

    model_config = example(items=[{"id": A_MEMBER, "name": "Ada", "role": "member"}], next_cursor=None)


class NewToken(Body):
    """A token to make; without an end it is good until it is revoked."""

    model_config = example(expires_at="2028-01-01T00:00:00Z", scope="board")

    expires_at: Timestamp | None = None
    scope: Scope = Scope.EVERYTHING
    """`read`: to look at what the member may see; `board`: only at equipment, hours, closures, bookings and a day's
    timetable; `instruments`: only to send and read heat logs and to send pH readings"""


class TokenAnswer(Answer):
    """A new token, shown this once."""

    model_config = example(id=A_TOKENS_ID, token=f"{A_TOKENS_ID}.hN3…", expires_at=None, scope="board")

    id: Id
    token: str
    expires_at: Timestamp | None
    scope: Scope


class TokenItem(Answer):
    """What is known of a token; its secret isn't."""

    model_config = example(**A_TOKEN)

    id: Id
    scope: Scope
    made_at: Timestamp
    expires_at: Timestamp | None
    revoked_at: Timestamp | None
    used_at: Timestamp | None
    "to the hour"


class TokenList(Listed[TokenItem]):
    """A page of tokens, newest first."""

    model_config = example(items=[A_TOKEN], next_cursor=None)


class Revocation(Answer):
    """What became of a token."""

    model_config = example(id=A_TOKENS_ID, revoked=True)

    id: Id
    revoked: Flag


class NewSignOff(Body):
    """A trainer's word that a member may do something alone."""

    model_config = example(skill="pressure-canning", expires_on="2028-06-30")

    skill: Skill
    expires_on: Day
    "the last day it holds"


class NoticeAnswer(Answer):
    """What a member was told, about a booking, a lot or a place on the waiting list."""

    model_config = example(**A_NOTICE)

    id: Id
    booking_id: Id | None
    lot_code: str | None
    waiting_id: Id | None
    message: str
    told_at: Timestamp


class NoticeList(Listed[NoticeAnswer]):
    """A page of notices, newest first."""

    model_config = example(items=[A_NOTICE], next_cursor=None)
