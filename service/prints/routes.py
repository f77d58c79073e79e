"""The routes of what is printed: run sheets, labels, a day's timetable, a pantry list; as PDF and as HTML."""

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Annotated, Any, Literal
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Query, Request, Response
from fastapi.responses import HTMLResponse
from sqlmodel import Session

from service.batches import run_sheets
from service.batches import store as batches
from service.batches.bodies import RunSheet
from service.core.jars import clocks
from service.core.jars.lots import read_code
from service.core.jars.movements import State
from service.core.refusals import Refused
from service.core.roles import Scope
from service.core.scheduling import hours
from service.core.scheduling.bookings import Status
from service.core.scheduling.spans import Span, at_minute, minute_of
from service.equipment import store as equipment
from service.members import store as members
from service.pantry import store as pantry
from service.pantry.bodies import JarSize, PantryItem
from service.pantry.routes import Whose, found_lot, holder
from service.prints import formats, html, papers, pdf, store
from service.prints.formats import LabelFormat, PaperSize
from service.web import Caller, Member, Now, Problem, Reading, Routes, also_for, problems
from service.web.browsers import Pages
from service.web.callers import OpenToAll
from service.web.types import Day, Id, WholeQuery

router = Routes("/v1/prints", "prints")
pages = Routes("", "prints")
browsed = Pages("/board/prints", "prints")

MOST_LABELS = 300
MOST_ROWS = 2000
As = Annotated[Literal["html", "pdf"], Query(alias="as", description="a page to print from a browser, or a PDF")]
Paper = Annotated[PaperSize, Query(description="what it is printed on")]
ON_PAPER: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "A page, or a PDF.",
        "content": {
            "text/html": {"schema": {"type": "string"}, "example": "<!DOCTYPE html>…"},
            "application/pdf": {"schema": {"type": "string", "format": "binary"}, "example": "%PDF-1.4 …"},
        },
    }
}


@router.get("/run-sheets/{batch_id}", response_class=HTMLResponse, responses=ON_PAPER | problems(404))
def print_run_sheet(
    batch_id: Id, caller: Member, session: Reading, wanted: As = "html", paper: Paper = PaperSize.LETTER
) -> Response:
    """Print the run sheet of a batch: one page, with boxes to tick."""
    kept = batches.batch(session, caller.kitchen_id, batch_id, None if caller.is_coordinator else caller.id)
    if kept is None:
        raise Problem.not_found()
    sheet = RunSheet.model_validate(kept.row.run_sheet)
    return _run_sheet(caller, session, wanted, paper, kept.row.title, kept.row.member_id, kept.row.started_at, sheet)


@router.get("/booked-run-sheets/{booking_id}", response_class=HTMLResponse, responses=ON_PAPER | problems(404, 409))
def print_booked_run_sheet(
    booking_id: Id, caller: Member, session: Reading, wanted: As = "html", paper: Paper = PaperSize.LETTER
) -> Response:
    """Print the run sheet of a booked batch before its day; once it has begun, its own."""
    whose = None if caller.is_coordinator else caller.id
    booked = batches.booked(session, caller.kitchen_id, booking_id, whose)
    if booked is None:
        raise Problem.not_found()
    begun = batches.batch_of_booking(session, caller.kitchen_id, booked.id)
    if begun is not None:
        return print_run_sheet(begun.row.id, caller, session, wanted, paper)
    if not booked.confirmed:
        raise Problem("not-now", "Only a confirmed booking becomes a batch.")
    sheet = run_sheets.of_booking(booked, caller.kitchen.altitude_ft)
    if isinstance(sheet, Refused):
        raise Problem.of(sheet)
    assert booked.recipe is not None
    title = booked.recipe.revision.title
    return _run_sheet(
        caller, session, wanted, paper, title, booked.member_id, booked.starts_at, sheet, papers.NOT_BEGUN
    )


@router.get("/labels/{lot_code}", response_class=HTMLResponse, responses=ON_PAPER | problems(404, 409))
def print_labels(
    lot_code: str,
    request: Request,
    caller: Member,
    session: Reading,
    now: Now,
    wanted: As = "html",
    form: Annotated[LabelFormat, Query(alias="format", description="columns x rows, width x height of each label")] = (
        LabelFormat.LETTER_2X5
    ),
    first: Annotated[WholeQuery, Query(ge=1, le=100, description="the first label of the sheet that isn't used")] = 1,
    count: Annotated[
        WholeQuery | None, Query(ge=1, le=MOST_LABELS, description="so many of each; one for each jar if not said")
    ] = None,
    jar_size: Annotated[JarSize | None, Query(description="only jars of this size")] = None,
) -> Response:
    """Print labels for the caller's jars of a lot, with a code that opens the lot."""
    lot = found_lot(session, caller, lot_code)
    if lot.recalled_at is not None:
        raise Problem("recalled", "The lot is called back; its jars get no labels.")
    zone = ZoneInfo(caller.kitchen.time_zone)
    shelved = pantry.shelf(
        session,
        caller.kitchen_id,
        caller.id,
        pantry.Filters(lot_code=lot.code, jar_size=jar_size),
        pantry.Sort.BEST_BY,
        MOST_ROWS,
        None,
    )
    if not shelved:
        raise Problem.not_found()
    sheet = formats.FORMATS[form]
    if first > sheet.per_page:
        raise Problem("not-possible", f"A sheet of this format has {sheet.per_page} labels.")
    kitchen = store.kitchen_name(session, caller.kitchen_id)
    lines = store.allergen_lines(session, caller.kitchen_id, caller.kitchen.altitude_ft, lot.code)
    opens = f"{_origin(request)}/lots/{lot.code}"
    made: list[papers.Label] = []
    for each in shelved:
        label = _label(each, kitchen, lines, opens, zone, now)
        made += [label] * (each.jars if count is None else count)
    made = made[:MOST_LABELS]
    return _answer(
        wanted,
        f"labels-{lot.code}",
        lambda: pdf.labels(made, sheet, first),
        lambda: html.labels(_with_type(made, sheet), sheet, first, pdf.code_mm(sheet)),
    )


@pages.get("/lots/{lot_code}", dependencies=[OpenToAll], include_in_schema=False)
def open_lot(lot_code: str) -> HTMLResponse:
    """Show where a label's code leads: a page that asks for a token, and with it for the lot."""
    code = read_code(lot_code)
    if code is None:
        raise Problem.not_found()
    text, policy = html.lot(code)
    return HTMLResponse(text, headers={"Content-Security-Policy": policy})


@router.get("/timetables/{day}", response_class=HTMLResponse, responses=ON_PAPER)
@also_for(Scope.BOARD)
def print_timetable(
    day: Day, caller: Member, session: Reading, now: Now, wanted: As = "html", paper: Paper = PaperSize.LETTER
) -> Response:
    """Print who has which equipment on a day of the kitchen: all of it for coordinators, one's own for others."""
    zone = ZoneInfo(caller.kitchen.time_zone)
    midnight, next_midnight = (_midnight(each, zone) for each in (day, day + timedelta(days=1)))
    rows = equipment.equipment(session, caller.kitchen_id)
    claims = []
    booked = store.day(session, caller.kitchen_id, midnight, next_midnight)
    names = members.names(session, (kept.booking.member_id for kept in booked))
    for kept in booked:
        booking = kept.booking
        if booking.status not in (Status.CONFIRMED, Status.DONE):
            continue
        mine = booking.member_id == caller.id
        for claim in kept.claims:
            if claim.starts_at < next_midnight and claim.ends_at > midnight:
                times = f"{claim.starts_at.astimezone(zone):%H:%M}–{claim.ends_at.astimezone(zone):%H:%M}"
                whose = f"{booking.purpose}, {names[booking.member_id]}" if mine or caller.is_coordinator else "taken"
                claims.append(
                    papers.Claimed(claim.equipment_id, claim.starts_at, claim.ends_at, f"{whose}\n{times}", mine)
                )
    week, _ = equipment.week(session, caller.kitchen_id)
    opened = hours.open_spans(week, zone, Span(minute_of(midnight), minute_of(next_midnight)))
    made = papers.timetable(
        store.kitchen_name(session, caller.kitchen_id),
        day,
        now.astimezone(zone),
        _hours(midnight, next_midnight, opened, claims, zone),
        [(row.id, row.name) for row in rows if row.in_service or any(each.equipment_id == row.id for each in claims)],
        claims,
    )
    return _answer(
        wanted,
        f"timetable-{day}",
        lambda: pdf.timetable(made, paper),
        lambda: html.page("timetable", paper, title=made.title, made=made),
    )


@router.get("/pantries/{member_id}", response_class=HTMLResponse, responses=ON_PAPER | problems(404))
def print_pantry(
    member_id: Whose, caller: Member, session: Reading, now: Now, wanted: As = "html", paper: Paper = PaperSize.LETTER
) -> Response:
    """Print what a member has, what is best eaten first at the top."""
    holder_id = holder(session, caller, member_id)
    today = now.astimezone(ZoneInfo(caller.kitchen.time_zone)).date()
    shelved = pantry.shelf(
        session, caller.kitchen_id, holder_id, pantry.Filters(), pantry.Sort.BEST_BY, MOST_ROWS, None
    )
    found = [(each, each.until(ZoneInfo(caller.kitchen.time_zone), now)) for each in shelved]
    made = papers.pantry_list(
        members.names(session, [holder_id])[holder_id],
        store.kitchen_name(session, caller.kitchen_id),
        today,
        [(PantryItem.of(each), until.eat_by if until else None) for each, until in found],
    )
    return _answer(
        wanted,
        f"pantry-{today}",
        lambda: pdf.rows(made, paper),
        lambda: html.page("rows", paper, title=made.title, made=made),
    )


# The same papers for a browser that is signed in.
BROWSED: dict[str, Callable[..., Response]] = {
    "/run-sheets/{batch_id}": print_run_sheet,
    "/booked-run-sheets/{booking_id}": print_booked_run_sheet,
    "/labels/{lot_code}": print_labels,
    "/timetables/{day}": print_timetable,
    "/pantries/{member_id}": print_pantry,
}
for path, printing in BROWSED.items():
    browsed.get(path)(printing)


def _run_sheet(
    caller: Caller,
    session: Session,
    wanted: str,
    paper: PaperSize,
    title: str,
    member_id: UUID,
    starts_at: datetime,
    sheet: RunSheet,
    note: str = "",
) -> Response:
    made = papers.run_sheet(
        title,
        members.names(session, [member_id])[member_id],
        store.kitchen_name(session, caller.kitchen_id),
        starts_at,
        ZoneInfo(caller.kitchen.time_zone),
        sheet,
        note,
    )
    return _answer(
        wanted,
        f"run-sheet-{starts_at:%Y-%m-%d}",
        lambda: pdf.sheet(made, paper),
        lambda: html.page("sheet", paper, title=made.title, made=made, points=pdf.sheet_type(made, paper)),
    )


def _label(
    each: pantry.Shelved, kitchen: str, lines: tuple[str, ...], opens: str, zone: ZoneInfo, now: datetime
) -> papers.Label:
    state, until = each.state, each.until(zone, now)
    return papers.Label(
        title=each.title,
        jar_size=each.jar_size,
        made_on=each.made_on,
        best_by=until.eat_by if until else None,
        best_by_word="Best by" if until is None or until.clock is clocks.Clock.BEST_BY else "Eat by",
        lot_code=each.lot_code,
        kitchen=kitchen,
        keep=KEEP.get(state, ""),
        allergens=lines,
        opens=opens,
        warning="ON HOLD: don't eat" if state is State.HOLD else "",
    )


KEEP = {
    State.REFRIGERATOR: "keep in the refrigerator",
    State.OPENED: "opened, keep in the refrigerator",
    State.FREEZER: "keep frozen",
}


def _with_type(made: Sequence[papers.Label], sheet: formats.Format) -> list[tuple[papers.Label, float]]:
    sizes = {label: pdf.label_type(label, sheet) for label in set(made)}
    return [(label, sizes[label]) for label in made]


def _hours(
    midnight: datetime,
    next_midnight: datetime,
    opened: Sequence[Span],
    claims: Sequence[papers.Claimed],
    zone: ZoneInfo,
) -> list[datetime]:
    """The full hours on paper, as the kitchen's clock shows them: from the first that is open or taken to the last."""
    starts = [at_minute(each.starts_min) for each in opened] + [each.starts_at for each in claims]
    ends = [at_minute(each.ends_min) for each in opened] + [each.ends_at for each in claims]
    first = max(min(starts, default=midnight + timedelta(hours=8)), midnight)
    last = min(max(ends, default=midnight + timedelta(hours=20)), next_midnight)
    passed = (first - midnight) // timedelta(hours=1)
    found = [midnight + timedelta(hours=passed)]
    while found[-1] < last:
        found.append(found[-1] + timedelta(hours=1))
    return [each.astimezone(zone) for each in found]


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), zone).astimezone(UTC)


def _origin(request: Request) -> str:
    """Where people reach this service: as the settings say, or as this request came."""
    told: str | None = request.app.state.public_url
    return (told or str(request.base_url)).rstrip("/")


def _answer(wanted: str, name: str, as_pdf: Callable[[], bytes], as_html: Callable[[], str]) -> Response:
    if wanted == "pdf":
        named = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
        return Response(as_pdf(), media_type=pdf.MEDIA_TYPE, headers=named)
    return HTMLResponse(as_html(), headers={"Content-Security-Policy": html.POLICY})
