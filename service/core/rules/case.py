"""The recipe as it was sent, and as it was understood: all that a rule may look at."""

from collections.abc import Callable
from dataclasses import field
from functools import cached_property
from typing import TYPE_CHECKING

from service.core.measures.bounds import Bounds
from service.core.measures.letters import without_accents
from service.core.measures.lines import Line, Unread
from service.core.measures.terms import Term
from service.core.measures.units import Dimension
from service.core.measures.values import value
from service.core.rules.facts import Facts, Ingredient, Process, TestedRecipe

if TYPE_CHECKING:
    from service.core.rules.formula import Pot


class Role(Term):
    FRUIT = "fruit"
    VEGETABLE = "vegetable"  # low-acid, unless its ingredient says otherwise
    TOMATO = "tomato"  # tomatoes and tomatillos
    LEGUME = "legume"
    MEAT = "meat"
    FISH = "fish"
    SWEETENER = "sweetener"
    ACID = "acid"
    PECTIN = "pectin"
    THICKENER = "thickener"
    GRAIN = "grain"
    FAT = "fat"
    DAIRY = "dairy"
    EGG = "egg"
    SALT = "salt"
    SPICE = "spice"
    HERB = "herb"  # fresh
    LIQUID = "liquid"
    NUT = "nut"
    ADDITIVE = "additive"
    UNKNOWN = "unknown"


@value(frozen=True, slots=True)
class JarCount:
    size: str  # as sent; a word that is no published size is judged, not refused
    count: int


@value(frozen=True, slots=True)
class ProcessSent:
    method: str
    minutes: int | None
    pressure_psi: float | None


@value(frozen=True, slots=True)
class Handling:
    """How the work was or will be done. None: not said, taken as published."""

    sterile_jars: bool | None = None
    covering_liquid: bool | None = None
    interrupted: bool | None = None
    restarted: bool | None = None
    closure: str | None = None
    storage: str | None = None
    cooling: str | None = None
    equipment: str | None = None
    vent_minutes: float | None = None
    boil_minutes: float | None = None
    water_temp_f: float | None = None
    ferment_temp_f: float | None = None
    skipped_steps: tuple[str, ...] = ()


@value(frozen=True, slots=True)
class Recipe:
    """A recipe as it was sent. None: not sent."""

    title: str
    lines: tuple[Line | Unread, ...]  # one per ingredient, in order
    altitude_ft: int
    family: str | None = None
    product: str | None = None
    steps: tuple[str, ...] | None = None
    pack: str | None = None
    headspace_in: float | None = None
    jars: tuple[JarCount, ...] | None = None
    process: ProcessSent | None = None
    tested_recipe: str | None = None
    handling: Handling = field(default_factory=Handling)


MOST_FOODS = 2048  # as said, that are remembered: some kilobytes each


class Kinds(dict["Kind", bool]):
    """Of which kinds a food is: told when it is first asked, and the same for all who say the same of it."""

    def __init__(self, food: "Food") -> None:
        self._food = food

    def __missing__(self, kind: "Kind") -> bool:
        told = self[kind] = kind(self._food)
        return told


@value(frozen=True, slots=True, eq=False)  # one for all who say the same: what is found of it is remembered
class Food:
    """What an ingredient is by its words alone, however much of it goes in."""

    name: str
    ingredient: Ingredient | None  # None: not recognised
    role: Role
    phrases: tuple[str, ...]  # of its form, as read
    form: frozenset[str]  # lower-case words and phrases: crushed, bottled, 5 percent, white-flesh, canned
    grams_per_ml: Bounds | None  # filled in this form
    group: str = field(init=False)
    text: str = field(init=False)  # name and form in plain lower case, for words to be looked for
    kinds: Kinds = field(init=False, repr=False)
    spread: tuple[str, Ingredient | None, Role, frozenset[str], str, str] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        group = self.ingredient.group if self.ingredient else ""
        text = without_accents("; ".join([self.name.lower(), *sorted(self.form)]))
        object.__setattr__(self, "kinds", Kinds(self))
        object.__setattr__(self, "group", group)
        object.__setattr__(self, "text", text)
        object.__setattr__(self, "spread", (self.name, self.ingredient, self.role, self.form, group, text))


@value(frozen=True, slots=True)
class Part:
    """One ingredient as understood."""

    where: str  # #/ingredients/0
    as_written: str
    food: Food = field(repr=False, compare=False)
    line: Line | None  # None: the line couldn't be read
    grams: Bounds | None  # for the whole pot; None where no published weight or no amount is known
    millilitres: Bounds | None
    count: Bounds | None
    optional: bool
    problem: str  # why it couldn't be read or recognised, for the caller
    measured: dict[Dimension, Bounds]  # as said: by the jar where it is said by the jar
    # The food's own, spread out to where rules look.
    name: str
    ingredient: Ingredient | None
    role: Role
    form: frozenset[str]
    group: str
    text: str


ONE_BATCH = Bounds.exactly(1)  # as printed
AnyFood = Food | Part  # in what the words alone tell, the two are alike
Kind = Callable[[Food], bool]


@value(frozen=True, slots=True)
class Difference:
    """One way in which the recipe differs from the tested one it is compared with."""

    kind: str  # missing | added | less | more | form | swapped
    part: Part | None  # the recipe's ingredient, if it has one
    tested: Part | None  # the tested recipe's ingredient, if it has one
    ratio: Bounds | None  # recipe amount : tested amount, after the common scale; None where it can't be told
    says: str  # "half the sugar", for `differences`


@value(frozen=True, slots=True)
class Comparison:
    """The recipe beside the nearest tested recipe."""

    recipe: TestedRecipe
    named: bool  # the caller named it
    scale: Bounds  # one factor for the whole batch: 2 = doubled
    parts: tuple[Part, ...]  # the tested recipe's own ingredients, as understood
    differences: tuple[Difference, ...]
    same_formula: bool  # equal within the printed precision, optional ingredients in or out, scale 1


@value(frozen=True, eq=False)  # what is looked up for one is remembered by identity
class Case:
    """Everything a rule may look at. Built once per check, never changed."""

    recipe: Recipe
    facts: Facts
    parts: tuple[Part, ...]
    family: str | None
    product: str | None  # a published product, sent or inferred
    inferred: tuple[str, ...]  # names of the fields that were taken, not sent
    tested: Comparison | None
    pack: str | None
    headspace_in: float | None
    steps: tuple[str, ...]
    jars: tuple[JarCount, ...]
    process: ProcessSent | None  # sent, or the published one that was taken
    options: tuple[Process, ...]  # every published process for this food, pack and formula, all bands and sizes
    storage: str  # shelf | refrigerator | freezer
    jars_millilitres: Bounds | None  # declared jars, else the expected yield
    yield_millilitres: Bounds | None
    pot: "Pot" = field(repr=False)
    handling: Handling = field(init=False, repr=False)
    altitude_ft: int = field(init=False)
    method: str | None = field(init=False)
    on_the_shelf: bool = field(init=False)  # the jars are meant to keep without a refrigerator or freezer
    jar_sizes: tuple[str, ...] = field(init=False)
    _roles: frozenset[Role] = field(init=False, repr=False)
    _groups: frozenset[str] = field(init=False, repr=False)
    _those: dict[Kind, tuple[Part, ...]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        put = object.__setattr__
        put(self, "handling", self.recipe.handling)
        put(self, "altitude_ft", self.recipe.altitude_ft)
        put(self, "method", self.process.method if self.process else None)
        put(self, "on_the_shelf", self.storage == "shelf")
        put(self, "jar_sizes", tuple(dict.fromkeys([jar.size for jar in self.jars])))
        put(self, "_roles", frozenset([part.role for part in self.parts]))
        put(self, "_groups", frozenset([part.group for part in self.parts]))
        put(self, "_those", {})

    @property
    def same_as_tested(self) -> bool:
        return self.tested is not None and self.tested.same_formula

    @property
    def is_scaled(self) -> bool:
        """Whether the whole batch was multiplied, which has a finding of its own."""
        return self.tested is not None and not self.tested.scale.holds(ONE_BATCH)

    @property
    def total_grams(self) -> Bounds | None:
        return self.pot.total_grams

    @property
    def soluble_solids(self) -> Bounds | None:
        """Grams per gram of the cold mix."""
        return self.pot.soluble_solids

    @property
    def fruit_to_sugar(self) -> Bounds | None:
        """By weight."""
        return self.pot.fruit_to_sugar

    @property
    def prepared_fruit_cups(self) -> Bounds | None:
        """As printed for the tested formula, else as measured."""
        if self.tested is not None and self.tested.same_formula and self.tested.recipe.prepared_fruit_cups is not None:
            return self.tested.recipe.prepared_fruit_cups
        return self.pot.prepared_fruit_cups

    def of(self, *roles: Role) -> tuple[Part, ...]:
        if self._roles.isdisjoint(roles):  # of most roles that are asked for there is nothing
            return ()
        return tuple([part for part in self.parts if part.role in roles])

    def in_group(self, *groups: str) -> tuple[Part, ...]:
        if self._groups.isdisjoint(groups):
            return ()
        return tuple([part for part in self.parts if part.group in groups])

    def those(self, wanted: Kind) -> tuple[Part, ...]:
        """The ingredients of this kind, by a function with a name: many rules ask the same, which is told once."""
        found = self._those.get(wanted)
        if found is None:
            found = self._those[wanted] = tuple([part for part in self.parts if part.food.kinds[wanted]])
        return found

    def has(self, wanted: Kind) -> bool:
        return bool(self.those(wanted))

    @cached_property
    def unknown(self) -> tuple[Part, ...]:
        """The ingredients that no table knows."""
        return tuple([part for part in self.parts if part.ingredient is None])

    @cached_property
    def text(self) -> str:
        """What is said of all ingredients, a line for each: a word that isn't in here needn't be looked for."""
        return "\n".join([part.text for part in self.parts])

    def differs(self, *kinds: str) -> tuple[Difference, ...]:
        """Differences from the tested recipe of these kinds; none where nothing tested is near."""
        if self.tested is None:
            return ()
        return tuple([difference for difference in self.tested.differences if difference.kind in kinds])
