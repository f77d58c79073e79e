"""Whether a timetable keeps every constraint: the last look before a plan is kept.

It goes by the claims and by the figures of each chain, and knows nothing of how either engine found them.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise
from uuid import UUID

from service.core.scheduling.bookings import Claim, Move, Piece, Step
from service.core.scheduling.chain_slots import Kitchen
from service.core.scheduling.chains import LONGEST_CLOSED_MINUTES, Canner
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.fair_use import Use, use_of
from service.core.scheduling.overruns import disturbed
from service.core.scheduling.slots import GRID_MINUTES, Kind
from service.core.scheduling.spans import Span, around, union
from service.core.scheduling.timetables import Order, Timed

Lane = tuple[UUID, int]


def faults(order: Order, timed: Sequence[Timed], moves: Sequence[Move]) -> Iterator[str]:
    """Everything that is wrong with a timetable; nothing, if it can be booked as it stands."""
    if sorted(each.batch.id for each in timed) != sorted(batch.id for batch in order.batches):
        yield "Not every batch is in it once."
    hands: dict[UUID, list[Span]] = {}
    for each in timed:
        yield from _of_chain(order, each)
        hands.setdefault(each.batch.member_id, []).extend(_hands(each))
    for member_id, taken in hands.items():
        if _overlap(taken) or any(one.overlaps(other) for one in taken for other in order.cooks[member_id].busy):
            yield "A member's hands are wanted at two places at once."
    yield from _of_equipment(order.kitchen, timed, moves)
    yield from _of_begun(order, moves)
    yield from _of_shares(order, timed)


def _of_begun(order: Order, moves: Sequence[Move]) -> Iterator[str]:
    """Whatever is done to a batch that has begun; that nobody else has what it holds is seen in the kitchen."""
    begun_ids = {each.promised.booking_id for each in order.begun}
    if any(move.booking_id in begun_ids for move in moves):
        yield "A batch that has begun is given another unit."
    held = {
        (piece.resource.equipment_id, busy.booking_id, busy.span, busy.movable)
        for piece in order.kitchen.pieces
        for busy in piece.resource.busy
    }
    for each in order.begun:
        wrong = disturbed(each)
        if wrong:
            yield wrong
        for claim in each.claims:
            wanted = {(claim.equipment_id, each.promised.booking_id, place.span, False) for place in claim.places}
            if not wanted <= held:
                yield "A batch that has begun doesn't hold what it needs."


def _of_shares(order: Order, timed: Sequence[Timed]) -> Iterator[str]:
    """Whoever has more than their share; what was promised before counts as theirs already."""
    canners = {piece.resource.equipment_id for piece in order.kitchen.pieces if piece.canner_kind}
    uses: dict[UUID, list[Use]] = {}
    for each in timed:
        if each.batch.promised is None:
            uses.setdefault(each.batch.member_id, []).append(use_of(each.claims, canners))
    if order.shares and any(order.shares.refused(member_id, theirs) for member_id, theirs in uses.items()):
        yield "A member has more than their share."


def _of_chain(order: Order, timed: Timed) -> Iterator[str]:
    """What is wrong within one batch."""
    chain, pieces = timed.chain, _by_id(order.kitchen)
    kinds = [(claim.step, pieces[claim.equipment_id].kind) for claim in timed.claims]
    a_load = [
        (Step.FILL, EquipmentKind.TABLE),
        (Step.PROCESS, EquipmentKind.CANNER),
        (Step.PROCESS, EquipmentKind.BURNER),
        (Step.REST, EquipmentKind.RACK),
    ]
    if kinds != [(Step.PREP, EquipmentKind.TABLE), (Step.COOK, EquipmentKind.BURNER), *a_load * len(chain.loads)]:
        yield "Its steps aren't those of a batch."
        return
    prep, cook, *rest = (around(claim.starts_at, claim.ends_at) for claim in timed.claims)
    usable = union(order.kitchen.usable_spans)
    worked = [around(each.starts_at, each.ends_at) for each in timed.claims if each.step is not Step.REST]
    if not all(order.within.holds(span) and any(hours.holds(span) for hours in usable) for span in worked):
        yield "It works while the kitchen is closed, or outside the time of the plan."
    if any(span.starts_min % GRID_MINUTES for span in worked) or prep.starts_min < timed.batch.release_min:
        yield "It starts off the grid, or before its food is there."
    cooked_min = cook.starts_min + chain.cook_minutes
    if prep.minutes != chain.prep_minutes:
        yield "Prep has another length."
    if not prep.ends_min <= cook.starts_min <= prep.ends_min + chain.longest_wait_minutes:
        yield "Cook doesn't follow prep in time."
    filled_min = cooked_min
    for number, load in enumerate(chain.loads):
        fill, held, burner, resting = rest[4 * number : 4 * number + 4]
        piece = pieces[timed.claims[3 + 4 * number].equipment_id]
        cycle = load.cycles.get(piece.canner_kind) if piece.canner_kind else None
        if cycle is None or piece.canner_kind is None:
            yield "A canner has no published process for its load."
            continue
        if Canner.of(piece.canner_kind, piece.capacity or {}).holds(load.jar_size) < load.jars:
            yield "A canner doesn't hold its load."
        if fill.starts_min < filled_min or fill.minutes != chain.fill_minutes:
            yield "A load is filled before its turn, or in another time."
        filled_min = fill.ends_min
        in_min = held.starts_min + cycle.warm_minutes
        out_min = in_min + cycle.out_after_minutes
        if not filled_min <= in_min <= filled_min + chain.longest_standing_minutes:
            yield "Filled jars don't go into their canner in time."
        if cycle.out_after_minutes < cycle.process_minutes or held.ends_min != in_min + cycle.free_after_minutes:
            yield "A process is shorter than published, or a canner is held for another time."
        if burner != held:
            yield "A canner isn't on its burner all the time."
        if piece.needs_training and held.ends_min > order.cooks[timed.batch.member_id].trained_until_min:
            yield "Nobody is signed off for a pressure canner."
        ready_min = out_min + chain.hands_minutes + chain.rest_minutes
        there = any(span.starts_min <= resting.ends_min < span.ends_min for span in usable)
        if resting.starts_min != out_min or resting.ends_min < ready_min or not there:
            yield "Jars don't rest as long as they have to, or leave while nobody can be there."
        closed_min = max((span.ends_min for span in usable if span.ends_min <= ready_min), default=ready_min)
        if resting.ends_min > ready_min and resting.ends_min - closed_min > LONGEST_CLOSED_MINUTES:
            yield "Jars rest while the kitchen is closed for longer than a week."
    if cook.ends_min != filled_min or filled_min > cooked_min + chain.longest_hold_minutes:
        yield "The pot isn't on its burner until the last jar is filled, or is held too long."


def _hands(timed: Timed) -> Iterator[Span]:
    """The times that take the member's own hands."""
    chain = timed.chain
    yield Span(timed.placed.prep_min, timed.placed.prep_min + chain.prep_minutes)
    if chain.cook_attended:
        yield Span(timed.placed.cook_min, timed.placed.cook_min + chain.cook_minutes)
    for load, at in zip(chain.loads, timed.placed.loads, strict=True):
        out_min = at.in_min + load.cycles[at.kind].out_after_minutes
        yield Span(at.fill_min, at.fill_min + chain.fill_minutes)
        yield Span(at.in_min, at.in_min + chain.hands_minutes)
        yield Span(out_min, out_min + chain.hands_minutes)


def _of_equipment(kitchen: Kitchen, timed: Sequence[Timed], moves: Sequence[Move]) -> Iterator[str]:
    """Whatever is held twice at once, or isn't there."""
    pieces, held = _by_id(kitchen), dict[Lane, list[Span]]()
    moved_to = {(move.booking_id, move.from_id, move.span): move.to_id for move in moves}
    for piece in kitchen.pieces:
        unit = piece.resource.equipment_id
        for busy in piece.resource.busy:
            if busy.kind is Kind.CLOSURE:  # the hours know of those
                continue
            key = (busy.booking_id, unit, busy.span) if busy.booking_id and busy.movable else None
            at = moved_to.pop(key, unit) if key else unit
            _hold(held, at, range(busy.lanes.low, min(busy.lanes.high, piece.resource.lanes)), busy.span)
    if moved_to:
        yield "Somebody is moved who isn't there or may not be."
    for each in timed:
        jars = iter(load.jars for load in each.chain.loads)
        for claim in each.claims:
            resource = pieces[claim.equipment_id].resource
            places = next(jars) if claim.step is Step.REST else 1
            if not resource.in_service or any(place.lanes.high > resource.lanes for place in claim.places):
                yield "Equipment is out of service, or has fewer places."
            if not _holds(claim, places):
                yield "A claim doesn't hold what it says."
            for place in claim.places:
                _hold(held, claim.equipment_id, range(place.lanes.low, place.lanes.high), place.span)
    if any(_overlap(spans) for spans in held.values()):
        yield "A piece of equipment is held twice at once."


def _hold(held: dict[Lane, list[Span]], unit: UUID, lanes: Iterable[int], span: Span) -> None:
    for lane in lanes:
        held.setdefault((unit, lane), []).append(span)


def _holds(claim: Claim, places: int) -> bool:
    """Whether a claim has so many places for all of its time, and no more."""
    time = around(claim.starts_at, claim.ends_at)
    edges = sorted({edge for place in claim.places for edge in (place.span.starts_min, place.span.ends_min)})
    if not edges or (edges[0], edges[-1]) != (time.starts_min, time.ends_min):
        return False
    return all(
        sum(place.lanes.high - place.lanes.low for place in claim.places if place.span.holds(Span(low, high))) == places
        for low, high in pairwise(edges)
    )


def _overlap(spans: Iterable[Span]) -> bool:
    return any(one.overlaps(other) for one, other in pairwise(sorted(spans)))


def _by_id(kitchen: Kitchen) -> dict[UUID, Piece]:
    return {piece.resource.equipment_id: piece for piece in kitchen.pieces}
