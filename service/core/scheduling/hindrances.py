"""What stands in the way of a batch: found by thinking it away, and looking whether the batch then fits."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial, reduce

from service.core.scheduling.chain_slots import Cook, Kitchen
from service.core.scheduling.equipment import EquipmentKind
from service.core.scheduling.slots import Kind, Obstacle
from service.core.scheduling.spans import LAST_MINUTE, Span

ALWAYS = (Span(0, LAST_MINUTE),)
PLENTY = 8  # more of one kind than a batch ever takes at a time

State = tuple[Kitchen, Cook]
Fits = Callable[[Kitchen, Cook], bool]


@dataclass(frozen=True, slots=True)
class Hindrance:
    """An obstacle, and the kind of equipment it is about, if it is about one."""

    obstacle: Obstacle
    kind: EquipmentKind | None = None


def hindrances(kitchen: Kitchen, cook: Cook, fits: Fits) -> tuple[Hindrance, ...]:
    """Each thing that by itself keeps the batch from fitting; else the fewest that do together."""
    state = kitchen, cook
    easings = {found: ease for found, ease in _easings().items() if ease(state) != state}  # the rest isn't in the way
    everything = _eased(state, easings.values())
    if not fits(*everything):
        lacking = [kind for kind in EquipmentKind if fits(_with_more(everything[0], kind), everything[1])]
        if lacking:
            return tuple(Hindrance(Obstacle.NONE_HERE, kind) for kind in lacking)
        plenty = reduce(_with_more, EquipmentKind, everything[0])
        return (Hindrance(Obstacle.NONE_HERE if fits(plenty, everything[1]) else Obstacle.TOO_SHORT),)
    alone = tuple(found for found, ease in easings.items() if fits(*ease(state)))
    if alone:
        return alone
    together = dict(easings)
    for found in easings:
        others = {each: ease for each, ease in together.items() if each != found}
        if fits(*_eased((kitchen, cook), others.values())):
            together = others
    return tuple(together)


def _easings() -> dict[Hindrance, Callable[[State], State]]:
    """Everything that can be in the way, with the kitchen as it would be without."""
    found: dict[Hindrance, Callable[[State], State]] = {
        Hindrance(Obstacle.CLOSED): _always_open,
        Hindrance(Obstacle.SIGN_OFF, EquipmentKind.CANNER): _trained,
    }
    for kind in EquipmentKind:
        found[Hindrance(Obstacle.OUT_OF_SERVICE, kind)] = partial(_repaired, kind)
        found[Hindrance(Obstacle.TAKEN, kind)] = partial(_given_back, kind)
    found[Hindrance(Obstacle.HANDS)] = _idle
    return found


def _eased(state: State, easings: Iterable[Callable[[State], State]]) -> State:
    for ease in easings:
        state = ease(state)
    return state


def _always_open(state: State) -> State:
    kitchen, cook = state
    for kind in EquipmentKind:
        kitchen = _without(kitchen, kind, {Kind.CLOSURE})
    return replace(kitchen, open_spans=ALWAYS), cook


def _trained(state: State) -> State:
    kitchen, cook = state
    return kitchen, replace(cook, trained_until_min=LAST_MINUTE)


def _idle(state: State) -> State:
    kitchen, cook = state
    return kitchen, replace(cook, busy=())


def _repaired(kind: EquipmentKind, state: State) -> State:
    kitchen, cook = state
    pieces = (
        replace(piece, resource=replace(piece.resource, in_service=True)) if piece.kind is kind else piece
        for piece in kitchen.pieces
    )
    return _without(replace(kitchen, pieces=tuple(pieces)), kind, {Kind.OUTAGE}), cook


def _given_back(kind: EquipmentKind, state: State) -> State:
    kitchen, cook = state
    return _without(kitchen, kind, {Kind.BOOKING, Kind.HOLD}), cook


def _without(kitchen: Kitchen, kind: EquipmentKind, gone: set[Kind]) -> Kitchen:
    pieces = tuple(
        replace(
            piece,
            resource=replace(piece.resource, busy=tuple(busy for busy in piece.resource.busy if busy.kind not in gone)),
        )
        if piece.kind is kind
        else piece
        for piece in kitchen.pieces
    )
    return replace(kitchen, pieces=pieces)


def _with_more(kitchen: Kitchen, kind: EquipmentKind) -> Kitchen:
    return replace(
        kitchen, pieces=kitchen.pieces + tuple(each for each in kitchen.pieces if each.kind is kind) * PLENTY
    )
