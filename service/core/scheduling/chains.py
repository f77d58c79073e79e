"""The chain of a batch: prep, cook, fill, one or more canner loads, and jars that rest.

```
table    prep           fill 1 ..... fill 2
burner        cook ........................|          the pot keeps its burner until the last jar is filled
canner              warm |-- load 1 ----------|  clean
burner              warm |-- load 1 ----------|  clean
rack                                          |-- rest, until the kitchen is open 12 hours later
```

Every length is a whole number of grid steps: a start on the grid keeps the whole chain there. Lengths are only ever
rounded up; a process is looked up and never shortened.
"""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

from service.core.measures.jars import JAR_ML, held
from service.core.refusals import Refused
from service.core.scheduling.bookings import Step
from service.core.scheduling.equipment import PRESSURE_KINDS, CannerKind, EquipmentKind
from service.core.scheduling.figures import Figures
from service.core.scheduling.slots import GRID_MINUTES
from service.core.scheduling.spans import Span

LONGEST_CLOSED_MINUTES = 7 * 1440  # that jars rest over: as long as from one weekly opening to the next
STEPS_BEFORE_LOADS, STEPS_A_LOAD = 2, 4  # prep, cook; then for each load fill, canner, burner, rest


@dataclass(frozen=True, slots=True)
class Canner:
    """Canners of one kind that hold the same: any of them does what another does."""

    kind: CannerKind
    capacity: tuple[tuple[str, int], ...]  # jar size: jars in one load

    @classmethod
    def of(cls, kind: CannerKind, capacity: Mapping[str, int]) -> "Canner":
        return cls(kind, tuple(sorted(capacity.items())))

    def holds(self, jar_size: str) -> int:
        """Jars of this size in one load; none of a size it doesn't take."""
        return held(dict(self.capacity), jar_size) or 0


@dataclass(frozen=True, slots=True)
class Cycle:
    """What one load asks of a canner of one kind, from the moment `in`, when its jars go in."""

    warm_minutes: int  # before `in`: the canner stands on its burner already
    process_minutes: int  # the published ones
    out_after_minutes: int  # from `in`: heat-up or vent, the process, cool-down
    free_after_minutes: int  # from `in`: jars lifted out and the canner clean

    def held(self, in_min: int) -> Span:
        """The time the canner and its burner are taken."""
        return Span(in_min - self.warm_minutes, in_min + self.free_after_minutes)


@dataclass(frozen=True, slots=True)
class Load:
    """Jars of one size under one process; the chain fills its loads in order."""

    jar_size: str
    jars: int
    cycles: Mapping[CannerKind, Cycle]  # the kinds that have a published process and do for it

    def fits(self, canner: Canner) -> bool:
        return canner.kind in self.cycles and canner.holds(self.jar_size) >= self.jars


@dataclass(frozen=True, slots=True)
class Chain:
    """Prep and cook once, then for each load fill and canner, in minutes."""

    loads: tuple[Load, ...]
    prep_minutes: int
    longest_wait_minutes: int  # from prep's end to the start of cook
    cook_minutes: int
    longest_hold_minutes: int  # from cook's end to the end of the last fill
    fill_minutes: int
    longest_standing_minutes: int  # from a fill's end to its jars going in
    hands_minutes: int
    rest_minutes: int  # on the rack once they are lifted out, at least; then on to the next opening
    cook_attended: bool = True


@dataclass(frozen=True, slots=True)
class PlacedLoad:
    fill_min: int
    in_min: int
    kind: CannerKind
    rested_min: int  # when its jars leave the rack


@dataclass(frozen=True, slots=True)
class Placed:
    """A chain with a minute for each of its steps."""

    prep_min: int
    cook_min: int
    loads: tuple[PlacedLoad, ...]


@dataclass(frozen=True, slots=True)
class Need:
    """One piece of equipment for one step. A rack gives a place to each jar."""

    step: Step
    kind: EquipmentKind
    span: Span
    attended: bool
    load: int | None = None  # which of the loads
    jars: int = 1


def chains(
    jars: Mapping[str, int],
    processes: Mapping[tuple[str, CannerKind], int],
    canners: Collection[Canner],
    rack_places: Collection[int],
    figures: Figures,
) -> tuple[Chain, ...] | Refused:
    """The chains that make these jars, fewest loads first, or why none ever could in this kitchen.

    `processes` are the published minutes at the kitchen's altitude. A large canner takes fewer loads, a small one is
    free more often: there is one chain for the loads that fill each canner, and a load goes into any that holds it.
    """
    refused = _impossible(jars, processes, canners, rack_places)
    if refused:
        return refused
    found = {}
    for canner in canners:
        loads = tuple(
            load for size, count in jars.items() for load in _loads(size, count, processes, canners, canner, figures)
        )
        found[tuple((load.jar_size, load.jars) for load in loads)] = loads
    hot = [loads for loads in found.values() if len(loads) * figures.fill_minutes <= figures.longest_hold_minutes]
    if not hot:
        return Refused("does-not-fit", "These are more loads than can be filled while the pot is kept hot.")
    rested = [loads for loads in hot if all(load.jars <= max(rack_places) for load in loads)]
    if not rested:
        return Refused("does-not-fit", "No rack takes the jars of one load.", {"most": max(rack_places)})
    return tuple(_chain(loads, figures) for loads in sorted(rested, key=len))


def needs(chain: Chain, placed: Placed) -> tuple[Need, ...]:
    """All that a placed chain takes, in the order a batch goes through it."""
    last_filled_min = placed.loads[-1].fill_min + chain.fill_minutes
    prep = Span(placed.prep_min, placed.prep_min + chain.prep_minutes)
    found = [
        Need(Step.PREP, EquipmentKind.TABLE, prep, attended=True),
        Need(Step.COOK, EquipmentKind.BURNER, Span(placed.cook_min, last_filled_min), chain.cook_attended),
    ]
    for number, (load, at) in enumerate(zip(chain.loads, placed.loads, strict=True)):
        cycle = load.cycles[at.kind]
        canner, fill = cycle.held(at.in_min), Span(at.fill_min, at.fill_min + chain.fill_minutes)
        rest = Span(at.in_min + cycle.out_after_minutes, at.rested_min)
        watched = at.kind in PRESSURE_KINDS
        found += [
            Need(Step.FILL, EquipmentKind.TABLE, fill, attended=True, load=number),
            Need(Step.PROCESS, EquipmentKind.CANNER, canner, attended=watched, load=number),
            Need(Step.PROCESS, EquipmentKind.BURNER, canner, attended=False, load=number),
            Need(Step.REST, EquipmentKind.RACK, rest, attended=False, load=number, jars=load.jars),
        ]
    return tuple(found)


def hands(chain: Chain, placed: Placed) -> tuple[Span, ...]:
    """The times that take the member's own hands: no two of them overlap, in one batch or in several."""
    lengths = [(placed.prep_min, chain.prep_minutes)]
    if chain.cook_attended:
        lengths.append((placed.cook_min, chain.cook_minutes))
    for load, at in zip(chain.loads, placed.loads, strict=True):
        lengths.append((at.fill_min, chain.fill_minutes))
        lengths.append((at.in_min, chain.hands_minutes))
        lengths.append((at.in_min + load.cycles[at.kind].out_after_minutes, chain.hands_minutes))
    return tuple(sorted(Span(starts_min, starts_min + minutes) for starts_min, minutes in lengths))


def rested_min(chain: Chain, out_min: int, open_spans: Iterable[Span]) -> int | None:
    """When jars that come out at this minute may leave the rack: they have rested, and somebody can be there.

    `open_spans` are in order; None if they end before that, or it is closed for too long.
    """
    return left_min(_rested_by(chain, out_min), open_spans)


def left_min(ready_min: int, open_spans: Iterable[Span]) -> int | None:
    """When jars that are ready at this minute leave the rack: at once, or at the next opening."""
    closes_min = ready_min
    for span in open_spans:
        if span.ends_min > ready_min:
            too_long = span.starts_min > ready_min and span.starts_min - closes_min > LONGEST_CLOSED_MINUTES
            return None if too_long else max(ready_min, span.starts_min)
        closes_min = span.ends_min
    return None


def _rested_by(chain: Chain, out_min: int) -> int:
    return out_min + chain.hands_minutes + chain.rest_minutes


def misplaced(chain: Chain, placed: Placed) -> str | None:
    """What is wrong with the order, the waits or the member's hands in a placed chain, if anything is."""
    prepared_min, cooked_min = placed.prep_min + chain.prep_minutes, placed.cook_min + chain.cook_minutes
    if not prepared_min <= placed.cook_min <= prepared_min + chain.longest_wait_minutes:
        return f"Cook starts within {chain.longest_wait_minutes} minutes after prep."
    filled_min = cooked_min
    for load, at in zip(chain.loads, placed.loads, strict=True):
        if at.kind not in load.cycles:
            return f"No process is published for {load.jar_size} jars in this kind of canner."
        if at.fill_min < filled_min:
            return "Each load is filled after cook and after the load before it."
        filled_min = at.fill_min + chain.fill_minutes
        if not filled_min <= at.in_min <= filled_min + chain.longest_standing_minutes:
            return f"Filled jars go into their canner within {chain.longest_standing_minutes} minutes."
        if at.rested_min < _rested_by(chain, at.in_min + load.cycles[at.kind].out_after_minutes):
            return f"Jars rest {chain.rest_minutes // 60} hours before they leave the rack."
    if filled_min > cooked_min + chain.longest_hold_minutes:
        return f"The last jar is filled within {chain.longest_hold_minutes} minutes after cook."
    if any(one.overlaps(next_one) for one, next_one in pairwise(hands(chain, placed))):
        return "A member has two hands: prep, cook, filling, loading and lifting out come one after another."
    return None


def _impossible(
    jars: Mapping[str, int],
    processes: Mapping[tuple[str, CannerKind], int],
    canners: Collection[Canner],
    rack_places: Collection[int],
) -> Refused | None:
    if not jars:
        return Refused("not-possible", "A batch fills jars: say how many of which size.")
    if not jars.keys() <= JAR_ML.keys():
        return Refused("not-possible", f"The jar sizes known here: {', '.join(JAR_ML)}.")
    for size in jars:
        published = {kind for jar_size, kind in processes if jar_size == size}
        if not published:
            return Refused("not-possible", f"No process is published for this recipe in {size} jars.")
        if not any(canner.kind in published for canner in canners):
            detail = f"In {size} jars this recipe takes a canner of another kind: {', '.join(sorted(published))}."
            return Refused("does-not-fit", detail, {"jar_size": size, "canner_kinds": sorted(published)})
        if not any(canner.kind in published and canner.holds(size) for canner in canners):
            taken = [each for each in JAR_ML if any(canner.holds(each) for canner in canners)]
            detail = f"No canner here takes {size} jars; they take {', '.join(taken) or 'none'}."
            return Refused("does-not-fit", detail, {"jar_size": size, "jar_sizes": taken})
    if sum(jars.values()) > sum(rack_places):
        detail = f"The racks have {sum(rack_places)} places in all, fewer than there are jars."
        return Refused("does-not-fit", detail, {"most": sum(rack_places)})
    return None


def _loads(
    size: str,
    count: int,
    processes: Mapping[tuple[str, CannerKind], int],
    canners: Collection[Canner],
    filled: Canner,
    figures: Figures,
) -> Iterator[Load]:
    """Jars of one size in loads that fill this canner, or the largest that takes them where this one doesn't."""
    able = [canner for canner in canners if (size, canner.kind) in processes and canner.holds(size)]
    most = filled.holds(size) if filled in able else max(canner.holds(size) for canner in able)
    for done in range(0, count, most):
        jars = min(most, count - done)
        kinds = sorted({canner.kind for canner in able if canner.holds(size) >= jars})
        yield Load(size, jars, {kind: _cycle(kind, processes[size, kind], figures) for kind in kinds})


def _cycle(kind: CannerKind, process_minutes: int, figures: Figures) -> Cycle:
    if kind in PRESSURE_KINDS:
        before = figures.boil_minutes + figures.vent_minutes + figures.pressurize_minutes
        after = figures.depressurize_minutes + figures.lid_minutes
    else:
        before, after = figures.boil_minutes, figures.stand_minutes
    out_after = -(-(before + process_minutes + after) // GRID_MINUTES) * GRID_MINUTES
    return Cycle(
        warm_minutes=figures.warm_minutes,
        process_minutes=process_minutes,
        out_after_minutes=out_after,
        free_after_minutes=out_after + figures.hands_minutes + figures.cleaning_minutes,
    )


def _chain(loads: tuple[Load, ...], figures: Figures) -> Chain:
    return Chain(
        loads=loads,
        prep_minutes=figures.prep_minutes,
        longest_wait_minutes=figures.longest_wait_minutes,
        cook_minutes=figures.cook_minutes,
        longest_hold_minutes=figures.longest_hold_minutes,
        fill_minutes=figures.fill_minutes,
        longest_standing_minutes=figures.longest_standing_minutes,
        hands_minutes=figures.hands_minutes,
        rest_minutes=figures.rest_minutes,
    )
