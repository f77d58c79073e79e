"""Whether batches keep every constraint of a kitchen: written from the constraints alone, minute by minute.

It takes claims, however they came about, and knows none of the finder's calendars, pools or placements.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from service.core.scheduling.bookings import Claim, Move, Piece, Step
from service.core.scheduling.chain_slots import Kitchen
from service.core.scheduling.chains import Chain
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Kind
from service.core.scheduling.spans import EPOCH, Span

WATCHED = ("pressure-dial", "pressure-weighted")


@dataclass(frozen=True, slots=True)
class Made:
    """One batch as it was placed: whose it is, what it claims, and when its member's hands are wanted elsewhere."""

    chain: Chain
    claims: Sequence[Claim]
    member: object = None
    busy_minutes: frozenset[int] = frozenset()
    trained_until_min: int = 0


def faults(kitchen: Kitchen, batches: Iterable[Made], moves: Iterable[Move] = ()) -> list[str]:
    """Everything that is wrong with these batches, beside each other and beside what the kitchen had before."""
    found: list[str] = []
    batches = list(batches)
    hands: dict[object, Counter[int]] = {}
    for number, batch in enumerate(batches):
        steps, handled = _chain_faults(kitchen, batch)
        found += [f"batch {number}: {fault}" for fault in steps]
        hands.setdefault(batch.member, Counter()).update(handled)
        if handled & batch.busy_minutes:
            found.append(f"batch {number}: its member's hands are wanted elsewhere")
    found += [f"{member}: two things at once" for member, used in hands.items() if max(used.values(), default=0) > 1]
    return found + list(_overlaps(kitchen, batches, list(moves)))


def alone(
    kitchen: Kitchen, claims: Sequence[Claim], busy: Iterable[Span] = (), trained_until_min: int = 0
) -> list[str]:
    """Everything that is wrong with a piece of equipment that is had by itself, with its burner if it takes one."""
    pieces = {piece.resource.equipment_id: piece for piece in kitchen.pieces}
    piece, found = pieces[claims[0].equipment_id], []
    steps = {"table": Step.PREP, "burner": Step.COOK, "canner": Step.PROCESS, "rack": Step.REST}
    kinds = [piece.kind, EquipmentKind.BURNER] if piece.needs_burner else [piece.kind]
    if [pieces[claim.equipment_id].kind for claim in claims] != kinds:
        found.append("it claims something else than the piece and the burner it takes along")
    if {claim.step for claim in claims} != {steps[piece.kind]}:
        found.append("it isn't for what such a piece does")
    if len({(claim.starts_at, claim.ends_at) for claim in claims}) != 1:
        found.append("the burner is had for another time")
    minutes = range(_minute(claims[0].starts_at), _minute(claims[0].ends_at))
    if minutes.start % 5:
        found.append("it starts off the grid")
    if not all(_is_open(kitchen, minute) for minute in minutes):
        found.append("the kitchen is closed")
    if piece.kind in ("table", "burner") and any(
        span.starts_min <= minute < span.ends_min for span in busy for minute in minutes
    ):
        found.append("its member's hands are wanted elsewhere")
    if piece.canner_kind in WATCHED and minutes.stop > trained_until_min:
        found.append("nobody is signed off for this pressure canner")
    return found + list(_held_twice(kitchen, claims))


def _held_twice(kitchen: Kitchen, claims: Sequence[Claim]) -> Iterator[str]:
    for claim in claims:
        resource = next(p.resource for p in kitchen.pieces if p.resource.equipment_id == claim.equipment_id)
        if not resource.in_service:
            yield "it is out of service"
        wanted = {
            (lane, minute)
            for busy in claim.places
            for lane in range(busy.lanes.low, busy.lanes.high)
            for minute in range(busy.span.starts_min, busy.span.ends_min)
        }
        whole = {
            (lane, minute)
            for lane in range(resource.lanes)
            for minute in range(_minute(claim.starts_at), _minute(claim.ends_at))
        }
        if wanted != whole:
            yield "it doesn't hold what it claims"
        for busy in resource.busy:
            if any(
                busy.lanes.low <= lane < busy.lanes.high and busy.span.starts_min <= minute < busy.span.ends_min
                for lane, minute in wanted
            ):
                yield f"it is held already, by a {busy.kind}"


def _minute(at: datetime) -> int:
    minute, seconds = divmod((at - EPOCH).total_seconds(), 60)
    assert seconds == 0, "claims are in whole minutes"
    return int(minute)


def _chain_faults(kitchen: Kitchen, batch: Made) -> tuple[list[str], set[int]]:
    """What is wrong within one batch, and the minutes that take its member's hands."""
    chain, found, handled = batch.chain, [], Counter[int]()
    pieces = {piece.resource.equipment_id: piece for piece in kitchen.pieces}
    of_step: dict[tuple[Step, EquipmentKind], list[Claim]] = {}
    for claim in batch.claims:
        of_step.setdefault((claim.step, pieces[claim.equipment_id].kind), []).append(claim)
    prep, cook = of_step.pop((Step.PREP, EquipmentKind.TABLE)), of_step.pop((Step.COOK, EquipmentKind.BURNER))
    fills, rests = of_step.pop((Step.FILL, EquipmentKind.TABLE)), of_step.pop((Step.REST, EquipmentKind.RACK))
    canners = of_step.pop((Step.PROCESS, EquipmentKind.CANNER))
    burners = of_step.pop((Step.PROCESS, EquipmentKind.BURNER))
    if of_step or len(prep) != 1 or len(cook) != 1:
        return ["it has steps that aren't those of a batch"], set()
    if not len(fills) == len(rests) == len(canners) == len(burners) == len(chain.loads):
        return ["it has not one fill, canner, burner and rack for each load"], set()

    def use(starts: int, minutes: int) -> None:
        handled.update(range(starts, starts + minutes))

    prep_starts, prep_ends = _minute(prep[0].starts_at), _minute(prep[0].ends_at)
    cook_starts, cook_ends = _minute(cook[0].starts_at), _minute(cook[0].ends_at)
    cooked = cook_starts + chain.cook_minutes
    use(prep_starts, chain.prep_minutes)
    if chain.cook_attended:
        use(cook_starts, chain.cook_minutes)
    if prep_ends - prep_starts != chain.prep_minutes:
        found.append("prep has another length")
    if not prep_ends <= cook_starts <= prep_ends + chain.longest_wait_minutes:
        found.append("cook doesn't follow prep in time")
    filled = cooked
    for load, fill, canner, burner, rest in zip(chain.loads, fills, canners, burners, rests, strict=True):
        piece = pieces[canner.equipment_id]
        if _minute(fill.starts_at) < filled:
            found.append("a load is filled too early")
        filled = _minute(fill.ends_at)
        if filled - _minute(fill.starts_at) != chain.fill_minutes:
            found.append("a fill has another length")
        use(_minute(fill.starts_at), chain.fill_minutes)
        if piece.canner_kind not in load.cycles:
            found.append("a canner without a published process")
            continue
        if not _holds(piece, load.jar_size, load.jars):
            found.append("a canner that doesn't hold the load")
        cycle = load.cycles[piece.canner_kind]
        jars_in = _minute(canner.starts_at) + cycle.warm_minutes
        jars_out = jars_in + cycle.out_after_minutes
        if not filled <= jars_in <= filled + chain.longest_standing_minutes:
            found.append("filled jars don't go into their canner in time")
        if _minute(canner.ends_at) - _minute(canner.starts_at) != cycle.warm_minutes + cycle.free_after_minutes:
            found.append("a canner is taken for another time than its cycle")
        if cycle.out_after_minutes < cycle.process_minutes:
            found.append("a process is shorter than published")
        if (burner.starts_at, burner.ends_at) != (canner.starts_at, canner.ends_at):
            found.append("a canner isn't on its burner the whole time")
        use(jars_in, chain.hands_minutes)
        use(jars_out, chain.hands_minutes)
        if piece.canner_kind in WATCHED and _minute(canner.ends_at) > batch.trained_until_min:
            found.append("nobody is signed off for this pressure canner")
        if _minute(rest.starts_at) != jars_out:
            found.append("jars are on the rack at another time than they come out")
        if _minute(rest.ends_at) < jars_out + chain.hands_minutes + chain.rest_minutes:
            found.append("jars leave the rack too early")
        if not _is_open(kitchen, _minute(rest.ends_at)):
            found.append("jars leave the rack while nobody can be there")
    if cook_ends != filled:
        found.append("the pot leaves its burner at another time than when the last jar is filled")
    if filled > cooked + chain.longest_hold_minutes:
        found.append("the pot is held too long")
    for claim in batch.claims:
        minutes = range(_minute(claim.starts_at), _minute(claim.ends_at))
        if claim.step is not Step.REST and not all(_is_open(kitchen, minute) for minute in minutes):
            found.append(f"{claim.step} while the kitchen is closed")
    if handled and max(handled.values()) > 1:
        found.append("its member does two things at once")
    return found, set(handled)


def _holds(canner: Piece, jar_size: str, jars: int) -> bool:
    """Sizes by their fluid ounces: NIST Handbook 44, Appendix C. One that isn't listed goes by the next larger."""
    ounces = {"quarter-pint": 4, "half-pint": 8, "twelve-ounce": 12, "pint": 16}
    ounces |= {"pint-and-half": 24, "quart": 32, "half-gallon": 64}
    listed = sorted((ounces[size], most) for size, most in (canner.capacity or {}).items())
    return next((most for size, most in listed if size >= ounces[jar_size]), 0) >= jars


def _is_open(kitchen: Kitchen, minute: int) -> bool:
    hours = any(span.starts_min <= minute < span.ends_min for span in kitchen.open_spans)
    closures = (busy for piece in kitchen.pieces for busy in piece.resource.busy if busy.kind is Kind.CLOSURE)
    return hours and not any(busy.span.starts_min <= minute < busy.span.ends_min for busy in closures)


def _overlaps(kitchen: Kitchen, batches: Sequence[Made], moves: Sequence[Move]) -> Iterator[str]:
    """Lanes that two hold at once, and equipment that is used while it is out of service."""
    at = {(move.booking_id, move.from_id, move.span): move.to_id for move in moves}
    held: Counter[tuple[UUID, int, int]] = Counter()
    for piece in kitchen.pieces:
        resource = piece.resource
        for busy in resource.busy:
            unit = resource.equipment_id
            if busy.booking_id and busy.movable:
                unit = at.pop((busy.booking_id, unit, busy.span), unit)
            for lane in range(busy.lanes.low, min(busy.lanes.high, resource.lanes)):
                held.update((unit, lane, minute) for minute in range(busy.span.starts_min, busy.span.ends_min))
    if at:
        yield "somebody is moved who isn't there or may not be"
    pieces = {piece.resource.equipment_id: piece.resource for piece in kitchen.pieces}
    for batch in batches:
        rest_jars = iter(load.jars for load in batch.chain.loads)
        for claim in batch.claims:
            resource = pieces[claim.equipment_id]
            if not resource.in_service:
                yield f"{claim.step} on equipment that is out of service"
            jars = next(rest_jars) if claim.step is Step.REST else 1
            minutes = Counter[int]()
            for busy in claim.places:
                for lane in range(busy.lanes.low, busy.lanes.high):
                    if lane >= resource.lanes:
                        yield f"{claim.step} at a place that isn't there"
                    minutes.update(range(busy.span.starts_min, busy.span.ends_min))
                    held.update(
                        (claim.equipment_id, lane, minute) for minute in range(busy.span.starts_min, busy.span.ends_min)
                    )
            if minutes != Counter(dict.fromkeys(range(_minute(claim.starts_at), _minute(claim.ends_at)), jars)):
                yield f"{claim.step} doesn't hold what it claims"
    doubled = {unit for (unit, _, _), count in held.items() if count > 1}
    yield from (f"{pieces[unit].equipment_id} is held twice at once" for unit in doubled)
