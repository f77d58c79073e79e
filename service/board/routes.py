"""The pages of the board: for the wall, for a phone, and for a browser that runs no script."""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Annotated, get_args
from zoneinfo import ZoneInfo

from fastapi import Query, Request, Response

from service.board import asking, store, words
from service.board.days import ORDER, Day, Line
from service.board.drawing import in_words, layouts, timetable
from service.board.files import reading
from service.board.season import pictures
from service.board.season import routes as season
from service.board.season.pictures import Picture
from service.board.words import Words
from service.bookings import routes as bookings
from service.bookings.bodies import (
    BatchSlotSearch,
    ClaimSent,
    NewBatchBooking,
    NewBooking,
    SlotOption,
    SlotSearch,
    SlotsFound,
)
from service.checks import bodies as checks
from service.checks import routes as checking
from service.checks.checking import check_recipe
from service.core.measures.jars import JAR_ML
from service.core.roles import Scope
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.equipment import store as equipment
from service.equipment.bodies import EquipmentAnswer
from service.harvests import routes as harvests
from service.harvests.bodies import HarvestPlan, ProduceUnit
from service.members import store as members
from service.pantry import routes as pantry
from service.pantry import store as jars
from service.published.loading import facts
from service.recipes import routes as keeping
from service.recipes import store as recipes
from service.web import Caller, Looking, Member, Now, OpenToAll, OptionalMember, Problem, Reading, Writing, also_for
from service.web.browsers import HOME, Fields, Form, Once, OwnPage, Pages, forget, page, remember, see
from service.web.types import Id, Text, WholeQuery

router = Pages(HOME, "board")

Asked = Annotated[Text | None, Query(max_length=500)]
YearAsked = Annotated[WholeQuery | None, Query(ge=1970, le=2198)]

DAYS_AHEAD = 6
BOOKINGS_BACK = timedelta(days=14)
NOTICES = 5
MOST_OFFERS = 9
OFFERED_APART = timedelta(minutes=30)
MOST_RECIPES = 100
KEPT_SECONDS = 90 * 86_400  # how long a screen stays signed in that is meant to
METHODS = {
    "boiling-water": "Boiling water",
    "atmospheric-steam": "Atmospheric steam",
    "pressure-dial": "Pressure, dial gauge",
    "pressure-weighted": "Pressure, weighted gauge",
    "low-temperature-pasteurization": "Low-temperature pasteurization",
    "refrigerate": "None: it is refrigerated",
    "freeze": "None: it is frozen",
}
FILE_SECONDS = 300
SEASON_BACK = timedelta(days=90)


@router.get("")
def show_board(caller: OptionalMember, session: Reading, now: Now, day: Asked = None) -> Response:
    """Show the kitchen's day to whoever belongs to it, and the way in to everybody else."""
    if caller is None:
        return _page("sign_in.html", caller=None, refused=False)
    if caller.scope is Scope.INSTRUMENTS:
        raise Problem("scope-needed", "A token for instruments shows nothing.")
    said = _words(caller, now)
    first = asking.day(day) if day else said.today
    days = store.days(session, caller, first, DAYS_AHEAD + 1 if first == said.today else 1, now)
    today = days[0] if first == said.today else store.days(session, caller, said.today, 1, now)[0]
    drawn = [timetable(days[0], said.zone, said.now_min, layout) for layout in layouts(len(days[0].lines))]
    return _page(
        "today.html",
        caller=caller,
        words=said,
        kitchen=members.kitchen(session, caller.kitchen_id),
        day=days[0],
        today=today,
        is_today=first == said.today,
        next_days=days[1:],
        underway=store.underway(session, caller, now),
        in_person=store.is_in_person(caller),
        free=_free(today, said),
        pictures=[picture for picture in drawn if picture],
        canner_kinds=_canner_kinds(today),
        in_words=in_words,
    )


@router.get("/sign-in", dependencies=[OpenToAll])
def show_sign_in() -> Response:
    """Show the way in."""
    return _page("sign_in.html", caller=None, refused=False)


@router.post("/sign-in", dependencies=[OpenToAll, OwnPage])
def sign_in(form: Form, request: Request, look: Looking, now: Now) -> Response:
    """Take a token, and let the browser keep it."""
    token = form.get("token", "")
    if request.app.state.recognise(token, now, look) is None:
        return _page("sign_in.html", 422, caller=None, refused=True)
    home = see(HOME)
    remember(request, home, token, KEPT_SECONDS if "keep" in form else None)
    return home


@router.post("/sign-out", dependencies=[OpenToAll, OwnPage])
def sign_out() -> Response:
    """Let the browser drop the token."""
    home = see(HOME)
    forget(home)
    return home


@router.get("/yours")
def show_yours(caller: Member, session: Reading, now: Now) -> Response:
    """Show a member's bookings, jars, recipes and notices."""
    own = store.own_bookings(session, caller, now - BOOKINGS_BACK, None)
    shelf = jars.shelf(session, caller.kitchen_id, caller.id, jars.Filters(), jars.Sort.BEST_BY, store.MOST_OWN, None)
    return _page(
        "yours.html",
        caller=caller,
        words=_words(caller, now),
        pieces=_pieces(session, caller),
        ahead=[kept for kept in own if kept.booking.ends_at > now],
        past=[kept for kept in own if kept.booking.ends_at <= now][::-1],
        eat_first=pantry.list_eat_first("me", caller, session, now, 8),
        shelf=[(each, each.until(ZoneInfo(caller.kitchen.time_zone), now)) for each in shelf],
        recipes=_recipes(session, caller),
        notices=members.notices(session, caller.id, None, NOTICES)[:NOTICES],
    )


@router.get("/slots")
def find_slots(
    caller: Member,
    session: Reading,
    now: Now,
    what: Asked = None,
    minutes: Asked = None,
    recipe: Asked = None,
    size: Asked = None,
    count: Asked = None,
    day: Asked = None,
    purpose: Asked = None,
) -> Response:
    """Find times at which something is free, each with a button that books it."""
    sent = {"what": what, "minutes": minutes, "recipe": recipe, "size": size, "count": count, "day": day}
    wanted = {name: value.strip() for name, value in (sent | {"purpose": purpose}).items() if value and value.strip()}
    own = _recipes(session, caller)
    status, problem, found, offers = 200, None, None, []
    asks = {"recipe", "size", "count"} <= wanted.keys() or {"what", "minutes"} <= wanted.keys()
    if asks:
        try:
            wish = asking.slots(wanted, ZoneInfo(caller.kitchen.time_zone))
            found = bookings.search_slots(wish, caller, session, now)
            offers = _offers(wish, found, wanted.get("purpose"))
        except Problem as refused:
            status, problem = refused.status_code, refused
    return _page(
        "slots.html",
        status,
        caller=caller,
        words=_words(caller, now),
        pieces=_pieces(session, caller),
        choices=_choices(session, caller),
        sizes=list(JAR_ML),
        recipes=own,
        wanted=wanted,
        problem=problem,
        told=asking.told(problem) if problem else [],
        found=found,
        offers=offers,
        jars=next((each.jars[0] for each in own if each.value == recipe and each.jars), None),
        quality_only=any(wanted.get("recipe") == each.value and each.quality_only for each in own),
    )


@router.post("/bookings", dependencies=[Once])
def book_slot(form: Form, caller: Member, session: Writing, now: Now, response: Response) -> Response:
    """Book what a page offered, by the rules of any booking."""
    booked = bookings.book(asking.booking(form), caller, session, now, response)
    return see(f"{HOME}/yours#booking-{booked.id}")


@router.post("/bookings/{booking_id}/cancellation", dependencies=[Once])
def give_booking_back(booking_id: Id, caller: Member, session: Writing, now: Now) -> Response:
    """Give back what a booking holds."""
    bookings.cancel_booking(booking_id, caller, session, now)
    return see(f"{HOME}/yours")


@router.get("/check")
def show_check(caller: OptionalMember) -> Response:
    """Show the form for a recipe."""
    return _check_page(caller, {})


@router.post("/check")
def check_written_recipe(form: Form, caller: OptionalMember) -> Response:
    """Check what somebody wrote down; nothing is kept."""
    try:
        recipe = asking.recipe(form)
        return _check_page(caller, dict(form), checked=check_recipe(recipe, checking.altitude_ft(recipe, caller)))
    except Problem as refused:
        return _check_page(caller, dict(form), problem=refused)


@router.post("/recipes", dependencies=[Once])
def keep_recipe(form: Form, caller: Member, session: Writing, now: Now, response: Response) -> Response:
    """Keep a recipe, and go on to find a time for it."""
    kept = keeping.add_recipe(asking.recipe(form), caller, session, now, response)
    return see(f"{HOME}/slots?recipe={kept.id}%3A{kept.revision}")


@router.get("/season")
def show_season(caller: Member, session: Reading, now: Now, year: YearAsked = None) -> Response:
    """Show a member's year, the use of canners, and a form for a harvest."""
    return _season_page(caller, session, now, year)


@router.post("/season")
@also_for(Scope.READ)
def plan_harvest(form: Form, caller: Member, session: Reading, now: Now) -> Response:
    """Show what of a harvest fits in before it spoils; nothing is booked or kept."""
    try:
        new = asking.harvest(form)
        plan = harvests.plan_harvest(new, caller, session, now)
    except Problem as refused:
        return _season_page(caller, session, now, None, form, problem=refused)
    return _season_page(caller, session, now, None, form, plan=plan, picture=season.harvest_picture(new, plan))


@router.get("/style.css", dependencies=[OpenToAll])
def get_style() -> Response:
    """Give the style of the pages."""
    return _file("style.css", "text/css")


@router.get("/refresh.js", dependencies=[OpenToAll])
def get_script() -> Response:
    """Give the script that keeps a screen up to date."""
    return _file("refresh.js", "text/javascript")


@router.get("/icon.svg", dependencies=[OpenToAll])
def get_icon() -> Response:
    """Give the mark of the pages: a jar."""
    return _file("icon.svg", "image/svg+xml")


@router.get("/season.css", dependencies=[OpenToAll])
def get_season_style() -> Response:
    """Give the style of the season's pictures."""
    return _file("season.css", "text/css")


def _file(name: str, kind: str) -> Response:
    headers = {"ETag": f'"{reading.mark(name)}"', "Cache-Control": f"public, max-age={FILE_SECONDS}"}
    return Response(reading.text(name), media_type=kind, headers=headers)


def _words(caller: Caller, now: Now) -> Words:
    return Words(ZoneInfo(caller.kitchen.time_zone), now)


def _page(template: str, status: int = 200, **values: object) -> Response:
    return page(f"board/{template}", status, say=words, new_key=lambda: secrets.token_urlsafe(12), **values)


def _check_page(
    caller: Caller | None,
    form: dict[str, str],
    checked: checks.CheckAnswer | None = None,
    problem: Problem | None = None,
) -> Response:
    return _page(
        "check.html",
        problem.status_code if problem else 200,
        caller=caller,
        form=form,
        checked=checked,
        told=asking.told(problem) if problem else [],
        families=get_args(checks.Family),
        products=sorted({row.product for row in facts().processes}),
        methods=METHODS,
        sizes=list(JAR_ML),
    )


def _pieces(session: Reading, caller: Caller) -> dict[Id, EquipmentAnswer]:
    rows = equipment.equipment(session, caller.kitchen_id)
    return {row.id: EquipmentAnswer.model_validate(row) for row in rows}


def _season_page(
    caller: Caller,
    session: Reading,
    now: Now,
    year: int | None,
    form: Fields | None = None,
    *,
    plan: HarvestPlan | None = None,
    picture: Picture | None = None,
    problem: Problem | None = None,
) -> Response:
    said, own = _words(caller, now), _recipes(session, caller)
    months = pantry.get_pantry_months("me", year or said.today.year, caller, session)
    use = season.canner_use(caller, session, said.today - SEASON_BACK, said.today)
    return _page(
        "season.html",
        problem.status_code if problem else 200,
        caller=caller,
        words=said,
        months=months,
        year_picture=pictures.year(months),
        use=use,
        week_picture=pictures.week(use),
        plan=plan,
        harvest_picture=picture,
        told=asking.told(problem) if problem else [],
        form=dict(form or {}),
        chosen=form.getlist("recipe") if form else [],
        recipes=own,
        titles={each.value: each.title for each in own},
        units=get_args(ProduceUnit),
    )


@dataclass(frozen=True, slots=True)
class OwnRecipe:
    """A recipe of the caller's, by its newest revision."""

    value: str
    title: str
    verdict: str
    jars: tuple[checks.JarsSent, ...]
    quality_only: bool


def _recipes(session: Reading, caller: Caller) -> list[OwnRecipe]:
    found = recipes.page(session, caller.kitchen_id, caller.id, MOST_RECIPES, None)
    return [
        OwnRecipe(
            value=f"{kept.recipe.id}:{kept.revision.number}",
            title=kept.revision.title,
            verdict=kept.check.verdict,
            jars=checks.RecipeCheckRequest.model_validate(kept.revision.body).jars or (),
            quality_only=bool(kept.check.severities) and set(kept.check.severities) == {"quality"},
        )
        for kept in found
    ]


@dataclass(frozen=True, slots=True)
class Offer:
    """A time that can be booked as it stands, with the booking as the API takes it."""

    option: SlotOption
    booking: str


def _offers(wish: SlotSearch | BatchSlotSearch, found: SlotsFound, purpose: str | None) -> list[Offer]:
    """Times far enough apart to choose between, of one piece or of a whole batch; every one stays bookable."""
    offered: dict[object, datetime] = {}
    offers: list[Offer] = []
    for option in found.options:
        what = None if isinstance(wish, BatchSlotSearch) else option.claims[0].equipment_id
        if what not in offered or option.starts_at >= offered[what] + OFFERED_APART:
            offered[what] = option.starts_at
            offers.append(Offer(option, _new_booking(wish, option, purpose).model_dump_json()))
    return offers[:MOST_OFFERS]


def _new_booking(
    wish: SlotSearch | BatchSlotSearch, option: SlotOption, purpose: str | None
) -> NewBooking | NewBatchBooking:
    if isinstance(wish, BatchSlotSearch):
        claims = tuple(ClaimSent.model_validate(dict(claim)) for claim in option.claims)
        return NewBatchBooking(
            recipe_id=wish.recipe_id, revision=wish.revision, jars=wish.jars, claims=claims, purpose=purpose
        )
    return NewBooking(
        equipment_id=option.claims[0].equipment_id,
        starts_at=option.starts_at,
        ends_at=option.ends_at,
        purpose=purpose or "Canning",
    )


@dataclass(frozen=True, slots=True)
class Free:
    """What of one kind is free now; `until` where something comes next."""

    kind: EquipmentKind
    lines: tuple[tuple[Line, int, str], ...]
    of: int


def _free(day: Day, said: Words) -> list[Free]:
    minute, closes_min = said.now_min, day.closes_min(said.now_min)
    if closes_min is None:
        return []
    found = []
    for kind in ORDER:
        lines = day.of(kind)
        free = [(line, line.free_places(minute)) for line in lines]
        listed = tuple(
            (line, places, said.time(min(line.changes_min(minute) or closes_min, closes_min)))
            for line, places in free
            if places
        )
        found += [Free(kind, listed, len(lines))] if lines else []
    return found


def _canner_kinds(day: Day) -> list[CannerKind]:
    """The kinds of canners there are, in the order they were entered."""
    return list(dict.fromkeys(line.canner_kind for line in day.of(EquipmentKind.CANNER) if line.canner_kind))


def _choices(session: Reading, caller: Caller) -> dict[str, str]:
    """What can be booked alone, by the value its field has."""
    rows = equipment.equipment(session, caller.kitchen_id)
    found = {
        f"{row.kind}:{row.canner_kind}" if row.canner_kind else str(row.kind): f"{words.spoken(row.canner_kind)} canner"
        if row.canner_kind
        else f"{row.kind}"
        for row in sorted(rows, key=lambda row: ORDER.index(row.kind))
    }
    return {value: name.capitalize() for value, name in found.items()}
