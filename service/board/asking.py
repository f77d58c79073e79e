"""What stands in a form, as the bodies the API takes."""

from contextlib import suppress
from datetime import date
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter, ValidationError

from service.board.store import midnight
from service.bookings.bodies import AnyNewBooking, BatchSlotSearch, NewBatchBooking, NewBooking, SlotSearch
from service.checks.bodies import RecipeCheckRequest
from service.harvests.bodies import NewHarvestPlan
from service.web.browsers import Fields
from service.web.problems import Problem, errors_in_body, invalid
from service.web.types import FIRST_YEAR, LAST_YEAR

# What each place of a body is called on the page, where it has a field of its own.
LABELS = {
    "title": "What it is",
    "ingredients": "The lines",
    "family": "Kind of food",
    "product": "Published product",
    "pack": "Pack",
    "headspace_in": "Headspace",
    "jars": "Jars",
    "process": "Process",
    "altitude_ft": "Altitude",
    "steps": "Steps",
    "minutes": "Minutes",
    "equipment_kind": "What",
    "purpose": "What for",
    "recipe_id": "Recipe",
    "produce": "What was picked",
    "recipes": "What it may become",
}
_NEW_BOOKING: TypeAdapter[NewBooking | NewBatchBooking] = TypeAdapter(AnyNewBooking)
OPTIONS = 60  # on the five-minute grid: what is offered of them is further apart
FOODS = 3  # that one form takes
T = TypeVar("T")


def recipe(form: Fields) -> RecipeCheckRequest:
    """The recipe somebody wrote down. Raises a problem that names each place that can't be read."""
    sent: dict[str, Any] = {
        "title": form.get("title", ""),
        "ingredients": [line.strip() for line in form.get("lines", "").split("\n") if line.strip()],
    }
    for name in ("family", "product", "pack"):
        if name in form:
            sent[name] = form[name]
    for name in ("headspace_in", "altitude_ft"):
        if name in form:
            sent[name] = _number(form[name])
    if "steps" in form:
        sent["steps"] = [step.strip().lower().replace(" ", "-") for step in form["steps"].split("\n") if step.strip()]
    if "size" in form or "count" in form:
        sent["jars"] = [{"size": form.get("size", ""), "count": _number(form.get("count", ""))}]
    if "method" in form:
        sent["process"] = {
            "method": form["method"],
            **{name: _number(form[name]) for name in ("minutes", "pressure_psi") if name in form},
        }
    if "sterile_jars" in form:
        sent["handling"] = {"sterile_jars": True}
    return _read(RecipeCheckRequest, sent)


def slots(wanted: dict[str, str], zone: ZoneInfo) -> SlotSearch | BatchSlotSearch:
    """When somebody would like to have what. Raises a problem that names each place that can't be read."""
    sent: dict[str, Any] = {"limit": OPTIONS}
    if "day" in wanted:
        sent["not_before"] = midnight(day(wanted["day"]), zone)
    if "recipe" in wanted:
        recipe_id, _, revision = wanted["recipe"].partition(":")
        sent |= {"recipe_id": recipe_id, "revision": _number(revision)}
        sent["jars"] = [{"size": wanted.get("size", ""), "count": _number(wanted.get("count", ""))}]
        return _read(BatchSlotSearch, sent)
    kind, _, canner_kind = wanted.get("what", "").partition(":")
    sent |= {"equipment_kind": kind, "minutes": _number(wanted.get("minutes", ""))}
    if canner_kind:
        sent["canner_kind"] = canner_kind
    return _read(SlotSearch, sent)


def harvest(form: Fields) -> NewHarvestPlan:
    """What was picked, and what it may become. Raises a problem that names each place that can't be read."""
    produce = [
        {
            "name": form.get(f"name-{row}", ""),
            "amount": _number(form.get(f"amount-{row}", "")),
            "unit": form.get(f"unit-{row}", ""),
            "use_by": form.get(f"by-{row}", ""),
        }
        for row in range(1, FOODS + 1)
        if any(f"{name}-{row}" in form for name in ("name", "amount", "by"))
    ]
    chosen = [value.partition(":")[0] for value in form.getlist("recipe")]
    return _read(NewHarvestPlan, {"produce": produce, "recipes": chosen})


def booking(form: Fields) -> NewBooking | NewBatchBooking:
    """The booking a page offered, as it was offered; with the say-so that only a person can give."""
    try:
        new = _NEW_BOOKING.validate_json(form.get("booking", ""))
    except ValidationError:
        raise Problem("not-possible", "The page's offer can't be read: search once more.") from None
    return new.model_copy(update={"acknowledged": True}) if "acknowledged" in form else new


def _read(kind: type[T], sent: dict[str, Any]) -> T:
    try:
        return TypeAdapter(kind).validate_python(sent)
    except ValidationError as wrong:
        raise invalid(errors_in_body(wrong, sent)) from None


def told(problem: Problem) -> list[str]:
    """What a problem says, place by place."""
    errors = problem.extra.get("errors")
    if not errors:
        return [problem.detail]
    return list(dict.fromkeys(_told(error) for error in errors))


def _told(error: dict[str, str]) -> str:
    _, place, *rest = [*error.get("pointer", "#").split("/"), ""]
    label = LABELS.get(place, place)
    if place == "ingredients" and rest and rest[0].isdecimal():
        label = f"Line {int(rest[0]) + 1}"
    return f"{label}: {error['detail']}" if label else error["detail"]


def _number(text: str) -> int | float | str:
    """A number as it is written; what isn't one stays, and is refused like any other value."""
    for kind in (int, float):
        try:
            return kind(text)
        except ValueError:
            continue
    return text


def day(text: str) -> date:
    """A day as a browser sends it."""
    with suppress(ValueError):
        on = date.fromisoformat(text)
        if FIRST_YEAR < on.year < LAST_YEAR:
            return on
    raise Problem("not-possible", "A day is written like 2027-08-14.")
