"""What a recipe must have for a rule to have anything to say of it, so that a check asks no other rules.

A scope is stated beside its rule, as data. It decides nothing: asked outside of its scope a rule has nothing to say,
and the tests ask every rule of every recipe to see that this is so.
"""

from collections.abc import Callable, Collection, Container, Hashable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import attrgetter
from typing import TYPE_CHECKING, TypeVar

from service.core.measures.jars import JAR_ML
from service.core.measures.steps import any_says, begins_so
from service.core.rules.case import MOST_FOODS, Handling
from service.core.rules.printed import METHODS, Fault, judged

if TYPE_CHECKING:
    from service.core.rules.case import Case, Food, Kind, Role
    from service.core.rules.findings import Rule

UNSAID = (None, ())
KNOWN_SIZES = frozenset(JAR_ML)


@dataclass(frozen=True, slots=True)
class OtherThan(Container[object]):
    """Every word but these, or none at all."""

    words: frozenset[str]

    def __contains__(self, word: object) -> bool:
        return word not in self.words


@dataclass(frozen=True, slots=True)
class BeginningWith(Container[object]):
    """Every word that begins so."""

    beginning: str

    def __contains__(self, word: object) -> bool:
        return isinstance(word, str) and word.startswith(self.beginning)


@dataclass(frozen=True, slots=True)
class Scope:
    """All that is stated has to hold; what is left out may be as it likes. Of two scopes with | between, either."""

    families: Container[object] | None = None
    products: Container[object] | None = None
    methods: Container[object] | None = None
    # Some ingredient is of one of these kinds, groups or roles; all go by words alone, never by an amount.
    kinds: tuple["Kind", ...] = ()
    groups: Collection[str] = ()
    roles: Collection["Role"] = ()
    handled: tuple[str, ...] = ()  # of some of these fields of the handling something is said
    steps: tuple[str, ...] = ()  # there is a step of some of these words
    in_steps: tuple[str, ...] = ()  # some of these words stand anywhere in the steps
    in_own_words: bool = False  # the canner, the jars or the tools are said in words that tables don't have
    faults: frozenset[Fault] = frozenset()  # the process has one of these
    changed: bool = False  # something isn't as in the nearest tested recipe
    scaled: bool = False  # the batch isn't one of the nearest tested recipe

    @property
    def of_some_food(self) -> bool:
        return bool(self.kinds or self.groups or self.roles)

    @property
    def each(self) -> tuple["Scope", ...]:
        return (self,)

    def __or__(self, other: "Scope | EitherScope") -> "EitherScope":
        return EitherScope((self, *other.each))

    def concerns(self, food: "Food") -> bool:
        return food.role in self.roles or food.group in self.groups or any(food.kinds[kind] for kind in self.kinds)

    def holds(self, case: "Case") -> bool:
        """Whether a rule of this scope may have something to say of this recipe."""
        return (
            _allows(self.families, case.family)
            and _allows(self.products, case.product)
            and _allows(self.methods, case.method)
            and (not self.of_some_food or any(self.concerns(part.food) for part in case.parts))
            and (not self.handled or any(getattr(case.handling, field) not in UNSAID for field in self.handled))
            and self.allows_steps(case.steps)
            and (not self.in_own_words or _is_in_own_words(case))
            and (not self.faults or not self.faults.isdisjoint(_faults(case)))
            and (not self.changed or _is_changed(case))
            and (not self.scaled or case.is_scaled)
        )

    def allows_steps(self, steps: tuple[str, ...]) -> bool:
        return (not self.steps or begins_so(steps, self.steps)) and (
            not self.in_steps or any_says(steps, self.in_steps)
        )


@dataclass(frozen=True, slots=True)
class EitherScope:
    """Scopes of which one has to hold."""

    each: tuple[Scope, ...]

    def __or__(self, other: "Scope | EitherScope") -> "EitherScope":
        return EitherScope((*self.each, *other.each))

    def holds(self, case: "Case") -> bool:
        return any(scope.holds(case) for scope in self.each)


def _allows(words: Container[object] | None, word: str | None) -> bool:
    return words is None or word in words


def _faults(case: "Case") -> frozenset[Fault | None]:
    return frozenset([answer.fault for answer in judged(case)])


def _is_in_own_words(case: "Case") -> bool:
    handling = case.handling
    return (
        (case.method is not None and case.method not in METHODS)
        or not (handling.closure is handling.equipment is handling.cooling is None)
        or not KNOWN_SIZES.issuperset(case.jar_sizes)
    )


def _is_changed(case: "Case") -> bool:
    return case.tested is not None and bool(case.tested.differences)


def _bits(holds: Iterable[bool]) -> int:
    """One bit for each scope, the first rule's the lowest."""
    return sum(1 << place for place, held in enumerate(holds) if held)


T = TypeVar("T", bound=Hashable)


def _bits_by(scopes: Sequence[Scope], stated: Callable[[Scope], Iterable[T]]) -> dict[T, int]:
    """The same for each word, or kind of food, that is stated in any scope."""
    every = dict.fromkeys(each for scope in scopes for each in stated(scope))
    return {each: _bits(each in stated(scope) for scope in scopes) for each in every}


class Selection:
    """The scopes of all rules at once: what a recipe has is looked up, and says which of them hold, a bit for each."""

    def __init__(self, rules: Sequence["Rule"]) -> None:
        scopes = [scope for rule in rules for scope in rule.scope.each]
        rule_of = [rule for rule in rules for _ in rule.scope.each]
        self._in_family = lru_cache(256)(lambda word: _bits(_allows(scope.families, word) for scope in scopes))
        self._of_product = lru_cache(1024)(lambda word: _bits(_allows(scope.products, word) for scope in scopes))
        self._by_method = lru_cache(256)(lambda word: _bits(_allows(scope.methods, word) for scope in scopes))
        self._with_faults = lru_cache(256)(
            lambda found: _bits(not scope.faults or not scope.faults.isdisjoint(found) for scope in scopes)
        )
        self._of_any_food = _bits(not scope.of_some_food for scope in scopes)
        self._of_role = _bits_by(scopes, lambda scope: scope.roles)
        self._of_group = _bits_by(scopes, lambda scope: scope.groups)
        self._of_kind = _bits_by(scopes, lambda scope: scope.kinds)
        self._about = lru_cache(MOST_FOODS)(self._told_about)
        self._however_handled = _bits(not scope.handled for scope in scopes)
        self._handled = _bits_by(scopes, lambda scope: scope.handled)
        self._said_of = attrgetter(*self._handled)
        self._nothing_said = self._said_of(Handling())
        self._by_steps = lru_cache(1024)(lambda steps: _bits(scope.allows_steps(steps) for scope in scopes))
        self._in_any_words = _bits(not scope.in_own_words for scope in scopes)
        self._unchanged = _bits(not scope.changed for scope in scopes)
        self._unscaled = _bits(not scope.scaled for scope in scopes)
        self._these = lru_cache(4096)(
            lambda bits: tuple(dict.fromkeys(rule for at, rule in enumerate(rule_of) if bits >> at & 1))
        )

    def of(self, case: "Case") -> tuple["Rule", ...]:
        """The rules whose scope holds of this recipe, in their order."""
        foods, handled = self._of_any_food, self._however_handled
        for part in case.parts:
            foods |= self._about(part.food)
        said = self._said_of(case.handling)
        if said != self._nothing_said:
            for bits, value in zip(self._handled.values(), said, strict=True):
                if value not in UNSAID:
                    handled |= bits
        held = foods & handled & self._in_family(case.family) & self._of_product(case.product)
        held &= self._by_method(case.method) & self._with_faults(_faults(case)) & self._by_steps(case.steps)
        if not _is_in_own_words(case):
            held &= self._in_any_words
        if not _is_changed(case):
            held &= self._unchanged
        return self._these(held if case.is_scaled else held & self._unscaled)

    def _told_about(self, food: "Food") -> int:
        about = self._of_role.get(food.role, 0) | self._of_group.get(food.group, 0)
        food.kinds.update({kind: kind(food) for kind in self._of_kind})
        for kind, bits in self._of_kind.items():
            if food.kinds[kind]:
                about |= bits
        return about
