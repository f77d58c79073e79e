"""What is sent and answered about calendar feeds."""

from service.calendars.tables import CalendarFeed, FeedShows
from service.web.bodies import Answer, Body, Listed, example
from service.web.types import Id, Timestamp

A_FEED = {
    "id": "8c9f3b1e-63a4-4a55-9a0b-2f6d1f6a7c11",
    "shows": "member",
    "equipment_id": None,
    "made_at": "2027-08-14T16:30:00Z",
    "revoked_at": None,
}


class NewCalendarFeed(Body):
    """What a feed shows: one's own bookings, or for a coordinator a piece of equipment or the whole kitchen."""

    model_config = example(shows="member")

    shows: FeedShows = FeedShows.MEMBER
    equipment_id: Id | None = None
    "which piece, with `equipment` and only then"


class CalendarFeedAnswer(Answer):
    """A feed; where it is read was shown when it was made."""

    model_config = example(**A_FEED)

    id: Id
    shows: FeedShows
    equipment_id: Id | None
    made_at: Timestamp
    revoked_at: Timestamp | None


class NewCalendarFeedAnswer(CalendarFeedAnswer):
    """A new feed with the path to subscribe to: it holds a secret and is shown this once."""

    model_config = example(**A_FEED, path="/calendars/nothing-to-see-yet.ics")

    path: str

    @classmethod
    def of(cls, row: CalendarFeed, secret: str) -> "NewCalendarFeedAnswer":
        """Put the path beside the row."""
        return cls(**dict(CalendarFeedAnswer.model_validate(row)), path=f"/calendars/{secret}.ics")


class CalendarFeedList(Listed[CalendarFeedAnswer]):
    """A page of one's feeds, the newest first."""

    model_config = example(items=[A_FEED], next_cursor=None)
