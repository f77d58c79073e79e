"""Invented days of a kitchen: so many batches of a few members, drawn from a seed."""

from dataclasses import replace
from random import Random
from uuid import UUID

from service.core.scheduling.bookings import Piece
from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.chains import chains
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.slots import Resource
from service.core.scheduling.spans import MINUTES_PER_DAY, Span
from service.core.scheduling.timetables import Batch, Order
from tests.core.scheduling.make import DIAL, WATER, figures

OPENS, CLOSES = 8 * 60, 20 * 60
STEAM_CAPACITY = {"half-pint": 10, "pint": 8, "quart": 7}
TRAINED = 10**7
BATCHES_A_DAY = 20


def pieces(kind: EquipmentKind, count: int, first: int, **more: object) -> tuple[Piece, ...]:
    lanes = more.pop("lanes", 1)
    return tuple(
        Piece(Resource(UUID(int=first + place), lanes=lanes), kind, **more)  # type: ignore[arg-type]
        for place in range(count)
    )


def kitchen(days: int, *, burners: int = 8, rack_places: int = 216) -> Kitchen:
    """Eight burners, four boiling-water canners, one for steam, two for pressure, six tables, open 08:00 to 20:00."""
    return Kitchen(
        (
            *pieces(EquipmentKind.BURNER, burners, 100),
            *pieces(EquipmentKind.TABLE, 6, 200),
            *pieces(EquipmentKind.CANNER, 4, 300, canner_kind=WATER.kind, capacity=dict(WATER.capacity)),
            *pieces(EquipmentKind.CANNER, 1, 310, canner_kind=CannerKind.ATMOSPHERIC_STEAM, capacity=STEAM_CAPACITY),
            *pieces(EquipmentKind.CANNER, 2, 320, canner_kind=DIAL.kind, capacity=dict(DIAL.capacity)),
            *pieces(EquipmentKind.RACK, 1, 400, lanes=rack_places),
        ),
        tuple(Span(day * MINUTES_PER_DAY + OPENS, day * MINUTES_PER_DAY + CLOSES) for day in range(days + 9)),
    )


def order(batches: int, seed: int, *, nominal_days: int | None = None, rack_places: int = 216) -> Order:
    """So many batches, wanted within the nominal days and due up to two days later."""
    random = Random(seed)
    nominal = nominal_days or -(-batches // BATCHES_A_DAY)
    days = nominal + 4
    here = kitchen(days, rack_places=rack_places)
    asked = tuple(_batch(number, random, here, nominal) for number in range(batches))
    shared = _shared_out(asked, random)
    cooks = {batch.member_id: Cook(trained_until_min=TRAINED) for batch in shared}
    return Order(here, cooks, Span(0, days * MINUTES_PER_DAY), shared)


def _batch(number: int, random: Random, here: Kitchen, nominal: int) -> Batch:
    pressure = random.random() < 0.22
    minutes = 5 * random.randint(15, 18) if pressure else 5 * random.randint(2, 9)
    jars = random.randint(4, 18) if random.random() < 0.4 else random.randint(4, 9)
    kinds = [CannerKind.PRESSURE_DIAL] if pressure else [CannerKind.BOILING_WATER, CannerKind.ATMOSPHERIC_STEAM]
    found = chains(
        {"pint": jars},
        {("pint", kind): minutes for kind in kinds},
        here.canners,
        here.rack_places,
        figures(
            prep_minutes=5 * random.randint(4, 12),
            cook_minutes=5 * random.randint(4, 12),
            longest_standing_minutes=5 * random.randint(1, 3),
        ),
    )
    assert isinstance(found, tuple)
    release = random.randrange(nominal) * MINUTES_PER_DAY + OPENS + 5 * random.randint(0, 60)
    due = release + random.choice([4, 6, 8, 12, 24, 48]) * 60
    return Batch(UUID(int=1000 + number), UUID(int=0), found, release, due)


def _shared_out(batches: tuple[Batch, ...], random: Random) -> tuple[Batch, ...]:
    """One to three batches to a member."""
    found: list[Batch] = []
    member = 0
    while len(found) < len(batches):
        member += 1
        for batch in batches[len(found) : len(found) + random.randint(1, 3)]:
            found.append(replace(batch, member_id=UUID(int=member)))
    return tuple(found)
