"""The routes of the season's pictures, each beside the numbers it is drawn from."""

from datetime import date, timedelta
from fractions import Fraction
from typing import Annotated, Any
from zoneinfo import ZoneInfo

from fastapi import Query, Response
from pydantic import Field

from service.board.files import reading
from service.board.season import bodies, pictures, store
from service.board.season.pictures import Harvested, Picture
from service.board.store import midnight
from service.core.roles import Scope
from service.core.scheduling.spans import Span, minute_of
from service.core.scheduling.uses import by_hour
from service.harvests import choosing
from service.harvests import routes as harvests
from service.harvests.bodies import HarvestPlan, NewHarvestPlan
from service.pantry import routes as pantry
from service.web import Caller, Member, Now, Problem, Reading, Routes, also_for, html, problems
from service.web.types import Day

router = Routes("/v1", "season")

MOST_DAYS = 400
AskedDay = Annotated[Day, Field(ge=date(1970, 1, 2), le=date(2199, 12, 30))]


class Svg(Response):
    """A drawing (Scalable Vector Graphics 1.1)."""

    media_type = "image/svg+xml"


def svg(picture: Picture) -> Svg:
    """Draw a picture alone, with a style of its own; it runs nothing and loads nothing."""
    drawn = html.fill("board/picture.svg", picture=picture, style=reading.text("season.css"))
    return Svg(drawn, headers={"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'"})


def drawing(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """What a picture is answered as, for the contract."""
    shown = {
        "content": {Svg.media_type: {"example": '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 360 390"/>'}}
    }
    return {200: shown, **problems(*statuses)}


@router.get("/members/{member_id}/pantry/years/{year}/picture", response_class=Svg, responses=drawing(404))
def draw_pantry_year(member_id: pantry.Whose, year: pantry.Year, caller: Member, session: Reading) -> Response:
    """Draw the jars put up and eaten in each month of a year."""
    return svg(pictures.year(pantry.get_pantry_months(member_id, year, caller, session)))


@router.get("/canner-use")
def get_canner_use(
    caller: Member,
    session: Reading,
    from_on: Annotated[AskedDay, Query(alias="from")],
    to_on: Annotated[AskedDay, Query(alias="to")],
) -> bodies.CannerUse:
    """Add up how much the kitchen's canners were booked from one day to another, both included, by hour of the week."""
    return canner_use(caller, session, from_on, to_on)


@router.get("/canner-use/picture", response_class=Svg, responses=drawing())
def draw_canner_use(
    caller: Member,
    session: Reading,
    from_on: Annotated[AskedDay, Query(alias="from")],
    to_on: Annotated[AskedDay, Query(alias="to")],
) -> Response:
    """Draw the same."""
    return svg(pictures.week(canner_use(caller, session, from_on, to_on)))


@router.post("/harvest-plans/picture", response_class=Svg, responses=drawing(404))
@also_for(Scope.READ)
def draw_harvest_plan(new: NewHarvestPlan, caller: Member, session: Reading, now: Now) -> Response:
    """Draw what of a harvest is canned in time and what spoils before it fits; nothing is booked or kept."""
    return svg(harvest_picture(new, harvests.plan_harvest(new, caller, session, now)))


def canner_use(caller: Caller, session: Reading, from_on: date, to_on: date) -> bodies.CannerUse:
    """The use of canners between two days of the kitchen's calendar."""
    if to_on < from_on:
        raise Problem("ends-before-start", "The last day lies before the first.")
    if (to_on - from_on).days > MOST_DAYS:
        raise Problem("not-possible", f"Ask for {MOST_DAYS} days at most.")
    zone = ZoneInfo(caller.kitchen.time_zone)
    within = Span(minute_of(midnight(from_on, zone)), minute_of(midnight(to_on + timedelta(days=1), zone)))
    canners, booked, opened = store.canner_use(session, caller.kitchen_id, zone, within)
    return bodies.CannerUse.of(from_on, to_on, canners, by_hour(booked, zone), by_hour(opened, zone))


def harvest_picture(new: NewHarvestPlan, plan: HarvestPlan) -> Picture:
    """A plan beside what was harvested; of a range the most that may be left over is shown."""
    rests = {rest.name: rest for rest in plan.wont_fit}
    found = []
    for each in new.produce:
        weight, rest = choosing.pounds(each.name, Fraction(each.amount), each.unit), rests.get(each.name)
        pounds = None if weight is None else float(weight.low if weight.high is None else weight.high)
        left = rest.pounds if rest else None
        left_pounds = 0.0 if left is None else left.low if left.high is None else left.high
        found.append(Harvested(each.name, pounds, left_pounds, rest.why.replace("-", " ") if rest else ""))
    return pictures.harvest(found)
