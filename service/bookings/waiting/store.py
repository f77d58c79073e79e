"""Those who wait as rows, in order, with what is held for them."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import and_, bindparam, exists, func, or_, text, update
from sqlmodel import Session, col, select

from service.bookings.waiting.tables import IS_OPEN, Hold
from service.bookings.waiting.tables import Waiting as Waiting
from service.core.scheduling.bookings import Booked, Claim, Step
from service.core.scheduling.slots import Kind
from service.core.scheduling.spans import Span, around, pieces
from service.core.scheduling.waiting import OPEN, State, Want
from service.equipment import store as equipment
from service.equipment.tables import MOST_MINUTES, Occupancy
from service.members import store as members

_IS_OVERDUE = and_(
    col(Waiting.kitchen_id) == bindparam("kitchen"),
    text(IS_OPEN),
    or_(
        and_(col(Waiting.state) == State.OFFERED, col(Waiting.offered_until) <= bindparam("now")),
        and_(col(Waiting.state) == State.WAITING, col(Waiting.not_after) <= bindparam("now")),
    ),
)
anybody_overdue = exists().where(_IS_OVERDUE).label("anybody_overdue")
"""Whether the clock has decided anything since somebody last wrote."""


def join(session: Session, kitchen_id: UUID, **values: Any) -> Waiting:
    """Put somebody at the end of the list."""
    last = session.exec(select(func.max(Waiting.number)).where(Waiting.kitchen_id == kitchen_id)).one()
    row = Waiting(kitchen_id=kitchen_id, number=(last or 0) + 1, **values)
    session.add(row)
    session.flush()
    return row


def waiting(session: Session, kitchen_id: UUID, waiting_id: UUID, member_id: UUID | None) -> Waiting | None:
    """One place on the list: a member's own, or anybody's if no member is named."""
    query = select(Waiting).where(Waiting.kitchen_id == kitchen_id, Waiting.id == waiting_id)
    if member_id is not None:
        query = query.where(Waiting.member_id == member_id)
    return session.exec(query).one_or_none()


def listed(session: Session, kitchen_id: UUID, member_id: UUID | None, after: int, limit: int) -> Sequence[Waiting]:
    """A member's places on the list, or everybody's if no member is named: in order, one more than asked for."""
    query = select(Waiting).where(Waiting.kitchen_id == kitchen_id, col(Waiting.number) > after)
    if member_id is not None:
        query = query.where(Waiting.member_id == member_id)
    return session.exec(query.order_by(col(Waiting.number)).limit(limit + 1)).all()


def in_order(session: Session, kitchen_id: UUID, *states: State) -> Sequence[Waiting]:
    """Everybody who waits, in one of these states, first come first."""
    query = select(Waiting).where(Waiting.kitchen_id == kitchen_id, text(IS_OPEN), col(Waiting.state).in_(states))
    return session.exec(query.order_by(col(Waiting.number))).all()


def overdue(session: Session, kitchen_id: UUID, now: datetime) -> Sequence[Waiting]:
    """Whose offer, or whose time to wait for, is over."""
    return session.exec(select(Waiting).where(_IS_OVERDUE), params={"kitchen": kitchen_id, "now": now}).all()


def want(row: Waiting) -> Want:
    return Want(row.equipment_kind, row.canner_kind, row.not_before, row.not_after)


def positions(session: Session, rows: Sequence[Waiting]) -> dict[UUID, int | None]:
    """How many could be offered the same before each row, and itself; `None` for one that doesn't wait any more."""
    everybody = in_order(session, rows[0].kitchen_id, *OPEN) if rows else ()
    return {
        row.id: 1 + sum(each.number < row.number and want(each).rivals(want(row)) for each in everybody)
        if row.state in OPEN
        else None
        for row in rows
    }


def offer(
    session: Session, row: Waiting, booked: Booked, equipment_id: UUID | None, until: datetime, now: datetime
) -> None:
    """Hold a time for somebody, and tell them; one piece of equipment, or all that a batch takes if none is named."""
    numbers = {each.id: each.number for each in equipment.equipment(session, row.kitchen_id)}
    row.state, row.offered_until, row.equipment_id = State.OFFERED, until, equipment_id
    row.starts_at = min(claim.starts_at for claim in booked.claims)
    row.ends_at = max(claim.ends_at for claim in booked.claims)
    row.claims = [] if equipment_id else [_written(claim) for claim in booked.claims]
    for claim in booked.claims:
        number = numbers[claim.equipment_id]
        assert number is not None
        for place in claim.places:
            for part in pieces(place.span, MOST_MINUTES):
                held = Occupancy(
                    resource_id=number,
                    lane_lo=place.lanes.low,
                    lane_hi=place.lanes.high,
                    starts_min=part.starts_min,
                    ends_min=part.ends_min,
                    kind=Kind.HOLD,
                    held_until=until,
                )
                session.add(held)
                session.flush()
                session.add(Hold(occupancy_id=held.id, waiting_id=row.id))
    members.tell(session, row.member_id, "Time you wait for is free, and kept for you a while.", now, waiting_id=row.id)
    session.flush()


def claims(row: Waiting) -> tuple[Claim, ...]:
    """What is offered for a batch."""
    return tuple(
        Claim(
            Step(each["step"]),
            UUID(each["equipment_id"]),
            each["unit_fixed"],
            datetime.fromisoformat(each["starts_at"]),
            datetime.fromisoformat(each["ends_at"]),
            each["attended"],
            (),
        )
        for each in row.claims
    )


def _written(claim: Claim) -> dict[str, Any]:
    return {
        "step": claim.step,
        "equipment_id": str(claim.equipment_id),
        "unit_fixed": claim.unit_fixed,
        "starts_at": claim.starts_at.isoformat(),
        "ends_at": claim.ends_at.isoformat(),
        "attended": claim.attended,
    }


def leave(session: Session, kitchen_id: UUID, member_id: UUID) -> None:
    """Take a member off the list wherever they wait."""
    for row in in_order(session, kitchen_id, *OPEN):
        if row.member_id == member_id:
            release(session, row, State.LEFT)


def release(session: Session, row: Waiting, state: State) -> None:
    """Give back what was held for somebody, who is in another state now."""
    held = select(Hold.occupancy_id).where(Hold.waiting_id == row.id)
    session.execute(
        update(Occupancy)
        .where(col(Occupancy.id).in_(held))
        .values(active=False)
        .execution_options(synchronize_session=False)
    )
    row.state, row.claims = state, []
    row.equipment_id = row.starts_at = row.ends_at = row.offered_until = None
    session.flush()


def decline(session: Session, row: Waiting) -> None:
    """Put somebody back in their place; what overlaps the time they declined isn't offered to them again."""
    assert row.starts_at is not None
    assert row.ends_at is not None
    ends_at = max((claim.ends_at for claim in claims(row) if claim.step is not Step.REST), default=row.ends_at)
    span = around(row.starts_at, ends_at)
    row.declined = [*row.declined, [span.starts_min, span.ends_min]]
    release(session, row, State.WAITING)


def lapse(session: Session, row: Waiting, now: datetime) -> None:
    """Take somebody off the list who didn't answer, or whose time is over, and tell them."""
    release(session, row, State.LAPSED)
    members.tell(
        session, row.member_id, "You aren't on the waiting list any more: the time is over.", now, waiting_id=row.id
    )


def withdraw(session: Session, numbers: Iterable[int | None], span: Span, now: datetime) -> None:
    """Take back every offer that holds one of these pieces within the span: its member waits on, in their place."""
    in_the_way = (
        select(Hold.waiting_id)
        .join(Occupancy, col(Occupancy.id) == col(Hold.occupancy_id))
        .where(*equipment.meets(numbers, span))
    )
    for row in session.exec(select(Waiting).where(col(Waiting.id).in_(in_the_way))).all():
        release(session, row, State.WAITING)
        members.tell(
            session, row.member_id, "What was kept for you can't be used; you wait on.", now, waiting_id=row.id
        )
