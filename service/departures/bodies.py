"""What is sent and answered when a member leaves."""

from service.departures import store
from service.members.bodies import A_MEMBER
from service.web.bodies import Answer, Body, example
from service.web.types import Id, Timestamp


class NewDeparture(Body):
    """Who gets the jars of a member who leaves; nobody: they are taken along."""

    model_config = example(jars_to=A_MEMBER)

    jars_to: Id | None = None


class DepartureAnswer(Answer):
    """What a member left behind. Tokens are ended; what they made and moved stays in the books under their name."""

    model_config = example(
        member_id=A_MEMBER, left_at="2027-10-01T12:00:00Z", jars_handed_on=3, jars_taken_along=0, cancelled_bookings=[]
    )

    member_id: Id
    left_at: Timestamp
    jars_handed_on: int
    "to the member named; those on hold or called back go to the coordinator if none is"
    jars_taken_along: int
    "given to an outsider of the member's name, whom a recall asks for"
    cancelled_bookings: tuple[Id, ...]

    @classmethod
    def of(cls, departed: store.Departed) -> "DepartureAnswer":
        """Say what became of everything."""
        assert departed.member.left_at is not None
        return cls(
            member_id=departed.member.id,
            left_at=departed.member.left_at,
            jars_handed_on=departed.jars_handed_on,
            jars_taken_along=departed.jars_taken_along,
            cancelled_bookings=departed.bookings,
        )
