"""The routes of what a kitchen has and when it is open."""

from fastapi import Response

from service.core.refusals import Refused
from service.core.roles import Scope
from service.core.scheduling.equipment import senseless
from service.core.scheduling.figures import figures
from service.equipment import bodies, store
from service.published.loading import kitchen_figures
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
    Writing,
    also_for,
    problems,
    stale,
    tag,
)
from service.web.types import Id

router = Routes("/v1", "equipment")


@router.get("/equipment")
@also_for(Scope.BOARD)
def list_equipment(caller: Member, session: Reading, page: Page) -> bodies.EquipmentList:
    """List burners, canners, tables and racks, in the order they were entered."""
    (after,) = page.after(int) or (0,)
    rows = store.equipment(session, caller.kitchen_id, after, page.limit)
    items, next_cursor = page.page(rows, place=lambda row: (row.number,))
    return bodies.EquipmentList(
        items=tuple(bodies.EquipmentAnswer.model_validate(row) for row in items), next_cursor=next_cursor
    )


@router.post("/equipment", status_code=201, responses=problems(403))
def add_equipment(
    new: bodies.NewEquipment, caller: Coordinator, session: Writing, now: Now, response: Response
) -> bodies.EquipmentAnswer:
    """Enter a piece of equipment."""
    nonsense = senseless(new.kind, new.canner_kind, new.capacity, new.places, needs_burner=new.needs_burner)
    if nonsense:
        raise Problem.of(nonsense)
    row = store.add(session, caller.kitchen_id, now, **new.model_dump())
    response.headers["Location"] = f"/v1/equipment/{row.id}"
    tag(response, row.version)
    return bodies.EquipmentAnswer.model_validate(row)


@router.get("/equipment/{equipment_id}", responses=UNCHANGED | problems(404))
@also_for(Scope.BOARD)
def get_equipment(equipment_id: Id, caller: Member, session: Reading, response: Response) -> bodies.EquipmentAnswer:
    """Read one piece of equipment."""
    row = store.piece(session, caller.kitchen_id, equipment_id)
    if row is None:
        raise Problem.not_found()
    tag(response, row.version)
    return bodies.EquipmentAnswer.model_validate(row)


@router.get("/opening-hours", responses=UNCHANGED)
@also_for(Scope.BOARD)
def get_opening_hours(caller: Member, session: Reading, response: Response) -> bodies.OpeningHoursAnswer:
    """Read when the kitchen is open; a kitchen that never set its hours is closed."""
    week, version = store.week(session, caller.kitchen_id)
    tag(response, version)
    return bodies.OpeningHoursAnswer.of(caller.kitchen.time_zone, week)


@router.put("/opening-hours", responses=problems(403, 412, 428))
def set_opening_hours(
    new: bodies.OpeningHoursSent, caller: Coordinator, version: IfMatch, session: Writing, response: Response
) -> bodies.OpeningHoursAnswer:
    """Set the hours of the whole week."""
    week = new.week()
    if isinstance(week, Refused):
        raise Problem.of(week)
    if not store.set_week(session, caller.kitchen_id, week, version):
        raise stale()
    tag(response, version + 1)
    return bodies.OpeningHoursAnswer.of(caller.kitchen.time_zone, week)


@router.get("/kitchen-figures", responses=UNCHANGED)
def get_kitchen_figures(caller: Member, session: Reading, response: Response) -> bodies.KitchenFiguresAnswer:
    """Read how long the steps of a batch take here, beside the published process itself."""
    own, version = store.own_figures(session, caller.kitchen_id)
    tag(response, version)
    return bodies.KitchenFiguresAnswer.of(kitchen_figures().values(), own)


@router.put("/kitchen-figures", responses=problems(403, 412, 428))
def set_kitchen_figures(
    new: bodies.KitchenFiguresSent, caller: Coordinator, version: IfMatch, session: Writing, response: Response
) -> bodies.KitchenFiguresAnswer:
    """Set what takes another time in this kitchen than usual; bookings already made stay."""
    published = kitchen_figures()
    together = figures({name: each.figure for name, each in published.items()}, new.minutes)
    if isinstance(together, Refused):
        raise Problem.of(together)
    if not store.set_own_figures(session, caller.kitchen_id, new.minutes, version):
        raise stale()
    tag(response, version + 1)
    return bodies.KitchenFiguresAnswer.of(published.values(), new.minutes)
