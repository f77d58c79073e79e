"""Filling the invented kitchen, through the same HTTP calls a member and a coordinator would make.

The application runs in this process on a clock of its own, so that a season's batches are entered on their own days:
an act is accepted at most seven days late, and the demo makes no exception for itself.
"""

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import httpx
from fastapi import FastAPI

from service.app import create_app
from service.demo import kitchen
from service.equipment.bodies import WEEKDAYS
from service.settings import Settings

ZONE = ZoneInfo(kitchen.TIME_ZONE)
REST = timedelta(hours=14)
MINUTES = {"jam": 75, "tomatoes": 120, "beans": 105}
PROCESS_MINUTES = {"jam": 10, "tomatoes": 55, "beans": 25}
RECIPES: Mapping[str, dict[str, Any]] = {
    "jam": kitchen.PLUM_JAM,
    "tomatoes": kitchen.CRUSHED_TOMATOES,
    "beans": kitchen.SNAP_BEANS,
}
OPEN_WEEK = [{"weekday": day, "opens": "08:00", "closes": "21:00"} for day in WEEKDAYS]


def fill(settings: Settings, coordinator_token: str, until: datetime) -> dict[str, Any]:
    """Fill a kitchen that has only its coordinator; the answer is the tokens file's `trainer` and `members`."""
    clock = _Clock(until)
    app = create_app(settings, clock)
    try:
        return asyncio.run(_fill(app, clock, coordinator_token, until))
    finally:
        app.state.database.close()


@dataclass
class _Clock:
    """A clock that shows the day being entered."""

    at: datetime

    def __call__(self) -> datetime:
        return self.at


async def _fill(app: FastAPI, clock: _Clock, coordinator_token: str, until: datetime) -> dict[str, Any]:
    transport = httpx.ASGITransport(app)
    async with httpx.AsyncClient(transport=transport, base_url="http://demo.invalid") as client:
        filling = _Filling(client, clock, coordinator_token)
        people = await filling.people(until.date())
        equipment = await filling.equipment()
        recipes = await filling.recipes(people)
        for batch in kitchen.SEASON:
            await filling.past_batch(batch, people, equipment, recipes, until)
        clock.at = until
        await filling.bookings_around_now(people, equipment, recipes, until)
        return people


class _Filling:
    def __init__(self, client: httpx.AsyncClient, clock: _Clock, coordinator_token: str) -> None:
        self._client = client
        self._clock = clock
        self._coordinator = coordinator_token

    async def people(self, today: date) -> dict[str, Any]:
        """The trainer and the members, with their tokens; the first member may use a pressure canner."""
        trainer = await self._person(kitchen.TRAINER, "trainer")
        members = [await self._person(name, "member") for name in kitchen.MEMBERS]
        sign_off = {"skill": "pressure-canning", "expires_on": (today + timedelta(days=365)).isoformat()}
        await self._post(f"/v1/members/{members[0]['member_id']}/sign-offs", sign_off, trainer["token"])
        return {"trainer": trainer, "members": members}

    async def equipment(self) -> dict[str, str]:
        """Everything the hall has, by name, and the hours of its week."""
        pieces: list[dict[str, Any]] = [{"kind": "burner", "name": name} for name in kitchen.BURNERS]
        pieces += [{"kind": "table", "name": name} for name in kitchen.TABLES]
        pieces += [{"kind": "rack", "name": name, "places": places} for name, places in kitchen.RACKS]
        pieces += [
            {"kind": "canner", "name": name, "canner_kind": kind, "capacity": capacity}
            for name, kind, capacity in kitchen.CANNERS
        ]
        ids = {}
        for piece in pieces:
            ids[piece["name"]] = (await self._post("/v1/equipment", piece))["id"]
        hours = await self._get("/v1/opening-hours")
        answer = await self._client.put(
            "/v1/opening-hours",
            json={"openings": OPEN_WEEK},
            headers=self._headers(self._coordinator) | {"If-Match": hours.headers["etag"]},
        )
        answer.raise_for_status()
        return ids

    async def recipes(self, people: dict[str, Any]) -> dict[tuple[int, str], str]:
        """Each member's own copy of what they make, by member and recipe."""
        wanted = {(batch.member, batch.recipe) for batch in kitchen.SEASON} | {(0, "jam"), (1, "jam")}
        made = {}
        for member, recipe in sorted(wanted):
            answer = await self._post("/v1/recipes", RECIPES[recipe], people["members"][member]["token"])
            made[member, recipe] = answer["id"]
        return made

    async def past_batch(
        self,
        batch: kitchen.PastBatch,
        people: dict[str, Any],
        equipment: dict[str, str],
        recipes: dict[tuple[int, str], str],
        until: datetime,
    ) -> None:
        """One batch of the season, from its booking to the jars it left in the pantry."""
        member = people["members"][batch.member]
        neighbour = people["members"][(batch.member + 1) % len(people["members"])]
        starts = _local(until, batch.days_ago, time(9, 30))
        out = starts + timedelta(minutes=35 + PROCESS_MINUTES[batch.recipe] + (40 if batch.recipe == "beans" else 10))
        jars = batch.sealed + batch.unsealed + batch.broken
        self._clock.at = starts - timedelta(days=1)
        booking = await self._book(batch.recipe, batch.member, batch.canner, starts, people, equipment, recipes)
        self._clock.at = out + REST
        started = await self._post("/v1/batches", {"booking_id": booking, "at": _stamp(starts)}, member["token"])
        path = f"/v1/batches/{started['id']}/loads"
        load = {"jar_size": batch.jar_size, "count": jars, "canner_id": equipment[batch.canner]}
        await self._post(path, load | {"in_at": _stamp(starts + timedelta(minutes=30))}, member["token"])
        await self._post(f"{path}/1/out", {"at": _stamp(out)}, member["token"])
        check = {"sealed": batch.sealed, "unsealed": batch.unsealed, "broken": batch.broken, "at": _stamp(out + REST)}
        await self._post(f"{path}/1/seal-check", check, member["token"])
        lot = await self._newest_lot(member["token"])
        move = {"lot_code": lot, "jar_size": batch.jar_size, "from_state": "shelf"}
        self._clock.at += timedelta(days=2)
        if batch.gives:
            give = {"kind": "give", "count": batch.gives, "to_member_id": neighbour["member_id"]}
            await self._post("/v1/movements", move | give, member["token"])
        if batch.uses:
            await self._post("/v1/movements", move | {"kind": "use", "count": batch.uses}, member["token"])
        if batch.unsealed:
            use = {"kind": "use", "count": batch.unsealed, "from_state": "refrigerator"}
            await self._post("/v1/movements", move | use, member["token"])

    async def bookings_around_now(
        self,
        people: dict[str, Any],
        equipment: dict[str, str],
        recipes: dict[tuple[int, str], str],
        until: datetime,
    ) -> None:
        """The booking of the day before that waits for its batch, and some of the day itself and the days to come."""
        self._clock.at = _local(until, 2, time(18, 0))
        await self._book("jam", 0, "Blue kettle", _local(until, 1, time(8, 30)), people, equipment, recipes)
        self._clock.at = _local(until, 0, time(0, 1))
        await self._book("tomatoes", 3, "Blue kettle", _local(until, 0, time(9, 30)), people, equipment, recipes)
        await self._book("tomatoes", 2, "Speckled kettle", _local(until, 0, time(13, 0)), people, equipment, recipes)
        await self._book("jam", 4, "Small kettle", _local(until, 0, time(17, 30)), people, equipment, recipes)
        self._clock.at = until
        await self._book("jam", 1, "Speckled kettle", _local(until, -2, time(10, 0)), people, equipment, recipes)
        await self._book("beans", 0, "Dial canner", _local(until, -3, time(13, 0)), people, equipment, recipes)
        await self._book("tomatoes", 3, "Blue kettle", _local(until, -3, time(9, 0)), people, equipment, recipes)

    async def _book(
        self,
        recipe: str,
        member: int,
        canner: str,
        starts: datetime,
        people: dict[str, Any],
        equipment: dict[str, str],
        recipes: dict[tuple[int, str], str],
    ) -> str:
        booking = {
            "equipment_id": equipment[canner],
            "starts_at": _stamp(starts),
            "ends_at": _stamp(starts + timedelta(minutes=MINUTES[recipe])),
            "purpose": RECIPES[recipe]["title"],
            "recipe_id": recipes[member, recipe],
            "revision": 1,
            "jars": RECIPES[recipe]["jars"],
        }
        made = await self._post("/v1/bookings", booking, people["members"][member]["token"])
        return str(made["id"])

    async def _person(self, name: str, role: str) -> dict[str, str]:
        person = await self._post("/v1/members", {"name": name, "role": role})
        token = await self._post(f"/v1/members/{person['id']}/tokens", {})
        return {"member_id": person["id"], "name": name, "token": token["token"]}

    async def _newest_lot(self, token: str) -> str:
        page = (await self._get("/v1/members/me/pantry?state=shelf&limit=200", token)).json()
        return str(max(page["items"], key=lambda line: (line["made_on"], line["lot_code"]))["lot_code"])

    async def _get(self, path: str, token: str | None = None) -> httpx.Response:
        answer = await self._client.get(path, headers=self._headers(token or self._coordinator))
        return answer.raise_for_status()

    async def _post(self, path: str, body: Mapping[str, Any], token: str | None = None) -> dict[str, Any]:
        answer = await self._client.post(path, json=body, headers=self._headers(token or self._coordinator))
        if answer.is_error:
            raise RuntimeError(f"the demo couldn't be filled: POST {path} answered {answer.text}")
        made: dict[str, Any] = answer.json()
        return made

    def _headers(self, token: str) -> dict[str, str]:
        return {"Authorization": f"Bearer {token}"}


def _local(until: datetime, days_ago: int, at: time) -> datetime:
    """A time of day in the kitchen, so many days before (or, negative, after) the day of `until`."""
    day = until.astimezone(ZONE).date() - timedelta(days=days_ago)
    return datetime.combine(day, at, ZONE).astimezone(UTC)


def _stamp(moment: datetime) -> str:
    return moment.isoformat(timespec="seconds")
