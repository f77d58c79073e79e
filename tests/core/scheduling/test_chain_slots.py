"""The search for a whole batch, against a twin that tries every start of every step on every unit.

Each slot that is offered is also looked at by the verifier, which knows the constraints and nothing of the search.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from functools import cached_property
from itertools import product
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from service.core.refusals import Refused
from service.core.scheduling import chain_bookings, chain_slots
from service.core.scheduling.bookings import Piece, Standing
from service.core.scheduling.chain_slots import Calendar, Cook, Kitchen, Look, Search, Seated, looked_at, seated
from service.core.scheduling.chains import Chain, Cycle, Load
from service.core.scheduling.equipment import CannerKind, EquipmentKind
from service.core.scheduling.hours import Opening
from service.core.scheduling.hours import open_spans as open_spans_of
from service.core.scheduling.pools import Stay
from service.core.scheduling.slots import Busy, Kind, Lanes, Resource
from service.core.scheduling.spans import EPOCH, Span, minute_of
from tests.core.scheduling.verifier import Made, faults

EXAMPLES = int(os.environ.get("SEARCH_EXAMPLES", "100"))
BW, PRESSURE = CannerKind.BOILING_WATER, CannerKind.PRESSURE_DIAL
HORIZON = 30  # slots
LAST_MIN = HORIZON * 5


def steps(least: int, most: int) -> st.SearchStrategy[int]:
    return st.integers(least, most).map(lambda slots: slots * 5)


cycles = st.builds(
    lambda warm, process, out, free: Cycle(warm, process, process + out, process + out + free),
    steps(0, 1),
    steps(1, 3),
    steps(0, 1),
    steps(1, 2),
)


@st.composite
def loads(draw: st.DrawFn) -> Load:
    kinds = draw(st.sampled_from([{BW}, {BW, PRESSURE}, {BW, PRESSURE}, {PRESSURE}]))
    return Load("pint", draw(st.integers(1, 3)), {kind: draw(cycles) for kind in sorted(kinds)})


chains = st.builds(
    Chain,
    loads=st.lists(loads(), min_size=1, max_size=2).map(tuple),
    prep_minutes=steps(1, 2),
    longest_wait_minutes=steps(0, 2),
    cook_minutes=steps(1, 2),
    longest_hold_minutes=steps(2, 6),
    fill_minutes=st.just(5),
    longest_standing_minutes=steps(1, 3),
    hands_minutes=st.just(5),
    rest_minutes=steps(1, 5),
    cook_attended=st.booleans(),
)
times = st.builds(lambda start, length: Span(start, start + length), st.integers(0, LAST_MIN), st.integers(1, 40))


@st.composite
def pieces(draw: st.DrawFn, number: int, kind: EquipmentKind) -> Piece:
    lanes = draw(st.integers(4, 9)) if kind is EquipmentKind.RACK else 1
    busy: list[Busy] = []
    for booking, span in enumerate(
        draw(st.lists(times, max_size=2 if kind in (EquipmentKind.BURNER, EquipmentKind.CANNER) else 1))
    ):
        low = draw(st.integers(0, lanes - 1))
        high = draw(st.integers(low + 1, lanes))
        sort = draw(st.sampled_from([Kind.BOOKING, Kind.BOOKING, Kind.BOOKING, Kind.OUTAGE, Kind.HOLD]))
        movable = sort is Kind.BOOKING and kind is not EquipmentKind.RACK and draw(st.booleans())
        one = Busy(span, Lanes(low, high), sort, UUID(int=number * 10 + booking), movable)
        if not any(each.span.overlaps(span) for each in busy):
            busy.append(one)
    canner_kind = draw(st.sampled_from([BW, BW, PRESSURE])) if kind is EquipmentKind.CANNER else None
    return Piece(
        Resource(UUID(int=number), lanes=lanes, in_service=draw(st.integers(0, 19)) > 0, busy=tuple(busy)),
        kind,
        canner_kind,
        {"pint": draw(st.sampled_from([2, 3, 3, 4]))} if canner_kind else None,
    )


@st.composite
def kitchens(draw: st.DrawFn) -> Kitchen:
    counts = {
        EquipmentKind.TABLE: (1, 2),
        EquipmentKind.BURNER: (2, 3),
        EquipmentKind.CANNER: (1, 2),
        EquipmentKind.RACK: (1, 2),
    }
    found: list[Piece] = []
    for kind, (least, most) in counts.items():
        for _ in range(draw(st.integers(least, most))):
            found.append(draw(pieces(len(found) + 1, kind)))
    opens = sorted(draw(st.lists(st.integers(0, LAST_MIN), min_size=2, max_size=4, unique=True)))
    open_spans = [Span(low, high) for low, high in zip(opens[::2], opens[1::2], strict=False)]
    if draw(st.integers(0, 2)):
        open_spans = [Span(0, LAST_MIN)]
    open_spans.append(Span(LAST_MIN + 30, LAST_MIN + 90))
    if draw(st.integers(0, 4)) == 0:
        closed = draw(times)
        whole = Busy(closed, Lanes(0, 9), Kind.CLOSURE)
        found = [
            replace(
                piece,
                resource=replace(
                    piece.resource,
                    busy=(*(busy for busy in piece.resource.busy if not busy.span.overlaps(closed)), whole),
                ),
            )
            for piece in found
        ]
    return Kitchen(tuple(found), tuple(open_spans))


cooks = st.builds(
    Cook, busy=st.lists(times, max_size=1).map(tuple), trained_until_min=st.sampled_from([LAST_MIN, LAST_MIN, 0, 90])
)


@dataclass
class Twin:
    """The obvious way: every step at every minute of the grid on every unit, with a set of minutes for everything."""

    kitchen: Kitchen
    cook: Cook
    chain: Chain

    @cached_property
    def open_minutes(self) -> frozenset[int]:
        """The minutes of each five in which the kitchen is open throughout."""
        closed = [
            busy.span for piece in self.kitchen.pieces for busy in piece.resource.busy if busy.kind is Kind.CLOSURE
        ]
        is_open = {
            minute
            for span in self.kitchen.open_spans
            for minute in range(span.starts_min, span.ends_min)
            if not any(each.starts_min <= minute < each.ends_min for each in closed)
        }
        slots = (range(start, start + 5) for start in range(0, LAST_MIN + 100, 5))
        return frozenset(minute for slot in slots if is_open.issuperset(slot) for minute in slot)

    def is_open(self, minutes: range) -> bool:
        return self.open_minutes.issuperset(minutes)

    def can_start(self, prep: int, until: int) -> bool:
        chain = self.chain
        prepared = prep + chain.prep_minutes
        if not self.is_open(range(prep, prepared)):
            return False
        for cook in range(prepared, prepared + chain.longest_wait_minutes + 1, 5):
            cooked = cook + chain.cook_minutes
            for placed in self.loads(0, cooked, cooked + chain.longest_hold_minutes):
                if placed[-1][0] + chain.fill_minutes <= cooked + chain.longest_hold_minutes and self.works(
                    prep, cook, placed, until
                ):
                    return True
        return False

    def loads(self, number: int, filled: int, latest: int) -> Iterator[list[tuple[int, int, CannerKind]]]:
        chain = self.chain
        if number == len(chain.loads):
            yield []
            return
        for fill in range(filled, latest + 1, 5):
            done = fill + chain.fill_minutes
            for into in range(done, done + chain.longest_standing_minutes + 1, 5):
                for kind in chain.loads[number].cycles:
                    for rest in self.loads(number + 1, done, latest):
                        yield [(fill, into, kind), *rest]

    def works(self, prep: int, cook: int, placed: list[tuple[int, int, CannerKind]], until: int) -> bool:
        chain = self.chain
        hands = [range(prep, prep + chain.prep_minutes)]
        if chain.cook_attended:
            hands.append(range(cook, cook + chain.cook_minutes))
        tables = [range(prep, prep + chain.prep_minutes)]
        burners = [range(cook, placed[-1][0] + chain.fill_minutes)]
        canners, rests = [], []
        for load, (fill, into, kind) in zip(chain.loads, placed, strict=True):
            cycle = load.cycles[kind]
            out = into + cycle.out_after_minutes
            tables.append(range(fill, fill + chain.fill_minutes))
            canner = range(into - cycle.warm_minutes, into + cycle.free_after_minutes)
            burners.append(canner)
            canners.append((canner, load, kind))
            ready = out + chain.hands_minutes + chain.rest_minutes
            rested = next((minute for minute in range(ready, LAST_MIN + 100) if minute in self.open_minutes), None)
            if rested is None or canner.stop > until:
                return False
            rests.append((range(out, rested), load.jars))
            hands += [range(at, at + chain.hands_minutes) for at in (fill, into, out)]
        minutes = [minute for each in hands for minute in each]
        if len(set(minutes)) < len(minutes):
            return False
        slots = {minute // 5 for minute in minutes}
        if any(m // 5 in slots for span in self.cook.busy for m in range(span.starts_min, span.ends_min)):
            return False
        if not all(self.is_open(each) for each in (*tables, *burners)):
            return False
        return (
            self.seated(EquipmentKind.TABLE, [(each, None, None) for each in tables])
            and self.seated(EquipmentKind.BURNER, [(each, None, None) for each in burners])
            and self.seated(EquipmentKind.CANNER, list(canners))
            and self.rested(rests)
        )

    def seated(self, kind: EquipmentKind, wanted: list[tuple[range, Load | None, CannerKind | None]]) -> bool:
        units = [piece for piece in self.kitchen.pieces if piece.kind is kind and piece.resource.in_service]
        taken: list[set[int]] = []
        loose: list[tuple[range, Piece]] = []
        for unit in units:
            stays = [
                (range(busy.span.starts_min // 5 * 5, -(-busy.span.ends_min // 5) * 5), busy.movable)
                for busy in unit.resource.busy
            ]
            fixed: set[int] = set()
            for place, (minutes, movable) in enumerate(stays):
                others = [set(other) for at, (other, _) in enumerate(stays) if at != place]
                if movable and not any(other & set(minutes) for other in others):
                    loose.append((minutes, unit))
                else:  # it stays where it is: a neighbour has a part of the same five minutes
                    fixed |= set(minutes)
            taken.append(fixed)
        choices: list[list[int]] = []
        for minutes, load, canner_kind in wanted:
            able = []
            for number, unit in enumerate(units):
                if load is not None and (
                    unit.canner_kind is not canner_kind or (unit.capacity or {})["pint"] < load.jars
                ):
                    continue
                if unit.canner_kind is PRESSURE and minutes.stop > self.cook.trained_until_min:
                    continue
                able.append(number)
            choices.append(able)
        if not all(choices):
            return False
        as_it_stands = [set(fixed) for fixed in taken]
        for minutes, unit in loose:
            as_it_stands[units.index(unit)] |= set(minutes)
            choices.append([n for n, each in enumerate(units) if each.does_as(unit)])

        def fits(spans: list[range], chosen: tuple[int, ...], taken: list[set[int]]) -> bool:
            used = [set(each) for each in taken]
            for minutes, number in zip(spans, chosen, strict=True):
                if used[number] & set(minutes):
                    return False
                used[number] |= set(minutes)
            return True

        own = [minutes for minutes, _, _ in wanted]
        if any(fits(own, chosen, as_it_stands) for chosen in product(*choices[: len(own)])):
            return True
        everyone = own + [minutes for minutes, _ in loose]
        return any(fits(everyone, chosen, taken) for chosen in product(*choices))

    def rested(self, rests: list[tuple[range, int]]) -> bool:
        racks = [
            piece.resource
            for piece in self.kitchen.pieces
            if piece.kind is EquipmentKind.RACK and piece.resource.in_service
        ]

        def fits(chosen: tuple[int, ...]) -> bool:
            for number, rack in enumerate(racks):
                for minute in {
                    m
                    for (minutes, _), on in zip(rests, chosen, strict=True)
                    if on == number
                    for m in minutes
                    if m % 5 == 0
                }:
                    jars = sum(
                        count for (m, count), on in zip(rests, chosen, strict=True) if on == number and minute in m
                    )
                    slot = range(minute, minute + 5)
                    most = max(
                        sum(
                            min(busy.lanes.high, rack.lanes) - min(busy.lanes.low, rack.lanes)
                            for busy in rack.busy
                            if busy.span.starts_min <= m < busy.span.ends_min
                        )
                        for m in slot
                    )
                    if jars + most > rack.lanes:
                        return False
            return True

        return any(fits(chosen) for chosen in product(range(len(racks)), repeat=len(rests)))


JAM_DAY = Chain((Load("pint", 2, {BW: Cycle(20, 10, 30, 45)}),), 30, 30, 30, 120, 15, 10, 5, 720)


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        pytest.param("America/Denver", date(2027, 3, 14), "07:00 18:00", id="the clocks go forward"),
        pytest.param("America/Denver", date(2027, 11, 7), "08:00 20:00", id="the clocks go back"),
        pytest.param("Pacific/Auckland", date(2027, 9, 26), "08:00 20:00", id="far east, forward"),
        pytest.param("Pacific/Honolulu", date(2027, 12, 31), "08:00 20:00", id="far west, the year ends"),
        pytest.param("Europe/Lisbon", date(2028, 2, 29), "08:00 20:00", id="a leap day"),
        pytest.param("Asia/Beirut", date(2027, 3, 28), "00:00 20:00", id="a day without midnight"),
    ],
)
def test_a_batch_starts_as_the_kitchen_opens_on_its_own_clock_and_rests_till_it_may(
    zone: str, day: date, hours: str
) -> None:
    opens, closes = (int(each[:2]) * 60 + int(each[3:]) for each in hours.split())
    starts = datetime.combine(day, time.min, ZoneInfo(zone))
    window = Span(minute_of(starts) - 60, minute_of(starts) + 3 * 1440)
    open_spans = tuple(
        span
        for span in open_spans_of(
            tuple(Opening(weekday, opens, closes) for weekday in range(7)), ZoneInfo(zone), window
        )
        if span.starts_min >= minute_of(starts)
    )
    kinds = [EquipmentKind.TABLE, EquipmentKind.BURNER, EquipmentKind.BURNER, EquipmentKind.CANNER, EquipmentKind.RACK]
    found = tuple(
        Piece(
            Resource(UUID(int=number), lanes=9 if kind is EquipmentKind.RACK else 1),
            kind,
            BW if kind is EquipmentKind.CANNER else None,
            {"pint": 9} if kind is EquipmentKind.CANNER else None,
        )
        for number, kind in enumerate(kinds, 1)
    )
    kitchen = Kitchen(found, open_spans)
    first = next(seated(kitchen, Cook(), [JAM_DAY], window))
    assert first.placed.prep_min == open_spans[0].starts_min
    assert verified(kitchen, Cook(), JAM_DAY, first) == []
    taken_out = first.placed.loads[0].in_min + 30 + 5
    assert first.placed.loads[0].rested_min >= taken_out + 12 * 60  # real hours, whatever the clock on the wall shows


@settings(max_examples=EXAMPLES)
@given(kitchens(), cooks, chains, st.integers(0, 30), st.integers(60, LAST_MIN))
def test_every_start_there_is_is_found_in_order_and_keeps_every_constraint(
    kitchen: Kitchen, cook: Cook, chain: Chain, from_min: int, minutes: int
) -> None:
    within = Span(from_min, from_min + minutes)
    found = list(seated(kitchen, cook, [chain], within))
    event("some start" if found else "no start")
    event("somebody moves" if any(each.booked.moves for each in found) else "nobody moves")
    twin = Twin(kitchen, cook, chain)
    first = -(-within.starts_min // 5) * 5
    assert [each.placed.prep_min for each in found] == [
        start for start in range(first, within.ends_min, 5) if twin.can_start(start, within.ends_min // 5 * 5)
    ]
    for each in found:
        assert verified(kitchen, cook, chain, each) == []


@settings(max_examples=EXAMPLES // 2)
@given(kitchens(), cooks, chains, st.integers(0, 12), st.integers(0, 150))
def test_a_search_that_is_cut_short_says_so_and_never_no(
    kitchen: Kitchen, cook: Cook, chain: Chain, a_start: int, tries: int
) -> None:
    look, within = Look(), Span(0, LAST_MIN)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(chain_slots, "MOST_TRIES_A_START", a_start)
        patch.setattr(chain_slots, "MOST_TRIES", tries)
        found = {each.placed.prep_min for each in seated(kitchen, cook, [chain], within, look)}
    twin = Twin(kitchen, cook, chain)
    missed = {start for start in range(0, LAST_MIN, 5) if start not in found and twin.can_start(start, LAST_MIN)}
    event("something missed" if missed else "nothing missed")
    until = LAST_MIN if look.looked_until_min is None else look.looked_until_min
    assert all(start in look.undecided or start >= until for start in missed)
    assert not missed or not look.is_whole


def verified(kitchen: Kitchen, cook: Cook, chain: Chain, each: Seated) -> list[str]:
    busy = frozenset(minute for span in cook.busy for minute in range(span.starts_min, span.ends_min))
    made = Made(chain, each.booked.claims, "a member", busy, cook.trained_until_min)
    return faults(kitchen, [made], each.booked.moves)


def burner(number: int, *busy: tuple[int, int, bool]) -> Piece:
    stays = tuple(
        Busy(Span(low, high), Lanes(0, 1), Kind.BOOKING, UUID(int=10 * number + place), movable)
        for place, (low, high, movable) in enumerate(busy)
    )
    return Piece(Resource(UUID(int=number), busy=stays), EquipmentKind.BURNER)


@pytest.mark.parametrize(
    ("burners", "moves"),
    [
        pytest.param([burner(1, (30, 100, True)), burner(2, (150, 300, False))], True, id="free where it moves to"),
        pytest.param(
            [burner(1, (30, 100, True)), burner(2, (0, 45, False), (150, 300, False))],
            False,
            id="taken where it would move to, before the time that is looked at",
        ),
        pytest.param(
            [
                burner(1, (0, 20, False), (30, 100, True)),
                burner(2, (0, 35, True), (150, 300, False)),
                burner(3, (20, 300, False)),
            ],
            False,
            id="taken by somebody who may move, but has nowhere to go",
        ),
        pytest.param(
            [
                burner(1, (0, 20, False), (30, 100, True)),
                burner(2, (0, 35, True), (150, 300, False)),
                burner(3, (40, 300, False)),
            ],
            True,
            id="taken by somebody who may move, and has somewhere to go",
        ),
    ],
)
def test_somebody_makes_room_whose_own_time_began_before(burners: list[Piece], moves: bool) -> None:
    kitchen, within = Kitchen(tuple(burners), (Span(50, 300),)), Span(60, 300)  # the hours are later than they were
    calendar = Calendar(kitchen, Cook(), looked_at(kitchen, within))
    wanted = calendar.grid.touched([Span(60, 200)])
    seats = calendar.pools[EquipmentKind.BURNER].seats((Stay(wanted, tuple(range(len(burners)))),))
    assert bool(seats and seats.moves) is moves


def test_jars_that_have_no_place_together_are_no_reason_to_try_everything() -> None:
    """Two loads of nine jars find ten places on a rack, whenever they come out."""
    two = replace(JAM_DAY, loads=(replace(JAM_DAY.loads[0], jars=9),) * 2)
    kinds = {EquipmentKind.TABLE: 2, EquipmentKind.BURNER: 4, EquipmentKind.CANNER: 2}
    pieces = [
        Piece(
            Resource(UUID(int=10 * at + number)),
            kind,
            BW if kind is EquipmentKind.CANNER else None,
            {"pint": 9} if kind is EquipmentKind.CANNER else None,
        )
        for at, (kind, count) in enumerate(kinds.items(), 1)
        for number in range(count)
    ]
    racks = [Piece(Resource(UUID(int=90 + number), lanes=10), EquipmentKind.RACK) for number in range(2)]
    hours = tuple(Span(day * 1440 + 480, day * 1440 + 1200) for day in range(9))
    one_rack, both_racks = Kitchen((*pieces, racks[0]), hours), Kitchen((*pieces, *racks), hours)
    calendar = Calendar(one_rack, Cook(), Span(0, 9 * 1440))
    assert list(Search(calendar, two, Span(0, 1440)).seated()) == []
    assert calendar.tries.done == 0
    assert next(seated(both_racks, Cook(), [two], Span(0, 1440))).placed.prep_min == 480


def test_one_burner_claimed_for_the_pot_and_the_canner_at_once_is_refused() -> None:
    kinds = [EquipmentKind.TABLE, EquipmentKind.CANNER, EquipmentKind.RACK, EquipmentKind.BURNER, EquipmentKind.BURNER]
    found = [
        Piece(
            Resource(UUID(int=number), lanes=9 if kind is EquipmentKind.RACK else 1),
            kind,
            BW if kind is EquipmentKind.CANNER else None,
            {"pint": 9} if kind is EquipmentKind.CANNER else None,
        )
        for number, kind in enumerate(kinds, 1)
    ]
    hours = tuple(Span(day * 1440 + 480, day * 1440 + 1200) for day in range(12))
    two, one = Kitchen(tuple(found), hours), Kitchen(tuple(found[:-1]), hours)
    (option,) = chain_bookings.options(two, Cook(), [JAM_DAY], Span(480, 1200), 1200, 1).options
    last, left = found[-1].resource.equipment_id, found[-2].resource.equipment_id
    twice = tuple(replace(claim, equipment_id=left) if claim.equipment_id == last else claim for claim in option.claims)
    refused = chain_bookings.book(
        chain_bookings.Wish([JAM_DAY], twice, Standing("ready")), one, Cook(), EPOCH, ahead_minutes=1440
    )
    assert isinstance(refused, Refused)
    assert (refused.code, refused.extra["equipment_kind"]) == ("does-not-fit", EquipmentKind.BURNER)
