"""What is sent and answered about harvests and what to make of them."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from service.bookings.bodies import BlockedBy, ClaimAnswer
from service.checks.bodies import Interval
from service.checks.checking import PLACES
from service.core.jars.harvests import Choice
from service.core.measures.bounds import Bounds
from service.harvests.choosing import Recipe, takes
from service.published.bodies import PublishedRange
from service.web.bodies import Answer, Body, example
from service.web.types import Amount, Id, Name, Timestamp, read_day, read_timestamp

A_RECIPE = "7a0c2d64-0b7e-4f0e-9c7a-6b1f0f3d2a55"
A_RANGE = {"low": 8, "high": 8}
A_BATCH: dict[str, Any] = {
    "recipe_id": A_RECIPE,
    "revision": 1,
    "title": "Plum jam",
    "pots": 2,
    "jars": [{"size": "half-pint", "count": {"low": 16, "high": 16}}],
}
A_SUPPLY: dict[str, Any] = {
    "name": "sugar, granulated",
    "role": "sweetener",
    "pots": 2,
    "each_pot": "7 1/2 cups sugar",
    "grams": {"low": 2900, "high": 3100},
    "count": None,
}
A_SLOT: dict[str, Any] = {
    "recipe_id": A_RECIPE,
    "revision": 1,
    "jars": {"half-pint": 8},
    "starts_at": "2027-08-14T16:00:00Z",
    "ends_at": "2027-08-14T18:30:00Z",
    "claims": [],
}
A_REST: dict[str, Any] = {
    "name": "plums",
    "pounds": {"low": 1.5, "high": 3.0},
    "why": "too-little-for-a-pot",
    "pots": 0,
    "what_to_do": ["Freeze it before its use-by."],
    "blocked_by": [],
}

ProduceUnit = Literal["lb", "oz", "kg", "g", "bushel", "crate", "lug", "box", "flat", "bag", "barrel", "piece"]
Why = Literal["weight-not-known", "no-recipe-takes-it", "too-little-for-a-pot", "no-time-before-it-spoils"]
FREEZE = "Freeze it before its use-by: that takes no canner."
SHARE = "Share it with members who have a canner booked."
ANOTHER = "Choose one more recipe that takes it: a pot is never made larger or smaller than it was tested."
WEIGH = "Weigh it and ask again in pounds: nothing published says what this many weigh."
SHORT = "Refrigerate what is ready to eat, and look for a slot again: others cancel."


def _read_use_by(value: object) -> date | datetime:
    """Read a moment or a day."""
    if isinstance(value, str) and len(value) == len("2027-08-20"):
        return read_day(value)
    return read_timestamp(value)


UseBy = Annotated[datetime | date, BeforeValidator(_read_use_by)]


class HarvestedProduce(Body):
    """Something that was harvested, and until when it keeps."""

    model_config = example(name="plums", amount=1, unit="bushel", use_by="2027-08-18")

    name: Name
    amount: Annotated[Amount, Field(gt=0, le=100_000)]
    unit: ProduceUnit
    use_by: UseBy
    "a moment, or a day of the kitchen's calendar to its end"


class NewHarvestPlan(Body):
    """What was harvested, and the recipes it may become."""

    model_config = example(
        produce=[{"name": "plums", "amount": 1, "unit": "bushel", "use_by": "2027-08-18"}], recipes=[A_RECIPE]
    )

    produce: Annotated[tuple[HarvestedProduce, ...], Field(min_length=1, max_length=20)]
    recipes: Annotated[tuple[Id, ...], Field(min_length=1, max_length=20)]


class JarsPlanned(Answer):
    size: str
    count: PublishedRange


class HarvestBatch(Answer):
    """Whole pots of one recipe, each as it was tested."""

    model_config = example(**A_BATCH)

    recipe_id: Id
    revision: int
    title: str
    pots: int
    jars: tuple[JarsPlanned, ...]


class HarvestSupply(Answer):
    """Something to have at hand for all pots of a recipe; lids and jars for all recipes together."""

    model_config = example(**A_SUPPLY)

    name: str
    role: str
    pots: int
    each_pot: str | None
    grams: PublishedRange | None
    count: PublishedRange | None


class HarvestSlot(Answer):
    """A time for one pot, to be booked with these claims as they stand, in this order."""

    model_config = example(**A_SLOT)

    recipe_id: Id
    revision: int
    jars: dict[str, int]
    starts_at: Timestamp
    ends_at: Timestamp
    claims: tuple[ClaimAnswer, ...]


class HarvestRest(Answer):
    """What can't be canned in time, why, and what to do with it."""

    model_config = example(**A_REST)

    name: str
    pounds: PublishedRange | None
    why: Why
    pots: int
    "pots for which there is no time before it spoils"
    what_to_do: tuple[str, ...]
    blocked_by: tuple[BlockedBy, ...]

    @classmethod
    def of(
        cls, name: str, left: Bounds | None, *, taking: bool, late: int, blocked: tuple[BlockedBy, ...]
    ) -> "HarvestRest | None":
        """Say what is left of a harvest; None where nothing is. `left` is None where its weight isn't known."""
        why: Why = "too-little-for-a-pot"
        to_do: tuple[str, ...] = (FREEZE, SHARE, ANOTHER)
        if left is None:
            why, to_do = "weight-not-known", (WEIGH,)
        elif not taking:
            why = "no-recipe-takes-it"
        elif late:
            why, to_do = "no-time-before-it-spoils", (SHORT, FREEZE, SHARE)
        elif left.high == 0:
            return None
        pounds = None if left is None else PublishedRange.of(left)
        return cls(name=name, pounds=pounds, why=why, pots=late, what_to_do=to_do, blocked_by=blocked)


class HarvestPlan(Answer):
    """What a harvest makes: nothing is booked or kept."""

    model_config = example(
        batches=[A_BATCH],
        jars=[{"size": "half-pint", "count": {"low": 16, "high": 16}}],
        supplies=[A_SUPPLY],
        slots=[A_SLOT],
        wont_fit=[A_REST],
        notes=["Weights are of food ready for the pot."],
    )

    batches: tuple[HarvestBatch, ...]
    jars: tuple[JarsPlanned, ...]
    supplies: tuple[HarvestSupply, ...]
    slots: tuple[HarvestSlot, ...]
    wont_fit: tuple[HarvestRest, ...]
    notes: tuple[str, ...]


NOTES = (
    "Only pots that are sure are counted: by the least that the harvest may weigh and the most that a pot takes.",
    "Weigh the food when it is ready for the pot: what peel, stones and bad pieces take away isn't counted here.",
    "Slots follow one another for one cook. Book them in their order; a later one may be gone by then: search again.",
)


def batches(recipes: Sequence[Recipe], made: Sequence[int]) -> tuple[HarvestBatch, ...]:
    """Pots by recipe, in the order of the recipes."""
    return tuple(
        HarvestBatch(
            recipe_id=recipe.id,
            revision=recipe.revision,
            title=recipe.title,
            pots=made.count(at),
            jars=_jars({size: count * made.count(at) for size, count in recipe.jars.items()}),
        )
        for at, recipe in enumerate(recipes)
        if at in made
    )


def jars(recipes: Sequence[Recipe], made: Sequence[int]) -> tuple[JarsPlanned, ...]:
    """All jars together, by size."""
    return _jars(_by_size(recipes, made))


def supplies(
    recipes: Sequence[Recipe], choices: Sequence[Choice], names: Sequence[str], made: Sequence[int]
) -> tuple[HarvestSupply, ...]:
    """The shopping list: every ingredient that isn't harvested, then jars and new lids."""
    bought = [
        HarvestSupply(
            name=each.name,
            role=each.role,
            pots=made.count(at),
            each_pot=each.as_written,
            grams=_grams(each.grams, made.count(at)),
            count=None,
        )
        for at, recipe in enumerate(recipes)
        if at in made
        for each in recipe.check.formula.ingredients
        if takes(each, names) not in choices[at].needs
    ]
    sizes = _by_size(recipes, made)
    counted = [(f"{size} jars", "jar", count) for size, count in sizes.items()]
    if sizes:
        counted.append(("new two-piece lids", "lid", Bounds.total(sizes.values())))
    return (
        *bought,
        *(
            HarvestSupply(
                name=name, role=role, pots=len(made), each_pot=None, grams=None, count=PublishedRange.of(count)
            )
            for name, role, count in counted
        ),
    )


def _by_size(recipes: Sequence[Recipe], made: Iterable[int]) -> dict[str, Bounds]:
    sizes: dict[str, Bounds] = {}
    for at in made:
        for size, count in recipes[at].jars.items():
            sizes[size] = Bounds.total([sizes.get(size, Bounds.exactly(0)), count])
    return sizes


def _jars(sizes: dict[str, Bounds]) -> tuple[JarsPlanned, ...]:
    return tuple(JarsPlanned(size=size, count=PublishedRange.of(count)) for size, count in sizes.items())


def _grams(each_pot: Interval | None, pots: int) -> PublishedRange | None:
    if each_pot is None:
        return None
    high = None if each_pot.high is None else round(each_pot.high * pots, PLACES)
    return PublishedRange(low=round((each_pot.low or 0) * pots, PLACES), high=high)
