"""What is to be decided in a plan, as a problem of the solver.

Units that do the same are counted; their numbers are given out afterwards. Time is in slots of the five-minute grid
from the start of the plan. A batch keeps to one day, as no step waits overnight: the choice of its day is tied to its
starts and its lateness by sums, which is what gives good bounds when more is asked than a day holds.
"""

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby, pairwise
from uuid import UUID

from service.core.scheduling.bookings import Piece, Step
from service.core.scheduling.chain_slots import REST_AHEAD_MINUTES, Cook
from service.core.scheduling.chains import (
    LONGEST_CLOSED_MINUTES,
    Chain,
    Cycle,
    Load,
    Placed,
    PlacedLoad,
    left_min,
    needs,
    rested_min,
)
from service.core.scheduling.equipment import PRESSURE_KINDS, EquipmentKind
from service.core.scheduling.fair_use import Season, Shares
from service.core.scheduling.seating import NO_UNIT, Unit, sort_of
from service.core.scheduling.slots import GRID_MINUTES, Kind
from service.core.scheduling.solving import Linear, Mode, Pool, Problem, Use, total
from service.core.scheduling.soonest import Sort, Work, soonest
from service.core.scheduling.spans import Span, common
from service.core.scheduling.timetables import Batch, Goal, Order, Timed


@dataclass(frozen=True, slots=True)
class _Units:
    """Units that do the same, and how many of them are taken in each slot before anything is planned."""

    pool: Pool
    taken: tuple[int, ...]

    @property
    def free(self) -> tuple[int, ...]:
        """How many are left in each slot."""
        return tuple(self.pool.capacity - taken for taken in self.taken)

    def left(self, day: Span) -> int:
        """Units times slots that a day has left."""
        return sum(self.free[day.starts_min : day.ends_min])


@dataclass(frozen=True, slots=True)
class _LoadNumbers:
    fill: Linear
    into: Linear
    sorts: tuple[Unit, ...]
    chosen: tuple[Linear, ...]  # which of the sorts
    rests: list[tuple[Linear, range, int, UUID | None]]  # each way to rest: when jars go in, how much later out, rack
    racks: dict[UUID, Linear]  # which of the racks, where it isn't all the same


@dataclass(frozen=True, slots=True)
class _BatchNumbers:
    batch: Batch
    chain: Chain
    prep: Linear
    cook: Linear
    loads: tuple[_LoadNumbers, ...]
    days: Mapping[Span, Linear]
    pot_for: Linear  # how long the pot keeps its burner
    late: Linear
    shift: Linear  # how far the start is from the promised one


@dataclass(frozen=True, slots=True)
class Chosen:
    """A batch as a solution has it; for each load a canner, and a rack where it isn't all the same which."""

    batch: Batch
    chain: Chain
    placed: Placed
    canners: tuple[Unit, ...]
    racks: tuple[UUID | None, ...]


class Model:
    """The numbers of a plan; spans within it are in slots."""

    def __init__(
        self,
        order: Order,
        chains: Mapping[UUID, Chain],
        likely: Mapping[UUID, Timed],
        reached: Mapping[Goal, int] | None = None,
    ) -> None:
        """Start from a timetable of all batches, or of none.

        With what all other goals have `reached`, in the solver's own numbers, canners are told apart one by one, so
        that none stands idle: that is a larger problem, and no other goal needs it.
        """
        self.problem = problem = Problem()
        self.without_day: list[UUID] = []  # batches that fit into no day at all, or into no canner that is in service
        self._order = order
        self._kept: dict[UUID, Linear] = {}  # which promises are kept
        self._edges: dict[tuple[Unit, Span], tuple[Linear, Linear]] = {}  # of each canner's day, told one by one
        self._base = order.within.starts_min // GRID_MINUTES * GRID_MINUTES
        self._end = self._slot(order.within.ends_min)
        self._open = order.kitchen.usable_spans
        longest_gap = max(max(each.longest_wait_minutes, each.longest_standing_minutes) for each in chains.values())
        self._days = tuple(self._grouped(common(self._open, (order.within,)), longest_gap // GRID_MINUTES))
        self._burners = self._units(EquipmentKind.BURNER)
        self._tables = self._units(EquipmentKind.TABLE)
        self._one_by_one = reached is not None
        sorts = sorted(
            {sort for piece in order.kitchen.pieces if piece.resource.in_service and (sort := self._sort_of(piece))},
            key=lambda sort: (sort.kind, sort.capacity, sort.unit),
        )
        self._canners = {sort: self._units(EquipmentKind.CANNER, sort) for sort in sorts}
        self._racks = self._needed_racks(chains.values())
        self._hands = {member_id: self._hands_of(cook) for member_id, cook in order.cooks.items()}
        self._numbers = [
            numbers for batch in order.batches if (numbers := self._batch(batch, chains[batch.id])) is not None
        ]
        self._energy()
        if order.shares:
            self._share_fairly(order.shares)
        goals = {
            Goal.LATENESS: total(each.batch.weight * each.late for each in self._numbers),
            Goal.MOVED: self._moved(),
            Goal.SHIFT: total(each.shift for each in self._numbers),
            Goal.WORST_OFF: self._worst_off(),
            Goal.MAKESPAN: self._makespan(),
        }
        self.goals = tuple(goal for goal in order.goals if goal in goals)
        problem.goals = [goals[goal] for goal in self.goals]
        if reached is not None:
            for goal in self.goals:
                problem.at_least(Linear(constant=reached[goal]), goals[goal])
            self.goals, problem.goals = (Goal.IDLE,), [self._idle()]
        if likely and not self.without_day:
            self._start_from(likely)

    def minutes(self, goal: int, value: int) -> int:
        """What the value of a goal is in minutes; the makespan counts from the first opening."""
        if self.goals[goal] is Goal.MAKESPAN:
            return (value - self._days[0].starts_min) * GRID_MINUTES
        return value * GRID_MINUTES if self.goals[goal] in (Goal.SHIFT, Goal.IDLE) else value

    def start_of(self, batch_id: UUID) -> Linear:
        """When a batch begins, in slots."""
        return next(each.prep for each in self._numbers if each.batch.id == batch_id)

    def soonest(self) -> int:
        """The slot before which the last canner can't be free, by how much work its units can do until then."""
        tables, pots = list[Work](), list[Work]()
        loads: list[tuple[frozenset[Unit], Work]] = []
        for each in self._numbers:
            chain = each.chain
            begins = min(self.problem.domains[number][0].start for number in each.prep.terms)
            fill_for, count = _slots(chain.fill_minutes), len(chain.loads)
            cook = begins + _slots(chain.prep_minutes)
            cooked = cook + _slots(chain.cook_minutes)
            free_after = [_least(load, lambda cycle: cycle.free_after_minutes) for load in chain.loads]
            until_free = max((place + 1) * fill_for + free for place, free in enumerate(free_after))
            tables.append(Work(begins, cook - begins, cooked - cook + until_free))
            pots.append(Work(cook, cooked - cook + count * fill_for, free_after[-1]))
            for place, (load, numbers, free) in enumerate(zip(chain.loads, each.loads, free_after, strict=True)):
                filled = cooked + (place + 1) * fill_for
                tables.append(Work(filled - fill_for, fill_for, free))
                warm = max(_slots(load.cycles[sort.kind].warm_minutes) for sort in numbers.sorts)
                loads.append((frozenset(numbers.sorts), Work(filled - warm, _least(load, _held))))

        def canners(sorts: Collection[Unit]) -> Sort:
            free = tuple(map(sum, zip(*(self._canners[sort].free for sort in sorts), strict=True)))
            return Sort(free, tuple(work for able, work in loads if able <= set(sorts)))

        groups = [canners(group) for group in self._groups_of_sorts()]
        of_canners = [canners(sorts) for sorts in {able for able, _ in loads}]
        return max(
            soonest(self._tables.free, [Sort(self._tables.free, tuple(tables))]),
            soonest(self._burners.free, [Sort(self._burners.free, tuple(pots)), *groups]),
            *(soonest(sort.at_once, [sort]) for sort in (*groups, *of_canners)),
        )

    def placed(self, values: Sequence[int]) -> Iterator[Chosen]:
        """Read a solution: when each batch is made, in which canners and on which racks; earliest first."""
        for each in sorted(self._numbers, key=lambda each: each.prep.value(values)):
            loads, sorts, racks = [], [], list[UUID | None]()
            for load, numbers in zip(each.chain.loads, each.loads, strict=True):
                sort = numbers.sorts[[one.value(values) for one in numbers.chosen].index(1)]
                in_min = self._minute(numbers.into.value(values))
                out_min = in_min + load.cycles[sort.kind].out_after_minutes
                rested = rested_min(each.chain, out_min, self._open)
                assert rested is not None  # or the batch couldn't be there
                loads.append(PlacedLoad(self._minute(numbers.fill.value(values)), in_min, sort.kind, rested))
                sorts.append(sort)
                racks.append(next((rack for rack, on in numbers.racks.items() if on.value(values)), None))
            prep_min, cook_min = (self._minute(number.value(values)) for number in (each.prep, each.cook))
            placed = Placed(prep_min, cook_min, tuple(loads))
            yield Chosen(each.batch, each.chain, placed, tuple(sorts), tuple(racks))

    def _batch(self, batch: Batch, chain: Chain) -> _BatchNumbers | None:
        problem = self.problem
        prep_for, wait, cook_for, hold, fill_for, stand, hand = map(
            _slots,
            (
                chain.prep_minutes,
                chain.longest_wait_minutes,
                chain.cook_minutes,
                chain.longest_hold_minutes,
                chain.fill_minutes,
                chain.longest_standing_minutes,
                chain.hands_minutes,
            ),
        )
        filling, hands = len(chain.loads) * fill_for, self._hands[batch.member_id]
        release = max(-(-(batch.release_min - self._base) // GRID_MINUTES), 0)
        until_free = prep_for + cook_for + _longest(chain, lambda cycle: cycle.free_after_minutes)
        until_out = prep_for + cook_for + _longest(chain, lambda cycle: cycle.out_after_minutes) + hand
        starts = {
            day: range(max(day.starts_min, release), day.ends_min - until_free + 1)
            for day in self._days
            if max(day.starts_min, release) + until_free <= day.ends_min and self._reaches(batch, day)
        }
        if not starts or not all(any(load.fits(sort) for sort in self._canners) for load in chain.loads):
            self.without_day.append(batch.id)
            return None

        def number(after: int) -> Linear:
            """A start at least so long after prep starts, by the end of the day."""
            return problem.number(*(range(each.start + after, day.ends_min) for day, each in starts.items()))

        days = {day: problem.choice() for day in starts}
        problem.equal(total(days.values()), 1)
        prep = problem.number(*starts.values())
        problem.at_least(prep, total(starts[day].start * chosen for day, chosen in days.items()))
        problem.at_least(total((starts[day].stop - 1) * chosen for day, chosen in days.items()), prep)
        cook = number(prep_for)
        problem.at_least(cook, prep + prep_for)
        problem.at_least(prep + (prep_for + wait), cook)
        filled = cook + cook_for
        self._tables.pool.add(prep, prep_for)
        hands.add(prep, prep_for)
        if chain.cook_attended:
            hands.add(cook, cook_for)
        due = batch.due_min - self._base
        most_late = max(0, self._end * GRID_MINUTES - due)
        late = problem.number(range(most_late + 1))
        problem.at_least(
            late,
            total(
                max(0, (starts[day].start + until_out) * GRID_MINUTES - due) * chosen for day, chosen in days.items()
            ),
        )
        loads = []
        for place, load in enumerate(chain.loads):
            fill = number(prep_for + cook_for + place * fill_for)
            into = number(prep_for + cook_for + (place + 1) * fill_for)
            problem.at_least(fill, filled)
            filled = fill + fill_for
            problem.at_least(into, filled)
            problem.at_least(filled + stand, into)
            self._tables.pool.add(fill, fill_for)
            hands.add(fill, fill_for)
            sorts = tuple(sort for sort in self._canners if load.fits(sort))
            modes = [self._mode(load.cycles[sort.kind], sort, hands, hand) for sort in sorts]
            numbers = _LoadNumbers(fill, into, sorts, problem.activity(into, modes).chosen, [], {})
            self._keep_to_hours(batch, chain, load, numbers, days)
            self._rest(chain, load, numbers, days)
            out = into + _chosen(load, numbers, lambda cycle: cycle.out_after_minutes)
            problem.at_least(late, GRID_MINUTES * (out + hand) - due)
            loads.append(numbers)
        length = problem.number(range(cook_for + filling, cook_for + hold + 1))
        problem.equal(cook + length, filled)
        self._burners.pool.add_between(cook, filled, length)
        shift = Linear()
        if batch.promised:
            before = self._slot(batch.promised.prep_min)
            shift = problem.number(range(self._end + abs(before) + 1))
            problem.at_least(shift, prep - before)
            problem.at_least(shift, -1 * prep + before)
        return _BatchNumbers(batch, chain, prep, cook, tuple(loads), days, length, late, shift)

    def _mode(self, cycle: Cycle, sort: Unit, hands: Pool, hand: int) -> Mode:
        """One load in a canner of this sort, from the moment its jars go in."""
        warm, out, free = map(_slots, (cycle.warm_minutes, cycle.out_after_minutes, cycle.free_after_minutes))
        uses = (
            Use(self._canners[sort].pool, after=-warm, length=warm + free),
            Use(self._burners.pool, after=-warm, length=warm + free),
            Use(hands, length=hand),
            Use(hands, after=out, length=hand),
        )
        return Mode(free, uses)

    def _keep_to_hours(
        self, batch: Batch, chain: Chain, load: Load, numbers: _LoadNumbers, days: Mapping[Span, Linear]
    ) -> None:
        """Canners are taken within the day, by somebody signed off; jars leave the rack at a known opening."""
        problem, into = self.problem, numbers.into
        free = into + _chosen(load, numbers, lambda cycle: cycle.free_after_minutes)
        warm = into - _chosen(load, numbers, lambda cycle: cycle.warm_minutes)
        problem.at_least(total(day.ends_min * chosen for day, chosen in days.items()), free)
        problem.at_least(warm, total(day.starts_min * chosen for day, chosen in days.items()))
        last_open = self._slot(self._open[-1].ends_min)
        for sort, chosen in zip(numbers.sorts, numbers.chosen, strict=True):
            cycle = load.cycles[sort.kind]
            latest = last_open - 1 - _slots(cycle.out_after_minutes + chain.hands_minutes + chain.rest_minutes)
            if sort.kind in PRESSURE_KINDS:
                trained = self._slot(self._order.cooks[batch.member_id].trained_until_min)
                latest = min(latest, trained - _slots(cycle.free_after_minutes))
            if latest < self._end:
                problem.at_least(Linear(constant=latest), into, None if len(numbers.sorts) == 1 else chosen)

    def _rest(self, chain: Chain, load: Load, numbers: _LoadNumbers, days: Mapping[Span, Linear]) -> None:
        """Places on the racks from the moment jars come out until they may leave.

        They leave when they have rested, or at the opening after that: which of these it is depends on when they come
        out, so for each day and each of the ways there is a choice, unless the day decides it.
        """
        if not self._racks:
            return
        problem, into = self.problem, numbers.into
        by_out: dict[int, list[Linear]] = {}
        for sort, chosen in zip(numbers.sorts, numbers.chosen, strict=True):
            by_out.setdefault(_slots(load.cycles[sort.kind].out_after_minutes), []).append(chosen)
        rest = _slots(chain.hands_minutes + chain.rest_minutes)
        ways = [
            (day, out, low, high, leaves)
            for day in days
            for out in by_out
            for low, high, leaves in self._leaves(day, out + rest)
        ]
        only = {day: sum(1 for each in ways if each[0] is day) == 1 for day in days}
        choices: list[Linear] = []
        for day, out, low, high, leaves in ways:
            when = days[day]
            if not only[day] or len(by_out) > 1:
                when = problem.choice()
                numbers.rests.append((when, range(low, high + 1), out, None))
                problem.at_least(days[day], when)
                problem.at_least(total(by_out[out]), when)
                problem.at_least(into, low, when)
                problem.at_least(Linear(constant=high), into, when)
            choices.append(when)
            for rack, on in self._racks_for(load, numbers, when):
                if rack is not None:
                    numbers.rests.append((on, range(low, high + 1), out, rack))
                pool = self._racks[rack]
                if leaves is None:
                    pool.add(into + out, rest, load.jars, on)
                else:
                    end = Linear(constant=leaves)
                    pool.add_between(into + out, end, end - (into + out), load.jars, on)
        problem.equal(total(choices), 1)

    def _racks_for(self, load: Load, numbers: _LoadNumbers, when: Linear) -> Iterator[tuple[UUID | None, Linear]]:
        """Each rack that takes the load, with the choice of it if there are several."""
        problem = self.problem
        if None in self._racks:
            yield None, when
            return
        if not numbers.racks:
            able = [rack for rack, pool in self._racks.items() if rack and pool.capacity >= load.jars]
            numbers.racks.update({rack: problem.choice() for rack in able})
            problem.equal(total(numbers.racks.values()), 1)
        both = {rack: problem.choice() for rack in numbers.racks}
        problem.equal(total(both.values()), when)
        for rack, on in both.items():
            problem.at_least(numbers.racks[rack], on)
            yield rack, on

    def _leaves(self, day: Span, after: int) -> Iterator[tuple[int, int, int | None]]:
        """Runs of slots of a day, first and last, from which jars that may leave so much later leave at one slot.

        `None` for those that leave as soon as they may; those that never may are left out.
        """

        def leaves(slot: int) -> tuple[bool, int | None]:
            ready_min = self._minute(slot + after)
            left = left_min(ready_min, self._open)
            return left is not None, None if left in (None, ready_min) else self._slot(left)

        for (ever, leaving), run in groupby(range(day.starts_min, day.ends_min), leaves):
            found = list(run)
            if ever:
                yield found[0], found[-1], leaving

    def _energy(self) -> None:
        """No day does more work than its units have time for."""
        self._within_each_day(self._burners.left, _burner_work)
        self._within_each_day(self._tables.left, _table_work)
        for group in self._groups_of_sorts():
            union = self._units(EquipmentKind.CANNER, *group) if len(group) > 1 else self._canners[group[0]]

            def canner_work(chain: Chain, group: tuple[Unit, ...] = group) -> int:
                return sum(_least(load, _held) for load in chain.loads if any(load.fits(sort) for sort in group))

            self._within_each_day(union.left, canner_work)
            if len(group) > 1:
                self._in_any_of(union, group)

    def _in_any_of(self, union: _Units, group: Sequence[Unit]) -> None:
        """Loads that may go into several sorts of canner are in one of them; said once more, it helps the bound."""
        for each in self._numbers:
            for load, numbers in zip(each.chain.loads, each.loads, strict=True):
                if numbers.sorts[0] in group:
                    warm = _least(load, lambda cycle: cycle.warm_minutes)
                    free = _least(load, lambda cycle: cycle.free_after_minutes)
                    union.pool.add(numbers.into - warm, warm + free)

    def _groups_of_sorts(self) -> list[tuple[Unit, ...]]:
        """Sorts of canner that some loads may choose between, directly or by way of others."""
        groups = [{sort} for sort in self._canners]
        for each in self._numbers:
            for numbers in each.loads:
                joined = [group for group in groups if group & set(numbers.sorts)]
                groups = [group for group in groups if group not in joined] + [set().union(*joined)]
        return [tuple(sort for sort in self._canners if sort in group) for group in groups]

    def _within_each_day(self, left: Callable[[Span], int], work: Callable[[Chain], int]) -> None:
        for day in self._days:
            spent = total(work(each.chain) * each.days[day] for each in self._numbers if day in each.days)
            self.problem.at_least(Linear(constant=left(day)), spent)

    def _moved(self) -> Linear:
        """How many batches don't keep the time they were promised, in their own canners if those can be used."""
        for each in self._numbers:
            promised = each.batch.promised
            if promised is None:
                continue
            kept = self.problem.choice()
            self._kept[each.batch.id] = kept
            starts = [(each.prep, promised.prep_min), (each.cook, promised.cook_min)]
            own = self._own(each)
            for number, (numbers, at) in enumerate(zip(each.loads, promised.loads, strict=True)):
                starts += [(numbers.fill, at.fill_min), (numbers.into, at.in_min)]
                sorts = zip(numbers.sorts, numbers.chosen, strict=True)
                usual = (chosen for sort, chosen in sorts if sort.kind is at.kind and own.get(number, sort) == sort)
                self.problem.at_least(total(usual), kept)
            for start, minute in starts:
                self.problem.at_least(start, self._slot(minute), kept)
                self.problem.at_least(Linear(constant=self._slot(minute)), start, kept)
        return Linear(constant=len(self._kept)) - total(self._kept.values())

    def _own(self, each: _BatchNumbers) -> dict[int, Unit]:
        """For each load the canner it was promised, where nothing has come in the way of it."""
        promised = each.batch.promised
        if promised is None or not each.batch.promised_units:
            return {}
        pieces = {piece.resource.equipment_id: piece for piece in self._order.kitchen.pieces}
        found = {}
        for need, unit in zip(needs(each.chain, promised), each.batch.promised_units, strict=True):
            sort = self._sort_of(pieces[unit])
            busy = pieces[unit].resource.busy
            if need.load is not None and sort in self._canners and not any(at.span.overlaps(need.span) for at in busy):
                found[need.load] = sort
        return found

    def _worst_off(self) -> Linear:
        """The lateness of the member who has most of it."""
        of_member: dict[UUID, list[_BatchNumbers]] = {}
        for each in self._numbers:
            of_member.setdefault(each.batch.member_id, []).append(each)
        most = sum(
            each.batch.weight * max(0, self._end * GRID_MINUTES + self._base - each.batch.due_min)
            for each in self._numbers
        )
        self._worst = worst = self.problem.number(range(most + 1))
        for theirs in of_member.values():
            self.problem.at_least(worst, total(each.batch.weight * each.late for each in theirs))
        return worst

    def _makespan(self) -> Linear:
        """When the last canner is free."""
        self.last_free = makespan = self.problem.number(range(self._end + 1))
        for each in self._numbers:
            for load, numbers in zip(each.chain.loads, each.loads, strict=True):
                free = _chosen(load, numbers, lambda cycle: cycle.free_after_minutes)
                self.problem.at_least(makespan, numbers.into + free)
        return makespan

    def _idle(self) -> Linear:
        """How long each canner stands about between its first and its last load of a day."""
        problem, parts = self.problem, []
        for sort in self._canners:
            for day in self._days:
                first, last = (problem.number(range(day.starts_min, day.ends_min + 1)) for _ in range(2))
                problem.at_least(last, first)
                self._edges[sort, day] = first, last
                parts.append(last - first)
        for each in self._numbers:
            for load, numbers in zip(each.chain.loads, each.loads, strict=True):
                for sort, chosen in zip(numbers.sorts, numbers.chosen, strict=True):
                    cycle, when = load.cycles[sort.kind], chosen if chosen.terms else None
                    warm, free = _slots(cycle.warm_minutes), _slots(cycle.free_after_minutes)
                    parts.append(-(warm + free) * chosen)
                    for day, on in each.days.items():
                        first, last = self._edges[sort, day]
                        elsewhere = self._end * (Linear(constant=1) - on)
                        problem.at_least(numbers.into - warm + elsewhere, first, when)
                        problem.at_least(last + elsewhere, numbers.into + free, when)
        idle = problem.number(range(len(self._edges) * self._end + 1))
        problem.equal(idle, total(parts))
        return idle

    def _share_fairly(self, shares: Shares) -> None:
        """No member has more bookings, or canners for longer, than their share; what was promised counts already."""
        of_member: dict[UUID, list[_BatchNumbers]] = {}
        for each in self._numbers:
            if each.batch.promised is None:
                of_member.setdefault(each.batch.member_id, []).append(each)
        for member_id, theirs in of_member.items():
            chosen = [(each, day, on) for each in theirs for day, on in each.days.items()]
            spent: dict[tuple[Season | None, int | None], list[Linear]] = {}
            for _, day, on in chosen:
                dates = self._dates(shares, day)
                for counted in {shares.bookings_left(member_id, each) for each in dates}:
                    spent.setdefault(counted, []).append(on)
                for monday, minutes in {shares.canner_minutes_left(member_id, each) for each in dates}:
                    week = (
                        _canner_minutes(other.chain) * other_on
                        for other, other_day, other_on in chosen
                        if other_day.starts_min <= day.starts_min
                        and monday in {shares.monday(each) for each in self._dates(shares, other_day)}
                    )
                    if minutes is not None:
                        self.problem.at_least(Linear(constant=minutes), total(week), on)
            for (_, most), ons in spent.items():
                if most is not None:
                    self.problem.at_least(Linear(constant=most), total(ons))

    def _reaches(self, batch: Batch, day: Span) -> bool:
        """Whether a member may book so far ahead."""
        shares = self._order.shares
        return not shares or bool(batch.promised) or all(map(shares.reaches, self._dates(shares, day)))

    def _dates(self, shares: Shares, day: Span) -> tuple[date, ...]:
        return shares.days(Span(self._minute(day.starts_min), self._minute(day.ends_min)))

    def _start_from(self, timed: Mapping[UUID, Timed]) -> None:
        """Give every number the value it has in a timetable."""
        hint = self.problem.start_from
        sort_of_id = {piece.resource.equipment_id: self._sort_of(piece) for piece in self._order.kitchen.pieces}
        used: dict[tuple[Unit, int], list[Span]] = {}
        late: Counter[UUID] = Counter()
        for each in self._numbers:
            known = timed[each.batch.id]
            late[each.batch.member_id] += each.batch.weight * known.late_minutes
            prep, cook = self._slot(known.placed.prep_min), self._slot(known.placed.cook_min)
            if each.batch.promised:
                hint(self._kept[each.batch.id], not known.moved)
            hint(each.prep, prep)
            hint(each.cook, cook)
            hint(each.late, known.late_minutes)
            last_fill_min = known.placed.loads[-1].fill_min + each.chain.fill_minutes
            hint(each.pot_for, self._slot(last_fill_min) - cook)
            if each.shift.terms:
                hint(each.shift, known.shift_minutes // GRID_MINUTES)
            for day, chosen in each.days.items():
                hint(chosen, day.starts_min <= prep < day.ends_min)
            sorts = [sort for claim in known.claims if (sort := sort_of_id[claim.equipment_id])]
            racks = [claim.equipment_id for claim in known.claims if claim.step is Step.REST]
            for load, numbers, at, known_sort, known_rack in zip(
                each.chain.loads, each.loads, known.placed.loads, sorts, racks, strict=True
            ):
                into = self._slot(at.in_min)
                hint(numbers.fill, self._slot(at.fill_min))
                hint(numbers.into, into)
                for sort, chosen in zip(numbers.sorts, numbers.chosen, strict=True):
                    hint(chosen, sort == known_sort)
                for rack, chosen in numbers.racks.items():
                    hint(chosen, rack == known_rack)
                for chosen, ins, out, only in numbers.rests:
                    way = into in ins and out == _slots(load.cycles[at.kind].out_after_minutes)
                    hint(chosen, way and only in (None, known_rack))
                if known_sort in self._canners:
                    used.setdefault((known_sort, prep), []).append(load.cycles[at.kind].held(at.in_min))
        hint(self._worst, max(late.values()))
        hint(self.last_free, max(self._slot(each.free_min) for each in timed.values()))
        stand = 0
        for (sort, day), (first, last) in self._edges.items():
            spans = [
                span
                for (on, at), each in used.items()
                if on == sort and day.starts_min <= at < day.ends_min
                for span in each
            ]
            starts = min((self._slot(span.starts_min) for span in spans), default=day.starts_min)
            ends = max((self._slot(span.ends_min) for span in spans), default=day.starts_min)
            hint(first, starts)
            hint(last, ends)
            stand += ends - starts - sum(_slots(span.minutes) for span in spans)
        if self._edges:
            hint(self.problem.goals[0], stand)

    def _sort_of(self, piece: Piece) -> Unit | None:
        sort = sort_of(piece)
        if sort is None:
            return None
        return Unit(sort.kind, sort.capacity, piece.resource.equipment_id if self._one_by_one else NO_UNIT)

    def _units(self, kind: EquipmentKind, *sorts: Unit) -> _Units:
        """The units of a kind in service, all of them or those of certain sorts."""
        pieces = [
            piece
            for piece in self._order.kitchen.pieces
            if piece.kind is kind and piece.resource.in_service and (not sorts or self._sort_of(piece) in sorts)
        ]
        pool = self.problem.pool(sum(piece.resource.lanes for piece in pieces))
        taken = self._taken(pieces, self._end)
        for day in self._days:
            open_within = common(self._slots_of(self._open), (day,))
            for slot in range(day.starts_min, day.ends_min):
                if not any(span.starts_min <= slot < span.ends_min for span in open_within):
                    taken[slot] = pool.capacity
        return _Units(_filled(pool, taken), tuple(taken))

    def _needed_racks(self, chains: Iterable[Chain]) -> dict[UUID | None, Pool]:
        """The places of each rack, or of the only one; nothing if jars may rest at any time, all of them at once."""
        pieces = [
            piece
            for piece in self._order.kitchen.pieces
            if piece.kind is EquipmentKind.RACK and piece.resource.in_service
        ]
        slots = self._end + _slots(REST_AHEAD_MINUTES)
        taken = {piece.resource.equipment_id: self._taken([piece], slots) for piece in pieces}
        loads = [load.jars for chain in chains for load in chain.loads]
        # However the jars are spread, one rack still has room for the largest load.
        spare = max(loads, default=0) - 1 if len(pieces) > 1 else 0
        left = (piece.resource.lanes - max(taken[piece.resource.equipment_id]) - spare for piece in pieces)
        if not pieces:
            return {None: self.problem.pool(0)}
        always = all(later.starts_min - one.ends_min <= LONGEST_CLOSED_MINUTES for one, later in pairwise(self._open))
        if always and sum(max(each, 0) for each in left) >= sum(loads):
            return {}
        pools: dict[UUID | None, Pool] = {}
        for piece in pieces:
            rack = piece.resource.equipment_id
            places = self.problem.pool(piece.resource.lanes)
            pools[rack if len(pieces) > 1 else None] = _filled(places, taken[rack])
        return pools

    def _hands_of(self, cook: Cook) -> Pool:
        pool = self.problem.pool(1)
        taken = [0] * self._end
        for span in common(self._slots_of(cook.busy), (Span(0, self._end),)):
            taken[span.starts_min : span.ends_min] = [1] * span.minutes
        return _filled(pool, taken)

    def _taken(self, pieces: Iterable[Piece], slots: int) -> list[int]:
        """Lanes taken in each slot; a slot counts for the most in any of its minutes."""
        taken = [0] * slots
        for piece in pieces:
            edges: dict[int, int] = {}
            for busy in piece.resource.busy:
                if busy.kind is not Kind.CLOSURE:  # the hours know of those
                    lanes = min(busy.lanes.high, piece.resource.lanes) - min(busy.lanes.low, piece.resource.lanes)
                    edges[busy.span.starts_min] = edges.get(busy.span.starts_min, 0) + lanes
                    edges[busy.span.ends_min] = edges.get(busy.span.ends_min, 0) - lanes
            own, level = [0] * slots, 0
            for edge, following in pairwise(sorted(edges)):
                level += edges[edge]
                for span in self._slots_of([Span(edge, following)]):
                    for slot in range(max(span.starts_min, 0), min(span.ends_min, slots)):
                        own[slot] = max(own[slot], level)
            taken = [before + more for before, more in zip(taken, own, strict=True)]
        return taken

    def _slots_of(self, spans: Iterable[Span]) -> tuple[Span, ...]:
        """Every slot that any minute of the spans falls in."""
        return tuple(
            Span(self._slot(span.starts_min), -((self._base - span.ends_min) // GRID_MINUTES)) for span in spans
        )

    def _grouped(self, spans: Iterable[Span], longest_gap: int) -> Iterator[Span]:
        """Openings as days: what a batch can wait through doesn't part one day from the next."""
        days: list[Span] = []
        for span in self._slots_of(spans):
            if days and span.starts_min - days[-1].ends_min <= longest_gap:
                days[-1] = Span(days[-1].starts_min, span.ends_min)
            else:
                days.append(span)
        return iter(days)

    def _slot(self, minute: int) -> int:
        return (minute - self._base) // GRID_MINUTES

    def _minute(self, slot: int) -> int:
        return self._base + slot * GRID_MINUTES


def _filled(pool: Pool, taken: Sequence[int]) -> Pool:
    for level, run in groupby(range(len(taken)), key=taken.__getitem__):
        slots = list(run)
        if level:
            pool.add(Linear(constant=slots[0]), len(slots), level)
    return pool


def _chosen(load: Load, numbers: _LoadNumbers, minutes: Callable[[Cycle], int]) -> Linear:
    """A figure of the load's cycle in the canner that is chosen for it, in slots."""
    return total(
        _slots(minutes(load.cycles[sort.kind])) * chosen
        for sort, chosen in zip(numbers.sorts, numbers.chosen, strict=True)
    )


def _least(load: Load, minutes: Callable[[Cycle], int]) -> int:
    return min(_slots(minutes(cycle)) for cycle in load.cycles.values())


def _longest(chain: Chain, minutes: Callable[[Cycle], int]) -> int:
    """From the end of cook to the last of such moments, at least, in slots."""
    fill_for = _slots(chain.fill_minutes)
    return max((place + 1) * fill_for + _least(load, minutes) for place, load in enumerate(chain.loads))


def _held(cycle: Cycle) -> int:
    return cycle.warm_minutes + cycle.free_after_minutes


def _burner_work(chain: Chain) -> int:
    pot = _slots(chain.cook_minutes + len(chain.loads) * chain.fill_minutes)
    return pot + sum(_least(load, _held) for load in chain.loads)


def _table_work(chain: Chain) -> int:
    return _slots(chain.prep_minutes + len(chain.loads) * chain.fill_minutes)


def _canner_minutes(chain: Chain) -> int:
    """How long its loads have canners, at the most."""
    return sum(max(_held(cycle) for cycle in load.cycles.values()) for load in chain.loads)


def _slots(minutes: int) -> int:
    return minutes // GRID_MINUTES
