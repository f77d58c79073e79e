"""The three main jobs, done with nothing but the client that openapi-python-client makes from openapi/openapi.json.

`kitchen_client` is made by the test, which also holds this file to mypy's strict rules.
"""

from datetime import UTC, datetime, timedelta
from typing import TypeVar

from kitchen_client import AuthenticatedClient
from kitchen_client.api.batches import add_load, check_seals, start_batch, take_load_out
from kitchen_client.api.bookings import book, search_slots
from kitchen_client.api.checks import check_one_recipe
from kitchen_client.api.members import get_me
from kitchen_client.api.pantry import list_pantry
from kitchen_client.api.recipes import add_recipe
from kitchen_client.models import (
    BatchSlotSearch,
    ClaimSent,
    EquipmentKind,
    IngredientSent,
    JarsBooked,
    JarsSent,
    NewBatch,
    NewBatchBooking,
    NewBooking,
    NewLoad,
    NewSealCheck,
    OutNow,
    ProblemDetails,
    ProcessSent,
    RecipeCheckRequest,
    RecipeCheckRequestFamilyType0,
    SlotSearch,
)

T = TypeVar("T")


def recipe() -> RecipeCheckRequest:
    """Plum jam: USDA Complete Guide to Home Canning (AIB 539, 2015), Guide 7."""
    return RecipeCheckRequest(
        title="Plum jam",
        family=RecipeCheckRequestFamilyType0.JAM,
        ingredients=[
            "4 1/2 cups crushed plums",
            IngredientSent(name="sugar", amount=7.5, unit="cup"),
            "1 pouch (3 oz) liquid pectin",
        ],
        steps=["fruit", "sugar", "boil-hard-1-min", "remove-heat", "pectin", "skim", "fill", "process"],
        pack="hot",
        headspace_in=0.25,
        jars=[JarsSent(size="half-pint", count=8)],
        process=ProcessSent(method="boiling-water", minutes=10),
    )


def done(answer: T | ProblemDetails | None) -> T:
    """The answer itself; a problem ends the flow with what it says."""
    if answer is None or isinstance(answer, ProblemDetails):
        raise SystemExit(f"refused: {answer}")
    return answer


def check_a_recipe(client: AuthenticatedClient) -> str:
    """The verdict, at the altitude of the member's kitchen."""
    return done(check_one_recipe.sync(client=client, body=recipe())).verdict.value


def find_and_book_a_slot(client: AuthenticatedClient) -> tuple[str, str]:
    """A whole batch is booked as it was offered; its canner can't be had again then. The status, and the refusal."""
    added = done(add_recipe.sync(client=client, body=recipe()))
    jars = [JarsBooked(size="half-pint", count=8)]
    wish = BatchSlotSearch(recipe_id=added.id, revision=added.revision, jars=jars, limit=1)
    (option,) = done(search_slots.sync(client=client, body=wish)).options
    claims = [ClaimSent.from_dict(claim.to_dict()) for claim in option.claims]
    new = NewBatchBooking(recipe_id=added.id, revision=added.revision, jars=jars, claims=claims)
    made = done(book.sync(client=client, body=new, idempotency_key="the-plums"))
    assert done(book.sync(client=client, body=new, idempotency_key="the-plums")).id == made.id
    canner = next(claim for claim in made.claims if claim.step.value == "process")
    again = NewBooking(
        equipment_id=canner.equipment_id, starts_at=canner.starts_at, ends_at=canner.ends_at, purpose="Beans"
    )
    refused = book.sync(client=client, body=again)
    assert isinstance(refused, ProblemDetails)
    return made.status.value, refused.code


def run_a_batch(client: AuthenticatedClient, coordinators: AuthenticatedClient) -> dict[str, int]:
    """Yesterday's batch, which a coordinator enters afterwards: its jars in the pantry, by state."""
    me = done(get_me.sync(client=client))
    added = done(add_recipe.sync(client=client, body=recipe()))
    started = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(hours=30)
    free = SlotSearch(equipment_kind=EquipmentKind.CANNER, minutes=120, limit=1)
    canner_id = done(search_slots.sync(client=client, body=free)).options[0].claims[0].equipment_id
    new = NewBooking(
        member_id=me.id,
        equipment_id=canner_id,
        starts_at=started,
        ends_at=started + timedelta(hours=2),
        purpose="Plum jam",
        recipe_id=added.id,
        revision=added.revision,
        jars=[JarsBooked(size="half-pint", count=8)],
    )
    booking = done(book.sync(client=coordinators, body=new))
    batch = done(start_batch.sync(client=client, body=NewBatch(booking_id=booking.id, at=started)))
    assert batch.run_sheet.processes[0].minutes == 10
    in_at = started + timedelta(minutes=45)
    load = NewLoad(jar_size="half-pint", count=8, canner_id=canner_id, in_at=in_at)
    done(add_load.sync(batch.id, client=client, body=load))
    done(take_load_out.sync(batch.id, 1, client=client, body=OutNow(at=in_at + timedelta(minutes=30))))
    seals = NewSealCheck(sealed=7, unsealed=1, broken=0, at=in_at + timedelta(hours=13))
    checked = done(check_seals.sync(batch.id, 1, client=client, body=seals))
    shelf = done(list_pantry.sync("me", client=client, lot=checked.lots[0].lot_code))
    return {item.state.value: item.count for item in shelf.items}


def all_three(url: str, members: str, coordinators: str) -> tuple[str, tuple[str, str], dict[str, int]]:
    """What each job came to, done with these tokens."""
    with (
        AuthenticatedClient(base_url=url, token=members) as client,
        AuthenticatedClient(base_url=url, token=coordinators) as coordinator,
    ):
        return check_a_recipe(client), find_and_book_a_slot(client), run_a_batch(client, coordinator)
