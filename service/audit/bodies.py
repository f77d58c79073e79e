"""What is answered about the audit trail."""

from service.web.bodies import Answer, Listed, example
from service.web.types import Id, Timestamp

AN_ENTRY = {
    "number": 4711,
    "at": "2027-08-14T16:30:00Z",
    "member_id": "0f9c2c1e-5f0b-4a2e-9b57-3d7f6f1f2a10",
    "act": "cancel_booking",
    "about": "/v1/bookings/7d0f4a52-6a2e-4b5c-9a43-0f4c5d8e1b11/cancellation",
    "request_id": "b4b0a5c8-92d7-4a5e-8f0e-2f6f9b1c3d55",
    "sha256": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
}


class AuditAnswer(Answer):
    """One act: who did what, to what, when, in which request."""

    model_config = example(**AN_ENTRY)

    number: int
    "counted in each kitchen, without gaps"
    at: Timestamp
    member_id: Id | None
    "who did it; null for a command on the service's host, and for what the clock and the waiting list decide"
    act: str
    "the operation (with ` refused` for a refusal that was kept), the command, or what the waiting list did by itself"
    about: str
    "the path of what was made, or of what it was done to"
    request_id: str | None
    "the `X-Request-Id` of the request"
    sha256: str
    "over this entry and the hash of the one before"


class AuditList(Listed[AuditAnswer]):
    """A page of the audit trail, newest first."""

    model_config = example(items=[AN_ENTRY], next_cursor=None)
